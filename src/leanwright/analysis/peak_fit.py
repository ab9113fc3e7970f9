"""The joint fit of all sweeps of one recording: damped Gauss-Newton with the shared unknowns taken out.

Equation numbers are those of docs/theory/peaks.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.passage import DRIFT_NODES, Passage
from leanwright.analysis.peak_equations import Equations
from leanwright.analysis.peak_model import State, determinant_slope, state_of
from leanwright.analysis.peak_noise import (
    COMMON_RANGE_F,
    DRIFT_RANGE_F,
    NoiseLevel,
    own_level,
    shared_level,
    whiteners,
)
from leanwright.analysis.peak_reduced import Reduced, reduce
from leanwright.analysis.unknowns import (
    CURVE_MEAN,
    FIRST_WIDTH_SPREAD,
    HEIGHT,
    POSITION,
    WIDTH,
    Layout,
    Prior,
    prior,
)

Floats = NDArray[np.float64]

ITERATIONS = 7
LARGEST_POSITION_STEP = 0.05
LARGEST_LAG_STEP = 0.6
LARGEST_WIDTH_STEP = 0.3
SETTLED_POSITION = 4e-4
SETTLED_LAG = 0.04
LEVEL_STEPS = 2
ROUGHLY = 8.0
"""A round that only prepares the next settles this much more roughly."""
WIDTH_SPREAD_DATA = 0.08
"""What two cylinders' worth of earlier knowledge says of the spread of ln(width)."""


