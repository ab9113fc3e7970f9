"""Every finding and refusal has its words in every language, with the same values, and no words are idle."""

import re
import string
import tomllib
from pathlib import Path

import pytest

from leanwright.report.words.catalogue import load
from tests.structure.codes import UnknownCodeError
from tests.structure.sources import PACKAGE, source
from tests.structure.texts import all_patterns, patterns

LANGUAGES = sorted(path for path in (PACKAGE / "report" / "words").glob("*.toml") if path.stem != "en")
VALUE = re.compile(r"\{[^{}]*\}")


def has_words(pattern: str) -> bool:
    """Whether a pattern holds more than values, marks and the signs of units."""
    return re.search(r"[A-Za-z]{2}|: ", VALUE.sub("", pattern)) is not None


def values(pattern: str) -> set[tuple[str, bool]]:
    """The values of a pattern, each with whether it stands in quotation marks."""
    return {
        (key, conversion == "r")
        for _, key, _, conversion in string.Formatter().parse(pattern)
        if key is not None
    }


def test_english_words_only_what_a_program_names_by_a_key() -> None:
    worded = load("en").content["text"]
    assert worded.keys() - all_patterns() == set()
    assert [english for english, said in worded.items() if values(english) != values(said)] == []
    assert [english for english, said in worded.items() if ":work-step}" not in said] == []


ALIKE = {"US Part 43", "Cursor A, h:mm:ss", "Cursor B, h:mm:ss"}
"""A name, and words that two languages share."""


@pytest.mark.parametrize("language", LANGUAGES, ids=lambda path: path.stem)
def test_a_language_has_words_for_every_text_and_no_others(language: Path) -> None:
    worded = tomllib.loads(language.read_text("utf-8"))["text"].keys()
    needed = {pattern for pattern in all_patterns() if has_words(pattern)}
    assert {"without words": sorted(needed - worded), "idle": sorted(worded - all_patterns())} == {
        "without words": [],
        "idle": [],
    }


@pytest.mark.parametrize("language", LANGUAGES, ids=lambda path: path.stem)
def test_the_same_values_stand_in_the_same_texts(language: Path) -> None:
    worded = tomllib.loads(language.read_text("utf-8"))["text"].items()
    assert [english for english, said in worded if values(english) != values(said)] == []


@pytest.mark.parametrize("language", LANGUAGES, ids=lambda path: path.stem)
def test_a_text_of_several_words_is_translated(language: Path) -> None:
    worded = tomllib.loads(language.read_text("utf-8"))["text"].items()
    same = [
        english
        for english, said in worded
        if english == said and english not in ALIKE and len(VALUE.sub("", english).split()) > 2
    ]
    assert same == []


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ('Told("Line {line} is cut.", line=3)', {"Line {line} is cut."}),
        ('Told("a" if one else "b {n}", n=n)', {"a", "b {n}"}),
        ('HEAD: Final = "It"\nTold(HEAD + " ends at {line}", line=3)', {"It ends at {line}"}),
        ('Finding("note", "a-b", "It ends.")', {"It ends."}),
        ('AGAIN = "Copy it {again}."\nEmptyRecordingError(name, "It is empty.", AGAIN)', {"It is empty.", "Copy it {{again}}."}),
        ('Finding("note", "a-b", found.message)', set()),
    ],
)  # fmt: skip
def test_texts_are_told_from_the_source(text: str, found: set[str]) -> None:
    assert patterns(source("leanwright.recordings.planted", text)) == found


@pytest.mark.parametrize(
    "text",
    ['Finding("note", "a-b", f"Line {n} is cut.")', 'Told(f"Line {n}")', 'TooLargeError(name, "a" + b, c)'],
)
def test_a_text_that_no_other_language_could_say_is_refused(text: str) -> None:
    with pytest.raises(UnknownCodeError, match=r"leanwright.recordings.planted:1: "):
        patterns(source("leanwright.recordings.planted", text))
