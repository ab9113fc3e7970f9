"""Where the fit begins: the highest readings of each cylinder, and places beside them when those may mislead."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.excerpt import Excerpt
from leanwright.analysis.middle import middle
from leanwright.analysis.passage import Passage
from leanwright.analysis.peak_fit import Fit, fit, starting_point
from leanwright.analysis.peak_model import log_flow
from leanwright.analysis.peak_place import places_of
from leanwright.analysis.witness import running_mean

Floats = NDArray[np.float64]

USUAL_LAG_S = 2.3
TOP_SPAN_S = 8.0
NEAR_END = 0.025
POOR = 1.5
LEANER, RICHER = -0.06, 0.05
TRIED_TOGETHER = 4
"""Up to so many sweeps all are fitted anew from other starts; of more, a doubtful one is tried alone first."""
ELSEWHERE = 0.004
"""Fits whose peaks end further apart than this have come to different places (logarithm)."""


@dataclass(frozen=True, slots=True, eq=False)
class Start:
    """Where the tops seem to be in one sweep. One value a cylinder in each array."""

    position: Floats
    """ln(fuel flow) [1]"""
    top_f: Floats
    """EGT less the passage's level [degF]"""


def start(part: Excerpt, passage: Passage, egt_f: Floats) -> Start:
    """Take the flow some seconds before the highest mean reading of each cylinder.

    Parameters
    ----------
    part : Excerpt
        The rows of the sweep.
    passage : Passage
        The sweep made ready.
    egt_f : ndarray
        EGT without spikes [degF], shape (cylinders, rows).

    Returns
    -------
    Start
        Cylinders without readings take the others' median.
    """
    position, top = np.full(egt_f.shape[0], np.nan), np.zeros(egt_f.shape[0])
    for i, row in enumerate(running_mean(part.time_s, egt_f, TOP_SPAN_S)):
        smooth = np.where(part.inside, row, np.nan)
        if np.isfinite(smooth).any():
            best = int(np.nanargmax(smooth))
            position[i] = np.interp(part.time_s[best] - USUAL_LAG_S, passage.grid_s, passage.path.log_flow)
            top[i] = smooth[best] - passage.level_f[i]
    known = np.isfinite(position)
    usual = middle(position[known]) if known.any() else float(passage.path.log_flow.mean())
    return Start(np.where(known, position, usual), top)


def best_fit(parts: Sequence[Excerpt], passages: Sequence[Passage], starts: Sequence[Start]) -> Fit:
    """Fit from the highest readings, and from leaner and richer ones where those may mislead; keep the likeliest.

    One doubtful sweep among many would have all of them fitted three times over; there it is tried alone first, and only
    where it comes to another place are all fitted again.

    Parameters
    ----------
    parts : sequence of Excerpt
        Rows of each sweep.
    passages : sequence of Passage
        The sweeps made ready.
    starts : sequence of Start
        Where the tops seem to be.

    Returns
    -------
    Fit
        The one with the lowest cost.
    """
    position = np.array([one.position for one in starts])
    top_f = np.array([one.top_f for one in starts])
    best = fit(passages, position, starting_point(passages, position, top_f))
    doubtful = _doubtful(parts, passages, best)
    if len(parts) > TRIED_TOGETHER:
        for s in np.flatnonzero(doubtful).tolist():
            doubtful[s] = _leads_elsewhere(passages[s], starts[s])
    if doubtful.any():
        for shift in (LEANER, RICHER):
            moved = position + np.where(doubtful, shift, 0.0)[:, None]
            other = fit(passages, moved, starting_point(passages, moved, top_f))
            best = min(best, other, key=lambda found: found.cost)
    return best


def _leads_elsewhere(passage: Passage, begun: Start) -> bool:
    """Whether one sweep by itself comes to another place from a leaner or a richer start."""
    top_f = begun.top_f[None]
    ends = []
    for shift in (0.0, LEANER, RICHER):
        position = begun.position[None] + shift
        alone = fit([passage], position, starting_point([passage], position, top_f))
        ends.append(places_of(alone).position[0, passage.used.any(1)])
    return bool(np.ptp(ends, axis=0).max() > ELSEWHERE)


def _doubtful(parts: Sequence[Excerpt], passages: Sequence[Passage], found: Fit) -> NDArray[np.bool_]:
    """Sweeps with a peak near an end of the flows swept, or poorly described."""
    places = places_of(found)
    result = found.chi_square / found.freedom > POOR
    for s, (part, passage) in enumerate(zip(parts, passages, strict=True)):
        inside = (passage.grid_s >= part.start_s) & (passage.grid_s <= part.end_s)
        path = log_flow(passage, found.state(s))[inside]
        used = passage.used.any(1)
        near = (places.position[s] < path.min() + NEAR_END) | (places.position[s] > path.max() - NEAR_END)
        result[s] |= bool((near & used).any())
    return result
