"""Where a movement of the lever begins and ends."""

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.lever import LEVEL
from leanwright.analysis.trace import Trace

Floats = NDArray[np.float64]

# Reasons for every threshold stand in docs/theory/sweeps.md.
REST_S = 60.0


def refine_limits(
    trace: Trace, first: int, last: int, earliest_s: float, latest_s: float
) -> tuple[float, float]:
    """Start and end of the lever's movement [s], looked for between ``earliest_s`` and ``latest_s``."""
    rising = trace.log_flow - trace.log_power
    if trace.mixture[last] < trace.mixture[first]:
        rising = -rising
    start = _onset(trace.time_s, rising, trace.noise, first, last, earliest_s)
    turned = trace.time_s.size - 1
    end = -_onset(-trace.time_s[::-1], -rising[::-1], trace.noise, turned - last, turned - first, -latest_s)
    return start, max(end, start)


def _onset(time: Floats, rising: Floats, noise: float, first: int, last: int, earliest_s: float) -> float:
    """When a path that rises from ``first`` to ``last`` left its rest [s].

    The last moment at which the cumulative sum of what exceeds the rest by half its noise was lowest (equation 5
    of docs/theory/sweeps.md), carried back along the first slope to the level of the rest.
    """
    level = float(np.median(rising[max(first - 2, 0) : first + 3]))
    above = np.flatnonzero(rising[first : last + 1] > level + 2.0 * LEVEL)
    core = first + (int(above[0]) if above.size else 0)
    begin = min(int(np.searchsorted(time, max(earliest_s, time[core] - REST_S))), core)
    window = rising[begin : core + 1]
    near = window[np.abs(window - level) < 2.0 * LEVEL]
    level = _commonest(near if near.size else window, 2.0 * noise)
    excess = np.cumsum(window - level - noise)
    onset = begin + 1 + int(np.argmin(excess)) if excess.min() < 0 else begin
    onset = min(onset, core)
    ahead = min(max(int(np.searchsorted(time, time[onset] + 3.0)), onset + 1), last)
    slope = float(rising[ahead] - rising[onset]) / max(float(time[ahead] - time[onset]), 1e-9)
    back = float(rising[onset]) - level
    longest = float(time[onset] - time[onset - 1]) + noise / max(slope, noise) if onset else 0.0
    return float(time[onset]) - (min(max(back / slope, 0.0), longest) if slope > 0 else 0.0)


def _commonest(values: Floats, half_width: float) -> float:
    """The level about which most values lie: their mean within ``half_width`` of the one with most neighbours."""
    neighbours = np.abs(values[:, None] - values[None, :]) <= half_width
    return float(values[neighbours[int(np.argmax(neighbours.sum(axis=0)))]].mean())
