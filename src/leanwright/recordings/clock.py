"""Which columns tell the time, and what time each row has."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.quantities import UNITS
from leanwright.recordings.alike import read_alike
from leanwright.recordings.column import Column
from leanwright.recordings.dates import (
    SECONDS_A_DAY,
    Days,
    read_clock_times,
    read_compact_clock_times,
    read_dates,
    split_date_times,
    with_colons,
)
from leanwright.recordings.label import Label, read_unit
from leanwright.recordings.layout import REMARK
from leanwright.recordings.vocabulary import ROW_NUMBER, squash, vocabulary

Floats = NDArray[np.float64]
Form = Literal["date-time", "clock", "elapsed", "epoch", "row-number", "none"]

# Seconds a count of time units, and the steps [that unit] between rows that a recording may have: 0.15 to 10 s.
STEP_S: Final = (0.15, 10.0)
ELAPSED_UNITS: Final[Mapping[str, float]] = {"s": 1.0, "min": 60.0, "h": 3600.0, "ms": 0.001, "day": 86_400.0}
LONGEST_S: Final = 1e10
# Days as spreadsheets count them, from the end of 1899: from 1954 to 2119.
SERIAL_EPOCH: Final = datetime(1899, 12, 30)  # noqa: DTZ001  a panel's clock states no zone
SERIAL_DAYS: Final = (20_000.0, 80_000.0)
# Counts since 1970-01-01 (POSIX), from 1990 to 2100, in seconds and in milli-, micro- and nanoseconds.
EPOCH: Final = datetime(1970, 1, 1)  # noqa: DTZ001  a panel's clock states no zone
EPOCH_RANGE_S: Final = (6.3e8, 4.1e9)
EPOCH_UNITS: Final = (1.0, 1e-3, 1e-6, 1e-9)
NEARLY_ALL: Final = 0.9
INTERVAL: Final = re.compile(
    r"^(?P<key>[^\d]{2,80}?)[\s:=,;|\t\"]{0,20}(?P<number>\d{1,9}(?:[.,]\d{1,9})?)\s*(?P<unit>[^\s,;|\d\"]{0,20})"
)
BRACKETED: Final = re.compile(r"[(\[]([^()\[\]]*)[)\]]")
HERTZ: Final = frozenset({"hz", "hertz", "s", "persecond", "sps", "samples"})


@dataclass(frozen=True, slots=True)
class TimeColumn:
    """A column that may tell the time."""

    place: int
    label: Label
    column: Column
    unit_cell: str = ""


@dataclass(frozen=True, slots=True)
class Clock:
    """The time of every row, by the best of all columns."""

    seconds: Floats
    """Seconds from the first day's midnight or from the clock's own zero [s]; NaN where a row has none."""
    form: Form
    places: tuple[int, ...] = ()
    """The columns that it was read from."""
    unit: str | None = None
    unit_from_values: bool = False
    started_at: datetime | None = None
    date_ambiguous: bool = False
    of_day: bool = False
    """Whether it is a time of day without a date, which begins again at midnight."""
    hours_by_date: bool = False
    """Whether two parts are taken for hours and minutes for no other reason than the date beside them."""

    @property
    def quality(self) -> tuple[bool, int, int, int]:
        """The better clock has the greater quality: complete, seldom going back, fine, and dated."""
        known = self.seconds[np.isfinite(self.seconds)]
        steps = np.diff(known)
        if self.of_day:
            steps = steps[np.abs(steps) < SECONDS_A_DAY / 2]
        # A file may be written with the newest row first.
        back = min(int(np.sum(steps < 0)), int(np.sum(steps > 0)))
        complete = known.size >= NEARLY_ALL * self.seconds.size
        different = int(np.count_nonzero(np.diff(np.sort(known)))) + bool(known.size)
        return complete, -back, different, FORM_RANK[self.form]


FORM_RANK: Final[Mapping[Form, int]] = {
    "none": 0, "row-number": 1, "clock": 2, "elapsed": 3, "epoch": 4, "date-time": 5,
}  # fmt: skip


def read_clock(
    candidates: Sequence[TimeColumn],
    rows: int,
    lines_before: NDArray[np.int64],
    metadata: Sequence[str],
    row_interval_s: float | None,
) -> Clock:
    """The time of every row.

    ``lines_before`` is the number of data lines before each row, skipped ones included: it counts where a file has
    an interval but no clock.
    """
    days = _dates([column for column in candidates if column.label.quantity == "date"])
    clocks = []
    for column in candidates:
        if column.label.quantity not in {"date", ROW_NUMBER}:
            found = _read_column(column, of_day=days is not None)
            if found is not None:
                clocks.append(found)
    if days is not None:
        clocks = [_with_date(clock, *days) for clock in clocks] or [_date_alone(*days)]
    useful = [clock for clock in clocks if np.isfinite(clock.seconds).any()]
    if useful:
        best = useful[0] if len(useful) == 1 else max(useful, key=lambda clock: clock.quality)
        return _without_absurd_times(best)
    return _row_clock(candidates, rows, lines_before, metadata, row_interval_s)


def _without_absurd_times(clock: Clock) -> Clock:
    """The clock without times that lie centuries away from most."""
    known = clock.seconds[np.isfinite(clock.seconds)]
    middle = (known.size - 1) // 2
    away = np.abs(clock.seconds - np.partition(known, middle)[middle])
    return replace(clock, seconds=np.where(away > LONGEST_S, np.nan, clock.seconds))


def _read_column(column: TimeColumn, *, of_day: bool) -> Clock | None:
    """The clock that one column is; ``None`` if its cells tell no time. Beside a date it is one ``of_day``."""
    values = column.column.values
    texts: Sequence[str] = column.column.texts or []
    alike = read_alike(texts)
    if alike is not None:
        days = read_dates(alike.dates, column.label.time_form)
        if days is None:
            return None if alike.dates else _of_day(column, alike.seconds)
        days = replace(days, days=np.repeat(days.days, alike.rows))
        return _with_date(Clock(alike.seconds, "clock", (column.place,), of_day=True), column.place, days)
    texts = with_colons(texts) or texts
    compact = read_compact_clock_times(texts)
    if compact is not None:
        return _of_day(column, compact)
    if np.isfinite(values).any():
        return _counted(column, values)
    parts = split_date_times(texts)
    if parts is not None:
        days = read_dates(parts[0], column.label.time_form)
        clock = read_clock_times(parts[1], of_day=True)
        if days is not None and clock is not None:
            return _with_date(Clock(clock, "clock", (column.place,), of_day=True), column.place, days)
    of_day = of_day and not vocabulary().elapsed.intersection(_words(column.column.name))
    stated = _stated_parts(column)
    seconds = read_clock_times(texts, hours_and_minutes=stated, of_day=of_day)
    if seconds is None:
        return None
    alone = read_clock_times(texts, hours_and_minutes=stated) if of_day else seconds
    by_date = alone is None or not np.array_equal(alone, seconds, equal_nan=True)
    return replace(_of_day(column, seconds), hours_by_date=by_date)


def _of_day(column: TimeColumn, seconds: Floats) -> Clock:
    """A clock whose times stay below 24 h may be one of the day; beyond that it counts hours."""
    known = seconds[np.isfinite(seconds)]
    return Clock(seconds, "clock", (column.place,), of_day=bool(known.size and known.max() < SECONDS_A_DAY))


def _words(name: str) -> list[str]:
    return [squash(word) for word in re.split(r"[^\w]+|_", name)]


def _stated_parts(column: TimeColumn) -> bool | None:
    """Whether the header says that a two-part time is hours and minutes, or minutes and seconds."""
    form = squash(column.label.time_form or column.unit_cell)
    if form in {"hhmm", "hmm"}:
        return True
    return False if form in {"mmss", "mss", "mmmss"} else None


def _counted(column: TimeColumn, values: Floats) -> Clock | None:
    """A count of seconds, minutes, hours or milliseconds, from a start or from 1970."""
    known = values[np.isfinite(values)]
    high = float(np.median(known))
    stated = column.label.unit or read_unit(column.unit_cell)
    for scale in EPOCH_UNITS:
        if EPOCH_RANGE_S[0] <= high * scale <= EPOCH_RANGE_S[1]:
            day = np.floor(high * scale / SECONDS_A_DAY) * SECONDS_A_DAY
            dated = EPOCH_RANGE_S[0] <= float(known[0]) * scale <= EPOCH_RANGE_S[1]
            start = EPOCH + timedelta(seconds=float(known[0]) * scale) if dated else None
            unit = "s" if scale == 1.0 else None
            # The whole days go first, so that fractions keep their digits.
            seconds = (values - day / scale) * scale
            return Clock(seconds, "epoch", (column.place,), unit, unit is not None and stated != unit, start)
    if stated is None and squash(column.label.strange_unit or column.unit_cell) in vocabulary().milliseconds:
        stated = "ms"
    unit = stated or _unit_by_steps(known)
    if unit not in ELAPSED_UNITS:
        return None
    begun: datetime | None = None
    if unit == "day":
        begun = SERIAL_EPOCH + timedelta(days=float(known[0])) if high > SERIAL_DAYS[0] else None
        values = values - np.floor(known[0])
    told = unit if unit in UNITS else None
    return Clock(values * ELAPSED_UNITS[unit], "elapsed", (column.place,), told, stated is None, begun)


def _unit_by_steps(values: Floats) -> str:
    """The unit in which the steps between rows are those of a recording; seconds where nothing tells."""
    steps = np.abs(np.diff(values))
    steps = steps[steps > 0]
    if not steps.size:
        return "s"
    step = float(np.median(steps))
    if SERIAL_DAYS[0] <= float(values[0]) <= SERIAL_DAYS[1] and step * SECONDS_A_DAY <= STEP_S[1]:
        return "day"
    fitting = [unit for unit, scale in ELAPSED_UNITS.items() if STEP_S[0] <= step * scale <= STEP_S[1]]
    return fitting[0] if fitting else "s"


def _dates(columns: Sequence[TimeColumn]) -> tuple[int, Days] | None:
    for column in columns:
        days = read_dates(column.column.texts or [], column.label.time_form or column.unit_cell.lower())
        if days is not None:
            return column.place, days
    return None


def _with_date(clock: Clock, place: int, days: Days) -> Clock:
    """A time of day with its date; left alone where dates are missing for many rows, or where it has one."""
    both = np.isfinite(clock.seconds) & np.isfinite(days.days)
    if (
        clock.form != "clock"
        or not clock.of_day
        or not both.any()
        or both.sum() < NEARLY_ALL * np.isfinite(clock.seconds).sum()
    ):
        return clock
    first = int(np.flatnonzero(both)[0])
    seconds = (days.days - days.days[first]) * SECONDS_A_DAY + clock.seconds
    day = datetime.fromordinal(int(days.days[first]))
    start = None if days.ambiguous else day + timedelta(seconds=float(clock.seconds[first]))
    places = tuple(dict.fromkeys((*clock.places, place)))
    return Clock(
        seconds,
        "date-time",
        places,
        started_at=start,
        date_ambiguous=days.ambiguous,
        hours_by_date=clock.hours_by_date,
    )


def _date_alone(place: int, days: Days) -> Clock:
    """A date without a time of day tells nothing about rows of one flight."""
    return Clock(np.full(days.days.size, np.nan), "none", (place,))


def _row_clock(
    candidates: Sequence[TimeColumn],
    rows: int,
    lines_before: NDArray[np.int64],
    metadata: Sequence[str],
    row_interval_s: float | None,
) -> Clock:
    """Rows counted, times the interval that was stated; without one, a second a row, and that is said."""
    interval = row_interval_s if row_interval_s is not None else stated_interval(metadata)
    for column in candidates:
        values = column.column.values
        if column.label.quantity == ROW_NUMBER and values.size and np.isfinite(values).mean() >= NEARLY_ALL:
            return Clock(values * (interval or 1.0), "row-number" if interval else "none", (column.place,))
    seconds = lines_before[:rows].astype(np.float64) * (interval or 1.0)
    return Clock(seconds, "row-number" if interval else "none")


def stated_interval(metadata: Sequence[str]) -> float | None:
    """The time between rows [s] that the lines above the header state, as an interval or as a rate.

    >>> stated_interval(["Recording interval (s): 2"]), stated_interval(["Sample rate = 5 Hz"])
    (2.0, 0.2)
    """
    words = vocabulary()
    for line in metadata:
        found = INTERVAL.match(REMARK.sub("", line, count=1))
        if found is None:
            continue
        inside = BRACKETED.findall(found["key"])
        key = squash(BRACKETED.sub(" ", found["key"]))
        unit = squash(found["unit"] or (inside[-1] if inside else ""))
        number = float(found["number"].replace(",", "."))
        if number <= 0:
            continue
        if key in words.interval | words.rate and unit in HERTZ - {"s"}:
            return 1.0 / number
        if key in words.rate:
            return 1.0 / number if unit in HERTZ or not unit else None
        if key in words.interval:
            known = "ms" if unit in words.milliseconds else words.units.get(unit, "s" if not unit else "")
            return number * ELAPSED_UNITS[known] if known in ELAPSED_UNITS else None
    return None