@dataclass(frozen=True, slots=True, eq=False)
class Point:
    """Values of everything that is fitted."""

    unknowns: Floats
    """In the order of the layout [mixed], shape (unknowns,)"""
    paths: tuple[Floats, ...]
    """Amplitudes of each path's directions [1]"""
    levels: tuple[NoiseLevel, ...]
    width_spread: float = FIRST_WIDTH_SPREAD
    """Standard deviation of ln(width) between cylinders [1]"""


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Where the fit settled."""

    layout: Layout
    point: Point
    prior: Prior
    covariance: Floats
    """of the unknowns [mixed], shape (unknowns, unknowns)"""
    reduced: tuple[Reduced, ...]
    latents: tuple[Floats, ...]
    """Amplitudes of common noise, drift, power and path of each sweep in their standard deviations [1]"""
    last_step: Floats
    """Last step of the unknowns, which ``reduced`` stands before [mixed], shape (unknowns,)"""
    chi_square: Floats
    """One a sweep [1]"""
    freedom: Floats
    """Degrees of freedom, one a sweep [1]"""
    cost: float
    """-ln of the marginal likelihood, eq. (15) [1]"""
    iterations: int

    def state(self, sweep: int) -> State:
        """Values of one sweep's unknowns.

        Parameters
        ----------
        sweep : int
            Position of the sweep.

        Returns
        -------
        State
            Its part of the vector.
        """
        return state_of(self.layout, self.point.unknowns, sweep, self.point.paths[sweep])


def starting_point(passages: Sequence[Passage], position: Floats, top_f: Floats) -> Point:
    """Where a fit begins.

    Parameters
    ----------
    passages : sequence of Passage
        The sweeps.
    position : ndarray
        ln(fuel flow) of the tops [1], shape (sweeps, cylinders).
    top_f : ndarray
        EGT of the tops less each passage's level [degF], shape (sweeps, cylinders).

    Returns
    -------
    Point
        Curves and lags as they are known beforehand.
    """
    layout = Layout(*position.shape)
    unknowns = prior(layout, position, FIRST_WIDTH_SPREAD).mean
    rounding = 0.4 * (CURVE_MEAN[0] + CURVE_MEAN[1]) * np.exp(CURVE_MEAN[4])
    unknowns[layout.own[:, HEIGHT]] = top_f + rounding
    paths = tuple(np.zeros(p.path.directions.shape[0]) for p in passages)
    return Point(unknowns, paths, (NoiseLevel(),) * len(passages))


def _cap(layout: Layout, step: Floats) -> float:
    """Share of a step that keeps positions, lags and widths within what the linear model can bear."""
    largest = (
        (layout.own[:, POSITION], LARGEST_POSITION_STEP),
        (layout.lag, LARGEST_LAG_STEP),
        (layout.curve[:, 4], LARGEST_WIDTH_STEP),
    )
    return min(1.0, *(limit / max(float(np.abs(step[places]).max()), 1e-12) for places, limit in largest))


@dataclass(frozen=True, slots=True, eq=False)
class _Round:
    """A point that settled with the noise held, and the equations there."""

    point: Point
    prior: Prior
    normal: Equations
    """Normal equations of all unknowns"""
    reduced: tuple[Reduced, ...]
    step: Floats
    latents: tuple[Floats, ...]
    log_lag: Floats
    """ln(lag in s) that the noise was whitened for"""
    iterations: int


def _settle(
    passages: Sequence[Passage], layout: Layout, position: Floats, point: Point, roughly: float
) -> _Round:
    """Gauss-Newton with the noise levels held."""
    known = prior(layout, position, point.width_spread)
    log_lag = point.unknowns[layout.lag]
    whitener = [whiteners(p, level, log_lag) for p, level in zip(passages, point.levels, strict=True)]
    cap, moved = 1.0, np.inf
    slopes = [np.zeros(0)] * len(passages)
    told = 1 if roughly > 1.0 else 2
    for iteration in range(1, ITERATIONS + 1):
        reduced = []
        right = known.pull(point.unknowns)
        for s, passage in enumerate(passages):
            state = state_of(layout, point.unknowns, s, point.paths[s])
            one = reduce(passage, whitener[s], point.levels[s], state)
            places = layout.local(s)
            if iteration <= told:  # it hardly changes from one step to the next
                slopes[s] = determinant_slope(passage, whitener[s], one.linear, one.of_path(), state)
            right[places] += one.right + slopes[s]
            reduced.append(one)
        normal = Equations.of(known, [one.normal for one in reduced])
        step = normal.solve(right)
        cap = _cap(layout, step)
        before, moved = moved, float(np.abs(step[layout.own[:, POSITION]]).max())
        if cap == 1.0 and moved > 0.7 * before:  # the determinant's slope is not in the matrix: do not swing
            cap = 0.5
        step = cap * step
        best = [one.path(step[layout.local(s)]) for s, one in enumerate(reduced)]
        paths = tuple(old + cap * (new - old) for old, new in zip(point.paths, best, strict=True))
        point = replace(point, unknowns=point.unknowns + step, paths=paths)
        lag_moved = float(np.abs(step[layout.lag]).max())
        if cap == 1.0 and moved < roughly * SETTLED_POSITION and lag_moved < roughly * SETTLED_LAG:
            break
    latents = tuple(one.latents(step[layout.local(s)]) for s, one in enumerate(reduced))
    return _Round(point, known, normal, tuple(reduced), step, latents, log_lag, iteration)


def _relevelled(passages: Sequence[Passage], layout: Layout, done: _Round) -> Point:
    """The point with the noise levels that its residuals tell, eqs. (16) to (18)."""
    point = done.point
    covariance = done.normal.inverse()
    levels = []
    for s, (passage, one) in enumerate(zip(passages, done.reduced, strict=True)):
        places = layout.local(s)
        after = one.linear.residual - done.step[places] @ one.linear.jacobian
        level, latent, certain = _shared_levels(one, after, point.levels[s])
        left = after - latent @ one.linear.shared
        fitted = float(np.sum(covariance[np.ix_(places, places)] * one.normal))
        free = float(passage.used.sum()) - certain - fitted
        share = max(free, 10.0) / max(float(passage.used.sum()), 10.0)
        left = left.reshape(passage.egt_f.shape)
        own_f = own_level(passage, level, done.log_lag, one.whitener, left, share)
        levels.append(replace(level, own_f=own_f))
    widths = layout.own[:, WIDTH]
    variance = covariance[widths, widths].mean(0) + point.unknowns[widths].mean(0) ** 2
    spread = np.sqrt((variance.sum() + 2.0 * WIDTH_SPREAD_DATA**2) / (layout.cylinders + 1))
    return replace(point, levels=tuple(levels), width_spread=float(spread))


def _shared_levels(one: Reduced, after: Floats, level: NoiseLevel) -> tuple[NoiseLevel, Floats, float]:
    """Sizes of common noise and drift with the unknowns held; the latents, and how many of them the data tell."""
    rest = one.shared_alone(after)
    power = rest.seen.size - 1
    quick, slow = slice(0, power - DRIFT_NODES), slice(power - DRIFT_NODES, power)
    usual, found = NoiseLevel(), level
    scale = np.ones(rest.seen.size)
    for _ in range(LEVEL_STEPS):
        told = scale
        inverse = np.linalg.inv(np.eye(scale.size) + scale[:, None] * rest.square * scale)
        latent, certain = inverse @ (scale * rest.seen), 1.0 - np.diag(inverse)
        found = replace(
            found,
            common_f=shared_level(
                usual.common_f, found.common_f, latent[quick], certain[quick], COMMON_RANGE_F
            ),
            drift_f=shared_level(usual.drift_f, found.drift_f, latent[slow], certain[slow], DRIFT_RANGE_F),
        )
        scale = np.ones(scale.size)
        scale[quick] = found.common_f / level.common_f
        scale[slow] = found.drift_f / level.drift_f
    path = rest.path(told * latent)
    number = float(certain.sum()) + rest.certain_path(told[:, None] * inverse * told)
    return found, np.concatenate((scale * latent, path)), number


def fit(passages: Sequence[Passage], position: Floats, point: Point, *, rounds: int = 2) -> Fit:
    """Fit all sweeps of one recording together.

    Parameters
    ----------
    passages : sequence of Passage
        The sweeps.
    position : ndarray
        ln(fuel flow) about which the tops are looked for [1], shape (sweeps, cylinders).
    point : Point
        Where to begin.
    rounds : int
        How often the noise levels are told anew, the first included [1].

    Returns
    -------
    Fit
        Values, covariance, and how well they describe the data.
    """
    layout = Layout(*position.shape)
    iterations = 0
    for number in range(rounds):
        last = number == rounds - 1
        done = _settle(passages, layout, position, point, 1.0 if last else ROUGHLY)
        iterations += done.iterations
        point = done.point if last else _relevelled(passages, layout, done)
    return _finished(passages, layout, done, iterations)


def _finished(passages: Sequence[Passage], layout: Layout, done: _Round, iterations: int) -> Fit:
    """Covariance, misfit and likelihood where the fit settled."""
    away = done.prior.mean - done.point.unknowns
    cost = 0.5 * float(away @ done.prior.pull(done.point.unknowns))
    cost += 0.5 * (done.normal.log_determinant - done.prior.log_determinant)
    covariance = done.normal.inverse()
    chi_square, freedom = [], []
    for s, (passage, one) in enumerate(zip(passages, done.reduced, strict=True)):
        places = layout.local(s)
        step = done.step[places]
        left = one.energy - 2.0 * float(step @ one.right) + float(step @ one.normal @ step)
        cost += 0.5 * left + 0.5 * one.log_determinant
        cost -= float(np.log(np.diagonal(one.whitener, axis1=1, axis2=2)).sum())
        chi_square.append(left)
        fitted = float(np.sum(covariance[np.ix_(places, places)] * one.normal))
        freedom.append(max(float(passage.used.sum()) - fitted, 1.0))
    return Fit(
        layout,
        done.point,
        done.prior,
        covariance,
        done.reduced,
        done.latents,
        done.step,
        np.array(chi_square),
        np.array(freedom),
        cost,
        iterations,
    )
