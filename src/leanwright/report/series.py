"""Long channels made short for a screen: the lowest and the highest value in each of so many steps in time."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.report.units import System, show

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Stretch:
    """What a channel did between two times [reader's unit]; ``per_minute`` is the difference over the time between."""

    at_start: float
    at_end: float
    per_minute: float
    lowest: float
    mean: float
    highest: float
    deviation: float
    rows: int

    @property
    def difference(self) -> float:
        """Value at the end less that at the start."""
        return self.at_end - self.at_start


def thinned(
    time_s: Floats,
    channels: Sequence[tuple[Floats, str]],
    start_s: float,
    end_s: float,
    steps: int,
    units: System = "us",
) -> Floats:
    """Thin channels between two times.

    Parameters
    ----------
    time_s
        Time of each row [s], never falling, shape (rows,).
    channels
        Values of each channel, shape (rows,), and the key of their unit as :mod:`leanwright.report.units` names it; empty
        where the unit is the same for everybody.
    start_s, end_s
        What is looked at [s].
    steps
        Into how many steps of time it is parted.
    units
        The reader's units.

    Returns
    -------
    ndarray
        Shape (1 + 2 · channels, steps used): the middle of each step that holds a row [s], then the lowest and the highest
        value of each channel in it [reader's unit], NaN where it has none.
    """
    first, last = np.searchsorted(time_s, [start_s, end_s])
    first, last = max(int(first) - 1, 0), min(int(last) + 1, time_s.size)
    time = time_s[first:last]
    if time.size == 0:
        return np.empty((1 + 2 * len(channels), 0))
    wide = max(end_s - start_s, 1e-9) / steps
    step = np.floor((time - start_s) / wide)
    starts = np.flatnonzero(np.concatenate(([True], np.diff(step) > 0)))
    ends = np.append(starts[1:], time.size) - 1
    parts = [(time[starts] + time[ends]) / 2.0]
    for values, unit in channels:
        seen = _shown(values[first:last], unit, units)
        parts += [np.fmin.reduceat(seen, starts), np.fmax.reduceat(seen, starts)]
    return np.stack(parts)


def stretch(
    time_s: Floats, values: Floats, unit: str, start_s: float, end_s: float, units: System = "us"
) -> Stretch | None:
    """Sum up a channel between two times, from every row and not from what is drawn.

    Parameters
    ----------
    time_s, values
        Time [s], never falling, and value of each row, shape (rows,).
    unit
        The key of the unit of the values, as :mod:`leanwright.report.units` names it.
    start_s, end_s
        The two times [s].
    units
        The reader's units.

    Returns
    -------
    Stretch or None
        ``None`` where the channel has no value between them.
    """
    inside = slice(int(np.searchsorted(time_s, start_s)), int(np.searchsorted(time_s, end_s, side="right")))
    seen = _shown(values[inside], unit, units)
    there = np.flatnonzero(np.isfinite(seen))
    if there.size == 0:
        return None
    known, time = seen[there], time_s[inside][there]
    minutes = float(time[-1] - time[0]) / 60.0
    return Stretch(
        float(known[0]),
        float(known[-1]),
        float(known[-1] - known[0]) / minutes if minutes > 0.0 else 0.0,
        float(known.min()),
        float(known.mean()),
        float(known.max()),
        float(known.std(ddof=1)) if known.size > 1 else 0.0,
        int(known.size),
    )


def _shown(values: Floats, unit: str, units: System) -> Floats:
    """Values in the reader's unit; a unit without a key is everybody's."""
    if not unit:
        return values
    zero, one = (show(at, unit, units).value for at in (0.0, 1.0))
    return values * (one - zero) + zero
