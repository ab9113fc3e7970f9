"""Dates and clocks as text → days and seconds. Which order a date is in is told by the data, or said to be open."""

import itertools
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.recordings.cells import is_missing
from leanwright.recordings.texts import Texts

Floats = NDArray[np.float64]
Order = Literal["year-first", "month-first", "day-first", "month-named"]

CLOCK: Final = re.compile(
    r"([+-])?(\d{1,6}):(\d{1,2})(?::(\d{1,2}))?([.,]\d{1,9})?\s*([ap])?\.?(?:m\.?)?\s*(z|utc|[+-]\d{2}:?\d{2})?",
    re.ASCII | re.IGNORECASE,
)
PLAIN_CLOCK: Final = re.compile(r" *(\d{1,6}):([0-5]\d):([0-5]\d(?:[.,]\d{1,9})?) *", re.ASCII)
COMPACT_CLOCK: Final = re.compile(r"T?([01]\d|2[0-3])([0-5]\d)([0-5]\d(?:\.\d{1,9})?)", re.ASCII)
DOTTED_CLOCK: Final = re.compile(r"([01]?\d|2[0-3])\.([0-5]\d)\.([0-5]\d(?:,\d{1,9})?)", re.ASCII)
LETTERED_CLOCK: Final = re.compile(
    r"(\d{1,3})\s*h\s*([0-5]?\d)\s*(?:m|mn|min)\s*([0-5]?\d(?:[.,]\d{1,9})?)\s*s?", re.ASCII | re.IGNORECASE
)
DATE_AND_CLOCK: Final = re.compile(r"\d[.,]?[ T]\s*\d{1,2}:\d", re.ASCII)
LOOK_AT: Final = 500
SEPARATORS: Final = ("-", "/", ".")
ORDERS: Final[dict[Order, tuple[str, ...]]] = {
    "year-first": (*(f"%Y{s}%m{s}%d" for s in SEPARATORS), "%Y%m%d"),
    "month-first": tuple(f"%m{s}%d{s}%{year}" for s in SEPARATORS for year in "Yy"),
    "day-first": (*(f"%d{s}%m{s}%{year}" for s in SEPARATORS for year in "Yy"), "%d.%m.%Y.", "%d.%m.%y."),
    "month-named": tuple(
        form
        for month in "bB"
        for year in "Yy"
        for form in (
            f"%d-%{month}-%{year}",
            f"%d %{month} %{year}",
            f"%{month} %d %{year}",
            f"%{month} %d, %{year}",
        )
    ),
}
SECONDS_A_DAY: Final = 86_400.0


@dataclass(frozen=True, slots=True)
class Days:
    """Dates of a column: day number a row, NaN where there is none."""

    days: Floats
    order: Order
    ambiguous: bool
    """Whether another order fits the data as well and would give other dates."""


