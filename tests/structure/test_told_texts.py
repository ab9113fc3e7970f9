"""A text without words in another language shows, in whichever test the program tells it."""

from collections import Counter

import pytest

from leanwright.errors import UnreadableRecordingError
from leanwright.told import Told, from_plain
from tests.told_texts import PROGRAM, has_words

TOLD = {
    'Told("It hums")': {"It hums": 1},
    'UnreadableRecordingError("a.csv", "It hums", Told("Sing along."))': {"It hums": 1, "Sing along.": 1},
    'Told.of("It hums")': {},
    'from_plain(["It {hums}", {"hums": 1}])': {},
    'Told("none yet")': {},
}
"""What the program may say, and the texts in it that no language has; what it only hands on may come from outside."""


@pytest.mark.parametrize("said", TOLD)
def test_a_text_of_the_program_that_no_language_has_is_listed(
    said: str, texts_without_words: Counter[str]
) -> None:
    names = {one.__name__: one for one in (Told, UnreadableRecordingError, from_plain)}
    exec(compile(said, PROGRAM / "hum.py", "exec"), names)  # noqa: S102  one of the lines above
    assert texts_without_words == TOLD[said]
    texts_without_words.clear()


@pytest.mark.parametrize(
    "pattern", ["{name}: {reason}", "{name!r}, {place:.2f} #", "", "No such file or directory"]
)
def test_values_and_signs_alone_need_no_words(pattern: str) -> None:
    assert has_words(pattern)


def test_a_text_needs_the_words_of_its_whole_pattern() -> None:
    assert has_words("none yet")
    assert not has_words("None yet")
