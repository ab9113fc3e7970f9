"""Date and time in a column for each part: year, month, day, hour, minute, second."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from leanwright.recordings.clock import Clock
from leanwright.recordings.column import Column
from leanwright.recordings.dates import SECONDS_A_DAY
from leanwright.recordings.vocabulary import squash, vocabulary

Floats = NDArray[np.float64]


def read_parts(columns: Sequence[Column]) -> Clock | None:
    """The clock that columns of hours, minutes and seconds make, with a date where year, month and day stand too.

    ``None`` where one of the three is missing, stands twice, or holds what is none.
    """
    places: dict[str, int] = {}
    for place, column in enumerate(columns):
        part = vocabulary().clock_parts.get(squash(column.name))
        if part is not None and part in places:
            return None
        if part is not None:
            places[part] = place
    if not {"hour", "minute", "second"} <= places.keys():
        return None
    hour, minute, second = (columns[places[part]].values for part in ("hour", "minute", "second"))
    with np.errstate(invalid="ignore"):
        sound = (
            (hour % 1 == 0) & (hour >= 0) & (hour < 24)
            & (minute % 1 == 0) & (minute >= 0) & (minute < 60)
            & (second >= 0) & (second < 61)
        )  # fmt: skip
    if not sound.any() or float(np.mean(sound)) < 0.5:
        return None
    seconds = np.where(sound, hour * 3600.0 + minute * 60.0 + second, np.nan)
    used = tuple(places[part] for part in ("hour", "minute", "second"))
    days = _days(columns, places)
    both = (
        np.isfinite(seconds) & np.isfinite(days) if days is not None else np.zeros(seconds.size, dtype=bool)
    )
    if days is None or not both.any():
        return Clock(seconds, "clock", used, of_day=True)
    first = int(np.flatnonzero(both)[0])
    start = datetime.fromordinal(int(days[first])) + timedelta(seconds=float(seconds[first]))
    dated = (days - days[first]) * SECONDS_A_DAY + seconds
    return Clock(
        dated, "date-time", (*used, *(places[p] for p in ("year", "month", "day"))), started_at=start
    )


def _days(columns: Sequence[Column], places: dict[str, int]) -> Floats | None:
    """The day number of each row, NaN where there is no such date; years of two digits are of this century."""
    if not {"year", "month", "day"} <= places.keys():
        return None
    parts = np.stack([columns[places[part]].values for part in ("year", "month", "day")], axis=1)
    different, which = np.unique(np.nan_to_num(parts, nan=-1.0), axis=0, return_inverse=True)
    return np.array([_day(*one) for one in different.tolist()])[which.reshape(-1)]


def _day(year: float, month: float, day: float) -> float:
    try:
        return float(date(int(year) + (2000 if 0 <= year < 100 else 0), int(month), int(day)).toordinal())
    except ValueError:
        return np.nan
