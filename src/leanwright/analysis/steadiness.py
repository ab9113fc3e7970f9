"""How steady the engine's power was, as far as manifold pressure and speed tell it."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MEAN_S = 10.0
FIT_ROUNDS = 3
RIDGE = 1e-6
"""Keeps the fit solvable where flow falls evenly with time and the two cannot be told apart."""


def power_remainder(time_s: Floats, log_power: Floats, log_flow: Floats) -> Floats:
    """What of the power is explained neither by the mixture nor by a steady drift.

    Parameters
    ----------
    time_s
        [s], shape (rows,)
    log_power
        ln(manifold pressure x engine speed), shape (rows,), finite
    log_flow
        ln(fuel flow), shape (rows,), finite

    Returns
    -------
    ndarray
        Means over 10 s of the remainder [1, a share of the power], shape (means,)

    Notes
    -----
    A fixed-pitch propeller slows down as the mixture leaves best power, so ln p is fitted by a cubic in ln F and a
    line in time first, robustly (equation 7 of docs/theory/sweeps.md).
    """
    u = _scaled(log_flow)
    design = np.stack((np.ones_like(u), u, u**2, u**3, _scaled(time_s)), axis=1)
    weight = np.ones_like(u)
    target = remainder = log_power - float(np.median(log_power))
    for _ in range(FIT_ROUNDS):
        weighted = design.T * weight
        fit = np.linalg.solve(weighted @ design + RIDGE * np.eye(5), weighted @ target)
        remainder = target - design @ fit
        scale = 1.4826 * float(np.median(np.abs(remainder))) + 1e-6
        weight = 1.0 / (1.0 + (remainder / (2.0 * scale)) ** 2)
    return block_means(time_s, remainder, MEAN_S)


def block_means(time_s: Floats, values: Floats, length_s: float) -> Floats:
    """Means over stretches of ``length_s`` [s]; a last stretch shorter than half joins the one before."""
    blocks = max(1, round(float(time_s[-1] - time_s[0]) / length_s))
    index = np.minimum(((time_s - time_s[0]) / length_s).astype(np.intp), blocks - 1)
    count = np.bincount(index, minlength=blocks)
    total = np.bincount(index, values, minlength=blocks)
    return total[count > 0] / count[count > 0]


def _scaled(values: Floats) -> Floats:
    """Shifted and stretched to lie within -1 and 1, for a well-conditioned fit."""
    low, high = float(values.min()), float(values.max())
    return (2.0 * values - low - high) / max(high - low, 1e-9)
