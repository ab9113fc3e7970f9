"""One sweep made ready for the fit: thinned EGT, an even grid, the path of the flow, the power."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.excerpt import Excerpt
from leanwright.analysis.flow_path import FlowPath, flow_path, reading_sigma
from leanwright.analysis.middle import middle
from leanwright.analysis.power_level import PowerLevel, power_level
from leanwright.analysis.probe_lag import BLOCK, Lag
from leanwright.analysis.probe_signal import median

Floats = NDArray[np.float64]
Reals = NDArray[np.floating]
Flags = NDArray[np.bool_]

MEANS = 28
"""EGT is thinned to at most this many means."""
FLOW_MEANS = 64
LEAD_IN_S = 8.0
FINEST_S = 0.4
GRID_NODES = 240
DIRECTIONS = 40
"""Directions in which the path may depart from its mean."""
READING_VARIANCE = 0.4
"""Variance of an EGT reading besides its steps [degF2]."""
LEFT_OUT = 1e8
"""Variance of a mean that is missing or left out [degF2]."""
WHOLE = 0.6
"""Share of its rows that a mean must have."""
LAG_NODES = 12
LAG_RANGE_S = (0.35, 20.0)
COMMON_TIME_S = 8.0
COMMON_NODES = 40
COMMON_SPACING_S = 2.0
DRIFT_TIME_S = 150.0
DRIFT_NODES = 10
"""Shared drift is linear between this many nodes."""
POWER_F = 200.0
"""By how much all EGTs fall with ln(power) [degF] (common practice: some 20 degF for a tenth of the power)."""
U_POWER_F = 100.0
"""Its standard deviation from engine to engine [degF]."""


@dataclass(frozen=True, slots=True, eq=False)
class Passage:
    """What the fit needs to know of one sweep. Axes are in the order cylinders, means, nodes of the grid."""

    time_s: Floats
    """Times of the means [s], shape (means,)"""
    egt_f: Floats
    """Means less ``level_f`` [degF], shape (cylinders, means); 0 where left out"""
    level_f: Floats
    """[degF], shape (cylinders,)"""
    variance: Floats
    """White variance of the means [degF2], shape (cylinders, means)"""
    step_variance: Floats
    """The part of it that the steps of the reading make [degF2], shape (cylinders, means)"""
    grid_s: Floats
    """[s], shape (nodes,)"""
    path: FlowPath
    power: PowerLevel
    lag_table: Reals
    """What the means see of the grid at each lag of the table, shape (lags, means * nodes) [1]; in single precision, as
    ``path.directions`` are: a part in ten million of some hundred degF is far below any reading, and half as much passes
    through the processor's cache"""
    common_table: Reals
    """What they see of common noise and drift, of unit variance [1], and last of power [degF], shape (lags, latents * means)"""

    @property
    def used(self) -> Flags:
        """Means that count, shape (cylinders, means)."""
        return np.asarray(self.variance < LEFT_OUT)


_LOW, _HIGH = np.log(LAG_RANGE_S)
_ANGLE = (np.arange(LAG_NODES) + 0.5) * np.pi / LAG_NODES
_LAGS_S = np.exp(0.5 * (_LOW + _HIGH) + 0.5 * (_HIGH - _LOW) * np.cos(_ANGLE))
_ORDER = np.arange(LAG_NODES)
_BASIS = np.cos(_ORDER * _ANGLE[:, None]) * np.where(_ORDER == 0, 1.0, 2.0) / LAG_NODES


def lag_weights(log_lag: Floats) -> tuple[Floats, Floats]:
    """Weights with which the table of responses is summed for given lags, and their derivatives.

    Parameters
    ----------
    log_lag : ndarray
        ln(lag in s) [1], shape (cylinders,).

    Returns
    -------
    tuple of ndarray
        Weights, and their derivatives by ln(lag) [1], each of shape (cylinders, lags).

    Notes
    -----
    Interpolation by Chebyshev polynomials in ln(lag) between 0.35 and 20 s, to better than 1e-4.
    """
    x = np.clip((2.0 * log_lag - _LOW - _HIGH) / (_HIGH - _LOW), -1.0 + 1e-9, 1.0 - 1e-9)
    angle = np.arccos(x)[:, None]
    slope = _ORDER * np.sin(_ORDER * angle) / np.sin(angle)
    return np.cos(_ORDER * angle) @ _BASIS.T, slope @ _BASIS.T * (2.0 / (_HIGH - _LOW))


def averages(time_s: Floats, grid_s: Floats, blocks: NDArray[np.int64]) -> Floats:
    """Means of rows as sums over a grid between whose nodes signals are linear.

    Parameters
    ----------
    time_s : ndarray
        Times of the rows [s], shape (rows,).
    grid_s : ndarray
        Even grid that spans them [s], shape (nodes,).
    blocks : ndarray
        Which mean each row belongs to, rising from 0 [1], shape (rows,).

    Returns
    -------
    ndarray
        [1], shape (means, nodes); each row sums to 1.
    """
    place = (time_s - grid_s[0]) / (grid_s[1] - grid_s[0])
    node = np.minimum(place.astype(np.int64), grid_s.size - 2)
    part = place - node
    share = 1.0 / np.bincount(blocks)[blocks]
    size = (int(blocks[-1]) + 1) * grid_s.size
    where = blocks * grid_s.size + node
    flat = np.bincount(where, share * (1.0 - part), size) + np.bincount(where + 1, share * part, size)
    return np.asarray(flat, dtype=np.float64).reshape(-1, grid_s.size)


