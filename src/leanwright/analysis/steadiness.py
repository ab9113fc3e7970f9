"""How steady the engine's power was, as far as manifold pressure and speed tell it."""

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.middle import middle

Floats = NDArray[np.float64]

MEAN_S = 10.0
FIT_ROUNDS = 3
LEAST_FOR_CUBIC = 10
RIDGE = 1e-6
"""Keeps the fit solvable where flow falls evenly with time and the two cannot be told apart."""


def power_remainder(time_s: Floats, log_pressure: Floats, log_speed: Floats, log_flow: Floats) -> Floats:
    """What of the power is explained neither by the mixture nor by a steady drift.

    Parameters
    ----------
    time_s
        [s], shape (rows,), three at least
    log_pressure
        ln of the manifold pressure [ln(inHg)], shape (rows,); zeros where it is not recorded
    log_speed
        ln of the engine speed [ln(rpm)], shape (rows,); zeros where it is not recorded
    log_flow
        ln of the fuel flow [ln(gal/h)], shape (rows,)

    Returns
    -------
    ndarray
        Means over 10 s of the remainder [1, a share of the power], shape (means,)

    Notes
    -----
    Equation 7 of docs/theory/sweeps.md. Leaning moves no throttle, so pressure may only drift: a line in time. A
    fixed-pitch propeller slows down as the mixture leaves best power, so speed may also follow a cubic in ln F.
    """
    t, u = _scaled(time_s), _scaled(log_flow)
    one = np.ones_like(t)
    drift = _residual(np.stack((one, t)), log_pressure)
    followed = (one, t, u, u**2, u**3) if t.size >= LEAST_FOR_CUBIC else (one, t)
    slowing = _residual(np.stack(followed), log_speed)
    return block_means(time_s, drift + slowing, MEAN_S)


def block_means(time_s: Floats, values: Floats, length_s: float) -> Floats:
    """Means over stretches of one length; a last stretch shorter than half joins the one before.

    Parameters
    ----------
    time_s
        Rising [s], shape (rows,)
    values
        [any unit], shape (rows,)
    length_s
        [s]

    Returns
    -------
    ndarray
        One for each stretch that holds a row [unit of ``values``], shape (stretches,)
    """
    blocks = max(1, round(float(time_s[-1] - time_s[0]) / length_s))
    index = np.minimum(((time_s - time_s[0]) / length_s).astype(np.intp), blocks - 1)
    count = np.bincount(index, minlength=blocks)
    total = np.bincount(index, values, minlength=blocks)
    means: Floats = total[count > 0] / count[count > 0]
    return means


def _residual(design: Floats, values: Floats) -> Floats:
    """What a robust fit (weights of Cauchy's kind) leaves of ``values``; ``design`` has a row a term."""
    target = residual = values - middle(values)
    weight = np.ones_like(target)
    ridge = RIDGE * np.eye(design.shape[0])
    for _ in range(FIT_ROUNDS):
        weighted = design * weight
        residual = target - np.linalg.solve(weighted @ design.T + ridge, weighted @ target) @ design
        scale = 1.4826 * middle(np.abs(residual)) + 1e-6
        weight = 1.0 / (1.0 + (residual / (2.0 * scale)) ** 2)
    return residual


def _scaled(values: Floats) -> Floats:
    """Shifted and stretched to lie within -1 and 1, for a well-conditioned fit."""
    low, high = float(values.min()), float(values.max())
    scaled: Floats = (2.0 * values - low - high) / max(high - low, 1e-9)
    return scaled
