"""No text of a file, a form or an address becomes a script (I7), and the policy holds on every page (W5), in a real browser."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import quote

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Dialog, Error, Page

from leanwright.web.run import Served
from leanwright.workbench.invent import write_first_flight
from tests.faults.promises import TrialRun
from tests.faults.test_scripts import FORMS, hostile, pages, plant
from tests.web.conftest import opened, running
from tests.web.table import GETS

pytestmark = pytest.mark.browser
MARK = "planted"
"""Each hostile text calls it as a function; where a text became a script, the browser has run it."""
IN_SAMPLE = 24
"""Pages with hostile texts that a sample looks at in the browser; all are parsed elsewhere."""
PLACES = (
    "<p>{text}</p>",
    '<p title="{text}" tabindex=0>',
    "<textarea>{text}</textarea>",
    "<script>var a = '{text}'</script>",
)


@dataclass
class Heard:
    """What the browser ran, refused, and asked of others."""

    ran: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    elsewhere: list[str] = field(default_factory=list)

    def said(self, message: ConsoleMessage) -> None:
        """Keep what the browser says of the policy."""
        if "Content Security Policy" in message.text:
            self.refused.append(message.text)

    def opened(self, dialog: Dialog) -> None:
        """A script opened a dialog."""
        self.ran.append(dialog.message)
        dialog.dismiss()


@contextmanager
def listening(browser: Browser, home: str) -> Iterator[tuple[Page, Heard]]:
    """A page that tells what became a script on it, what the policy refused, and who else was asked."""
    heard = Heard()
    context = browser.new_context()
    context.expose_function(MARK, lambda *_: heard.ran.append("run"))
    context.on("console", heard.said)
    context.on("dialog", heard.opened)
    context.on(
        "request",
        lambda asked: (
            None if asked.url.startswith((home, "data:", "about:")) else heard.elsewhere.append(asked.url)
        ),
    )
    yield context.new_page(), heard
    context.close()


def home(served: Served) -> str:
    """How every address of a server begins."""
    return f"http://127.0.0.1:{served.house.place.port}/"


def looked_at(page: Page, address: str) -> None:
    """Open a page, and move and focus as somebody who looks at it; a download is no page."""
    try:
        page.goto(address, wait_until="load")
    except Error as error:
        if "Download is starting" not in str(error) and "ERR_ABORTED" not in str(error):
            raise
        return
    page.evaluate(
        "() => document.querySelectorAll('a, input, textarea, [title], [tabindex]').forEach(one => one.focus())"
    )


@pytest.mark.promise("I7")
@pytest.mark.timeout(4500)
def test_no_hostile_text_is_run(browser: Browser, tmp_path: Path, trial_run: TrialRun) -> None:
    texts = [hostile(trial_run.random(number), MARK) for number in range(trial_run.trials)]
    with running(tmp_path) as served, listening(browser, home(served)) as (page, heard):
        client = opened(served)
        names = plant(client, write_first_flight(tmp_path).read_text("utf-8"), texts)
        page.goto(served.new_address())
        every = list(pages(client, texts, names))
        drawn = every if trial_run.is_long else trial_run.random("pages").sample(every, IN_SAMPLE)
        for target in drawn:
            looked_at(page, home(served) + quote(target.lstrip("/"), safe="/?&=%"))
    assert heard == Heard()
    trial_run.measured(
        f"0 scripts run, 0 refused by the policy on {len(drawn)} pages in the browser", len(texts)
    )


@pytest.mark.promise("I7")
def test_canary_a_page_that_does_not_escape_runs_it(browser: Browser) -> None:
    ran = 0
    for form in FORMS:
        with listening(browser, "none") as (page, heard):
            text = form.format(mark=MARK).replace("<planted>", "<img src=x onerror=planted()>")
            for place in PLACES:
                page.set_content(place.format(text=text))
                page.evaluate("() => document.querySelectorAll('[tabindex]').forEach(one => one.focus())")
                page.wait_for_timeout(20)
            ran += bool(heard.ran)
    assert ran >= len(FORMS) // 2


@pytest.mark.promise("W5")
def test_canary_what_is_asked_of_others_is_heard(browser: Browser) -> None:
    elsewhere = "http://127.0.0.1:9/none.png"
    with listening(browser, "http://127.0.0.1:8/") as (page, heard):
        with page.expect_request(elsewhere):
            page.set_content(f'<img src="{elsewhere}">')
        assert heard.elsewhere == [elsewhere]


@pytest.mark.promise("W5")
@pytest.mark.timeout(600)
def test_the_policy_holds_on_every_page(browser: Browser, tmp_path: Path, trial_run: TrialRun) -> None:
    with running(tmp_path) as served, listening(browser, home(served)) as (page, heard):
        client = opened(served)
        assert client.post("/book/begin").status == 303
        where = client.go(client.drop(("flight.csv", write_first_flight(tmp_path).read_bytes())))
        page.goto(served.new_address())
        page.goto(home(served) + where.lstrip("/"))
        page.wait_for_url("**/balance?*")
        recording = page.url.partition("r=")[2]
        for target in GETS:
            looked_at(page, f"{home(served)}{target.lstrip('/')}?r={recording}&before={recording}")
        assert heard == Heard()
        # The canary: a planted script, and a picture from elsewhere.
        page.goto(home(served))
        page.evaluate(
            "() => { const made = document.createElement('script'); made.textContent = 'planted()';"
            " document.body.append(made); const seen = new Image(); seen.src = 'http://127.0.0.1:9/none.png'; }"
        )
        page.wait_for_timeout(300)
        assert heard.ran == []
        assert len(heard.refused) >= 2
    trial_run.measured(f"0 violations, 0 requests to others on {len(GETS)} pages", 1)
