"""No English is left on a page in another language: every address of the table is visited, and every form is sent empty."""

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from html.parser import HTMLParser

import pytest

from leanwright.report.words.catalogue import LANGUAGES
from leanwright.web.run import Served
from leanwright.web.table import TABLE
from leanwright.workbench import desk as desks
from leanwright.workbench import papers
from leanwright.workbench.demo_book import ENGINE, JOB, ORDER, fill
from leanwright.workbench.demo_desk import lay_out
from leanwright.workbench.entry_form import OFFERED
from leanwright.workbench.invent import write_first_flight, write_flight_after
from tests.structure.sources import PACKAGE
from tests.web.conftest import opened, running
from tests.web.wire import Browser, multipart

OTHERS = [language for language in LANGUAGES if language != "en"]
ENGLISH = re.compile(
    r"\b(the|of|and|is|with|which|this|from|are|not|that|by|when|where|they|were|into|what|your|you|or|for|be|been)\b",
    re.IGNORECASE,
)
"""Words that no other of the languages has, but for those of :data:`SHARED`."""
SHARED = {"de": set(), "fr": {"or"}, "it": set(), "es": set(), "pt": {"for"}}
UNWORDED = {"script", "style", "pre", "textarea", "bdi"}
"""What stands in these is no text of ours: what was typed, what a file holds, and the record in its authority's language."""
VOID = {"meta", "link", "input", "br", "img", "hr", "wbr", "col"}
ALIKE = re.compile(
    r"(h:min|leanwright|Part-66|EASA Part-ML|UK Part-ML|US Part 43|Cursor [AB], h:mm:ss|Deutsch|English|Español|Français|Italiano|Português)$"
)
"""Names, and words that are the same everywhere."""
NAMED = re.compile(r"AMC to M\.A\.305|T-0400 to T-0450|T-0500 and on")
"""The name of a rule, and how a range of serial numbers is written."""


