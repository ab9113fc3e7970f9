"""The sweeps of one recording from their rows to fitted peaks, with what must be left out on the way."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.excerpt import Excerpt
from leanwright.analysis.middle import middle
from leanwright.analysis.passage import LEFT_OUT, Passage, passage
from leanwright.analysis.peak_budget import budget
from leanwright.analysis.peak_curve import left_over
from leanwright.analysis.peak_fit import Fit, fit
from leanwright.analysis.peak_place import Places, Swept, places_of, swept
from leanwright.analysis.peak_start import best_fit, start
from leanwright.analysis.peak_status import Described, described, rising
from leanwright.analysis.probe_signal import ProbeSignal, median, probe_signal, without_spikes
from leanwright.analysis.unknowns import SCALE, WIDTH

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

OUTLIER_F = 15.0
OUTLIER_SIGMAS = 6.0
BESIDE = 0.4
"""A mean beside one that is left out goes with it when it is off by this share of the limit."""
OUTLIER_PASSES = 3
ODD_LOST = 0.2
"""A cylinder is odd when this share of its means lies far off the fit."""
ODD_WIDTH = 0.7
ODD_SCALE = 0.45
"""A cylinder is odd when ln(width) or ln(scale) of its curve lies this far from the others' median."""
LEAN_SHARE = 0.25
LEAN_LOST = 0.25
LOST_RATIO = 4.0
"""A cylinder falls away when in this leanest share of the flows swept this share of its readings jumped off, and this
many times as many as elsewhere."""
ODD_MISFIT = 3.0
ODD_RATIO = 2.5
"""A cylinder is odd when its residuals are this much larger than expected, and than the others'."""
TOLERATED_MISFIT = 1.15
FACTOR = 1.02
FACTOR_OF_FEW = 1.07
FEW = 4
"""Engines of this many cylinders and fewer need the larger factor: their common noise is told less well."""


@dataclass(frozen=True, slots=True, eq=False)
class Ready:
    """One sweep before the fit."""

    part: Excerpt
    egt_f: Floats
    """EGT without spikes [degF], shape (cylinders, rows)"""
    signal: ProbeSignal
    passage: Passage


def ready(part: Excerpt) -> Ready:
    """Clean, judge and thin one sweep.

    Parameters
    ----------
    part : Excerpt
        Its rows, with flow readings.

    Returns
    -------
    Ready
        Probes that say nothing, and those that come and go, are left out of the passage.
    """
    egt_f = without_spikes(part)
    signal = probe_signal(part, egt_f)
    out = signal.none | signal.intermittent
    return Ready(part, egt_f, signal, passage(part, np.where(out[:, None], np.nan, egt_f)))


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """All sweeps fitted together."""

    ready: tuple[Ready, ...]
    found: Fit
    places: Places
    covariance: Floats
    """of ``places.position``, sweep by sweep, enlarged for misfit [1]"""
    parts: dict[str, Floats]
    """The covariance by source [1]"""
    enlarged: Floats
    """Factor by which the uncertainty of each sweep was enlarged for misfit [1]"""
    described: tuple[Described, ...]
    ranges: tuple[Swept, ...]
    rises: tuple[tuple[Flags, Flags], ...]
    """Whether each EGT still rises towards the lean and the rich end"""
    odd: Flags
    """Cylinders that no curve with one top describes, shape (sweeps, cylinders)"""


def joint(sweeps: Sequence[Ready]) -> Joint:
    """Fit the sweeps of one recording together.

    Parameters
    ----------
    sweeps : sequence of Ready
        At least one, each with a cylinder that can be used.

    Returns
    -------
    Joint
        Peaks with their covariance, and how well all is described.
    """
    parts = [one.part for one in sweeps]
    starts = [start(one.part, one.passage, one.egt_f) for one in sweeps]
    position = np.array([one.position for one in starts])
    away = np.array([falls_away(one) for one in sweeps])
    if away.any():
        sweeps = [_without(one, out) for one, out in zip(sweeps, away, strict=True)]
    found = best_fit(parts, [one.passage for one in sweeps], starts)
    before = [one.passage.used.sum(1) for one in sweeps]
    for _ in range(OUTLIER_PASSES):
        outliers = _outliers(sweeps, found)
        if not any(out.any() for out in outliers):
            break
        sweeps = [_masked(one, out) for one, out in zip(sweeps, outliers, strict=True)]
        found = _refit(sweeps, found, position)
    odd = _odd(sweeps, found, before)
    if odd.any():
        sweeps = [_without(one, out) for one, out in zip(sweeps, odd, strict=True)]
        found = _refit(sweeps, found, position)
    places = places_of(found)
    passages = [one.passage for one in sweeps]
    misfit = np.sqrt(np.maximum(found.chi_square / found.freedom / TOLERATED_MISFIT, 1.0))
    number = places.position.shape[1]
    scale = np.repeat(misfit * (FACTOR if number > FEW else FACTOR_OF_FEW), number)
    square = np.outer(scale, scale)
    return Joint(
        ready=tuple(sweeps),
        found=found,
        places=places,
        covariance=square * places.covariance(found.covariance),
        parts={source: square * part for source, part in budget(passages, found, places).items()},
        enlarged=misfit,
        described=tuple(
            described(one.part, one.passage, found, s, places, one.egt_f) for s, one in enumerate(sweeps)
        ),
        ranges=tuple(swept(one.part, one.passage, found.state(s)) for s, one in enumerate(sweeps)),
        rises=tuple(rising(one.part, one.passage, found, s, one.egt_f) for s, one in enumerate(sweeps)),
        odd=odd | away,
    )


