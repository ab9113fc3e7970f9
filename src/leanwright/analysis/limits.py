"""Where a movement of the lever begins and ends."""

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.lever import LEVEL
from leanwright.analysis.middle import middle
from leanwright.analysis.trace import Trace

Floats = NDArray[np.float64]

# Reasons for every threshold stand in docs/theory/sweeps.md.
REST_S = 60.0
SHORTEST_REACH_S = 25.0
REST_PACE = 3.0
NEAR_S = 90.0
FLOW_LAG_S = 1.0
SLOPE_S = 4.0
WANDER = 0.007
LOCAL_S = 20.0
SETTLED_S = 6.0
LEAST_LOCAL = 3
LEAST_SLOPE = 0.001
LONGEST_BACK_S = 4.0


def refine_limits(
    trace: Trace, first: int, last: int, earliest_s: float, latest_s: float
) -> tuple[float, float]:
    """Start and end of the lever's movement.

    Parameters
    ----------
    trace
        Flow and power.
    first, last
        Indices of the trace within the movement, near its ends.
    earliest_s, latest_s
        Where the movements before and after this one end and begin [s].

    Returns
    -------
    tuple of float
        Start and end [s].
    """
    near = np.searchsorted(trace.time_s, [trace.time_s[first] - NEAR_S, trace.time_s[last] + NEAR_S])
    part = slice(int(near[0]), int(near[1]))
    first, last = first - part.start, last - part.start
    time, rising, path = trace.time_s[part], trace.sharp_mixture[part], trace.mixture[part]
    if path[last] < path[first]:
        rising, path = -rising, -path
    turned = time.size - 1
    start = _onset(time, rising, path, trace.noise, first, last, earliest_s)
    end = -_onset(
        -time[::-1], -rising[::-1], -path[::-1], trace.noise, turned - last, turned - first, -latest_s
    )
    start = max(start - FLOW_LAG_S, float(time[0]))
    return start, max(end - FLOW_LAG_S, start + 1.0)


def _onset(
    time: Floats, rising: Floats, path: Floats, noise: float, first: int, last: int, earliest_s: float
) -> float:
    """When a path that rises from ``first`` to ``last`` left its rest [s].

    The last moment at which the cumulative sum of what exceeds the rest and its noise was lowest (equation 5 of
    docs/theory/sweeps.md), carried back along the first slope to the level of the rest.
    """
    core = _first_above(path, first, last, float(path[first]) + 2.0 * LEVEL)
    percent = _slowest_percent(time, path, core, last)
    reach = min(max(REST_PACE * percent, SHORTEST_REACH_S) + 2.0 * percent, REST_S)
    begin = min(int(np.searchsorted(time, max(earliest_s, time[core] - reach))), first)
    low = np.sort(path[begin : core + 1])
    lowest = float(low[low.size // 8])
    core = _first_above(path, first, last, lowest + 2.0 * LEVEL)
    window = rising[begin : core + 1]
    near = window[np.abs(window - lowest) < max(3.0 * noise, WANDER)]
    level = middle(near) if near.size else lowest
    threshold = level + max(1.5 * noise, WANDER)
    onset = min(begin + _departure(window, threshold), core)
    # Once more against the level just before: a rest wanders over a minute, not over some seconds.
    from_, to = np.searchsorted(time, [time[onset] - LOCAL_S, time[onset] - SETTLED_S])
    from_ = max(int(from_), begin)
    local = rising[from_ : int(to)]
    local = local[local <= threshold]
    if local.size >= LEAST_LOCAL:
        level = float(local.mean())
        threshold = level + noise
        onset = from_ + _departure(rising[from_ : core + 1], threshold)
    onset = min(onset, core)
    before = max(onset - 1, begin)
    ahead = min(max(int(np.searchsorted(time, time[onset] + SLOPE_S)), onset + 1), last)
    slope = max(
        float(rising[ahead] - rising[onset]) / max(float(time[ahead] - time[onset]), 1e-9),
        float(rising[onset] - rising[before]) / max(float(time[onset] - time[before]), 1e-9),
        LEAST_SLOPE,
    )
    back = min(
        max((float(rising[onset]) - level) / slope, 0.0), LONGEST_BACK_S + float(time[onset] - time[before])
    )
    return float(time[onset]) - back


def _departure(values: Floats, threshold: float) -> int:
    """Index of the first value after the last stay below a threshold: where the sum of the excess was lowest."""
    resting = int(np.argmax(values <= threshold))
    return resting + 1 + int(np.argmin(np.cumsum(values[resting:] - threshold)))


def _first_above(path: Floats, first: int, last: int, level: float) -> int:
    """Index of the first point from ``first`` to ``last`` above a level; ``last`` if there is none."""
    above = np.flatnonzero(path[first : last + 1] > level)
    return first + int(above[0]) if above.size else last


def _slowest_percent(time: Floats, path: Floats, first: int, last: int) -> float:
    """The longest time that the path took for a hundredth, between its first rise and its last [s]."""
    way = np.maximum.accumulate(path[first : last + 1] - path[first])
    reached = np.searchsorted(way, np.arange(0.0, way[-1], 0.01))
    took = np.diff(time[first + reached])
    return float(took[:-1].max(initial=0.0))