def read_dates(texts: Sequence[str], form: str | None) -> Days | None:
    """Read a column of dates; ``form`` is how the header says that they are written, if it does.

    >>> read_dates(["05/17/2031", "05/18/2031"], None).order
    'month-first'
    >>> read_dates(["03/04/2031"], None).ambiguous
    True
    """
    runs = texts.runs() if isinstance(texts, Texts) else None
    cells, rows = (texts, 1) if runs is None else runs
    different = list(dict.fromkeys(text.strip() for text in cells))
    filled = [text for text in different if not is_missing(text)]
    if not filled:
        return None
    read = {order: _read(filled, forms) for order, forms in ORDERS.items()}
    most = max(map(len, read.values()))
    if most < max(1, len(filled) // 2):
        return None
    fitting: list[Order] = [order for order in ORDERS if len(read[order]) == most]
    order, ambiguous = _choose(fitting, read, filled, form)
    numbers = {text: float(day.toordinal()) for text, day in read[order].items()}
    days = np.repeat([numbers.get(text.strip(), np.nan) for text in cells], rows)
    return Days(days, order, ambiguous)


def _read(texts: Iterable[str], forms: Sequence[str]) -> dict[str, date]:
    found = {}
    for text in texts:
        for form in (form for form in forms if _may_be(text, form)):
            try:
                found[text] = datetime.strptime(text, form).date()  # noqa: DTZ007  a panel's clock states no zone
            except ValueError:
                continue
            break
    return found


def _may_be(text: str, form: str) -> bool:
    """Whether a date can be written in this form at all: forms are dear to try, and most fail at a glance."""
    named = any(c.isalpha() for c in text)
    if named != ("b" in form.lower().replace("%d", "")):
        return False
    if not all(mark in text for mark in form if mark in "-/., "):
        return False
    if form.startswith("%Y"):
        return text[:4].isdecimal()
    return text.rstrip(".")[-4:].isdecimal() == form.rstrip(".").endswith("%Y")


def _choose(
    fitting: Sequence[Order], read: dict[Order, dict[str, date]], texts: Sequence[str], form: str | None
) -> tuple[Order, bool]:
    """The order that the header states, that the way of writing tells, or that makes the dates lie closest together."""
    if len(fitting) == 1 or all(read[order] == read[fitting[0]] for order in fitting):
        return fitting[0], False
    if form and form.lstrip("( [")[:1] in {"d", "m"}:
        return ("day-first" if form.lstrip("( [")[0] == "d" else "month-first"), False
    if all("." in text for text in texts):
        return "day-first", False  # common practice: dots are not used with the month first
    spans = {order: (max(read[order].values()) - min(read[order].values())).days for order in fitting}
    order = min(fitting, key=lambda candidate: spans[candidate])
    return order, sum(span == spans[order] for span in spans.values()) > 1


def read_clock_times(
    texts: Sequence[str], *, hours_and_minutes: bool | None = None, of_day: bool = False
) -> Floats | None:
    """Seconds of each clock or elapsed time [s]; NaN where a cell is none. ``None`` if few are.

    Two-part times are hours and minutes or minutes and seconds: what is said, else what the data tell. A time ``of_day``
    has its hours, as long as they are below 24 (ISO 8601-1:2019, section 5.3.1.3).

    >>> read_clock_times(["1:00:00.5 PM", "12:00:00 AM", "-"])
    array([46800.5,     0. ,     nan])
    >>> read_clock_times(["59:58", "59:59", "60:00"])
    array([3598., 3599., 3600.])
    """
    try:
        return np.array([_plain(text) for text in texts])
    except ValueError:
        pass
    parts = [CLOCK.fullmatch(text.strip()) for text in texts]
    filled = sum(not is_missing(text) for text in texts)
    if sum(part is not None for part in parts) < max(1, filled / 2):
        return None
    if hours_and_minutes is None:
        hours_and_minutes = _are_hours_and_minutes(parts) or (of_day and _may_be_of_day(parts))
    return np.array(
        [np.nan if part is None else _seconds(part, hours_and_minutes=hours_and_minutes) for part in parts]
    )


def with_colons(texts: Sequence[str]) -> list[str] | None:
    """Clocks written as 09.15.00 or 09h15m00s in the usual way; ``None`` where a cell is neither, or all are the same.

    >>> with_colons(["09.15.00", "09.15.01"]), with_colons(["9h15m00s", "9h15m01s"])
    (['09:15:00', '09:15:01'], ['9:15:00', '9:15:01'])
    """
    for form in (DOTTED_CLOCK, LETTERED_CLOCK):
        if not any(form.fullmatch(text.strip()) for text in texts[:LOOK_AT]):
            continue
        parts = [form.fullmatch(text.strip()) for text in texts]
        strange = any(part is None and not is_missing(text) for part, text in zip(parts, texts, strict=True))
        if not strange and len({part.groups() for part in parts if part is not None}) > 1:
            return ["" if part is None else ":".join(part.groups()) for part in parts]
    return None


def _plain(text: str) -> float:
    """The commonest form, h:mm:ss with or without a fraction."""
    part = PLAIN_CLOCK.fullmatch(text)
    if part is None:
        raise ValueError(text)
    hours, minutes, seconds = part.groups()
    return int(hours) * 3600 + int(minutes) * 60 + float(seconds.replace(",", "."))


def _are_hours_and_minutes(parts: Sequence[re.Match[str] | None]) -> bool:
    """Rows come more often than once a minute: where most of them repeat the one before, there are no seconds."""
    pairs = [(part[2], part[3]) for part in parts if part is not None and part[4] is None and part[5] is None]
    if len(pairs) < sum(part is not None for part in parts):
        return False
    changes = sum(one != two for one, two in itertools.pairwise(pairs))
    return changes < (len(pairs) - 1) / 2


def _may_be_of_day(parts: Sequence[re.Match[str] | None]) -> bool:
    """Whether each time of two parts would be one of the day as hours and minutes."""
    two = [part for part in parts if part is not None and part[4] is None]
    return all(part[5] is None and int(part[2]) < 24 and int(part[3]) < 60 for part in two)


def _seconds(part: re.Match[str], *, hours_and_minutes: bool) -> float:
    sign, first, second, third, fraction, half, zone = part.groups()
    if third is None and not hours_and_minutes:
        hours, minutes, seconds = 0, int(first), float(second + (fraction or "").replace(",", "."))
    else:
        hours, minutes = int(first), int(second)
        seconds = float((third or "0") + (fraction or "").replace(",", "."))
    if (minutes > 59 and third is not None) or seconds >= 61 or (half and not 1 <= hours <= 12):
        return np.nan
    if half:
        hours = hours % 12 + (12 if half.lower() == "p" else 0)
    total = hours * 3600 + minutes * 60 + seconds
    if zone and zone[0] in "+-":
        away = int(zone[1:3]) * 3600 + int(zone[-2:]) * 60
        total -= away if zone[0] == "+" else -away
    return -total if sign == "-" else total


def read_compact_clock_times(texts: Sequence[str]) -> Floats | None:
    """Seconds of times of day written as six digits, the basic form of ISO 8601; ``None`` if any cell is another number.

    >>> read_compact_clock_times(["095959", "100000.5", ""])
    array([35999. , 36000.5,     nan])
    """
    if not any(COMPACT_CLOCK.fullmatch(text.strip()) for text in texts[:LOOK_AT]):
        return None
    parts = [COMPACT_CLOCK.fullmatch(text.strip()) for text in texts]
    if any(part is None and not is_missing(text) for part, text in zip(parts, texts, strict=True)):
        return None
    return np.array(
        [
            np.nan if part is None else int(part[1]) * 3600 + int(part[2]) * 60 + float(part[3])
            for part in parts
        ]
    )


def split_date_times(texts: Sequence[str]) -> tuple[list[str], list[str]] | None:
    """Dates and clocks of a column that holds both in each cell; ``None`` if it does not.

    >>> split_date_times(["2031-05-17T12:00:00Z", "17 May 2031 12:00:01"])
    (['2031-05-17', '17 May 2031'], ['12:00:00Z', '12:00:01'])
    """
    if not any(DATE_AND_CLOCK.search(text) for text in texts[:LOOK_AT]):
        return None
    dates, clocks = [], []
    for text in texts:
        colon = text.find(":")
        gap = max(text.rfind(" ", 0, colon), text.rfind("T", 0, colon)) if colon > 0 else -1
        day = text[: max(gap, 0)].strip().rstrip(",")
        dates.append(day)
        clocks.append(text[gap + 1 :].strip() if day else "")
    both = len(dates) - dates.count("")
    filled = sum(not is_missing(text) for text in texts)
    return (dates, clocks) if both >= max(1, filled / 2) else None
