"""The path that the fuel flow really took, told from readings that lag, scatter and come in steps.

Equation numbers are those of docs/theory/peaks.md.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.middle import quantile
from leanwright.analysis.probe_lag import Lag

Floats = NDArray[np.float64]
Reals = NDArray[np.floating]
Places = NDArray[np.int64]

READING_LAG_S = 1.0
"""Lag of a flow reading that the path is first taken through [s]; the fit corrects it."""
QUIET_ROWS = 6
QUIET_SHARE = 0.25
QUIET = 0.575
"""A quarter of the means of six squared normal values lie below this (chi-square of 6 degrees of freedom over 6)."""
JUMP_SPAN_S = 1.5
JUMP_PASSES = 2
JUMP_FREEDOM = 1.0
WANDER = np.array([1e-3, 2e-3, 3e-3])
"""Standard deviations of ln(flow) after one second of random walk that are tried [1/s^0.5]"""
TURN = np.array([1e-6, 1e-5, 1e-4, 1e-3])
"""The same for its rate [1/s^1.5]"""
WANDER_FACTOR = 1.7
"""The walk's variance is taken three times as large as it looks: a hand is less even than its average."""
U_LEVEL = 1.0
U_RATE = 0.02
MANY_READINGS = 48
"""Of more readings than this every other one tells the sizes of walk and turn."""
COARSE_NODES = 112
MIXTURE = 0.0008
MIXTURE_TIME_S = 8.0
SLOW_MIXTURE = 0.0008
SLOW_MIXTURE_TIME_S = 200.0
FELT_LAG_S = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class FlowPath:
    """ln(fuel flow) along a grid and the ways in which it may be wrong."""

    log_flow: Floats
    """[1], shape (nodes,)"""
    rate: Floats
    """[1/s], shape (nodes,)"""
    directions: Reals
    """Leading directions of the uncertainty along the grid, each scaled by its standard deviation [1], shape (directions,
    nodes); linear between some of the nodes"""
    step_share: float
    """Share of the readings' variance that their steps make [1]"""


def reading_sigma(log_reading: Floats, step: float) -> float:
    """Scatter of readings from their second differences, not below what their steps make.

    Parameters
    ----------
    log_reading : ndarray
        ln(flow read) [1], shape (rows,), no missing values.
    step : float
        Step of the reading in ln(flow) [1].

    Returns
    -------
    float
        Standard deviation of one reading [1].

    Notes
    -----
    The second difference of white noise has six times its variance. It is told from the quietest quarter of short
    blocks of rows, since a lever that moves in steps makes differences too. A step s spreads by s/sqrt(12) when the
    error is even; twice that variance is taken, since errors of neighbouring readings in steps are alike.
    """
    floor = max(step * step / 6.0, 1e-8)
    if log_reading.size < 3:
        return float(np.sqrt(max(floor, 1e-6)))
    second = np.diff(log_reading, 2) ** 2
    whole = second.size // QUIET_ROWS * QUIET_ROWS
    blocks = second[:whole].reshape(-1, QUIET_ROWS) if whole else second[None]
    quiet = quantile(blocks.mean(1), QUIET_SHARE) / QUIET
    return float(np.sqrt(max(quiet / 6.0, floor)))


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """What the readings see of each increment of the path."""

    step_s: float
    away_s: Floats
    """Times of the grid from its middle, shape (nodes,)"""
    walk: Floats
    """shape (readings, nodes)"""
    turn: Floats
    slope: Floats
    """shape (readings,)"""


def _seen(grid_s: Floats, sample: Floats) -> _Seen:
    step = float(grid_s[1] - grid_s[0])
    lagged = Lag(np.array([READING_LAG_S]), step, grid_s.size).transposed(sample[None])[0]
    backwards = np.cumsum(lagged[:, ::-1], axis=1)
    walk = np.ascontiguousarray(backwards[:, ::-1])
    turn = step * np.cumsum(backwards, axis=1)[:, ::-1]
    walk[:, 0] = 0.0
    turn[:, 0] = 0.0
    away = grid_s - 0.5 * (grid_s[0] + grid_s[-1])
    return _Seen(step, away, walk, turn, lagged @ away)


