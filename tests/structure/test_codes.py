"""Statements and findings bear fixed codes; every statement has its words in every language, and no words are idle."""

import re
import tomllib
from pathlib import Path

import pytest

from docs.reference import generate
from tests.structure.codes import UnknownCodeError, codes
from tests.structure.sources import PACKAGE, source, sources

LANGUAGES = sorted((PACKAGE / "report" / "words").glob("*.toml"))
PLACE = {"Statement": 0, "Finding": 1}
WELL_FORMED = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


def all_codes(kind: str) -> set[str]:
    """Every code that the package uses."""
    return {code for module in sources() for code in codes(module, kind, PLACE[kind])}


@pytest.mark.parametrize("language", LANGUAGES, ids=lambda path: path.stem)
def test_a_language_words_every_statement_and_no_others(language: Path) -> None:
    worded = tomllib.loads(language.read_text("utf-8"))["statement"].keys()
    assert {
        "without words": sorted(all_codes("Statement") - worded),
        "idle": sorted(worded - all_codes("Statement")),
    } == {
        "without words": [],
        "idle": [],
    }


@pytest.mark.parametrize("kind", ["Statement", "Finding"])
def test_codes_are_short_words_joined_by_hyphens(kind: str) -> None:
    assert [code for code in all_codes(kind) if not WELL_FORMED.fullmatch(code)] == []


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ('Statement("a-b", {})', {"a-b"}),
        ('Statement(code="a-b")', {"a-b"}),
        ('Statement("a" if x else "b")', {"a", "b"}),
        ('Statement(f"verdict-{answer.verdict}")', {"verdict-even", "verdict-uneven", "verdict-cannot-tell"}),
        ('TABLE = {"x": "a", "y": "b"}\nStatement(TABLE[x])', {"a", "b"}),
        ('def say(code, more):\n    Statement(code)\nsay("a", 1)\nsay("b", 2)', {"a", "b"}),
        ('def say(*, code):\n    Statement(code)\nsay(code="a")', {"a"}),
        ('def say():\n    for code, x in (("a", 1), ("b", 2)):\n        Statement(code)', {"a", "b"}),
        ('def say():\n    code = "a" if x else "b"\n    Statement(code)', {"a", "b"}),
        ('other("a")', set()),
    ],
)
def test_codes_are_told_from_the_source(text: str, found: set[str]) -> None:
    assert codes(source("leanwright.analysis.planted", text), "Statement", 0) == found


@pytest.mark.parametrize(
    "text", ["Statement(x.code)", "Statement(code)", "Statement(f'{reading}')", "Statement(make())"]
)
def test_a_code_that_cannot_be_told_is_refused(text: str) -> None:
    with pytest.raises(UnknownCodeError, match=r"leanwright.analysis.planted:1: cannot tell the code"):
        codes(source("leanwright.analysis.planted", text), "Statement", 0)


def test_the_code_of_a_finding_is_its_second_argument() -> None:
    module = source(
        "leanwright.recordings.planted", 'Finding("note", "cut-last-line", f"Line {n} is cut.", line=n)'
    )
    assert codes(module, "Finding", 1) == {"cut-last-line"}


@pytest.mark.parametrize(
    ("text", "row"),
    [
        ('Finding("note", "a-b", f"Line {n} is cut.")', "| `a-b` | note | Line … is cut. |"),
        ('Finding("note", "a-b", "a|b" + f"{c}")', "| `a-b` | note | a&#124;b… |"),
        (
            'Finding("note", "a-b", f"row{\'s are\' if n else \' is\'} cut")',
            "| `a-b` | note | rows are/ is cut |",
        ),
        (
            'def tell():\n    text = "One."\n    Finding(code="a-b", severity="note", message=text)',
            "| `a-b` | note | One. |",
        ),
    ],
)
def test_a_finding_is_told_on_the_reference_page_as_it_is_worded(text: str, row: str) -> None:
    assert list(generate.finding_rows(source("leanwright.recordings.planted", text))) == [row]
