"""How the invented layouts write time."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

Fields = tuple[str, ...]
Writer = Callable[[datetime, float, int, int], Fields]
"""From the moment, the seconds since the first row, the row number and the decimals of a second to the fields."""


@dataclass(frozen=True, slots=True)
class TimeForm:
    """Time columns of a layout: header texts, meaning and unit of each, and how a row is written."""

    headers: Fields
    quantities: Fields
    units: tuple[str | None, ...]
    write: Writer


def fraction(seconds: float, decimals: int) -> str:
    """Two digits of seconds with as many decimals as the recorder keeps."""
    width = 3 + decimals if decimals else 2
    return f"{seconds:0{width}.{decimals}f}"


def _rounded(moment: datetime, decimals: int) -> datetime:
    """The moment with its second rounded: what is rounded up to sixty is the next minute, and at midnight the next day."""
    return moment.replace(microsecond=0) + timedelta(seconds=round(moment.microsecond * 1e-6, decimals))


def _seconds(moment: datetime, decimals: int) -> str:
    return fraction(moment.second + round(moment.microsecond * 1e-6, decimals), decimals)


def _clock(moment: datetime, decimals: int) -> str:
    return f"{moment:%H:%M}:{_seconds(moment, decimals)}"


def _twelve_hours(moment: datetime, decimals: int) -> str:
    return f"{(moment.hour - 1) % 12 + 1}:{moment:%M}:{_seconds(moment, decimals)} {'AM' if moment.hour < 12 else 'PM'}"


def _dated(written: Callable[[datetime, int], Fields]) -> Writer:
    """A writer of the moment alone."""
    return lambda moment, _elapsed, _row, decimals: written(_rounded(moment, decimals), decimals)


def _minutes(elapsed: float, decimals: int) -> str:
    minutes, seconds = divmod(round(elapsed, decimals), 60.0)
    return f"{int(minutes):02d}:{fraction(seconds, decimals)}"


def _hours(elapsed: float, decimals: int) -> str:
    hours, rest = divmod(round(elapsed, decimals), 3600.0)
    return f"{int(hours)}:{_minutes(rest, decimals)}"


EPOCH: Final = datetime(1970, 1, 1)  # noqa: DTZ001 - a panel's clock knows no zone

FORMS: Final[dict[str, TimeForm]] = {
    "iso": TimeForm(("Time",), ("time",), (None,), _dated(lambda m, d: (f"{m:%Y-%m-%d}T{_clock(m, d)}",))),
    "iso-space": TimeForm(
        ("Date Time",), ("time",), (None,), _dated(lambda m, d: (f"{m:%Y-%m-%d} {_clock(m, d)}",))
    ),
    "iso-two": TimeForm(
        ("Date", "Time"), ("date", "time"), (None, None), _dated(lambda m, d: (f"{m:%Y-%m-%d}", _clock(m, d)))
    ),
    "month-first": TimeForm(
        ("Date", "Time"),
        ("date", "time"),
        (None, None),
        _dated(lambda m, d: (f"{m:%m/%d/%Y}", _twelve_hours(m, d))),
    ),
    "day-first": TimeForm(
        ("Date", "Time"), ("date", "time"), (None, None), _dated(lambda m, d: (f"{m:%d.%m.%Y}", _clock(m, d)))
    ),
    "clock": TimeForm(("Time",), ("time",), (None,), _dated(lambda m, d: (_clock(m, d),))),
    "elapsed": TimeForm(("Elapsed time",), ("time",), ("s",), lambda _m, e, _r, d: (f"{e:.{d}f}",)),
    "minutes": TimeForm(("Elapsed",), ("time",), (None,), lambda _m, e, _r, d: (_minutes(e, d),)),
    "hours": TimeForm(("Elapsed",), ("time",), (None,), lambda _m, e, _r, d: (_hours(e, d),)),
    "epoch": TimeForm(
        ("Epoch time",), ("time",), ("s",), lambda m, _e, _r, d: (f"{(m - EPOCH).total_seconds():.{d}f}",)
    ),
    "row": TimeForm(("Row",), ("time",), (None,), lambda _m, _e, r, _d: (str(r),)),
}
"""Every way of writing time, by name."""


def moment_of(began: datetime, elapsed_s: float) -> datetime:
    """The moment [date and time] so many seconds [s] after the first row, to the millisecond."""
    return began + timedelta(milliseconds=round(1000.0 * elapsed_s))
