"""What a single cell is: a number, a time, a mark for "missing", or text."""

import re
from functools import lru_cache
from typing import Final, Literal

CellKind = Literal["number", "time", "missing", "text"]
DecimalMark = Literal[".", ","]

NUMBER: Final = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
COMMA_NUMBER: Final = re.compile(r"[+-]?(?:\d+,?\d*|,\d+)(?:[eE][+-]?\d+)?", re.ASCII)
GROUPED: Final = re.compile(r"[+-]?\d{1,3}(?:,\d{3})+(?:\.\d*)?", re.ASCII)
GROUPED_COMMA: Final = re.compile(r"[+-]?\d{1,3}(?:\.\d{3})+(?:,\d*)", re.ASCII)
CLOCK: Final = re.compile(
    r"[+-]?\d{1,6}:\d{1,2}(?::\d{1,2})?(?:[.,]\d{1,9})?(?:\s*[ap]\.?m\.?)?(?:\s*(?:z|utc|[+-]\d{2}:?\d{2}))?",
    re.ASCII | re.IGNORECASE,
)
DATE: Final = re.compile(
    r"(?:\d{4}([-/.])\d{1,2}\1\d{1,2}|\d{1,2}([-/.])\d{1,2}\2(?:\d{4}|\d{2}))\.?", re.ASCII
)
MISSING_MARKS: Final = frozenset("-–—−*?._#/~x ")
MISSING_WORDS: Final = frozenset(
    (
        "",
        "na",
        "n/a",
        "#n/a",
        "n.a.",
        "nan",
        "null",
        "nil",
        "none",
        "-nan",
        "+nan",
        "inf",
        "-inf",
        "+inf",
        "infinity",
        "-infinity",
        "+infinity",
        "x",
        "xx",
        "xxx",
    )
)
LONGEST_WORD: Final = 24


def is_missing(cell: str) -> bool:
    """Whether a cell stands for "no value": empty, dashes, or one of the usual words.

    >>> [is_missing(cell) for cell in ("", " --- ", "N/A", "--.-", "OPEN", "0")]
    [True, True, True, True, False, False]
    """
    text = cell.strip().lower()
    return text in MISSING_WORDS or (not text.isalnum() and MISSING_MARKS.issuperset(text))


def is_word(cell: str) -> bool:
    """Whether a cell is a word that in a column of numbers stands for a missing value.

    >>> [is_word(cell) for cell in ("OPEN", "probe fail", "14x5", "12")]
    [True, True, False, False]
    """
    return len(cell) <= LONGEST_WORD and not any(c.isdigit() for c in cell)


def plain_number(cell: str, decimal: DecimalMark) -> float | None:
    """The number that a cell shows with this decimal mark; ``None`` if it shows none.

    >>> plain_number("12,5", ","), plain_number("12.5", ","), plain_number("12,5", "."), plain_number("1_0", ".")
    (12.5, 12.5, None, None)
    """
    text = cell.strip().replace("\u2212", "-")
    if NUMBER.fullmatch(text):
        return float(text)
    if decimal == "," and COMMA_NUMBER.fullmatch(text):
        return float(text.replace(",", "."))
    if decimal == "," and GROUPED_COMMA.fullmatch(text):
        return float(text.replace(".", "").replace(",", "."))
    return None


def is_time(cell: str) -> bool:
    """Whether a cell looks like a date, a clock, or both.

    >>> [is_time(cell) for cell in ("2031-05-17", "05/17/2031", "12:30:05", "2031-05-17T12:30:05.2Z", "1:05:00 PM")]
    [True, True, True, True, True]
    """
    text = cell.strip()
    if ":" not in text and "-" not in text and "/" not in text and "." not in text:
        return False
    if CLOCK.fullmatch(text) or DATE.fullmatch(text):
        return True
    date, gap, clock = text.partition("T") if "T" in text else text.partition(" ")
    return bool(gap and DATE.fullmatch(date) and CLOCK.fullmatch(clock.strip()))


@lru_cache(maxsize=16_384)
def _kind(text: str, decimal: DecimalMark) -> CellKind:
    if is_missing(text):
        return "missing"
    if plain_number(text, decimal) is not None:
        return "number"
    return "time" if is_time(text) else "text"


def kind(cell: str, decimal: DecimalMark) -> CellKind:
    """What a cell is, with this decimal mark.

    >>> kind(" 1450 ", "."), kind("12:00", "."), kind("--", "."), kind("OPEN", ".")
    ('number', 'time', 'missing', 'text')
    """
    return _kind(cell.strip(), decimal)
