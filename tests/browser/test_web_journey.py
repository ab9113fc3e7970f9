"""The workbench in a real browser: a recording is dropped, answered, put right by hand; by mouse, by keyboard, on a phone."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from leanwright.web.run import Served
from leanwright.web.table import TABLE
from leanwright.workbench.invent import write_first_flight
from tests.browser.test_accessibility import CHECKER, LEAST_RULES
from tests.cli.test_bad_input import UNREADABLE
from tests.web.conftest import running

pytestmark = pytest.mark.browser
Look = Literal["light", "dark"]
HOSTILE = "\"><img src=x onerror=alert(1)><script>alert(2)</script>=cmd|'.csv"


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with running(tmp_path_factory.mktemp("journey")) as one:
        yield one


@pytest.fixture(scope="module")
def flight(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_first_flight(tmp_path_factory.mktemp("flown"))


@contextmanager
def window(browser: Browser, served: Served, width: int = 1280, **options: Any) -> Iterator[Page]:
    """A window that opened the one-time address; it has to stay silent and ask nobody else."""
    context = browser.new_context(viewport={"width": width, "height": 900}, **options)
    page = context.new_page()
    heard = listened(context, served)
    page.goto(served.new_address())
    yield page
    context.close()
    assert heard == []


def listened(context: BrowserContext, served: Served) -> list[str]:
    heard: list[str] = []
    context.on("console", lambda message: heard.append(message.text))
    context.on("weberror", lambda error: heard.append(str(error.error)))
    home = f"http://127.0.0.1:{served.house.place.port}/"
    context.on(
        "request",
        lambda request: (
            None if request.url.startswith((home, "data:", "about:")) else heard.append(request.url)
        ),
    )
    return heard


@pytest.mark.promise("W5")
def test_canary_what_a_page_asks_of_others_or_says_is_heard(browser: Browser, served: Served) -> None:
    elsewhere = "http://127.0.0.1:9/none.png"
    context = browser.new_context(bypass_csp=True)
    heard = listened(context, served)
    page = context.new_page()
    page.goto(served.new_address())
    assert heard == []
    with page.expect_request(elsewhere):
        page.evaluate("place => { console.log('said'); new Image().src = place; }", elsewhere)
    assert {"said", elsewhere} <= set(heard)
    context.close()


def drop(page: Page, *files: Any) -> None:
    """Pick files, as dropping does it too."""
    page.locator("input[type=file]").set_input_files(list(files))
    page.get_by_role("button", name="Read them").click()


def answered(page: Page, flight: Path) -> str:
    """The page of the flight's answer; returns the recording's name in addresses."""
    drop(page, flight)
    page.wait_for_url("**/balance?*")
    return page.url.partition("r=")[2]


def address(page: Page, path: str) -> str:
    return page.url.split("/", 3)[0] + "//" + page.url.split("/")[2] + path


@pytest.mark.promise("W5")
def test_a_drop_is_answered_in_one_go(browser: Browser, served: Served, flight: Path) -> None:
    with window(browser, served) as page:
        assert "/open/" not in page.url
        expect(page.locator("h1")).to_be_visible()
        answered(page, flight)
        expect(page.locator("h1")).to_contain_text("Uneven.")
        expect(page.get_by_text("Example. All data invented.")).to_be_visible()
        page.get_by_role("link", name="Choose nozzles").click()
        expect(page.locator("h1")).to_contain_text("Change two nozzles")
        page.go_back()
        expect(page.locator("h1")).to_contain_text("Uneven.")
        page.reload()
        expect(page.locator("h1")).to_contain_text("Uneven.")
        page.get_by_role("link", name="explain").click()
        page.wait_for_url("**/explain?*")


@pytest.mark.promise("W5")
def test_a_file_can_be_dropped_anywhere(browser: Browser, served: Served, flight: Path) -> None:
    with window(browser, served) as page:
        page.evaluate(
            """text => {
              const data = new DataTransfer();
              data.items.add(new File([text], "dropped.csv"));
              document.querySelector("h1").dispatchEvent(new DragEvent("drop", { dataTransfer: data, bubbles: true }));
            }""",
            flight.read_text("utf-8"),
        )
        page.wait_for_url("**/balance?*")


def test_without_scripts_everything_is_there_but_the_plot(
    browser: Browser, served: Served, flight: Path
) -> None:
    with window(browser, served, java_script_enabled=False) as page:
        recording = answered(page, flight)
        page.goto(address(page, f"/recordings/{recording}"))
        expect(page.get_by_role("heading", name="Sweeps", exact=True)).to_be_visible()
        assert "The plot needs the browser's scripts" in page.content()


def test_the_plot_is_zoomed_by_keys_and_says_where_it_is(
    browser: Browser, served: Served, flight: Path
) -> None:
    with window(browser, served) as page:
        recording = answered(page, flight)
        page.goto(address(page, f"/recordings/{recording}"))
        page.locator("[data-plot][data-ready=yes]").wait_for()
        assert page.locator(".plot-rows canvas").count() == 5
        page.locator("[data-plot-rows]").focus()
        page.keyboard.press("+")
        expect(page.locator("[data-plot-read]")).to_contain_text(re.compile("From 0:12:2[23] to 0:37:0"))
        page.keyboard.press("ArrowRight")
        expect(page.locator("[data-plot-read]")).to_contain_text(re.compile("From 0:18:3[0-9] to 0:43:"))
        page.keyboard.press("0")
        expect(page.locator("[data-plot-read]")).to_contain_text("From 0:00:00 to 0:49:30")
        page.locator("#jump").select_option(index=3)
        expect(page.locator("[data-plot-read]")).to_contain_text("From 0:21:")


def test_a_number_unfolds_what_it_came_from_and_escape_leads_back(
    browser: Browser, served: Served, flight: Path
) -> None:
    with window(browser, served) as page:
        answered(page, flight)
        rows = page.locator("#cylinder-3")
        expect(rows).not_to_be_visible()
        number = page.locator("#numbers-table a.number").first
        number.click()
        expect(rows).to_be_visible()
        expect(page.locator("details.evidence:has(#cylinder-3) > summary")).to_be_focused()
        page.keyboard.press("Escape")
        expect(rows).not_to_be_visible()
        expect(number).to_be_focused()
        number.press("Enter")  # the address is the same as before
        expect(rows).to_be_visible()
        page.reload()
        expect(rows).to_be_visible()


@pytest.mark.promise("W5")
def test_a_sweep_dropped_by_hand_is_marked_everywhere_and_can_be_taken_back(
    browser: Browser, served: Served, flight: Path
) -> None:
    with window(browser, served) as page:
        recording = answered(page, flight)
        before = page.locator("h1").inner_text()
        page.goto(address(page, f"/recordings/{recording}"))
        page.get_by_label("What").select_option("drop")
        page.get_by_label("From, h:mm:ss").fill("0:22:30")
        page.get_by_label("Why").fill("the lever was bumped")
        page.get_by_role("button", name="Measure anew").click()
        expect(page.get_by_text("the lever was bumped")).to_have_count(
            2
        )  # at its sweep, and where it is taken back
        page.get_by_role("link", name="Open the answer").click()
        expect(page.locator("footer .by-hand")).to_be_visible()
        assert (
            "By hand" in page.locator("main").inner_text() or "by hand" in page.locator("main").inner_text()
        )
        page.goto(address(page, "/recordings"))
        expect(page.locator("th .by-hand").first).to_be_visible()
        page.goto(address(page, f"/recordings/{recording}"))
        page.get_by_role("button", name="Take back").click()
        page.get_by_role("link", name="Open the answer").click()
        assert page.locator("h1").inner_text() == before


@pytest.mark.promise("W5")
def test_a_column_is_put_right_by_a_form(
    browser: Browser, served: Served, tmp_path: Path, flight: Path
) -> None:
    odd = tmp_path / "odd.csv"
    odd.write_text(flight.read_text("utf-8").replace("FF,", "Zzz,", 1), "utf-8")
    with window(browser, served) as page:
        drop(page, odd)
        page.wait_for_url("**/balance?*")
        assert "Uneven" not in page.locator("h1").inner_text()
        page.locator("footer").get_by_role("link", name="columns").click()
        expect(page.get_by_text("needs your eye").first).to_be_visible()
        row = page.locator("tr", has_text="Zzz")
        row.get_by_label("Meaning").select_option("fuel_flow")
        row.get_by_label("Unit").select_option("gal/h")
        page.get_by_role("button", name="Read it again with these").click()
        page.wait_for_url("**/balance?*")
        expect(page.locator("h1")).to_contain_text("Uneven.")


@pytest.mark.parametrize("name", UNREADABLE)
def test_what_cannot_be_read_gets_a_sentence_and_the_page_stays_usable(
    browser: Browser, served: Served, name: str, flight: Path
) -> None:
    with window(browser, served) as page:
        drop(page, {"name": name, "mimeType": "text/csv", "buffer": UNREADABLE[name]})
        page.wait_for_url("**/imports/*")
        expect(page.locator("h1")).to_have_text("This was not read.")
        said = page.locator("td.prose").inner_text()
        assert said.startswith(name)
        assert said.rstrip()[-1] in ".?"
        answered(page, flight)


@pytest.mark.promise("W5")
def test_a_hostile_name_and_hostile_headers_are_text(browser: Browser, served: Served, flight: Path) -> None:
    content = flight.read_text("utf-8").replace("OIL T", "<svg onload=alert(3)>", 1)
    with window(browser, served) as page:
        drop(page, {"name": HOSTILE, "mimeType": "text/csv", "buffer": content.encode()})
        page.wait_for_url("**/balance?*")
        recording = page.url.partition("r=")[2]
        for path in (
            "/",
            "/recordings",
            f"/recordings/{recording}",
            f"/recordings/{recording}/columns",
            f"/recordings/{recording}/stretch?also=20",
            f"/recordings/belong?r={recording}",
            f"/explain?r={recording}",
            "/watch",
            "/prove",
        ):
            page.goto(address(page, path))
            assert (
                page.evaluate(
                    "document.querySelectorAll('img, main svg[onload], main script:not([type])').length"
                )
                == 0
            )


def test_a_session_that_ended_says_so_and_nothing_is_lost(
    browser: Browser, served: Served, flight: Path
) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(served.new_address())
    recording = answered(page, flight)
    context.clear_cookies()
    page.reload()
    expect(page.get_by_role("heading")).to_contain_text("This session has ended")
    page.goto(served.new_address())
    page.goto(address(page, f"/balance?r={recording}"))
    expect(page.locator("h1")).to_contain_text("Uneven.")
    context.close()


def test_a_drop_after_the_session_ended_is_told_beside_the_thing(
    browser: Browser, served: Served, flight: Path
) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(served.new_address())
    context.clear_cookies()
    drop(page, flight)
    expect(page.get_by_role("status")).to_contain_text("This session has ended")
    context.close()


def test_two_windows_do_not_lose_each_other(browser: Browser, served: Served, flight: Path) -> None:
    with window(browser, served) as page:
        recording = answered(page, flight)
        page.goto(address(page, f"/recordings/{recording}"))
        other = page.context.new_page()
        other.goto(page.url)
        for one, reason in ((page, "first window"), (other, "second window")):
            one.get_by_label("What").select_option("drop")
            one.get_by_label("From, h:mm:ss").fill("0:22:30" if one is page else "0:24:30")
            one.get_by_label("Why").fill(reason)
            one.get_by_role("button", name="Measure anew").click()
        expect(other.get_by_text("first window")).to_have_count(2)
        expect(other.get_by_text("second window")).to_have_count(2)
        for _ in range(2):
            other.get_by_role("button", name="Take back").first.click()
            other.wait_for_load_state()


def every_page(page: Page, recording: str) -> list[str]:
    """Every page of the table of addresses, about a recording, and bare where that is another page; a new one is covered."""
    asked = f"r={recording}&before={recording}&after={recording}&engine=E1"
    pages: dict[tuple[str, str | None], str] = {}
    for entry in TABLE:
        known = {"entry": "1", "recording": recording}
        path = entry.path.format(**{name: known.get(name, value) for name, value in entry.example.items()})
        for target in (f"{path}?{asked}", path) if entry.get else ():
            answer = page.request.get(address(page, target))
            if "text/html" in answer.headers.get("content-type", ""):
                title = re.search("<title>(.*?)</title>", answer.text())
                pages.setdefault((path, title and title[1]), address(page, target))
    return [address(page, "/nothing-here"), *pages.values()]


@pytest.mark.parametrize(("width", "look"), [(360, "light"), (640, "dark"), (1280, "dark"), (1366, "light")])
def test_every_page_keeps_the_rules_of_accessibility_and_needs_no_sideways_scrolling(
    browser: Browser, served: Served, flight: Path, width: int, look: Look
) -> None:
    # 640 is a window of 1280 at 200 %. The checker is a script; the pages' own policy allows none.
    context = browser.new_context(
        viewport={"width": width, "height": 900}, color_scheme=look, bypass_csp=True
    )
    page = context.new_page()
    page.goto(served.new_address())
    recording = answered(page, flight)
    page.goto(address(page, "/book"))
    if page.get_by_role("button", name="Begin a book").count():
        page.get_by_role("button", name="Begin a book").click()
        page.get_by_label("Remark").fill("A remark.")
        page.get_by_role("button", name="Save in the book").click()
    broken = []
    for where in every_page(page, recording):
        page.goto(where)
        if page.locator("[data-plot]").count():
            page.locator("[data-plot][data-ready=yes]").wait_for()
        page.evaluate(CHECKER)
        found = page.evaluate("axe.run()")
        assert len(found["passes"]) + len(found["violations"]) > LEAST_RULES - 15
        broken += [
            f"{where}: {one['id']}: {node['html'][:160]}"
            for one in found["violations"]
            for node in one["nodes"]
        ]
        wide = page.evaluate("document.documentElement.scrollWidth")
        broken += [f"{where} is {wide} wide"] if wide > width else []
    context.close()
    assert broken == []


@pytest.mark.promise("W5")
def test_the_whole_way_to_an_answer_goes_by_keyboard(browser: Browser, served: Served, flight: Path) -> None:
    with window(browser, served) as page:
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.className") == "skip"
        page.keyboard.press("Enter")
        page.locator("input[type=file]").focus()
        page.locator("input[type=file]").set_input_files(flight)
        page.keyboard.press("Tab")
        assert page.evaluate("getComputedStyle(document.activeElement).outlineWidth") == "3px"
        page.keyboard.press("Enter")
        page.wait_for_url("**/balance?*")


def test_scripts_and_styles_are_small() -> None:
    import gzip

    from leanwright.web.files import fixed_files

    whole = sum(
        len(gzip.compress(content, 9))
        for name, content in fixed_files().items()
        if name.endswith((".js", ".css"))
    )
    assert whole <= 150 * 1024
