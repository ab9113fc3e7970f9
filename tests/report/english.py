"""What of a text would be left in English for a reader of another language."""

import re
from typing import Final

from leanwright.report.words.catalogue import load
from leanwright.told import Told

_SENTENCE: Final = re.compile(r"[A-Za-z]?[a-z']+ [a-z]+ [a-z]+")
"""Words in a row, as no name of a file, column or person in these tests has them."""


def english_left(text: str, language: str) -> list[str]:
    """The patterns of a text for which a language has no words, and the sentences in it that nothing could word."""
    known = load(language).content["text"]
    worded, plain = _parts(Told.of(text))
    has_words = (one for one in worded if any(word.isalpha() and len(word) > 1 for word in one.split()))
    return [*(one for one in has_words if one not in known), *plain]


def _parts(text: Told) -> tuple[list[str], list[str]]:
    """The patterns of a text and of every text in it; and the plain values that read like a sentence."""
    patterns, plain = [text.pattern], []
    for value in text.values.values():
        if isinstance(value, Told):
            more = _parts(value)
            patterns += more[0]
            plain += more[1]
        elif isinstance(value, str) and _SENTENCE.search(value):
            plain.append(value)
    return patterns, plain