def _noise_basis(grid_s: Floats, number: int, correlation_s: float) -> Floats:
    """First-order noise of unit variance as independent latents along the grid, shape (latents, nodes)."""
    nodes = np.linspace(grid_s[0], grid_s[-1], number)
    place = (grid_s - nodes[0]) / (nodes[1] - nodes[0])
    node = np.minimum(place.astype(np.int64), number - 2)
    part = (place - node)[:, None]
    factor = np.linalg.cholesky(np.exp(-np.abs(nodes[:, None] - nodes) / correlation_s))
    return np.asarray((factor[node] * (1.0 - part) + factor[node + 1] * part).T)


def _common_basis(grid_s: Floats, log_power: Floats) -> Floats:
    """Common noise and drift of unit variance, then power [degF], as independent latents, shape (latents, nodes)."""
    number = min(COMMON_NODES, int((grid_s[-1] - grid_s[0]) / COMMON_SPACING_S) + 2)
    noise = _noise_basis(grid_s, number, COMMON_TIME_S)
    drift = _noise_basis(grid_s, DRIFT_NODES, DRIFT_TIME_S)
    return np.concatenate((noise, drift, U_POWER_F * log_power[None, :]))


def _grid(time_s: Floats) -> Floats:
    """Even grid from some seconds before the first row to beyond the last."""
    span = time_s[-1] - time_s[0] + LEAD_IN_S
    step = max(FINEST_S, span / GRID_NODES)
    nodes = -(-(int(span / step) + 2) // BLOCK) * BLOCK
    grid: Floats = time_s[0] - LEAD_IN_S + step * np.arange(nodes)
    return grid


def _path(part: Excerpt, grid_s: Floats) -> FlowPath:
    """Path of the flow from the rows that have a flow reading."""
    rows = np.isfinite(part.flow_gph)
    time_s, reading = part.time_s[rows], np.log(part.flow_gph[rows])
    step = part.flow_step_gph / float(np.exp(reading.mean()))
    sigma = reading_sigma(reading, step)
    blocks = np.arange(time_s.size) // -(-time_s.size // FLOW_MEANS)
    count = np.bincount(blocks)
    return flow_path(
        grid_s,
        averages(time_s, grid_s, blocks),
        np.bincount(blocks, reading) / count,
        sigma**2 / count,
        DIRECTIONS,
        min(1.0, step**2 / 12.0 / sigma**2),
        middle(np.diff(time_s)) if time_s.size > 1 else 0.0,
    )


def _means(time_s: Floats, egt_f: Floats, blocks: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """Means of each cylinder's rows, and how many rows each rests on (0 where too few).

    A mean that lacks a few rows takes their place on the line between their neighbours, so that it still is the
    mean over the same times as the other cylinders'.
    """
    total = np.bincount(blocks)
    means, counts = np.zeros((egt_f.shape[0], total.size)), np.zeros((egt_f.shape[0], total.size))
    for i, row in enumerate(egt_f):
        known = np.isfinite(row)
        count = np.bincount(blocks, known)
        whole = count >= WHOLE * total
        if known.any() and whole.any():
            bridged = row if known.all() else np.interp(time_s, time_s[known], row[known])
            means[i] = np.bincount(blocks, bridged) / total
            counts[i] = np.where(whole, count, 0.0)
    return means, counts


def passage(part: Excerpt, egt_f: Floats) -> Passage:
    """Make one sweep ready for the fit.

    Parameters
    ----------
    part : Excerpt
        The rows of the sweep, with at least one flow reading.
    egt_f : ndarray
        EGT as it is to be used [degF], shape (cylinders, rows); NaN where missing.

    Returns
    -------
    Passage
        Thinned data, grid, path and tables.
    """
    time_s = part.time_s
    grid_s = _grid(time_s)
    path = _path(part, grid_s)
    blocks = np.arange(time_s.size) // -(-time_s.size // MEANS)
    means, counts = _means(time_s, egt_f, blocks)
    used = counts > 0.0
    level = np.nan_to_num(median(np.where(used, means, np.nan)))
    steps = np.where(used, part.egt_step_f[:, None] ** 2 / 12.0 / np.maximum(counts, 1.0), 0.0)
    sample = averages(time_s, grid_s, blocks)
    power = power_level(grid_s, path.log_flow, time_s, part.log_power, part.inside)
    lag = Lag(_LAGS_S, float(grid_s[1] - grid_s[0]), grid_s.size, np.float32)
    table = lag.transposed(np.broadcast_to(sample.astype(np.float32), (LAG_NODES, *sample.shape)))
    common = _common_basis(grid_s, power.log_power).astype(np.float32)
    return Passage(
        time_s=np.bincount(blocks, time_s) / np.bincount(blocks),
        egt_f=np.where(used, means - level[:, None], 0.0),
        level_f=level,
        variance=np.where(used, READING_VARIANCE / np.maximum(counts, 1.0) + steps, LEFT_OUT),
        step_variance=steps,
        grid_s=grid_s,
        path=path,
        power=power,
        lag_table=table.reshape(LAG_NODES, -1),
        common_table=np.matmul(common, np.swapaxes(table, 1, 2)).reshape(LAG_NODES, -1),
    )
