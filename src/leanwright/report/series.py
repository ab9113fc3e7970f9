"""Long channels made short for a screen: the lowest and the highest value in each of so many steps in time."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from leanwright.report.units import System, show

Floats = NDArray[np.float64]


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
        Values of each channel and the key of their unit, as :mod:`leanwright.report.units` names it, shape (rows,).
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


def _shown(values: Floats, unit: str, units: System) -> Floats:
    zero, one = (show(at, unit, units).value for at in (0.0, 1.0))
    return values * (one - zero) + zero
