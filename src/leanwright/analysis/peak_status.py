"""Whether a peak was reached: a decision for each cylinder of a sweep, on stated grounds."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.excerpt import Excerpt
from leanwright.analysis.middle import middle
from leanwright.analysis.passage import READING_VARIANCE, Passage
from leanwright.analysis.peak_fit import Fit
from leanwright.analysis.peak_model import curve_of, log_flow
from leanwright.analysis.peak_noise import NoiseLevel
from leanwright.analysis.peak_place import Places, Swept
from leanwright.analysis.unknowns import POSITION, SCALE
from leanwright.analysis.witness import running_mean

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Decision = Literal["peaked", "not-reached", "unclear"]
Side = Literal["below", "above"]

MARGIN = 0.012
SIGMAS = 2.0
FLOOR = 0.003
SHORT = 0.006
DOUBTED = 2.5
"""Where the model does not describe the sweep, a peak is beyond its end only by this many uncertainties."""
WORST_MISFIT = 1.8
WORST_OWN_F = 3.5
LEAST_DROP = 0.4
TELLING_DROP_F = 20.0
HOLD_S = 7.0
RISE_SPAN = 0.035
RISE_SIGMAS = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Described:
    """How well the model describes one sweep."""

    misfit: float
    """chi-square over its degrees of freedom [1]"""
    own_f: float
    """[degF]"""
    drop: float
    """Fall of the readings from their highest to the end of the sweep over that of the model [1]; NaN where the
    model falls too little to tell"""

    @property
    def well(self) -> bool:
        """The model may be believed."""
        return self.misfit < WORST_MISFIT and self.own_f < WORST_OWN_F and not self.drop <= LEAST_DROP


def described(
    part: Excerpt, passage: Passage, found: Fit, sweep: int, places: Places, egt_f: Floats
) -> Described:
    """Compare one sweep's readings with the fit.

    Parameters
    ----------
    part : Excerpt
        Rows of the sweep.
    passage : Passage
        The sweep made ready.
    found : Fit
        The fit.
    sweep : int
        Position of the sweep in it.
    places : Places
        The fit's peaks.
    egt_f : ndarray
        EGT without spikes [degF], shape (cylinders, rows).

    Returns
    -------
    Described
        Misfit, own noise and the fall at the end of the sweep.
    """
    used: Flags = np.asarray(passage.used.any(1))
    misfit = float(found.chi_square[sweep] / found.freedom[sweep])
    means = running_mean(part.time_s, egt_f, HOLD_S)[:, part.inside]
    highest = np.where(np.isfinite(means), means, -np.inf).max(1)
    ends = (part.start_s, -2.0), (part.end_s, 2.0)
    predicted = _falls(passage, found, sweep, places, [at for at, _ in ends])
    told = []
    for of_model, (at, late_s) in zip(predicted, ends, strict=True):
        observed = highest - _mean_near(part.time_s, egt_f, at + late_s)
        telling = used & (of_model > TELLING_DROP_F) & np.isfinite(observed)
        if telling.any():
            told.append(middle(observed[telling] / of_model[telling]))
    return Described(misfit, found.point.levels[sweep].own_f, min(told) if told else np.nan)


def _mean_near(time_s: Floats, values: Floats, at: float) -> Floats:
    """Mean of rows within some seconds, NaN where there are none, shape (cylinders,)."""
    near = np.abs(time_s - at) <= 0.5 * HOLD_S
    if not near.any():
        near = np.arange(time_s.size) == int(np.argmin(np.abs(time_s - at)))
    known = np.isfinite(values[:, near])
    total = np.where(known, values[:, near], 0.0).sum(1)
    return np.where(known.any(1), total / np.maximum(known.sum(1), 1), np.nan)


def _falls(passage: Passage, found: Fit, sweep: int, places: Places, ends_s: Sequence[float]) -> Floats:
    """Fall of the model from each top to the ends of the sweep [degF], shape (ends, cylinders)."""
    state = found.state(sweep)
    nodes = [int(np.argmin(np.abs(passage.grid_s - at))) for at in ends_s]
    away = log_flow(passage, state)[nodes] - state.own[POSITION][:, None]
    fallen = places.tops.value[sweep][:, None] - curve_of(state, away).value
    return np.asarray((np.exp(state.own[SCALE])[:, None] * fallen).T)


def rising(part: Excerpt, passage: Passage, found: Fit, sweep: int, egt_f: Floats) -> tuple[Flags, Flags]:
    """Whether each EGT still rises towards the ends of the flows swept.

    Parameters
    ----------
    part : Excerpt
        Rows of the sweep.
    passage : Passage
        The sweep made ready.
    found : Fit
        The fit.
    sweep : int
        Position of the sweep in it.
    egt_f : ndarray
        EGT without spikes [degF], shape (cylinders, rows).

    Returns
    -------
    tuple of ndarray
        Towards the lean and towards the rich end, one a cylinder, each of shape (cylinders,).
    """
    state = found.state(sweep)
    path = log_flow(passage, state)
    inside = (passage.grid_s >= part.start_s) & (passage.grid_s <= part.end_s)
    low, high = float(path[inside].min()), float(path[inside].max())
    lean, rich = np.zeros((2, egt_f.shape[0]), dtype=bool)
    time_s = part.time_s[part.inside]
    for i, (row, lag_s) in enumerate(zip(egt_f[:, part.inside], np.exp(state.log_lag).tolist(), strict=True)):
        known = np.isfinite(row)
        seen = np.interp(time_s - lag_s, passage.grid_s, path), row, time_s
        late = _Late(*(values[known] for values in seen)) if not known.all() else _Late(*seen)
        lean[i] = _rises(late, low, -1.0, found.point.levels[sweep])
        rich[i] = _rises(late, high, 1.0, found.point.levels[sweep])
    return lean, rich


class _Late(NamedTuple):
    """Rows of one cylinder with the flow that its probe shows."""

    log_flow: Floats
    egt_f: Floats
    time_s: Floats


def _rises(late: _Late, end: float, sign: float, level: NoiseLevel) -> bool:
    """Whether an EGT rises towards an end by more than what disturbs it; ``sign`` is that of the flow's way there."""
    near = np.abs(late.log_flow - end) <= RISE_SPAN
    count = int(np.count_nonzero(near))
    if count < 4:
        return False
    x, time_s = late.log_flow[near], late.time_s[near]
    x = x - float(x.sum()) / count
    square = float(x @ x)
    if square <= 0.0:
        return False
    slope = sign * float(x @ late.egt_f[near]) / square
    duration = max(float(time_s.max() - time_s.min()), 1.0)
    scatter = level.common_f**2 * min(1.0, 20.0 / duration) + level.own_f**2 * min(1.0, 4.0 / duration)
    scatter += READING_VARIANCE / count
    return bool(slope > RISE_SIGMAS * (scatter * count / square) ** 0.5)


def decide(
    position: float, u: float, range_: Swept, *, well: bool, rises: tuple[bool, bool]
) -> tuple[Decision, Side | None]:
    """Decide on one cylinder.

    Parameters
    ----------
    position : float
        ln(fuel flow) at peak, at common power [1].
    u : float
        Its standard uncertainty [1].
    range_ : Swept
        Flows that the sweep covered.
    well : bool
        The model describes the sweep.
    rises : tuple of bool
        Whether EGT still rises towards the lean and towards the rich end.

    Returns
    -------
    tuple
        Decision, and for ``not-reached`` the side of the bound on which the peak lies.
    """
    lean, rich = position - range_.low, range_.high - position
    distance = min(lean, rich)
    at_lean = lean <= rich
    scatter = float(np.hypot(u, FLOOR))
    still = rises[0] if at_lean else rises[1]
    if distance > MARGIN + SIGMAS * scatter and well and not still:
        return "peaked", None
    if distance < -SHORT and (still or distance < -(1.0 if well else DOUBTED) * scatter):
        return "not-reached", "below" if at_lean else "above"
    return "unclear", None
