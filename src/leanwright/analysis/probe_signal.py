"""Which readings of a probe can be used in a sweep, and whether they are enough."""

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from leanwright.analysis.excerpt import Excerpt
from leanwright.analysis.middle import middle

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

SPIKE_F = 90.0
STRAY_F = 220.0
JUMP_F = 70.0
"""Readings far off are left out only where they begin or end with a jump of this size between two rows."""
SPAN_S = 80.0
BLOCK_S = 4.0
LEAST_KEPT = 0.40
LEAST_RANGE = 0.25
LOW_F = 500.0
LONGEST_GAP = 0.15
FEW = 8
"""Of more columns than this the library's sort is the quicker way to a median."""
LEAST_GAP = 2.2
"""One missing row is no gap: a gap lasts longer than this many intervals."""


def median(values: Floats) -> Floats:
    """Medians over the last axis, missing values left out.

    Parameters
    ----------
    values : ndarray
        Values, NaN where missing [any], shape (..., many).

    Returns
    -------
    ndarray
        Medians, NaN where all are missing [any], shape (...).
    """
    many = values.shape[-1]
    if not many:
        return np.full(values.shape[:-1], np.nan)
    known = np.isfinite(values)
    if many <= FEW and known.all():
        return _middle_of_few([values[..., k] for k in range(many)])
    count = known.sum(-1)
    rising = np.sort(values, axis=-1)  # missing values come last
    if count.min() == many:
        return np.asarray(0.5 * (rising[..., (many - 1) // 2] + rising[..., many // 2]))
    low = np.maximum(count - 1, 0) // 2
    high = np.minimum(count // 2, values.shape[-1] - 1)
    two = np.take_along_axis(rising, np.stack((low, high), axis=-1), axis=-1)
    return np.where(count > 0, 0.5 * (two[..., 0] + two[..., 1]), np.nan)


def _middle_of_few(columns: list[Floats]) -> Floats:
    """Median over a few long columns: they are put in order by exchanging neighbours, all rows at once."""
    many = len(columns)
    for turn in range(many):
        for k in range(turn % 2, many - 1, 2):
            one, other = columns[k], columns[k + 1]
            columns[k], columns[k + 1] = np.minimum(one, other), np.maximum(one, other)
    return np.asarray(0.5 * (columns[(many - 1) // 2] + columns[many // 2]))


def without_spikes(part: Excerpt) -> Floats:
    """EGT without readings that no probe can have shown.

    What is judged is a cylinder's distance from the median of all, against that distance's own running median:
    cylinders may lie far apart, on the lean flank above all, but the distance does not jump.

    Parameters
    ----------
    part : Excerpt
        The rows of a sweep.

    Returns
    -------
    ndarray
        EGT, NaN where missing or left out [degF], shape (cylinders, rows).
    """
    egt = np.where(np.abs(part.egt_f) < 1e6, part.egt_f, np.nan)
    apart = egt - median(egt.T)
    rows = egt.shape[1]
    usual = max(middle(np.diff(part.time_s)), 1e-3) if rows > 1 else BLOCK_S
    size = max(1, round(BLOCK_S / usual))
    blocks = -(-rows // size)
    padded = np.full((egt.shape[0], blocks * size), np.nan)
    padded[:, :rows] = apart
    medians = median(padded.reshape(egt.shape[0], blocks, size))
    half = max(1, round(0.5 * SPAN_S / (size * usual)))
    edge = np.full((egt.shape[0], half), np.nan)
    running = median(sliding_window_view(np.concatenate((edge, medians, edge), axis=1), 2 * half + 1, axis=1))
    slow = np.repeat(running, size, axis=1)[:, :rows]
    far = (np.abs(apart - slow) > SPIKE_F) | (np.abs(apart - median(apart)[:, None]) > STRAY_F)
    for row, distance, flags in zip(egt, apart, far, strict=True):
        row[_jumped(distance, flags)] = np.nan
    return egt


def _jumped(apart: Floats, far: Flags) -> NDArray[np.int64]:
    """Rows of the stretches far off that begin or end with a jump."""
    known = np.flatnonzero(np.isfinite(apart))
    marked = np.concatenate(([False], far[known], [False]))
    begins, ends = np.flatnonzero(marked[1:] & ~marked[:-1]), np.flatnonzero(marked[:-1] & ~marked[1:])
    values = apart[known]
    left_out = [
        known[a:b]
        for a, b in zip(begins, ends, strict=True)
        if (a > 0 and abs(values[a] - values[a - 1]) > JUMP_F)
        or (b < known.size and abs(values[b] - values[b - 1]) > JUMP_F)
    ]
    return np.concatenate(left_out) if left_out else np.zeros(0, dtype=np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class ProbeSignal:
    """What each probe gave during a sweep. One value a cylinder in each array."""

    kept: Floats
    """Share of the sweep's rows that can be used [1]"""
    moved_f: Floats
    """Range between the 5th and the 95th percentile [degF]"""
    level_f: Floats
    """[degF]"""
    gap: Floats
    """Longest gap as a share of the sweep's time, beyond the recording's interval [1]"""

    none: Flags
    """Probes that say nothing: open, stuck, or far below the others"""
    intermittent: Flags
    """Probes that come and go"""


def _range_and_level(egt_f: Floats) -> tuple[Floats, Floats]:
    """How far each cylinder's readings range, their fringes left out, and their median [degF]; 0 and NaN without any."""
    rising = np.sort(egt_f, axis=1)  # missing values come last
    count = np.isfinite(egt_f).sum(1)
    every = np.arange(count.size)

    def quantile(share: float) -> Floats:
        place = share * np.maximum(count - 1, 0)
        below = place.astype(np.int64)
        above = np.minimum(below + 1, np.maximum(count - 1, 0))
        low, high = rising[every, below], rising[every, above]
        return np.asarray(low + (place - below) * (high - low))

    return np.where(count > 0, quantile(0.95) - quantile(0.05), 0.0), quantile(0.5)


def probe_signal(part: Excerpt, egt_f: Floats) -> ProbeSignal:
    """Judge each probe by its readings in the sweep.

    Parameters
    ----------
    part : Excerpt
        The rows of a sweep.
    egt_f : ndarray
        EGT without spikes [degF], shape (cylinders, rows).

    Returns
    -------
    ProbeSignal
        What each gave.
    """
    time_s = part.time_s[part.inside]
    known = np.isfinite(egt_f[:, part.inside])
    kept = known.mean(1)
    duration = max(part.end_s - part.start_s, 1e-3)
    usual = middle(np.diff(time_s)) if time_s.size > 1 else 0.0
    moved, level = _range_and_level(egt_f[:, part.inside])
    gap = np.ones(kept.size)
    for i in np.flatnonzero(kept):
        seen = np.concatenate(([time_s[0]], time_s[known[i]], [time_s[-1]]))
        longest = float(np.diff(seen).max())
        gap[i] = (longest - usual) / duration if longest > LEAST_GAP * usual else 0.0
    low = level < median(level) - LOW_F
    none = (kept < LEAST_KEPT) | ~(moved >= LEAST_RANGE * median(moved)) | low | (moved <= 0.0)
    return ProbeSignal(kept, moved, level, gap, none, ~none & (gap > LONGEST_GAP))
