"""A long channel drawn short: what is seen of it in so many columns, its lowest and highest in each."""

import numpy as np
from numpy.typing import NDArray

from leanwright.report.scale import Scale

Floats = NDArray[np.float64]
_GAP_ROWS = 5.0


def outline(time_s: Floats, values: Floats, across: Scale, up: Scale) -> str:
    """The path of a channel: in each column of one pixel from its lowest to its highest value.

    Missing values leave a gap where more than five rows in a row, or any time without rows, part the readings.
    """
    good = np.isfinite(values)
    time, seen = time_s[good], values[good]
    if time.size == 0:
        return ""
    step = float(np.median(np.diff(time_s))) if time_s.size > 1 else 1.0
    pixel_s = (across.high - across.low) / (across.last - across.first)
    parted = np.diff(time, prepend=time[0]) > max(_GAP_ROWS * step, 2.0 * pixel_s)
    share = (time - across.low) / (across.high - across.low)
    column = np.floor(across.first + share * (across.last - across.first)).astype(np.int64)
    starts = np.flatnonzero(np.concatenate(([True], (np.diff(column) > 0) | parted[1:])))
    low, high = np.minimum.reduceat(seen, starts), np.maximum.reduceat(seen, starts)
    pieces = []
    at = (0, 0.0)
    for number, start in enumerate(starts):
        x = int(column[start])
        ends = [_half(up(float(low[number]))), _half(up(float(high[number])))]
        ends.sort(key=lambda y: abs(y - at[1]))
        if number == 0 or parted[start]:
            pieces.append(f"M{x} {ends[0]:g}")
        else:
            pieces.append(f"l{x - at[0]} {ends[0] - at[1]:g}")
        if ends[1] != ends[0]:
            pieces.append(f"v{ends[1] - ends[0]:g}")
        at = (x, ends[1])
    return "".join(pieces)


def _half(position: float) -> float:
    """A position to the half pixel: what is drawn in whole steps adds up without error."""
    return round(position * 2.0) / 2.0