def falls_away(one: Ready) -> Flags:
    """Whether a cylinder's readings jump off at the lean end, as when it misfires.

    Parameters
    ----------
    one : Ready
        A sweep.

    Returns
    -------
    ndarray
        One a cylinder, shape (cylinders,).
    """
    path = one.passage.path.log_flow
    swept_rows = (one.passage.grid_s >= one.part.start_s) & (one.passage.grid_s <= one.part.end_s)
    low, high = path[swept_rows].min(), path[swept_rows].max()
    lean = np.interp(one.part.time_s, one.passage.grid_s, path) < low + LEAN_SHARE * (high - low)
    present = np.isfinite(one.part.egt_f)
    lost = present & ~np.isfinite(one.egt_f)
    at_lean = (lost & lean).sum(1) / np.maximum((present & lean).sum(1), 1)
    elsewhere = (lost & ~lean).sum(1) / np.maximum((present & ~lean).sum(1), 1)
    lost_there = (at_lean > LEAN_LOST) & (at_lean > LOST_RATIO * elsewhere)
    return np.asarray(lost_there & ~one.signal.none & ~one.signal.intermittent)


def _without(one: Ready, out: Flags) -> Ready:
    """The sweep with some of its cylinders left out."""
    return _masked(one, np.repeat(out[:, None], one.passage.time_s.size, 1)) if out.any() else one


def _masked(one: Ready, out: Flags) -> Ready:
    """The sweep with some of its means left out."""
    passage_ = one.passage
    return replace(
        one,
        passage=replace(
            passage_,
            egt_f=np.where(out, 0.0, passage_.egt_f),
            variance=np.where(out, LEFT_OUT, passage_.variance),
            step_variance=np.where(out, 0.0, passage_.step_variance),
        ),
    )


def _refit(sweeps: Sequence[Ready], found: Fit, position: Floats) -> Fit:
    return fit([one.passage for one in sweeps], position, found.point, rounds=2)


def _outliers(sweeps: Sequence[Ready], found: Fit) -> list[Flags]:
    """Means that lie far off the fit while the other cylinders' do not."""
    outliers = []
    for s, one in enumerate(sweeps):
        left = np.where(one.passage.used, left_over(one.passage, found, s), np.nan)
        used = np.isfinite(left)
        alike = np.where(used.sum(0) > 2, _median(left), 0.0)
        apart = np.where(used, np.abs(left - alike), 0.0)
        sigma = 1.4826 * middle(apart[used]) if used.any() else 0.0
        limit = max(OUTLIER_F, OUTLIER_SIGMAS * sigma)
        far = np.pad(apart > limit, ((0, 0), (1, 1)))
        beside = (far[:, :-2] | far[:, 2:]) & (apart > BESIDE * limit)
        outliers.append(far[:, 1:-1] | beside)
    return outliers


def _median(values: Floats) -> Floats:
    """Medians over cylinders, 0 where none is known."""
    result = median(values.T)
    return np.where(np.isfinite(result), result, 0.0)


def _odd(sweeps: Sequence[Ready], found: Fit, before: Sequence[Floats]) -> Flags:
    """Cylinders that the shared curve does not describe while it does the others."""
    odd = np.zeros((len(sweeps), found.layout.cylinders), dtype=bool)
    for s, one in enumerate(sweeps):
        count = one.passage.used.sum(1)
        used = count > 0
        if used.sum() < 3:
            continue
        white = np.matmul(found.reduced[s].whitener, left_over(one.passage, found, s)[:, :, None])[:, :, 0]
        square = np.where(one.passage.used, white**2, 0.0).sum(1) / np.maximum(count, 1)
        odd[s] = (square > ODD_MISFIT) & (square > ODD_RATIO * middle(square[used]))
        odd[s] |= count < (1.0 - ODD_LOST) * before[s]
        own = found.state(s).own
        for kind, limit in ((WIDTH, ODD_WIDTH), (SCALE, ODD_SCALE)):
            odd[s] |= np.abs(own[kind] - middle(own[kind][used])) > limit
        odd[s] &= used
    return odd
