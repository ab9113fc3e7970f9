"""Nothing from a file, a form or an address becomes a part of a page (I7): every page is parsed and looked through."""

from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from random import Random
from urllib.parse import quote

import pytest

from leanwright.workbench.invent import write_first_flight
from tests.faults.promises import TrialRun
from tests.web.conftest import opened, running
from tests.web.table import GETS
from tests.web.wire import Browser

MARK = "x-planted"
FORMS = (
    "<{mark}>", "</title><{mark}>", "</script><{mark}>", "</textarea><{mark}>", "--><{mark}>", "]]><{mark}>", "'><{mark}>",
    '"><{mark}>', '" onfocus="{mark}', "' onfocus='{mark}", "javascript:{mark}()//", "<svg/onload={mark}()>",
    "<script>{mark}()</script>", "<img src=x onerror={mark}()>", "&lt;{mark}&gt;<{mark}>", "{{{{{mark}}}}}<{mark}>",
    "<!--{mark}--><{mark}>", "</style><{mark}>", "<iframe srcdoc='<{mark}>'>", "<a href=javascript:{mark}()>x</a>",
)  # fmt: skip
FILES = 3
ADDRESSES = ("javascript:", "data:text", "vbscript:")


class Page(HTMLParser):
    """A page, and what of it was not written by us."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[str] = []
        self.text: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = {name: value or "" for name, value in attrs}
        kinds = {"application/json", "application/ld+json"}
        ours = values.get("src", "").startswith("/static/") or values.get("type") in kinds
        if MARK in tag or tag in {"iframe", "object", "embed", "base"} or (tag == "script" and not ours):
            self.found.append(f"<{tag}>")
        for name, value in values.items():
            address = name in {"href", "src", "action", "formaction", "xlink:href"}
            if (
                name.startswith("on")
                or MARK in name
                or (address and value.strip().lower().startswith(ADDRESSES))
            ):
                self.found.append(f"<{tag} {name}={value!r}>")
        self.text += values.values()

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def hostile(numbers: Random, mark: str = MARK) -> str:
    """A hostile text; the letters about its mark differ each time."""
    form = numbers.choice(FORMS).format(mark=mark)
    return f"{numbers.choice(('', 'a', '7', ' b ', 'é'))}{form}{numbers.randrange(10**6)}"


def plant(browser: Browser, flight: str, texts: list[str]) -> None:
    """Put hostile texts wherever a user or a file can."""
    assert browser.post("/book/begin").status == 303
    for number, text in enumerate(texts):
        assert browser.post("/book/notes", text=text, key=f"{number:032x}").status == 303
    for number, text in enumerate(texts[:FILES]):
        lines = flight.splitlines()
        header = next(place for place, line in enumerate(lines) if line.count(",") > 5 and line[0] != "#")
        quoted = '"' + text.replace('"', '""') + '"'
        lines = [
            f"# {text}",
            *lines[:header],
            f"{lines[header]},{quoted}",
            *(f"{line},{number}" for line in lines[header + 1 :]),
        ]
        assert browser.drop((f"{text}.csv", "\n".join(lines).encode())).status == 200


def pages(browser: Browser, texts: list[str]) -> Iterator[str]:
    """Every page there is to be seen, and those that an address with a hostile text leads to."""
    recordings = [place.name for place in (browser.served.house.desk.folder / "recordings").iterdir()]
    asked = "&".join(f"r={name}" for name in recordings[:1])
    yield from (f"{target}?{asked}&before={recordings[0]}" for target in GETS)
    yield from (f"/recordings/{name}{page}" for name in recordings for page in ("", "/columns"))
    yield from (f"/book/entries/{number + 1}" for number in range(len(texts)))
    for number, text in enumerate(texts):
        told = quote(text)
        yield f"{GETS[number % len(GETS)]}?engine={told}&job={told}&r={told}&order={told}&saved={told}&also={told}&power={told}"
        yield f"/{told}"


@pytest.mark.promise("I7")
@pytest.mark.timeout(4500)
def test_no_hostile_text_becomes_a_part_of_a_page(tmp_path: Path, trial_run: TrialRun) -> None:
    texts = [hostile(trial_run.random(number)) for number in range(trial_run.trials)]
    flight = write_first_flight(tmp_path).read_text("utf-8")
    found: dict[str, list[str]] = {}
    shown = looked = 0
    with running(tmp_path) as served:
        browser = opened(served)
        plant(browser, flight, texts)
        for target in pages(browser, texts):
            answer = browser.get(target)
            if answer.header("content-type").startswith("text/html"):
                page, looked = Page(answer.text), looked + 1
                shown += any(MARK in text for text in page.text)
                found |= {target: page.found} if page.found else {}
    assert found == {}
    assert shown > len(texts)
    trial_run.measured(
        f"0 scripts in {looked} pages, {shown} of which show a hostile text as text", len(texts)
    )


@pytest.mark.promise("I7")
@pytest.mark.parametrize("form", FORMS)
def test_canary_a_page_that_does_not_escape_is_found(form: str) -> None:
    text = form.format(mark=MARK)
    places = (
        f"<p>{text}</p>",
        f'<p title="{text}">',
        f"<p title='{text}'>",
        f'<a href="{text}">',
        f"<textarea>{text}</textarea>",
    )
    assert any(Page(place).found for place in places)
