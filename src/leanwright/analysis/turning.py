"""Turning points of a signal, small reversals passed over: the tops and hollows that stand out."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Top:
    """A top that stands out from what lies beside it.

    ``row`` is where it is highest; ``left`` and ``right`` [rows, with fractions] are where the signal is half-way down
    to the higher of its two feet; ``height`` is its height over that foot [as the signal].
    """

    row: int
    left: float
    right: float
    height: float


def turning_points(values: Sequence[float] | Floats, least: float) -> list[int]:
    """Rows at which a signal turns round.

    Parameters
    ----------
    values : sequence of float
        The signal, without gaps [any]; at least one value.
    least : float
        Reversals below this are passed over [as the signal].

    Returns
    -------
    list of int
        The first row, then hollows and tops in turn, the last of them where the signal went farthest.

    Examples
    --------
    >>> turning_points([0.0, 3.0, 2.5, 5.0, 1.0], 1.0)
    [0, 3, 4]
    """
    signal = np.asarray(values, dtype=np.float64)
    if float(np.ptp(signal)) <= least:
        return [0, signal.size - 1]
    ends = _ends_of_runs(signal)
    pivots = [0]
    high = low = float(signal[0])
    high_at = low_at = 0
    direction = 0
    for index, value in zip(ends.tolist(), signal[ends].tolist(), strict=True):
        if value > high:
            high, high_at = value, index
        elif value < low:
            low, low_at = value, index
        if direction >= 0 and high - value > least:
            if direction > 0 or high_at > 0:
                pivots.append(high_at)
            direction, low, low_at = -1, value, index
            high, high_at = value, index
        elif direction <= 0 and value - low > least:
            if direction < 0 or low_at > 0:
                pivots.append(low_at)
            direction, high, high_at = 1, value, index
            low, low_at = value, index
    pivots.append(high_at if direction > 0 else low_at if direction < 0 else signal.size - 1)
    return pivots


def _ends_of_runs(signal: Floats) -> NDArray[np.intp]:
    """Where the signal stops rising or falling, at the first of equal values: it can turn round nowhere else."""
    steps = np.diff(signal)
    moves = np.flatnonzero(steps)
    rises = steps[moves] > 0.0
    turns = moves[np.flatnonzero(rises[1:] != rises[:-1])]
    return np.concatenate([turns + 1, moves[-1:] + 1])


def tops(values: Floats, least: float) -> list[Top]:
    """Tops that stand out by more than a least height on both sides.

    Parameters
    ----------
    values : ndarray, shape (rows,)
        The signal, without gaps [any].
    least : float
        Least height over the higher foot [as the signal].

    Returns
    -------
    list of Top
        In order of rows.
    """
    if values.size < 3:
        return []
    pivots = turning_points(values, least)
    found = []
    for (before, row), (_, after) in pairwise(pairwise(pivots)):
        if values[row] <= max(values[before], values[after]):
            continue
        first, last = _hill(values, row)
        height = float(values[row] - max(values[first : row + 1].min(), values[row : last + 1].min()))
        if height > least:
            half = float(values[row]) - 0.5 * height
            left = _crossing(values, row, first, half)
            right = _crossing(values, row, last, half)
            found.append(Top(row, left, right, height))
    return found


def _hill(values: Floats, row: int) -> tuple[int, int]:
    """First and last row of the stretch about a row in which nothing stands higher."""
    higher = np.flatnonzero(values > values[row])
    before, after = higher[higher < row], higher[higher > row]
    return (int(before[-1]) + 1 if before.size else 0), (int(after[0]) - 1 if after.size else values.size - 1)


def _crossing(values: Floats, row: int, end: int, level: float) -> float:
    """Where the signal first comes down to a level on the way from a row to another."""
    step = 1 if end > row else -1
    path = values[row : end + step : step] if end + step >= 0 else values[row::step]
    at = int(np.argmax(path <= level))
    part = float((path[at - 1] - level) / (path[at - 1] - path[at]))
    return row + step * (at - 1 + part)
