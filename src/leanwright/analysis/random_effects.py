"""Values with a full covariance combined into a few unknowns, with a between-group variance where they disagree."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.chance import chi_square_beyond

Floats = NDArray[np.float64]

_FLOOR = 1e-12
"""Smallest variance that a combination works with; keeps singular covariances solvable."""


@dataclass(frozen=True, slots=True, eq=False)
class Combination:
    """A generalised mean."""

    estimate: Floats
    """the unknowns [any], shape (unknowns,)"""
    covariance: Floats
    """of the estimate [any squared], shape (unknowns, unknowns)"""
    weights: Floats
    """the linear map from the values to the estimate [1], shape (unknowns, values)"""
    between_variance: float
    """what was added to the variance of every value [any squared]"""
    misfit: float
    """weighted sum of squared residuals before that was added [1], to be compared with ``degrees_of_freedom``"""
    degrees_of_freedom: int

    @property
    def probability(self) -> float:
        """Chance of a misfit at least as large if the stated covariance were the whole truth [1]."""
        if self.degrees_of_freedom == 0:
            return 1.0
        return chi_square_beyond(self.degrees_of_freedom, self.misfit)


def combine(values: Floats, covariance: Floats, design: Floats) -> Combination:
    """Estimate ``x`` of ``values = design @ x + error`` by generalised least squares with random effects.

    The error has the covariance given plus one between-group variance, which is found by the method of Paule
    and Mandel: it is 0 if the misfit is not above its degrees of freedom, else the variance that makes the two
    equal. With a design of one column of ones, and a diagonal covariance, this is their mean.

    Parameters
    ----------
    values : ndarray, shape (values,)
        What was measured [any].
    covariance : ndarray, shape (values, values)
        Its covariance [any squared]; may be singular.
    design : ndarray, shape (values, unknowns)
        Full column rank [1].

    Returns
    -------
    Combination
        The estimate with its covariance.

    Raises
    ------
    ValueError
        If the design does not have full column rank.

    References
    ----------
    R. C. Paule and J. Mandel, *Consensus values and weighting factors*, J. Res. Natl. Bur. Stand. 87 (1982)
    377-385; R. N. Kacker, *Combining information from interlaboratory evaluations using a random
    effects model*, Metrologia 41 (2004) 132-136.

    Examples
    --------
    >>> import numpy as np
    >>> mean = combine(np.array([1.0, 3.0]), np.diag([1.0, 1.0]), np.ones((2, 1)))
    >>> print(mean.estimate, round(mean.misfit, 6), round(mean.between_variance, 6))
    [2.] 2.0 1.0
    """
    count, unknowns = design.shape
    orthogonal, triangle = np.linalg.qr(design, mode="complete")
    if unknowns and np.min(np.abs(np.diag(triangle[:unknowns]))) < 1e-9:
        raise ValueError(f"the design of {count} values and {unknowns} unknowns does not determine them")
    covariance = _positive(covariance)
    if count == unknowns:  # nothing is left over: the covariance has no say in the estimate
        weights = np.linalg.solve(triangle, orthogonal.T)
        return Combination(weights @ values, weights @ covariance @ weights.T, weights, 0.0, 0.0, 0)
    rest = orthogonal[:, unknowns:]
    variances, axes = np.linalg.eigh(rest.T @ covariance @ rest)
    squares = (axes.T @ (rest.T @ values)) ** 2
    between, misfit = _paule_mandel(squares, variances)
    total = covariance + between * np.eye(count)
    scaled = np.linalg.solve(total, design)
    of_estimate = np.linalg.inv(design.T @ scaled)
    of_estimate = (of_estimate + of_estimate.T) / 2.0
    weights = of_estimate @ scaled.T
    return Combination(weights @ values, of_estimate, weights, between, misfit, count - unknowns)


def _positive(covariance: Floats) -> Floats:
    """Symmetric, with no eigenvalue below the floor."""
    variances, axes = np.linalg.eigh((covariance + covariance.T) / 2.0)
    kept: Floats = (axes * np.maximum(variances, _FLOOR)) @ axes.T
    return kept


def _paule_mandel(squares: Floats, variances: Floats) -> tuple[float, float]:
    """Between-group variance and misfit of independent residuals, given squared, with their variances.

    The misfit falls and is convex in the variance, so Newton's steps from 0 climb to the root and never pass it.
    """
    freedom = squares.size
    misfit = float(np.sum(squares / variances))
    between, excess = 0.0, misfit - freedom
    while excess > 1e-9 * freedom:
        between += excess / float(np.sum(squares / (variances + between) ** 2))
        excess = float(np.sum(squares / (variances + between))) - freedom
    return between, misfit
