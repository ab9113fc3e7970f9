"""The path of the mixture lever, as far as fuel flow at its power tells it."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.middle import middle
from leanwright.analysis.trace import Trace
from leanwright.analysis.turning import turning_points

Floats = NDArray[np.float64]

# Reasons for every threshold stand in docs/theory/sweeps.md.
REVERSAL = 0.03
LEAST_SWEEP = 0.09
LEVEL = 0.015
LONGEST_PAUSE_S = 36.0
SLOW_PAUSE = 4.0
SLOWEST_PAUSE_S = 60.0
QUICK_WINDOW_S = 6.0
QUICK_CHANGE = 0.12
APPROACH_LEVEL = 0.01
CLEARLY_FASTER = 3.0
"""A pull that is most of the way is one if it is this many times as fast as the rest."""
WIDEST_APPROACH = 0.85
APPROACH_SHARE = 0.5
APPROACH_REST_S = 10.0
LEAST_APPROACH = 0.05
APPROACH_CONTRAST = 1.7
AT_REST = 0.003
LONE_REST_S = 20.0
LONE_REST = 2.5
LONGEST_GAP_S = 20.0


@dataclass(frozen=True, slots=True)
class Movement:
    """The lever moved one way, from index ``first`` to ``last`` of the trace; ``quick`` if faster than any sweep."""

    first: int
    last: int
    quick: bool


def find_movements(trace: Trace) -> list[Movement]:
    """All movements of the lever: legs between reversals, cut at pauses and at quick stretches.

    Parameters
    ----------
    trace
        Flow and power.

    Returns
    -------
    list of Movement
        In order of time; neighbours share an end at most.
    """
    movements: list[Movement] = []
    for first, last in _legs(trace):
        if abs(float(trace.mixture[last] - trace.mixture[first])) < REVERSAL:
            continue
        for quick, start, end in _cut_quick(trace, first, last):
            if quick:
                movements.append(Movement(start, end, quick=True))
                continue
            for a, b in _cut_pauses(trace, start, end):
                movements += _cut_approach(trace, a, b)
    return movements


def _changes(time: Floats, path: Floats) -> tuple[Floats, NDArray[np.intp]]:
    """Size of the change within ``QUICK_WINDOW_S`` after each point but the last, and where that window ends."""
    here = np.arange(time.size - 1)
    ahead = np.maximum(np.searchsorted(time, time[:-1] + QUICK_WINDOW_S, side="right") - 1, here + 1)
    return np.abs(path[ahead] - path[:-1]), ahead


def _cut_approach(trace: Trace, first: int, last: int) -> list[Movement]:
    """Cut off the pull that took the lever to where a sweep begins, and one that left its end the same way."""
    for a, b, turned in ((first, last, False), (last, first, True)):
        at = _approach_end(trace, a, b)
        if at is not None and turned:
            return [*_cut_approach(trace, first, at), Movement(at, last, quick=True)]
        if at is not None:
            return [Movement(first, at, quick=True), *_cut_approach(trace, at, last)]
    return [Movement(first, last, quick=False)]


def _approach_end(trace: Trace, first: int, last: int) -> int | None:
    """Where a quick approach that begins at ``first`` has come to rest, or ``None`` if there is none."""
    if abs(last - first) < 4 or abs(float(trace.mixture[last] - trace.mixture[first])) < LEAST_SWEEP:
        return None
    order = slice(first, last + 1) if last > first else slice(first, last - 1 if last else None, -1)
    time, path = np.abs(trace.time_s[order] - trace.time_s[first]), trace.mixture[order]
    change = _changes(time, path)[0]
    way = np.maximum.accumulate(np.abs(path - path[0]))
    reached = np.searchsorted(way, np.arange(0.0, way[-1], APPROACH_LEVEL))
    rests = np.diff(time[reached])
    for k in np.flatnonzero(rests[: int(WIDEST_APPROACH * rests.size)] >= APPROACH_REST_S):
        resting = way[reached[k] : reached[k + 1]]
        at = int(reached[k]) + int(np.argmax(resting >= middle(resting) - AT_REST))
        before = float(change[: max(at, 1)].max())
        after = float(change[at:].max())
        small = k < int(APPROACH_SHARE * rests.size)
        jump = small and before >= 0.6 * way[at] and before >= max(LEAST_APPROACH, APPROACH_CONTRAST * after)
        alone = rests[k] >= max(LONE_REST_S, LONE_REST * float(rests[k + 1 : -1].max(initial=0.0)))
        alone &= _times_faster(time, way, at, int(reached[k + 1])) > (1.0 if small else CLEARLY_FASTER)
        if (jump or alone) and at > 0:
            return first + at if last > first else first - at
    return None


def _times_faster(time: Floats, way: Floats, at: int, after: int) -> float:
    """How many times as fast the lever moved up to ``at``, where it came to rest, as from ``after`` on [1]."""
    before = float(way[at]) / max(float(time[at]), 1.0)
    then = float(way[-1] - way[after]) / max(float(time[-1] - time[after]), 1.0)
    return before / max(then, 1e-9)


def _legs(trace: Trace) -> list[tuple[int, int]]:
    """Index ranges between reversals of more than ``REVERSAL``, never across a long gap or a change of power."""
    legs: list[tuple[int, int]] = []
    moved = trace.power_moved
    breaks = (np.diff(trace.time_s) > LONGEST_GAP_S) | (moved[1:] != moved[:-1])
    edges = [0, *(int(edge) for edge in np.flatnonzero(breaks) + 1), trace.time_s.size]
    for start, end in pairwise(edges):
        if not moved[start] and end - start > 1:
            pivots = turning_points(trace.mixture[start:end], REVERSAL)
            legs.extend((start + a, start + b) for a, b in pairwise(pivots))
    return legs


def _cut_quick(trace: Trace, first: int, last: int) -> list[tuple[bool, int, int]]:
    """Split a leg into quick stretches, where the mixture changes faster than in any sweep, and the rest."""
    path = trace.mixture[first : last + 1]
    if last - first < 2 or float(path.max() - path.min()) <= QUICK_CHANGE:
        return [(False, first, last)]
    change, ahead = _changes(trace.time_s[first : last + 1], path)
    starts = np.flatnonzero(change > QUICK_CHANGE)
    if not starts.size:
        return [(False, first, last)]
    steps = np.bincount(starts, minlength=path.size) - np.bincount(ahead[starts], minlength=path.size)
    quick = steps.cumsum()[:-1] > 0
    edges = [0, *(int(i) for i in np.flatnonzero(quick[1:] != quick[:-1]) + 1), quick.size]
    return [(bool(quick[a]), first + a, first + b) for a, b in pairwise(edges)]


def _cut_pauses(trace: Trace, first: int, last: int) -> list[tuple[int, int]]:
    """Split where the lever rested: where the next ``LEVEL`` of mixture took far longer than most do."""
    path = trace.mixture[first : last + 1]
    sign = 1.0 if path[-1] > path[0] else -1.0
    climb = np.maximum.accumulate(sign * (path - path[0]))
    reached = np.searchsorted(climb, np.arange(0.0, climb[-1], LEVEL), side="right")
    reached = np.minimum(reached, path.size - 1)
    took = np.diff(trace.time_s[first + reached])
    if not took.size:
        return []
    longest = min(max(LONGEST_PAUSE_S, SLOW_PAUSE * float(np.sort(took)[took.size // 4])), SLOWEST_PAUSE_S)
    edges = [0, *(int(i) for i in np.flatnonzero(took > longest) + 1), reached.size]
    return [(first + int(reached[a]), first + int(reached[b - 1])) for a, b in pairwise(edges) if b - a > 1]
