"""Whether sweeps of two kinds tell the same offsets."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from leanwright.analysis.chance import chi_square_beyond
from leanwright.analysis.offset import Offsets, Stack, centred_basis, combined_offsets
from leanwright.analysis.sweep import Sweep

_PRESSURE_GAP_INHG = 1.5
"""Sweeps further apart than this were flown at different powers (common practice) [inHg]."""


@dataclass(frozen=True, slots=True)
class Difference:
    """Offsets of one group of sweeps minus those of another.

    ``cylinder`` is the one that differs most against its uncertainty; ``difference_percent`` and
    ``u_difference_percent`` [percent] are its difference. ``probability`` [1] is the chance of differences at
    least as large, over all cylinders, if there were none.
    """

    cylinder: int
    difference_percent: float
    u_difference_percent: float
    probability: float


def difference(stacked: Stack, first: Sequence[int], second: Sequence[int]) -> Difference | None:
    """Compare the offsets of two groups of sweeps, over the cylinders that both have.

    Parameters
    ----------
    stacked : Stack
        The values [ln gal/h].
    first, second : sequence of int
        Positions of the sweeps of each group.

    Returns
    -------
    Difference or None
        ``None`` if the groups have fewer than two cylinders in common.
    """
    return apart(stacked, combined_offsets(stacked, first), combined_offsets(stacked, second))


def apart(
    stacked: Stack, one: Offsets | None, two: Offsets | None, left_out: int | None = None
) -> Difference | None:
    """Compare the offsets of two groups of sweeps that are combined already.

    Parameters
    ----------
    stacked : Stack
        The values that they were combined from [ln gal/h].
    one, two : Offsets or None
        Of each group.
    left_out : int, optional
        A cylinder that is not compared.

    Returns
    -------
    Difference or None
        ``None`` if the groups have fewer than two cylinders in common.
    """
    if one is None or two is None:
        return None
    common = tuple(sorted((set(one.cylinders) & set(two.cylinders)) - {left_out}))
    if len(common) < 2:
        return None
    # Only the rows of the two groups count, however many recordings are stacked.
    rows = np.flatnonzero(one.weights.any(axis=0) | two.weights.any(axis=0))
    centre = np.eye(len(common)) - 1.0 / len(common)
    to_first = centre @ one.weights[np.ix_(np.searchsorted(one.cylinders, common), rows)]
    to_second = centre @ two.weights[np.ix_(np.searchsorted(two.cylinders, common), rows)]
    to_difference = to_first - to_second
    estimate = to_difference @ stacked.values[rows]
    # A group of one sweep cannot show how far its sweeps scatter, so the other group speaks for both.
    between = max(one.between_variance, two.between_variance)
    covariance = to_difference @ stacked.covariance[np.ix_(rows, rows)] @ to_difference.T + between * (
        to_first @ to_first.T + to_second @ to_second.T
    )
    basis = centred_basis(len(common))
    variances, axes = np.linalg.eigh(basis.T @ covariance @ basis)
    misfit = float(np.sum((axes.T @ (basis.T @ estimate)) ** 2 / np.maximum(variances, 1e-12)))
    u = np.sqrt(np.maximum(np.diag(covariance), 1e-12))
    worst = int(np.argmax(np.abs(estimate) / u))
    return Difference(
        cylinder=common[worst],
        difference_percent=100.0 * float(estimate[worst]),
        u_difference_percent=100.0 * float(u[worst]),
        probability=chi_square_beyond(len(common) - 1, misfit),
    )


def beyond_one_cylinder(stacked: Stack, one: Offsets | None, two: Offsets | None) -> Difference | None:
    """Compare two groups of sweeps without the cylinder that explains most of their difference.

    A fault of one cylinder (a blocked nozzle, a leak, a probe, one bad sweep) moves that cylinder alone; what is left
    when it is taken away tells another engine, or another state, from it.

    Parameters
    ----------
    stacked : Stack
        The values that they were combined from [ln gal/h].
    one, two : Offsets or None
        Of each group.

    Returns
    -------
    Difference or None
        Of the others, whichever is left out so that they agree best; ``None`` if the groups have fewer than three
        cylinders in common.
    """
    if one is None or two is None:
        return None
    common = sorted(set(one.cylinders) & set(two.cylinders))
    others = [apart(stacked, one, two, left_out=number) for number in common]
    found = [other for other in others if other is not None]
    return max(found, key=lambda other: (other.probability, -abs(other.difference_percent)), default=None)


def powers(sweeps: Sequence[Sweep]) -> tuple[tuple[int, ...], ...]:
    """Group sweeps by manifold pressure, the lowest first.

    Parameters
    ----------
    sweeps : sequence of Sweep
        All sweeps; those whose manifold pressure [inHg] is unknown belong to no group.

    Returns
    -------
    tuple of tuple of int
        Positions of the sweeps of each group.
    """
    known = sorted(
        (sweep.manifold_pressure_inhg, position)
        for position, sweep in enumerate(sweeps)
        if sweep.manifold_pressure_inhg is not None
    )
    groups: list[list[int]] = []
    last = -np.inf
    for pressure, position in known:
        if pressure - last > _PRESSURE_GAP_INHG:
            groups.append([])
        groups[-1].append(position)
        last = pressure
    return tuple(tuple(group) for group in groups)
