"""Stamps that are all written alike, digit below digit → dates and seconds, all at once."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.recordings.texts import Codes, Texts, runs_of

Floats = NDArray[np.float64]

STAMP: Final = re.compile(
    r"(?P<date>[^ T:]+[ T])?(?P<clock>\d\d:[0-5]\d:[0-5]\d)(?P<fraction>[.,]\d{1,9})?(?P<zone>Z|[+-]\d\d:\d\d)?",
    re.ASCII,
)
NOUGHT: Final = ord("0")
MOST: Final = (9, 9, 5, 9, 5, 9)
"""The highest digit at each place of hhmmss."""
WEIGHTS: Final = np.array((36_000.0, 3600.0, 600.0, 60.0))
"""What each digit of hours and minutes counts [s]."""


@dataclass(frozen=True, slots=True, eq=False)
class Stamps:
    """What stamps of one form say."""

    seconds: Floats
    """Time of day [s], or hours, minutes and seconds counted."""
    dates: list[str]
    """The date of each run of rows with the same one; empty where the stamps hold none."""
    rows: NDArray[np.int64]
    """How many rows each run has."""


def read_alike(texts: Sequence[str]) -> Stamps | None:
    """Read stamps that all have the first one's form; ``None`` where one of them has another, or the form is no clock.

    >>> stamps = read_alike(["2031-05-17T23:59:59.5", "2031-05-18T00:00:00.0"])
    >>> stamps.dates, stamps.seconds.tolist()
    (['2031-05-17', '2031-05-18'], [86399.5, 0.0])
    """
    form = STAMP.fullmatch(texts[0]) if texts else None
    codes = None if form is None else _codes(texts)
    if form is None or codes is None:
        return None
    begin, (end, last) = form.start("clock"), (form.end("clock"), form.end("fraction"))
    seconds = _seconds(codes[:, begin:end], codes[:, end:last] if last > 0 else codes[:, :0])
    if seconds is None or (codes[:, max(end, last) :] != codes[0, max(end, last) :]).any():
        return None
    if form["zone"] and form["zone"] != "Z":
        away = float(form["zone"][1:3]) * 3600 + float(form["zone"][4:]) * 60
        seconds += -away if form["zone"][0] == "+" else away
    if not begin:
        return Stamps(seconds, [], np.empty(0, dtype=np.int64))
    if (codes[:, begin - 1] != codes[0, begin - 1]).any():
        return None
    return Stamps(seconds, *runs_of(codes[:, : begin - 1]))


def _codes(texts: Sequence[str]) -> Codes | None:
    """The codes of all texts by row and character; ``None`` where they are not all as long, or not all ASCII."""
    codes = texts.codes if isinstance(texts, Texts) else None
    if codes is None and all(map(str.isascii, texts)) and set(map(len, texts)) == {len(texts[0])}:
        codes = np.frombuffer("".join(texts).encode(), dtype=np.uint8).reshape(len(texts), -1)
    return codes


def _seconds(clock: Codes, fraction: Codes) -> Floats | None:
    """Seconds of hh:mm:ss with a fraction or none, the mark before it included; ``None`` where it is something else."""
    digits = np.delete(clock, (2, 5), axis=1).astype(np.int64) - NOUGHT
    marks = np.concatenate([clock[:, 2:6:3] != ord(":"), fraction[:, :1] != fraction[:1, :1]], axis=1)
    behind = fraction[:, 1:].astype(np.int64) - NOUGHT
    if (digits < 0).any() or (digits > MOST).any() or marks.any():
        return None
    if (behind < 0).any() or (behind > 9).any():
        return None
    whole = digits[:, :4] @ WEIGHTS
    # The seconds with their fraction are rounded once, as Python reads them from the text.
    count = behind.shape[1]
    parts = (digits[:, 4] * 10 + digits[:, 5]) * 10**count + behind @ 10 ** np.arange(count)[::-1]
    result: Floats = whole + parts / 10.0**count
    return result
