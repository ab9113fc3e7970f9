"""Nothing from a file, a form or an address becomes a part of a page (I7): every page is parsed and looked through.

Hostile are every free text of a book, of the owner's papers and of the settings, the headers and names of files, and addresses.
"""

import itertools
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from random import Random
from typing import Any
from urllib.parse import quote

import pytest

from leanwright.workbench import papers, sheets, typed_form
from leanwright.workbench.entry_form import OFFERED
from leanwright.workbench.file_form import Form, parse
from leanwright.workbench.invent import write_first_flight
from tests.faults.hostile_book import ENGINE, JOB, NOT_PLANTED, ORDER, PARCEL, HostileBook, unplanted
from tests.faults.promises import TrialRun
from tests.report.paper import poppler
from tests.web.conftest import opened, running
from tests.web.table import GETS
from tests.web.wire import Browser, Heard
from tests.workbench import sheet_book

MARK = "x-planted"
FORMS = (
    "<{mark}>", "</title><{mark}>", "</script><{mark}>", "</textarea><{mark}>", "--><{mark}>", "]]><{mark}>", "'><{mark}>",
    '"><{mark}>', '" onfocus="{mark}', "' onfocus='{mark}", "javascript:{mark}()//", "<svg/onload={mark}()>",
    "<script>{mark}()</script>", "<img src=x onerror={mark}()>", "&lt;{mark}&gt;<{mark}>", "{{{{{mark}}}}}<{mark}>",
    "<!--{mark}--><{mark}>", "</style><{mark}>", "<iframe srcdoc='<{mark}>'>", "<a href=javascript:{mark}()>x</a>",
)  # fmt: skip
FILES = 3
OWN_SCRIPT = "<script>"
"""The worksheet for a phone is one file, with its script in it."""
LISTS = {"modifications", "not_with", "aircraft_serials", "engine_serials"}
"""Lists of free texts in the owner's papers."""
TYPED = ("cylinders", "goal_gph", "fuel_price", "hours_per_year", "currency", "person", "folders")
NAMES = (ENGINE, JOB, ORDER, PARCEL)
ADDRESSES = ("javascript:", "data:text", "vbscript:")


