"""Whether sweeps of two kinds tell the same offsets."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from leanwright.analysis.chance import chi_square_beyond
from leanwright.analysis.offset import Stack, centred_basis, combined_offsets
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


def difference(
    stacked: Stack, first: Sequence[int], second: Sequence[int], left_out: int | None = None
) -> Difference | None:
    """Compare the offsets of two groups of sweeps, over the cylinders that both have.

    Parameters
    ----------
    stacked : Stack
        The values [ln gal/h].
    first, second : sequence of int
        Positions of the sweeps of each group.
    left_out : int, optional
        A cylinder that is not compared.

    Returns
    -------
    Difference or None
        ``None`` if the groups have fewer than two cylinders in common.
    """
    one, two = combined_offsets(stacked, first), combined_offsets(stacked, second)
    if one is None or two is None:
        return None
    common = tuple(sorted((set(one.cylinders) & set(two.cylinders)) - {left_out}))
    if len(common) < 2:
        return None
    centre = np.eye(len(common)) - 1.0 / len(common)
    to_first = centre @ one.weights[np.searchsorted(one.cylinders, common)]
    to_second = centre @ two.weights[np.searchsorted(two.cylinders, common)]
    to_difference = to_first - to_second
    estimate = to_difference @ stacked.values
    # A group of one sweep cannot show how far its sweeps scatter, so the other group speaks for both.
    between = max(one.between_variance, two.between_variance)
    covariance = to_difference @ stacked.covariance @ to_difference.T + between * (
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


def beyond_one_cylinder(stacked: Stack, first: Sequence[int], second: Sequence[int]) -> Difference | None:
    """Compare two groups of sweeps without the cylinder that explains most of their difference.

    A fault of one cylinder (a blocked nozzle, a leak, a probe, one bad sweep) moves that cylinder alone; what is left
    when it is taken away tells another engine, or another state, from it.

    Parameters
    ----------
    stacked : Stack
        The values [ln gal/h].
    first, second : sequence of int
        Positions of the sweeps of each group.

    Returns
    -------
    Difference or None
        Of the others, whichever is left out so that they agree best; ``None`` if the groups have fewer than three
        cylinders in common.
    """
    seen = [set(stacked.cylinder[np.isin(stacked.sweep, group)].tolist()) for group in (first, second)]
    others = [difference(stacked, first, second, left_out=number) for number in sorted(seen[0] & seen[1])]
    found = [one for one in others if one is not None]
    return max(found, key=lambda one: (one.probability, -abs(one.difference_percent)), default=None)


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
