"""The path of the mixture lever, as far as fuel flow at its power tells it."""

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.recordings.recording import Recording

Floats = NDArray[np.float64]

# Reasons for every threshold stand in docs/theory/sweeps.md.
LEAST_FLOW_GPH = 1.0
SMOOTHING_S = 5.0
REVERSAL = 0.03
LEVEL = 0.015
LONGEST_PAUSE_S = 36.0
QUICK_WINDOW_S = 6.0
QUICK_CHANGE = 0.10
LEAST_HURRY = 0.045
HURRY = 2.2
LONGEST_GAP_S = 20.0
REST_S = 60.0
LEAST_NOISE = 0.002


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """Fuel flow and power of one engine, means over seconds (or rows, where they are further apart).

    ``log_power`` is ln(manifold pressure x engine speed) or of what there is of it, about its median; zero where
    neither is recorded. ``mixture`` is ln(flow) - ln(power), smoothed. All of shape (means,), all finite.
    """

    time_s: Floats
    log_flow: Floats
    log_power: Floats
    mixture: Floats
    power_known: bool
    noise: float
    """Standard deviation of one of the means of ln(flow) - ln(power)."""


@dataclass(frozen=True, slots=True)
class Movement:
    """The lever moved one way, from index ``first`` to ``last`` of the trace; ``quick`` if faster than any sweep."""

    first: int
    last: int
    quick: bool


def bin_means(time_s: Floats, values: Floats, origin_s: float, bins: int) -> Floats:
    """Means of the values there are over whole seconds from ``origin_s``; NaN where there are none."""
    good = np.isfinite(values)
    index = (time_s[good] - origin_s).astype(np.intp)
    count = np.bincount(index, minlength=bins)
    total = np.bincount(index, values[good], minlength=bins)
    means: Floats = np.divide(total, count, out=np.full(bins, np.nan), where=count > 0)
    return means


def read_trace(recording: Recording, first_row: int, end_row: int, engine: int) -> Trace | None:
    """The trace of one stretch of rows, or ``None`` where there is no fuel flow to follow."""
    flow = recording.values("fuel_flow", None, engine)
    row_time = recording.time_s[first_row:end_row]
    if flow is None or row_time.size < 3:
        return None
    origin, bins = float(row_time[0]), int(row_time[-1] - row_time[0]) + 1

    def means(values: Floats) -> Floats:
        return bin_means(row_time, values[first_row:end_row], origin, bins)

    binned_time, binned_flow = means(recording.time_s), means(flow)
    good = np.isfinite(binned_flow) & (np.nan_to_num(binned_flow) >= LEAST_FLOW_GPH)
    if good.sum() < 3:
        return None
    time, log_flow = binned_time[good], np.log(binned_flow[good])
    log_power, known = np.zeros(time.size), False
    for quantity in ("manifold_pressure", "engine_speed"):
        values = recording.values(quantity, None, engine)
        if values is None:
            continue
        binned = means(values)[good]
        there = np.isfinite(binned) & (np.nan_to_num(binned) > 1.0)
        if there.sum() < 3:
            continue
        known = True
        log_power = log_power + np.interp(time, time[there], np.log(binned[there]))
    log_power = log_power - float(np.median(log_power))
    mixture = smooth(time, log_flow - log_power, SMOOTHING_S)
    step = _resolution(recording, engine) / float(np.median(binned_flow[good]))
    return Trace(time, log_flow, log_power, mixture, known, _noise(log_flow - log_power, step))


def _resolution(recording: Recording, engine: int) -> float:
    """Step of the flow reading [gal/h], 0 where it is not told."""
    for channel in recording.channels:
        if channel.quantity == "fuel_flow" and channel.engine == engine:
            return channel.resolution or 0.0
    return 0.0


def smooth(time_s: Floats, values: Floats, width_s: float) -> Floats:
    """Running mean over ``width_s`` [s] about each point."""
    total = np.concatenate(([0.0], np.cumsum(values)))
    low = np.searchsorted(time_s, time_s - width_s / 2.0, side="left")
    high = np.searchsorted(time_s, time_s + width_s / 2.0, side="right")
    mean: Floats = (total[high] - total[low]) / (high - low)
    return mean


def find_movements(trace: Trace) -> list[Movement]:
    """All movements of the lever, in order of time: legs between reversals, cut at pauses and at quick stretches."""
    movements = []
    for first, last in _legs(trace):
        for quick, start, end in _cut_quick(trace, first, last):
            if quick:
                movements.append(Movement(start, end, quick=True))
            else:
                movements.extend(Movement(a, b, quick=False) for a, b in _cut_pauses(trace, start, end))
    return movements