class Said(HTMLParser):
    """The texts of a page that are ours: what is seen, and what is read out."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: set[str] = set()
        self._apart: list[str] = []
        self._spoken: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        self._spoken = self._spoken or told.get("lang")
        other = told.get("lang") not in {None, self._spoken}
        inside = self._apart and tag == self._apart[-1]
        if inside or ((tag in UNWORDED or other) and tag not in VOID):
            self._apart.append(tag)
        if not self._apart:
            self.texts |= {
                text for name in ("title", "aria-label", "placeholder", "alt") if (text := told.get(name))
            }

    def handle_endtag(self, tag: str) -> None:
        if self._apart and tag == self._apart[-1]:
            self._apart.pop()

    def handle_data(self, data: str) -> None:
        if not self._apart and data.strip():
            self.texts.add(" ".join(data.split()))


def said(page: str) -> set[str]:
    reader = Said()
    reader.feed(page)
    return reader.texts


@dataclass(frozen=True)
class Visitor:
    """A browser of a laid desk, and what each page says in English."""

    browser: Browser
    before: str
    after: str
    english: dict[str, set[str]]

    def targets(self) -> Iterator[str]:
        """Every address that is asked for, each with what it needs; of the forms every kind."""
        before, after = self.before, self.after
        asked = {
            "/recordings/belong": [f"r={before}"],
            "/balance": ["", f"r={before}", f"r={before}&r={after}"],
            "/explain": [f"r={before}", f"r={before}&before={after}"],
            "/choose": [f"r={before}"],
            "/choose/order": [f"r={before}"],
            "/choose/try": [f"r={before}&put=3+factor+1.0400"],
            "/papers": [f"engine={ENGINE}&r={before}"],
            "/prove": ["", f"before={before}&after={after}"],
            "/card": ["", f"r={before}"],
            "/receive": ["", f"order={ORDER}"],
            "/fit": ["", f"job={JOB}", "job=nothing"],
            "/fit/hand-in": [f"job={JOB}"],
            "/release": ["", "job=J-ELM-1", f"job={JOB}"],
            "/returns": ["", "order=O-ELM-1"],
            "/watch": ["", f"engine={ENGINE}"],
            "/leaning": [f"r={before}"],
        }
        kinds = {"/papers/{kind}": papers.KINDS, "/book/new/{kind}": OFFERED}
        for entry in TABLE:
            if entry.get is None:
                continue
            for kind in kinds.get(entry.path, [entry.example.get("kind", "")]):
                path = entry.path.format(**{**entry.example, "recording": before, "kind": kind})
                more = asked.get(
                    entry.path, [f"engine={ENGINE}"] if entry.path.startswith("/papers/") else [""]
                )
                yield from (f"{path}?{one}" if one else path for one in more)
        yield from (f"/book/entries/{number}" for number in (1, 9, 45, 70, 100000))
        yield from ("/nowhere", f"/recordings/{'0' * 64}")

    def pages(self) -> dict[str, set[str]]:
        """What every page says, and what every form says that was sent empty."""
        found = {}
        for target in self.targets():
            answer = self.browser.get(target)
            if answer.header("content-type").startswith("text/html"):
                found[target] = said(answer.text)
        for entry in TABLE:
            if entry.post is None or entry.path in LEAVE_ALONE:
                continue
            path = entry.path.format(**{**entry.example, "recording": self.before})
            kind, body = (
                multipart(self.browser.token, [("a.txt", b"nothing")]) if entry.uploads else (FORM, b"")
            )
            answer = self.browser.ask("POST", path, {"Content-Type": kind}, body or self.browser.form())
            if answer.header("content-type").startswith("text/html"):
                found[f"POST {path}"] = said(answer.text)
        return found


FORM = "application/x-www-form-urlencoded"
LEAVE_ALONE = {"/leave", "/settings", "/recordings/{recording}/away", "/book/backups", "/recordings/belong"}
"""Sent empty they end the session, set everything back, or take the recording away."""


@pytest.fixture(scope="module")
def laid(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    folder = tmp_path_factory.mktemp("laid")
    flights = (write_first_flight(folder), write_flight_after(folder))
    with running(folder) as served:
        served.house.book.make()
        with served.house.book.using() as book:
            fill(book)
            lay_out(served.house.desk, book, flights, [], now=datetime(2031, 7, 1, tzinfo=UTC))
        yield served


@pytest.fixture(scope="module")
def visitor(laid: Served) -> Visitor:
    there = {one.name: one.id for one in desks.everything(laid.house.desk)}
    visitor = Visitor(opened(laid), there["first-flight.csv"], there["flight-after.csv"], {})
    visitor.english.update(visitor.pages())
    return visitor


def words_of(language: str) -> set[str]:
    """English texts that are the same in a language."""
    table = tomllib.loads((PACKAGE / "report" / "words" / f"{language}.toml").read_text("utf-8"))
    english = tomllib.loads((PACKAGE / "report" / "words" / "en.toml").read_text("utf-8"))
    same = {key for key, text in table["text"].items() if key == text}
    for section, words in english["word"].items():
        same |= {text for key, text in words.items() if table["word"].get(section, {}).get(key) == text}
    same |= {text for key, text in english["label"].items() if table["label"].get(key) == text}
    return same


def is_left(text: str, language: str, same: set[str]) -> bool:
    """Whether a text holds words of English alone."""
    left = {one.casefold() for one in ENGLISH.findall(NAMED.sub("", text))} - SHARED[language]
    return bool(left) and text not in same


@pytest.mark.parametrize("language", OTHERS)
def test_no_english_is_left_on_any_page(visitor: Visitor, language: str) -> None:
    visitor.browser.post("/settings", units="us", language=language, look="system")
    pages = visitor.pages()
    visitor.browser.post("/settings", units="us", language="en", look="system")
    same = words_of(language)
    untold = {
        (page, text)
        for page, texts in pages.items()
        for text in texts & visitor.english.get(page, set())
        if re.search(r"[a-z]{3} [a-z]{2}", text)
        and text not in same
        and not ALIKE.match(text)
        and "invented" not in text
    }
    mixed = {
        (page, text)
        for page, texts in pages.items()
        for text in texts
        if "invented" not in text and is_left(text, language, same)
    }
    assert (sorted(untold), sorted(mixed)) == ([], [])
    assert len(pages) > 90
    assert set(pages) == set(visitor.english)


def test_english_is_recognised(visitor: Visitor) -> None:
    found = {text for texts in visitor.english.values() for text in texts}
    assert sum(is_left(text, "de", set()) for text in found) > 300
    assert is_left("Zylinder 3: it is not open", "fr", set())
    assert not is_left("Die Uhr steht.", "de", set())
    assert said('<p title="one">two<bdi>three</bdi></p><pre>four</pre>') == {"one", "two"}