def flow_path(
    grid_s: Floats,
    sample: Floats,
    reading: Floats,
    variance: Floats,
    number: int,
    step_share: float,
    interval_s: float,
) -> FlowPath:
    """Smooth the readings into a path by a Gaussian process seen through the reading's lag, eqs. (7) and (8).

    Parameters
    ----------
    grid_s : ndarray
        Even grid, a whole number of blocks [s], shape (nodes,).
    sample : ndarray
        Means of the grid that the readings are [1], shape (readings, nodes).
    reading : ndarray
        ln(flow read), means [1], shape (readings,).
    variance : ndarray
        Variances of the readings [1], shape (readings,).
    number : int
        Number of directions to keep [1].
    step_share : float
        Share of the readings' variance that their steps make [1].
    interval_s : float
        Usual time between rows [s].

    Returns
    -------
    FlowPath
        Posterior mean, its rate, and the leading directions of the posterior covariance.

    Notes
    -----
    Prior: level, rate, random walk and integrated random walk, whose sizes are those of the largest marginal
    likelihood of the readings. Then the walk's increments get variances of their own, as if drawn from Student's t:
    a lever rests and jumps.
    """
    seen = _seen(grid_s, sample)
    by_walk = seen.step_s * (seen.walk @ seen.walk.T)
    by_turn = seen.step_s * (seen.turn @ seen.turn.T)
    fixed = U_LEVEL**2 + U_RATE**2 * np.outer(seen.slope, seen.slope)
    fixed += np.diag(variance)
    offset = float(reading.mean())
    some = np.s_[:: 1 + (reading.size > MANY_READINGS)]
    both = (some, some)
    wander, bend = _sizes(fixed[both], by_walk[both], by_turn[both], (reading - offset)[some])
    wander *= WANDER_FACTOR
    rest = fixed + bend**2 * by_turn
    walk_variance = np.full(grid_s.size, wander**2 * seen.step_s)
    span = max(JUMP_SPAN_S, 1.1 * interval_s)
    for _ in range(JUMP_PASSES):
        mean = np.linalg.solve(_covariance(rest, seen.walk, walk_variance), reading - offset) @ seen.walk
        walk_variance = _jumping(walk_variance * mean, wander, seen.step_s, span)
    inverse = np.linalg.inv(_covariance(rest, seen.walk, walk_variance))
    bent = np.cumsum((bend * seen.step_s) ** 2 * seen.turn, axis=1)
    bent += walk_variance * seen.walk
    cross = np.cumsum(bent, axis=1)
    cross += U_LEVEL**2 + np.outer(U_RATE**2 * seen.slope, seen.away_s)
    log_flow = offset + (inverse @ (reading - offset)) @ cross
    nodes = np.arange(0, grid_s.size, -(-grid_s.size // COARSE_NODES))
    if nodes[-1] < grid_s.size - 1:
        nodes = np.append(nodes, grid_s.size - 1)
    coarse = cross[:, nodes]
    left = _prior(seen, nodes, walk_variance, bend) - coarse.T @ inverse @ coarse
    leading = _leading(seen.away_s[nodes], left + _mixture(seen.away_s[nodes]), number)
    before = np.minimum(np.searchsorted(nodes, np.arange(grid_s.size), side="right"), nodes.size - 1) - 1
    part = (np.arange(grid_s.size) - nodes[before]) / (nodes[before + 1] - nodes[before])
    directions = leading[:, before] * (1.0 - part) + leading[:, before + 1] * part
    return FlowPath(log_flow, np.gradient(log_flow, seen.step_s), directions.astype(np.float32), step_share)


def _covariance(rest: Floats, walk: Floats, walk_variance: Floats) -> Floats:
    """Covariance of the readings."""
    return np.asarray(rest + (walk * walk_variance) @ walk.T)


def _jumping(walk: Floats, wander: float, step_s: float, span_s: float) -> Floats:
    """Variances of the walk's increments under Student's t, from its mean increments over a span of time."""
    half = max(1, round(0.5 * span_s / step_s))
    path = np.cumsum(walk)
    place = np.arange(path.size)
    high, low = np.minimum(place + half, path.size - 1), np.maximum(place - half, 0)
    usual = wander**2 * step_s
    surprise = (path[high] - path[low]) ** 2 / (usual * (high - low))
    return np.asarray(usual * (JUMP_FREEDOM + surprise) / (JUMP_FREEDOM + 1.0))


def _prior(seen: _Seen, nodes: NDArray[np.int64], walk_variance: Floats, bend: float) -> Floats:
    """Prior covariance of the path at some nodes."""
    away = seen.away_s[nodes]
    total = np.cumsum(np.append(0.0, walk_variance[1:]))[nodes]
    first, last = np.minimum.outer(nodes, nodes), np.maximum.outer(nodes, nodes)
    # The sum over k from 1 to the earlier node of k (k + later - earlier).
    squares = first * (first + 1.0) * ((2.0 * first + 1.0) / 6.0 + 0.5 * (last - first))
    turned: Floats = bend**2 * seen.step_s**3 * squares
    straight = U_LEVEL**2 + U_RATE**2 * np.outer(away, away)
    return np.asarray(turned + straight + np.minimum.outer(total, total))


def _mixture(away_s: Floats) -> Floats:
    """Covariance of the mixture about what the flow says: the air is not quite steady."""
    apart = np.abs(away_s[:, None] - away_s)
    quick = MIXTURE**2 * np.exp(-apart / MIXTURE_TIME_S)
    return np.asarray(quick + SLOW_MIXTURE**2 * np.exp(-apart / SLOW_MIXTURE_TIME_S))


def _square_root(covariance: Floats) -> Floats:
    """A square root of a covariance, times its transpose the covariance."""
    try:
        return np.asarray(np.linalg.cholesky(covariance + 1e-10 * np.eye(covariance.shape[0])))
    except np.linalg.LinAlgError:
        # Where readings are wild, a variance of nought comes out of rounding a little below it.
        variances, axes = np.linalg.eigh(covariance)
        return np.asarray(axes * np.sqrt(np.maximum(variances, 0.0)))


def _leading(away_s: Floats, covariance: Floats, number: int) -> Floats:
    """Directions of a covariance that matter most once a probe's lag has smoothed them, shape (number, nodes)."""
    factor = _square_root(covariance)
    ago = away_s[:, None] - away_s
    felt = np.tril(np.exp(np.minimum(-ago / FELT_LAG_S, 0.0)))
    felt = (felt / felt.sum(1, keepdims=True)) @ factor
    _, vectors = np.linalg.eigh(felt.T @ felt)
    return np.asarray((factor @ vectors[:, ::-1][:, :number]).T)


def _sizes(fixed: Floats, by_walk: Floats, by_turn: Floats, value: Floats) -> tuple[float, float]:
    """Sizes of random walk and turn with the largest marginal likelihood, searched one after the other."""
    tried = fixed + (WANDER**2)[:, None, None, None] * by_walk + (TURN**2)[:, None, None] * by_turn
    # The last row of the factor of the bordered matrix is the whitened value. The corner only has to be large enough.
    bordered = np.zeros((*tried.shape[:2], value.size + 1, value.size + 1))
    bordered[..., :-1, :-1] = tried
    bordered[..., -1, :-1] = value
    bordered[..., -1, -1] = 1.0 + 2.0 * float(value @ value) / float(np.linalg.eigvalsh(fixed)[0])
    factor = np.linalg.cholesky(bordered)
    white, diagonal = factor[..., -1, :-1], np.diagonal(factor, axis1=-2, axis2=-1)[..., :-1]
    cost = 0.5 * (white**2).sum(-1) + np.log(diagonal).sum(-1)
    i, j = 0, 2
    for _ in range(4):
        before = (i, j)
        i = int(np.argmin(cost[:, j]))
        j = int(np.argmin(cost[i]))
        if (i, j) == before:
            break
    return float(WANDER[i]), float(TURN[j])