def _legs(trace: Trace) -> list[tuple[int, int]]:
    """Index ranges between reversals of more than ``REVERSAL``, and never across a long gap."""
    legs: list[tuple[int, int]] = []
    edges = np.flatnonzero(np.diff(trace.time_s) > LONGEST_GAP_S) + 1
    starts = [0, *(int(edge) for edge in edges)]
    ends = [*starts[1:], trace.time_s.size]
    for start, end in zip(starts, ends, strict=True):
        pivots = _pivots(trace.mixture[start:end].tolist())
        legs.extend((start + a, start + b) for a, b in itertools.pairwise(pivots))
    return legs


def _pivots(values: list[float]) -> list[int]:
    """Indices of the turning points of a zig-zag that ignores reversals below ``REVERSAL``."""
    pivots = [0]
    high = low = values[0]
    high_at = low_at = 0
    direction = 0
    for index, value in enumerate(values):
        if value > high:
            high, high_at = value, index
        elif value < low:
            low, low_at = value, index
        if direction >= 0 and high - value > REVERSAL:
            if direction > 0 or high_at > 0:
                pivots.append(high_at)
            direction, low, low_at = -1, value, index
            high, high_at = value, index
        elif direction <= 0 and value - low > REVERSAL:
            if direction < 0 or low_at > 0:
                pivots.append(low_at)
            direction, high, high_at = 1, value, index
            low, low_at = value, index
    pivots.append(high_at if direction > 0 else low_at if direction < 0 else len(values) - 1)
    return pivots


def _cut_quick(trace: Trace, first: int, last: int) -> list[tuple[bool, int, int]]:
    """Split a leg into quick stretches and the rest.

    Quick is what changes the mixture more within ``QUICK_WINDOW_S`` than any sweep does, or much more than the
    rest of this leg does: the pull that takes the lever to where a sweep begins.
    """
    if last - first < 2:
        return [(False, first, last)]
    time, path = trace.time_s[first : last + 1], trace.mixture[first : last + 1]
    here = np.arange(time.size - 1)
    ahead = np.maximum(np.searchsorted(time, time[:-1] + QUICK_WINDOW_S, side="right") - 1, here + 1)
    change = np.abs(path[ahead] - path[:-1])
    fastest = int(np.argmax(change))
    begin, end = fastest, int(ahead[fastest])
    usual = np.concatenate((change[: max(begin - (end - begin), 0)], change[end:]))
    limit = QUICK_CHANGE
    if usual.size:
        limit = min(limit, max(LEAST_HURRY, HURRY * float(np.quantile(usual, 0.9))))
    if change[fastest] <= limit:
        return [(False, first, last)]
    margin = 0.1 * float(change[fastest])
    while begin > 0 and abs(float(path[begin] - path[begin - 1])) > margin:
        begin -= 1
    while end < time.size - 1 and abs(float(path[end + 1] - path[end])) > margin:
        end += 1
    parts = [(True, first + begin, first + end)]
    if begin > 0:
        parts = _cut_quick(trace, first, first + begin) + parts
    if end < time.size - 1:
        parts += _cut_quick(trace, first + end, last)
    return parts


def _cut_pauses(trace: Trace, first: int, last: int) -> list[tuple[int, int]]:
    """Split where the lever rested: where the next ``LEVEL`` of mixture took longer than ``LONGEST_PAUSE_S``."""
    path = trace.mixture[first : last + 1]
    sign = 1.0 if path[-1] > path[0] else -1.0
    climb = np.maximum.accumulate(sign * (path - path[0]))
    levels = np.arange(0.0, climb[-1], LEVEL)
    reached = np.searchsorted(climb, levels, side="right")
    reached = np.minimum(reached, path.size - 1)
    times = trace.time_s[first + reached]
    edges = [0, *(int(i) for i in np.flatnonzero(np.diff(times) > LONGEST_PAUSE_S) + 1), levels.size]
    return [
        (first + int(reached[a]), first + int(reached[b - 1]))
        for a, b in itertools.pairwise(edges)
        if b - a > 1
    ]


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


def _noise(values: Floats, step: float) -> float:
    """Standard deviation of the reading noise of a slowly changing quantity, not less than its quantisation's."""
    if values.size < 5:
        return max(LEAST_NOISE, step / 12**0.5)
    curvature = np.sort((values[2:] - 2.0 * values[1:-1] + values[:-2]) ** 2)
    trimmed = float(curvature[: max(1, int(0.9 * curvature.size))].mean())
    # 6: variance of a second difference; 0.623: what is left of a normal variance below its 90 % point.
    return max(LEAST_NOISE, step / 12**0.5, float((trimmed / (6.0 * 0.623)) ** 0.5))
