"""What a single cell is: a number, a time, a mark for "missing", or text."""

import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Final, Literal

from leanwright.recordings.vocabulary import squash, vocabulary

CellKind = Literal["number", "time", "missing", "text"]
DecimalMark = Literal[".", ","]

NUMBER: Final = {
    mark: re.compile(
        rf"[+-]?(?:\d+(?:{re.escape(mark)}\d*)?|{re.escape(mark)}\d+)(?:[eE][+-]?\d+)?", re.ASCII
    )
    for mark in (".", ",")
}
"""A number by its decimal mark."""
GROUPED: Final = {
    ".": re.compile(r"[+-]?\d{1,3}(?:,\d{3})+(?P<fraction>\.\d*)?", re.ASCII),
    ",": re.compile(r"[+-]?\d{1,3}(?:\.\d{3})+(?P<fraction>,\d*)?", re.ASCII),
}
"""A number by its decimal mark, with the other mark between thousands."""
BETWEEN_THOUSANDS: Final = re.compile(r"[ \u00a0\u2009\u202f'\u2019]")
PARTED: Final = {
    mark: re.compile(
        rf"[+-]?\d{{1,3}}(?:{BETWEEN_THOUSANDS.pattern}\d{{3}})+(?:{re.escape(mark)}\d*)?", re.ASCII
    )
    for mark in (".", ",")
}
"""A number by its decimal mark, with blanks or apostrophes between thousands, which can be nothing else."""
WITH_UNIT: Final = re.compile(r"(?P<number>[+-]?\d[\d.,]{0,15})\s*(?P<unit>[^\W\d_]\D{0,11}|[°º˚%]\D{0,11})")
"""A number with its unit behind it."""
OTHER: Final[dict[DecimalMark, DecimalMark]] = {".": ",", ",": "."}
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


def is_missing(cell: str) -> bool:
    """Whether a cell stands for "no value": empty, dashes, or one of the usual words.

    >>> [is_missing(cell) for cell in ("", " --- ", "N/A", "--.-", "OPEN", "0")]
    [True, True, True, True, False, False]
    """
    text = cell.strip().lower()
    return text in MISSING_WORDS or (not text.isalnum() and MISSING_MARKS.issuperset(text))


def read_number(cell: str, decimal: DecimalMark) -> float | None:
    """The number that a cell shows with this decimal mark; ``None`` if it shows none.

    Between thousands there may be blanks or apostrophes; or the other mark, if a fraction follows, so that nothing is
    left to guess.

    >>> read_number("12,5", ","), read_number("1.012,5", ","), read_number("12,5", "."), read_number("1_0", ".")
    (12.5, 1012.5, None, None)
    """
    text = cell.strip().replace("\u2212", "-")
    if NUMBER[decimal].fullmatch(text):
        return float(text.replace(",", "."))
    if PARTED[decimal].fullmatch(text):
        return float(BETWEEN_THOUSANDS.sub("", text).replace(",", "."))
    grouped = GROUPED[decimal].fullmatch(text)
    return without_groups(text, decimal) if grouped and grouped["fraction"] else None


def without_groups(text: str, decimal: DecimalMark) -> float:
    """The number without the marks between its thousands.

    >>> without_groups("12,500.5", "."), without_groups("2.400", ",")
    (12500.5, 2400.0)
    """
    return float(text.replace(OTHER[decimal], "").replace(",", "."))


def split_unit(cell: str) -> tuple[str, str] | None:
    """The number of a cell that states its unit, as it is written, and the unit; ``None`` for any other cell.

    >>> split_unit("1450°F"), split_unit("12.3 gph"), split_unit("1450"), split_unit("12 OPEN")
    (('1450', 'degF'), ('12.3', 'gal/h'), None, None)
    """
    found = WITH_UNIT.fullmatch(cell.strip().replace("\u2212", "-"))
    unit = vocabulary().units.get(squash(found["unit"])) if found is not None else None
    return None if found is None or unit is None else (found["number"], unit)


def any_number(cell: str) -> float | None:
    """The number that a cell shows with either decimal mark, the point first.

    >>> any_number("12.5"), any_number("12,5"), any_number("1,012.5"), any_number("12,5.")
    (12.5, 12.5, 1012.5, None)
    """
    number = read_number(cell, ".")
    return read_number(cell, ",") if number is None else number


def decimal_mark(cells: Iterable[str]) -> DecimalMark | None:
    """The decimal mark that these cells prove; ``None`` if they prove none.

    A mark with three digits behind it may stand between thousands, and proves nothing.

    >>> decimal_mark(["12,5", "2400"]), decimal_mark(["12.5", "2,400"]), decimal_mark(["2,400", "---"])
    (',', '.', None)
    """
    different = set(cells)
    marks: tuple[DecimalMark, ...] = (",", ".")
    return next((mark for mark in marks if any(_proves(cell, mark) for cell in different)), None)


def _proves(cell: str, mark: DecimalMark) -> bool:
    """Whether a cell, with a unit behind it or without one, is a number by this mark and by no other."""
    if mark not in cell:
        return False
    found = split_unit(cell)
    text = cell.strip() if found is None else found[0]
    return mark in text and read_number(text, mark) is not None and not GROUPED[OTHER[mark]].fullmatch(text)


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
def _kind(text: str) -> CellKind:
    if is_missing(text):
        return "missing"
    if any_number(text) is not None or any(form.fullmatch(text) for form in GROUPED.values()):
        return "number"
    if is_time(text):
        return "time"
    return "text" if split_unit(text) is None else "number"


def kind(cell: str) -> CellKind:
    """What a cell is, by whichever decimal mark.

    >>> kind(" 1450 "), kind("14,5"), kind("12:00"), kind("--"), kind("OPEN")
    ('number', 'number', 'time', 'missing', 'text')
    """
    return _kind(cell.strip())
