"""How far the true flows at peak lie apart: the posterior of a range, which noise alone would make too large."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.chance import normal_place
from leanwright.analysis.offset import centred_basis
from leanwright.analysis.peak import BudgetSource

Floats = NDArray[np.float64]

DRAWS: Final = 1 << 15
"""Draws for chances that are right to about 0.001."""
FEW_DRAWS: Final = 1 << 12
"""Draws that suffice for a mean and its uncertainty."""
_BLOCK: Final = 8192
"""Draws made at a time: few enough to stay in the processor's cache."""
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

_WIDE: Final = 0.04
"""Scale of the prior of the standard deviation of offsets [1]: the mixture spread of about 4 % between the nine
cylinders of one engine (Gerrish and Voss, NACA, 1936). The deviation that belongs to it is a third of that, so
the prior leans neither way."""
_EVEN: Final = 0.02
"""Prior chance that the cylinders are even as far as anybody can measure (common practice: tuned sets exist)."""
_SCALES: Final = np.geomspace(1e-5, 0.5, 97)


@dataclass(frozen=True, eq=False)
class Posterior:
    """Equally likely draws of the true offsets and of the mean flow, given the estimates.

    ``offset`` (cylinders, draws) [1] in natural logarithms, centred; ``mean_flow`` (draws,) [gal/h]; ``apart`` (draws,) is
    false where a draw takes the cylinders as exactly even.
    """

    offset: Floats
    mean_flow: Floats
    apart: NDArray[np.bool_]

    @cached_property
    def extremes(self) -> Floats:
        """Chance that the cylinder of the row is the leanest and that of the column the richest.

        Of shape (cylinders, cylinders), summing to 1 [1]; draws that take the cylinders as exactly even are left aside.
        """
        count = self.offset.shape[0]
        leanest, richest = np.zeros((2, self.offset.shape[1]), dtype=np.intp)
        top = bottom = self.offset[0]
        # One cylinder after the other: along the short axis the library's own search takes three times as long.
        for row, values in enumerate(self.offset[1:], start=1):
            leanest[values > top] = row
            richest[values < bottom] = row
            top, bottom = np.maximum(top, values), np.minimum(bottom, values)
        pair = leanest * count + richest
        draws = np.bincount(pair, weights=self.apart, minlength=count**2).astype(np.float64)
        shares: Floats = draws.reshape(count, count) / max(float(draws.sum()), 1.0)
        return shares

    def spread(self, low: float | None = None, high: float | None = None) -> Floats:
        """Largest minus smallest flow at peak of each draw.

        Parameters
        ----------
        low, high : float, optional
            Offsets that the range is stretched to hold [1]: its lower end comes down to ``low`` at least, its
            upper end up to ``high``.

        Returns
        -------
        ndarray, shape (draws,)
            The spreads [gal/h].
        """
        top, bottom = self.offset.max(axis=0), self.offset.min(axis=0)
        if low is not None:
            bottom = np.minimum(bottom, low)
        if high is not None:
            top = np.maximum(top, high)
        spread: Floats = self.mean_flow * (np.exp(top) - np.exp(bottom))
        return spread