class Page(HTMLParser):
    """A page, and what of it was not written by us."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[str] = []
        self.text: list[str] = []
        self._runs = False
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = {name: value or "" for name, value in attrs}
        kinds = {"application/json", "application/ld+json"}
        self._runs = tag == "script" and values.get("type") not in kinds
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
        if self._runs and MARK in data:
            self.found.append(f"in a script: {data!r}")

    def handle_endtag(self, tag: str) -> None:
        self._runs = self._runs and tag != "script"


def planted_sheet() -> bytes:
    """A sheet that runs a script when it is opened, and has a link that does."""
    script = "/JS (planted\\(\\))"
    action = "<< /S /URI /URI (javascript:planted\\(\\)) >>"
    link = f"<< /Type /Annot /Subtype /Link /Rect [0 0 99 99] /A {action} >>"
    parts = (
        f"<< /Type /Catalog /Pages 2 0 R /Names << /JavaScript << /Names [(a) << /S /JavaScript {script} >>] >> >> >>",
        "<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        f"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 200 200] /Annots [{link}] >>",
    )
    made, places = b"%PDF-1.7\n", []
    for number, part in enumerate(parts, 1):
        places.append(len(made))
        made += f"{number} 0 obj\n{part}\nendobj\n".encode()
    table = "".join(f"{place:010} 00000 n \n" for place in places)
    end = f"xref\n0 4\n0000000000 65535 f \n{table}trailer\n<< /Size 4 /Root 1 0 R >>\nstartxref\n{len(made)}\n%%EOF\n"
    return made + end.encode()


def hostile(numbers: Random, mark: str = MARK) -> str:
    """A hostile text; the letters about its mark differ each time."""
    form = numbers.choice(FORMS).format(mark=mark)
    return f"{numbers.choice(('', 'a', '7', ' b ', 'é'))}{form}{numbers.randrange(10**6)}"


class Texts:
    """Hostile texts, of which each plain one has its own: the first ones given, and more after them."""

    def __init__(self, texts: list[str]) -> None:
        mark = next((mark for mark in (MARK, "planted") if mark in texts[0]), MARK)
        numbers = Random(texts[0])  # noqa: S311  faults, not secrets
        self._next = itertools.chain(texts, (hostile(numbers, mark) for _ in itertools.count()))
        self._given: dict[str, str] = {}

    def __call__(self, plain: str) -> str:
        """The hostile text that stands for a plain one."""
        if plain not in self._given:
            self._given[plain] = next(self._next).strip()
        return self._given[plain]

    def left(self, texts: list[str]) -> list[str]:
        """Those that stand for nothing yet."""
        return texts[len(self._given) :]

    def paper(self, form: Form) -> dict[str, list[str]]:
        """The fields of a paper as its example has them, each free text hostile."""
        values = {
            key: value
            for key, value in parse("x", form.example.encode(), form).values.items()
            if key != "format"
        }
        free = {
            (table.name, one.name)
            for table in form.tables
            for one in table.fields
            if (one.kind == "text" or one.name in LISTS) and not one.choices and one.name != "date"
        }
        typed = {
            place: self(text) if (place.split("/")[0], place.split("/")[2]) in free else text
            for place, text in typed_form.texts_of(form, values).items()
        }
        return {"place": [*typed], "value": [*typed.values()]}


def plant(browser: Browser, flight: str, texts: list[str]) -> dict[str, str]:
    """Put hostile texts wherever a user or a file can; gives how the engine, job, order and parcel are called."""
    given = Texts(texts)
    assert browser.post("/book/begin").status == 303
    with browser.served.house.book.using() as book:
        HostileBook(book, given).fill()
    for kind, paper in papers.KINDS.items():
        answer = browser.post(f"/papers/{kind}", engine=given(ENGINE), **given.paper(paper.form))
        assert answer.status == 303, kind
    watched = browser.served.house.desk.folder.parent / given("folder").replace("/", "|")
    watched.mkdir()
    liked = {"units": "us", "language": "en", "look": "light", "folders": str(watched)}
    answer = browser.post("/settings", **liked, person=given("person")[:60], currency="<b>")
    assert answer.status == 303
    for number, text in enumerate(given.left(texts)):
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
    recordings = [place.name for place in (browser.served.house.desk.folder / "recordings").iterdir()]
    assert browser.post("/recordings/belong", r=recordings, engine=given(ENGINE)).status == 303
    swept = {"what": "drop", "start": "0:22:30", "reason": given("the lever was bumped")}
    assert browser.post(f"/recordings/{recordings[0]}/sweeps", **swept).status == 303
    assert browser.post("/book/entries/2/void", reason=given("taken back"), key="e" * 32).status in {303, 422}
    return {name: given(name) for name in NAMES}


def pages(browser: Browser, texts: list[str], names: dict[str, str]) -> Iterator[str]:
    """Every page there is to be seen, and those that an address with a hostile text leads to."""
    engine, job, order, parcel = (quote(names[name]) for name in NAMES)
    yield from (
        f"{path}?job={job}" for path in ("/fit", "/fit/worksheet", "/fit/hand-in", "/release", "/returns")
    )
    yield from (f"/receive?order={order}", f"/book/new/job?order={order}", f"/returns?parcel={parcel}")
    yield from (f"{path}?engine={engine}" for path in ("/watch", "/leaning", "/card", "/papers"))
    yield from (f"/papers/{kind}{more}?engine={engine}" for kind in papers.KINDS for more in ("", "/file"))
    yield from (f"/book/new/{kind}" for kind in OFFERED)
    recordings = [place.name for place in (browser.served.house.desk.folder / "recordings").iterdir()]
    asked = "&".join(f"r={name}" for name in recordings[:1])
    yield from (f"{target}?{asked}&before={recordings[0]}" for target in GETS)
    yield from (f"/recordings/{name}{page}" for name in recordings for page in ("", "/columns"))
    with browser.served.house.book.using() as book:
        last = book.state().head_sequence
    yield from (f"/book/entries/{number + 1}" for number in range(last))
    for number, text in enumerate(texts):
        told = quote(text)
        yield f"{GETS[number % len(GETS)]}?engine={told}&job={told}&r={told}&order={told}&saved={told}&also={told}&power={told}"
        yield f"/{told}"


def refused(browser: Browser, texts: list[str]) -> Iterator[tuple[Heard, str]]:
    """The pages that show what was typed and cannot be used."""
    key = "f" * 32
    sweep = {"what": "add", "start": texts[0][:20], "end": texts[1][:20], "reason": texts[2]}
    (recording, *_) = (place.name for place in (browser.served.house.desk.folder / "recordings").iterdir())
    forms: list[tuple[str, dict[str, Any]]] = [
        ("/settings", {"units": "us", "language": "en", "look": "light", **dict.fromkeys(TYPED, texts[0])}),
        (f"/recordings/{recording}/sweeps", sweep),
        *((f"/book/new/{kind}", {"key": key, "by": texts[3], "place": ["/0/id", "/0/name", texts[4]], "value": texts[4:7]}) for kind in OFFERED),
        *((f"/papers/{kind}", {"place": ["/0/name", texts[5]], "value": texts[5:7]}) for kind in papers.KINDS),
        ("/book/entries/1/correct", {"reason": texts[8], "key": key, "body": texts[9]}),
    ]  # fmt: skip
    for target, fields in forms:
        answer = browser.post(target, **fields)
        assert answer.status in {422, 303}, (target, answer.status)
        yield answer, f"POST {target}"


@pytest.mark.promise("I7")
@pytest.mark.timeout(4500)
def test_no_hostile_text_becomes_a_part_of_a_page(tmp_path: Path, trial_run: TrialRun) -> None:
    texts = [hostile(trial_run.random(number)) for number in range(trial_run.trials)]
    flight = write_first_flight(tmp_path).read_text("utf-8")
    found: dict[str, list[str]] = {}
    shown = looked = 0
    with running(tmp_path) as served:
        browser = opened(served)
        names = plant(browser, flight, texts)
        with served.house.book.using() as book:
            assert unplanted(book, MARK) == set(NOT_PLANTED)
        for answer, target in itertools.chain(
            ((browser.get(target), target) for target in pages(browser, texts, names)),
            refused(browser, texts),
        ):
            if answer.header("content-type").startswith("text/html"):
                page, looked = Page(answer.text), looked + 1
                shown += any(MARK in text for text in page.text)
                ours = target.startswith("/fit/worksheet") and page.found == [OWN_SCRIPT]
                found |= {target: page.found} if page.found and not ours else {}
    assert found == {}
    assert shown > len(texts)
    trial_run.measured(
        f"0 scripts in {looked} pages, {shown} of which show a hostile text as text", len(texts)
    )


@pytest.mark.promise("I7")
def test_no_hostile_text_becomes_more_than_text_of_a_sheet(tmp_path: Path, trial_run: TrialRun) -> None:
    texts = Texts([hostile(trial_run.random(number)) for number in range(trial_run.promise.sample)])
    kinds = (
        list(sheets.KINDS) if trial_run.is_long else trial_run.random("kind").sample(list(sheets.KINDS), 2)
    )
    with sheet_book.new_book(tmp_path) as book:
        HostileBook(book, texts).fill()
        for kind in kinds:
            made = sheets.pdf(book, kind)
            assert MARK in poppler("pdftotext", "-raw", "SHEET", "-", sheet=made, folder=tmp_path), kind
            assert poppler("pdfinfo", "-js", "SHEET", sheet=made, folder=tmp_path).strip() == "", kind
            assert links(made, tmp_path) == [], kind
    trial_run.measured("0 scripts and 0 addresses in printed sheets", len(kinds))


def links(sheet: bytes, folder: Path) -> list[str]:
    """The addresses that a sheet leads to."""
    told = poppler("pdfinfo", "-url", "SHEET", sheet=sheet, folder=folder)
    return [line for line in told.splitlines()[1:] if line.strip()]


@pytest.mark.promise("I7")
def test_canary_a_script_and_an_address_in_a_sheet_are_seen(tmp_path: Path) -> None:
    made = planted_sheet()
    assert "planted()" in poppler("pdfinfo", "-js", "SHEET", sheet=made, folder=tmp_path)
    assert any("javascript:planted()" in line for line in links(made, tmp_path))


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
        f"<script>var a = '{text}'</script>",
    )
    assert any(Page(place).found for place in places)
