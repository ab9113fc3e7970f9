"""Turning points of a signal, small reversals passed over: the tops and hollows that stand out."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

BLOCK = 64
"""So many rows at a time are passed over where none of them can be a turn."""


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
    if float(signal.max() - signal.min()) <= least:
        return [0, signal.size - 1]
    way = _Way(float(signal[0]), least)
    if signal.size <= BLOCK:
        way.walk(range(signal.size), signal.tolist())
        return way.finish()
    ends = _ends_of_runs(signal)
    values = signal[ends]
    firsts = np.arange(0, ends.size, BLOCK)
    highs, lows = np.maximum.reduceat(values, firsts), np.minimum.reduceat(values, firsts)
    for first, block_high, block_low in zip(firsts.tolist(), highs.tolist(), lows.tolist(), strict=True):
        part = slice(first, first + BLOCK)
        if way.turns_within(block_high, block_low):
            way.walk(ends[part].tolist(), values[part].tolist())
        else:
            way.pass_over(ends[part], values[part], block_high, block_low)
    return way.finish()


class _Way:
    """Where a signal turned so far, and how far it went since."""

    def __init__(self, start: float, least: float) -> None:
        self.pivots = [0]
        self.least = least
        self.direction = 0
        self.high = self.low = start
        self.high_at = self.low_at = 0

    def turns_within(self, high: float, low: float) -> bool:
        """Whether a stretch between a highest and a lowest value may hold a turn."""
        down = self.direction >= 0 and max(self.high, high) - low > self.least
        return down or (self.direction <= 0 and high - min(self.low, low) > self.least)

    def pass_over(self, rows: NDArray[np.intp], values: Floats, high: float, low: float) -> None:
        """Go over a stretch without a turn."""
        if high > self.high:
            self.high, self.high_at = high, int(rows[np.argmax(values)])
        if low < self.low:
            self.low, self.low_at = low, int(rows[np.argmin(values)])

    def walk(self, rows: Sequence[int], values: Sequence[float]) -> None:
        """Go from row to row."""
        for row, value in zip(rows, values, strict=True):
            if value > self.high:
                self.high, self.high_at = value, row
            elif value < self.low:
                self.low, self.low_at = value, row
            if self.direction >= 0 and self.high - value > self.least:
                self._turn(-1, self.high_at, row, value)
            elif self.direction <= 0 and value - self.low > self.least:
                self._turn(1, self.low_at, row, value)

    def _turn(self, direction: int, pivot: int, row: int, value: float) -> None:
        if self.direction or pivot > 0:
            self.pivots.append(pivot)
        self.direction = direction
        self.high = self.low = value
        self.high_at = self.low_at = row

    def finish(self) -> list[int]:
        """The rows at which it turned, with the farthest since the last turn."""
        return [*self.pivots, self.high_at if self.direction > 0 else self.low_at]


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
    levels = values[pivots].tolist()
    highs = np.maximum.reduceat(values, np.arange(0, values.size, BLOCK))
    found = []
    for place, row in enumerate(pivots[1:-1], start=1):
        if levels[place] <= max(levels[place - 1], levels[place + 1]):
            continue
        first, last = _hill(values, highs, row)
        height = float(values[row] - max(values[first : row + 1].min(), values[row : last + 1].min()))
        if height > least:
            half = float(values[row]) - 0.5 * height
            left = _crossing(values, row, first, half)
            right = _crossing(values, row, last, half)
            found.append(Top(row, left, right, height))
    return found


def _hill(values: Floats, highs: Floats, row: int) -> tuple[int, int]:
    """First and last row of the stretch about a row in which nothing stands higher; ``highs`` are the highest of each block."""
    level, own = values[row], row // BLOCK
    higher = np.flatnonzero(highs > level)
    at = int(higher.searchsorted(own))
    first, last = 0, values.size - 1
    # In the row's own block what is higher may stand on either side; else the nearest block that holds such a row has it.
    for block in (own, *higher[max(at - 1, 0) : at].tolist()):
        rows = np.flatnonzero(values[block * BLOCK : min((block + 1) * BLOCK, row)] > level)
        if rows.size:
            first = block * BLOCK + int(rows[-1]) + 1
            break
    for block in (own, *higher[at : at + 2].tolist()):
        start = max(block * BLOCK, row)
        rows = np.flatnonzero(values[start : (block + 1) * BLOCK] > level)
        if rows.size:
            last = start + int(rows[0]) - 1
            break
    return first, last


def _crossing(values: Floats, row: int, end: int, level: float) -> float:
    """Where the signal first comes down to a level on the way from a row to another."""
    step = 1 if end > row else -1
    path = values[row : end + step : step] if end + step >= 0 else values[row::step]
    at = int((path[:BLOCK] <= level).argmax()) or int((path <= level).argmax())
    part = float((path[at - 1] - level) / (path[at - 1] - path[at]))
    return row + step * (at - 1 + part)