def posterior(offset: Floats, log_mean_flow: float, covariance: Floats, *, draws: int = DRAWS) -> Posterior:
    """Draw the true offsets given their estimates.

    The true offsets have a centred normal prior whose variance is found from the estimates themselves: it has a
    weak prior of its own (half Cauchy, several times as wide as engines are, and a small chance that the engine is
    exactly even) and is integrated over, so that few cylinders do not pass for a well-known variance.
    Given the variance, the posterior is normal in the axes of the covariance. The draws are the points of a fixed
    set that fills its space evenly, not random: the same estimates give the same answer, and chances are right to
    about 0.001.

    Parameters
    ----------
    offset : ndarray, shape (cylinders,)
        Estimated offsets, centred, in natural logarithms [1].
    log_mean_flow : float
        ln of the mean flow at peak [ln gal/h].
    covariance : ndarray, shape (cylinders + 1, cylinders + 1)
        Of the offsets and, last, the mean [1].
    draws : int
        How many draws [1].

    Returns
    -------
    Posterior
        The draws.

    References
    ----------
    A. Gelman et al., *Bayesian Data Analysis*, 3rd ed., sec. 5.4 and 5.7 (normal model with unknown variance of
    the effects, half-Cauchy prior); H. Niederreiter, *Random Number Generation and Quasi-Monte Carlo Methods*,
    SIAM (1992), ch. 3 (the points of Halton and Hammersley).
    """
    basis = centred_basis(offset.size)
    variances, axes = np.linalg.eigh(basis.T @ covariance[:-1, :-1] @ basis)
    variances = np.maximum(variances, _FLOOR)[:, None]
    axes = basis @ axes
    estimate = (axes.T @ offset)[:, None]
    uniform, of_mean, normal = _points(offset.size, draws)
    turned = _turned(np.sqrt(variances[:, 0]) * (axes[offset.argmax()] - axes[offset.argmin()]))
    scale = _scales(uniform, estimate, variances)
    slope = (axes.T @ covariance[:-1, -1])[:, None] / variances
    rest = max(float(covariance[-1, -1] - np.sum(slope**2 * variances)), 0.0)
    drawn, log_mean = np.empty((offset.size, uniform.size)), np.empty(uniform.size)
    for start in range(0, uniform.size, _BLOCK):
        part = slice(start, start + _BLOCK)
        square = scale[part] ** 2
        shrunk = square / (square + variances)
        error = np.sqrt(shrunk * variances)
        error *= turned @ normal[:, part]
        error += (shrunk - 1.0) * estimate
        drawn[:, part] = axes @ (error + estimate)
        log_mean[part] = log_mean_flow + np.sum(slope * error, axis=0) + np.sqrt(rest) * of_mean[part]
    return Posterior(drawn, np.exp(log_mean), scale > 0.0)


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
    flow = np.exp(drawn.offset.mean(axis=1))
    squares = np.zeros((flow.size + 1, flow.size + 1))
    for leanest, richest in zip(*np.nonzero(drawn.extremes), strict=True):
        gradient = np.zeros(flow.size + 1)
        gradient[leanest] = flow[leanest]
        gradient[richest] -= flow[richest]
        gradient[-1] = gradient.sum()
        squares += drawn.extremes[leanest, richest] * np.outer(gradient, gradient)
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
    density = np.exp(likelihood - max(likelihood.max(), even)) * _SCALES / (1.0 + (_SCALES / _WIDE) ** 2)
    density *= 2.0 / np.pi / _WIDE * np.log(_SCALES[1] / _SCALES[0])
    mass = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2.0)]) * (1.0 - _EVEN)
    atom = _EVEN * float(np.exp(even - max(likelihood.max(), even)))
    mass = (mass + atom) / (mass[-1] + atom)
    scale: Floats = np.exp(np.interp(uniform, mass, np.log(_SCALES)))
    return np.where(uniform < mass[0], 0.0, scale)


def _turned(direction: Floats) -> Floats:
    """Reflection that turns the first axis into a direction (Householder).

    The first of the normal numbers is the most evenly spread one: it goes where the spread varies most.
    """
    length = float(np.linalg.norm(direction))
    turned = np.eye(direction.size)
    if length == 0.0:
        return turned
    mirror = direction / length
    mirror[0] -= 1.0
    squared = float(mirror @ mirror)
    return turned - 2.0 / squared * np.outer(mirror, mirror) if squared > 0.0 else turned


@lru_cache(maxsize=8)
def _points(cylinders: int, draws: int) -> tuple[Floats, Floats, Floats]:
    """Numbers that fill their space evenly (Hammersley).

    Uniform ones (draws,) for the scale, rising so that they are quickly looked up, standard normal ones (draws,) for the
    mean flow and (cylinders - 1, draws) for the offsets.
    """
    first = (np.arange(draws) + 0.5) / draws
    uniform, *others = (_radical_inverse(base, draws) for base in _PRIMES[:cylinders])
    rising = np.argsort(uniform)
    uniform = uniform[rising]
    normal = normal_place(np.array([first, *others])[:, rising])
    for numbers in (uniform, normal):
        numbers.setflags(write=False)
    return uniform, normal[-1], normal[:-1]


def _radical_inverse(base: int, count: int) -> Floats:
    """Digits of 1, 2, 3, ... in a base, mirrored at the point."""
    inverse: Floats = np.zeros(1)
    place = 1.0
    while inverse.size <= count:
        place /= base
        inverse = np.add.outer(place * np.arange(base), inverse).ravel()
    return inverse[1 : count + 1]
