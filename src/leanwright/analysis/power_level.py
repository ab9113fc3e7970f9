"""How the engine's power moved while the mixture did, as a smooth function of the mixture and of time."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.middle import middle

Floats = NDArray[np.float64]

COUNTS = 0.006
"""Power that ranges by less than this (logarithm) is taken as constant."""
CHANGED = 0.010
"""A remainder that ranges by more than this says that power was changed (logarithm)."""
MEAN_SPAN_S = 10.0


@dataclass(frozen=True, slots=True, eq=False)
class PowerLevel:
    """ln(manifold pressure x engine speed) along the grid."""

    log_power: Floats
    """[1], shape (nodes,); 0 where power is constant or unknown"""
    remainder: float
    """Range of what the smooth function leaves, over 10 s means within the sweep [1]"""

    @property
    def changed(self) -> bool:
        """Power was changed by something else than the mixture."""
        return self.remainder > CHANGED


def _terms(log_flow: Floats, time_s: Floats) -> Floats:
    return np.stack((np.ones_like(log_flow), log_flow, log_flow**2, log_flow**3, time_s), axis=-1)


def power_level(
    grid_s: Floats, log_flow: Floats, time_s: Floats, log_power: Floats, inside: NDArray[np.bool_]
) -> PowerLevel:
    """Fit power as a cubic of ln(flow) and a line in time, robustly.

    Parameters
    ----------
    grid_s : ndarray
        Grid [s], shape (nodes,).
    log_flow : ndarray
        Path of ln(fuel flow) [1], shape (nodes,).
    time_s : ndarray
        Times of rows [s], shape (rows,).
    log_power : ndarray
        ln(manifold pressure x engine speed) of the rows about its median, NaN where missing [1], shape (rows,).
    inside : ndarray
        Rows of the sweep, shape (rows,).

    Returns
    -------
    PowerLevel
        Power along the grid, and what the fit leaves.

    Notes
    -----
    A fixed-pitch propeller slows down as the mixture passes peak, so power follows the mixture; Huber's weights
    (1.345 standard deviations, from 1.4826 times the median size) keep single rows from steering the fit.
    """
    known = np.isfinite(log_power)
    if known.sum() < 12 or not log_power[known].any():
        return PowerLevel(np.zeros(grid_s.size), 0.0)
    centre, half_time = float(log_flow.mean()), float(grid_s.mean())
    half = max(float(np.ptp(grid_s)), 1.0) / 2.0
    at_rows = np.interp(time_s, grid_s, log_flow)[known]
    design = _terms((at_rows - centre) / 0.1, (time_s[known] - half_time) / half)
    value = log_power[known]
    weight = np.ones(value.size)
    solution: Floats = np.zeros(5)
    for _ in range(4):
        normal = (design * weight[:, None]).T @ design + 1e-6 * np.eye(5)
        solution = np.asarray(np.linalg.solve(normal, design.T @ (weight * value)), dtype=np.float64)
        left = value - design @ solution
        sigma = max(1.4826 * middle(np.abs(left)), 1e-5)
        weight = np.minimum(1.0, 1.345 * sigma / np.maximum(np.abs(left), 1e-12))
    fitted = _terms((log_flow - centre) / 0.1, (grid_s - half_time) / half) @ solution
    within = inside[known]
    remainder = _range_of_means(time_s[known][within], left[within])
    used = (grid_s >= time_s[inside][0]) & (grid_s <= time_s[inside][-1])
    if np.ptp(fitted[used]) < COUNTS:
        fitted = np.zeros(grid_s.size)
    return PowerLevel(fitted, remainder)


def _range_of_means(time_s: Floats, values: Floats) -> float:
    """Range of means over consecutive spans of time that hold enough rows."""
    if values.size == 0:
        return 0.0
    span = ((time_s - time_s[0]) / MEAN_SPAN_S).astype(np.int64)
    count = np.bincount(span)
    means = np.bincount(span, values) / np.maximum(count, 1)
    enough = count >= max(2, int(0.5 * middle(count.astype(np.float64))))
    return float(np.ptp(means[enough])) if enough.any() else 0.0
