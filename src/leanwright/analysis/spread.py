"""How far the true flows at peak lie apart: the posterior of a range, which noise alone would make too large."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from leanwright.analysis.offset import centred_basis
from leanwright.analysis.peak import BudgetSource

Floats = NDArray[np.float64]

_POINTS: Final = 1 << 16
_PRIMES: Final = (
    2,
    3,
    5,
    7,
    11,
    13,
    17,
    19,
    23,
    29,
    31,
    37,
    41,
    43,
    47,
    53,
    59,
    61,
    67,
    71,
    73,
    79,
    83,
    89,
    97,
    101,
    103,
    107,
    109,
    113,
)
_FLOOR: Final = 1e-12
"""Smallest variance of an offset (0.0001 percent squared): exact values stay solvable."""

_TYPICAL_SPREAD: Final = 0.0135
"""Scale of the prior of the standard deviation of offsets [1]: a mixture spread of about 4 % between the nine
cylinders of one engine (Gerrish and Voss, NACA, 1936), over d2(9) = 2.97."""
_EVEN: Final = 0.1
"""Prior chance that the offsets are too small to matter at all (common practice: matched nozzles exist)."""
_SCALES: Final = np.geomspace(1e-5, 0.5, 97)


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """Equally likely draws of the true offsets and of the mean flow, given the estimates.

    ``offset`` (cylinders, draws) [1] in natural logarithms, centred; ``mean_flow`` (draws,) [gal/h].
    ``apart`` (draws,) is false where a draw takes the cylinders as exactly even.
    """

    offset: Floats
    mean_flow: Floats
    apart: NDArray[np.bool_]

    def spread(self, low: float | None = None, high: float | None = None) -> Floats:
        """Largest minus smallest flow at peak of each draw [gal/h], shape (draws,).

        ``low`` and ``high`` [1] are offsets that the range is stretched to hold: its lower end comes down to
        ``low`` at least, its upper end up to ``high``; ``None`` leaves it as it is.
        """
        top, bottom = self.offset.max(axis=0), self.offset.min(axis=0)
        if low is not None:
            bottom = np.minimum(bottom, low)
        if high is not None:
            top = np.maximum(top, high)
        spread: Floats = self.mean_flow * (np.exp(top) - np.exp(bottom))
        return spread


def posterior(offset: Floats, log_mean_flow: float, covariance: Floats) -> Posterior:
    """Draw the true offsets given their estimates.

    The true offsets have a centred normal prior whose variance is found from the estimates themselves: it has a
    weak prior of its own (half Cauchy with the spread of an ordinary engine as its scale, and a chance that the
    engine is exactly even) and is integrated over, so that few cylinders do not pass for a well-known variance.
    Given the variance, the posterior is normal in the axes of the covariance. The draws are the points of a fixed
    lattice, not random: the same estimates give the same answer.

    Parameters
    ----------
    offset : ndarray, shape (cylinders,)
        Estimated offsets, centred, in natural logarithms [1].
    log_mean_flow : float
        ln of the mean flow at peak [ln gal/h].
    covariance : ndarray, shape (cylinders + 1, cylinders + 1)
        Of the offsets and, last, the mean [1].

    Returns
    -------
    Posterior
        The draws.

    References
    ----------
    A. Gelman et al., *Bayesian Data Analysis*, 3rd ed., sec. 5.4 and 5.7 (normal model with unknown variance of
    the effects, half-Cauchy prior); the lattice: R. D. Richtmyer, Los Alamos report LA-1342 (1951).
    """
    basis = centred_basis(offset.size)
    variances, axes = np.linalg.eigh(basis.T @ covariance[:-1, :-1] @ basis)
    variances = np.maximum(variances, _FLOOR)[:, None]
    axes = basis @ axes
    estimate = (axes.T @ offset)[:, None]
    uniform, normal = _lattice(offset.size)
    scale = _scales(uniform, estimate, variances)
    shrunk = scale**2 / (scale**2 + variances)
    error = shrunk * estimate + np.sqrt(shrunk * variances) * normal[:-1] - estimate
    slope = (axes.T @ covariance[:-1, -1])[:, None] / variances
    rest = max(float(covariance[-1, -1] - np.sum(slope**2 * variances)), 0.0)
    log_mean = log_mean_flow + np.sum(slope * error, axis=0) + np.sqrt(rest) * normal[-1]
    return Posterior(axes @ (error + estimate), np.exp(log_mean), scale > 0.0)


def spread_budget(
    drawn: Posterior, parts: Mapping[BudgetSource, Floats]
) -> tuple[tuple[BudgetSource, float], ...]:
    """Where the uncertainty of the spread comes from.

    The spread is the difference of two flows, and which two it is differs from draw to draw; the variance of that
    difference is split by source, averaged over the draws.

    Parameters
    ----------
    drawn : Posterior
        The draws of offsets [1] and mean flow [gal/h].
    parts : mapping of source to ndarray, shape (cylinders + 1, cylinders + 1)
        Covariance of the offsets and, last, the mean, by source [1].

    Returns
    -------
    tuple of (source, share)
        Shares [1] of the variance, the largest first; they sum to 1. Empty if no part has any variance.
    """
    offset = drawn.offset[:, drawn.apart]
    draws = np.arange(offset.shape[1])
    leanest, richest = offset.argmax(axis=0), offset.argmin(axis=0)
    flow = np.exp(offset)
    gradient = np.zeros((offset.shape[0] + 1, draws.size))
    gradient[leanest, draws] = flow[leanest, draws]
    gradient[richest, draws] -= flow[richest, draws]
    gradient[-1] = gradient[:-1].sum(axis=0)
    squares = gradient @ gradient.T
    variances = {source: max(float(np.sum(squares * part)), 0.0) for source, part in parts.items()}
    total = sum(variances.values())
    if total <= 0.0:
        return ()
    shares = ((source, variance / total) for source, variance in variances.items())
    return tuple(sorted(shares, key=lambda share: -share[1]))


def _scales(uniform: Floats, estimate: Floats, variances: Floats) -> Floats:
    """Standard deviation of the true offsets, one a draw [1]: 0, or from its posterior by inversion."""
    total = _SCALES**2 + variances
    likelihood = -0.5 * np.sum(np.log(total) + estimate**2 / total, axis=0)
    even = -0.5 * float(np.sum(np.log(variances) + estimate**2 / variances))
    # Density on a grid that is even in ln(scale): half Cauchy times scale.
    density = (
        np.exp(likelihood - max(likelihood.max(), even)) * _SCALES / (1.0 + (_SCALES / _TYPICAL_SPREAD) ** 2)
    )
    density *= 2.0 / np.pi / _TYPICAL_SPREAD * np.log(_SCALES[1] / _SCALES[0])
    mass = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2.0)]) * (1.0 - _EVEN)
    atom = _EVEN * float(np.exp(even - max(likelihood.max(), even)))
    mass = (mass + atom) / (mass[-1] + atom)
    scale: Floats = np.exp(np.interp(uniform, mass, np.log(_SCALES)))
    return np.where(uniform < mass[0], 0.0, scale)


@lru_cache(maxsize=8)
def _lattice(cylinders: int) -> tuple[Floats, Floats]:
    """Uniform (draws,) and standard normal (cylinders, draws) numbers that fill their space evenly."""
    roots = np.sqrt(np.array(_PRIMES[: cylinders + 1], dtype=np.float64))
    points = (np.arange(1, _POINTS + 1) * roots[:, None]) % 1.0
    points = np.clip(points, 1e-9, 1.0 - 1e-9)
    uniform, normal = points[0], ndtri(points[1:])
    for numbers in (uniform, normal):
        numbers.setflags(write=False)
    return uniform, normal
