"""Offsets of the cylinders from all sweeps together, with their full covariance and where it comes from."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.peak import BudgetSource, Peaks
from leanwright.analysis.random_effects import Combination, combine
from leanwright.analysis.sweep import Sweep

_DISAGREE: Final = 0.05
"""Sweeps whose misfit is less likely than this disagree, not just scatter [1]."""

_FOLLOWS: Final = 0.08
"""By how much power may follow the mixture where nobody recorded it: d ln(power) / d ln(flow) near the peaks [1], as
a standard uncertainty. A constant-speed propeller holds power; a fixed-pitch one slows down with torque, whose slope
at the top is about 0.3 (work a kilogram of air against mixture, equilibrium cycle), and speed takes some 0.4 of it."""
_FOLLOWS_UNSEEN: Final = 0.025
"""The same where the speed is recorded and the manifold pressure is not: it rises a little as the engine slows down."""

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """The values of all recordings under one another; sweeps of different recordings are independent."""

    values: Floats
    """ln of the flow at peak [ln gal/h], shape (values,)"""
    covariance: Floats
    """of the values [1], shape (values, values)"""
    parts: Mapping[BudgetSource, Floats]
    """the covariance by source [1], each of shape (values, values)"""
    sweep: Integers
    """position in ``sweeps`` of each value"""
    cylinder: Integers
    """number of the cylinder of each value"""
    sweeps: tuple[Sweep, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Offsets:
    """Offsets and mean flow in natural logarithms."""

    cylinders: tuple[int, ...]
    offset: Floats
    """centred over ``cylinders`` [1], shape (cylinders,)"""
    log_mean_flow: float
    """ln of the geometric mean over the sweeps of each sweep's mean flow at peak [ln gal/h]"""
    covariance: Floats
    """of the offsets and, last, of ``log_mean_flow`` [1], shape (cylinders + 1, cylinders + 1)"""
    parts: Mapping[BudgetSource, Floats]
    """the covariance by source [1]; they sum to it where the parts of the values do"""
    weights: Floats
    """the linear map from the values of the stack [1], shape (cylinders + 1, values)"""
    levels: Mapping[int, float]
    """ln of the mean flow of each sweep that has a value [ln gal/h], by its position in the stack"""
    between_variance: float
    """of one value, from sweep to sweep [1]"""
    misfit: float
    """weighted sum of squared residuals [1], to be compared with ``degrees_of_freedom``"""
    degrees_of_freedom: int
    probability: float


def stack(peaks: Sequence[Peaks]) -> Stack:
    """Put the values of several recordings under one another.

    Values of sweeps that are not used, and values that are not finite, are left out.

    Parameters
    ----------
    peaks : sequence of Peaks
        One for each recording.

    Returns
    -------
    Stack
        The values with their covariance [1] and its parts [1].
    """
    kept = [_kept(one) for one in peaks]
    sources = tuple(dict.fromkeys(source for one in peaks for source in one.parts))
    first_sweep = np.cumsum([0, *(len(one.sweeps) for one in peaks)])
    index = [
        (int(first_sweep[number]) + one.index[row][0], one.index[row][1])
        for number, one in enumerate(peaks)
        for row in kept[number]
    ]
    return Stack(
        values=np.concatenate(
            [np.zeros(0), *(one.log_flow[rows] for one, rows in zip(peaks, kept, strict=True))]
        ),
        covariance=_blocks(
            [one.covariance[np.ix_(rows, rows)] for one, rows in zip(peaks, kept, strict=True)]
        ),
        parts={
            source: _blocks(
                [
                    one.parts[source][np.ix_(rows, rows)]
                    if source in one.parts
                    else np.zeros((rows.size,) * 2)
                    for one, rows in zip(peaks, kept, strict=True)
                ]
            )
            for source in sources
        },
        sweep=np.array([sweep for sweep, _ in index], dtype=np.int64),
        cylinder=np.array([cylinder for _, cylinder in index], dtype=np.int64),
        sweeps=tuple(sweep.sweep for one in peaks for sweep in one.sweeps),
    )


def combined_offsets(stacked: Stack, of_sweeps: Sequence[int] | None = None) -> Offsets | None:
    """Combine the sweeps to one offset a cylinder.

    Every sweep has a level of its own, so sweeps at different powers and sweeps that lack some cylinders are
    combined rightly: ln F*(sweep, cylinder) = level(sweep) + offset(cylinder) + error. Cylinders are combined
    that hang together through the sweeps they share; if they fall apart, the largest group is.

    Parameters
    ----------
    stacked : Stack
        The values [ln gal/h].
    of_sweeps : sequence of int, optional
        Positions of the sweeps to combine; all of them if not given.

    Returns
    -------
    Offsets or None
        ``None`` if no cylinder has a value.
    """
    chosen = np.ones(stacked.values.size, bool) if of_sweeps is None else np.isin(stacked.sweep, of_sweeps)
    cylinders = _largest_group(stacked.sweep[chosen], stacked.cylinder[chosen])
    if not cylinders:
        return None
    rows = np.flatnonzero(chosen & np.isin(stacked.cylinder, cylinders))
    sweeps, sweep = np.unique(stacked.sweep[rows], return_inverse=True)
    place = np.searchsorted(cylinders, stacked.cylinder[rows])
    basis = centred_basis(len(cylinders))
    levels = np.eye(sweeps.size)[sweep]
    # Only the rows of these sweeps count, however many recordings are stacked.
    own = np.ix_(rows, rows)
    covariance = stacked.covariance[own]
    result = combine(stacked.values[rows], covariance, np.hstack([levels, basis[place]]))
    to_offset = basis @ result.weights[sweeps.size :]
    to_level = (levels / levels.sum(axis=0)).T @ (np.eye(rows.size) - to_offset[place])
    of_rows = np.vstack([to_offset, to_level.mean(axis=0)])
    weights = np.zeros((len(cylinders) + 1, stacked.values.size))
    weights[:, rows] = of_rows
    estimate = of_rows @ stacked.values[rows]
    parts: dict[BudgetSource, Floats] = {
        source: _symmetric(of_rows @ part[own] @ of_rows.T) for source, part in stacked.parts.items()
    }
    between = _symmetric(_believed_between_variance(result) * (of_rows @ of_rows.T))
    if result.between_variance > 0.0:
        parts["between-sweeps"] = between + parts.get("between-sweeps", 0.0)
    unknown = _of_unknown_power(stacked, rows, of_rows)
    if unknown.any():
        parts["unknown-power"] = unknown
    return Offsets(
        cylinders=cylinders,
        offset=estimate[:-1],
        log_mean_flow=float(estimate[-1]),
        covariance=_symmetric(of_rows @ covariance @ of_rows.T) + between + unknown,
        parts=parts,
        weights=weights,
        levels=dict(zip(sweeps.tolist(), (to_level @ stacked.values[rows]).tolist(), strict=True)),
        between_variance=result.between_variance,
        misfit=result.misfit,
        degrees_of_freedom=result.degrees_of_freedom,
        probability=result.probability,
    )


def power_unknown(sweep: Sweep) -> bool:
    """Whether power during a sweep is not recorded: with a fixed pitch it shows in the engine speed alone.

    Parameters
    ----------
    sweep : Sweep
        The sweep.

    Returns
    -------
    bool
        True where power may have followed the mixture without anybody seeing it.
    """
    return sweep.engine_speed_rpm is None


def _of_unknown_power(stacked: Stack, rows: Integers, weights: Floats) -> Floats:
    """Covariance from power that followed the mixture unseen: one factor on all distances from the sweep's mean.

    It is the same engine and propeller in every sweep, so more sweeps do not shrink it.
    """
    values, sweeps, used = stacked.values[rows], stacked.sweep[rows], weights.any(axis=0)
    distance = np.zeros(rows.size)
    for position in np.unique(sweeps).tolist():
        sweep = stacked.sweeps[position]
        if power_unknown(sweep) or sweep.manifold_pressure_inhg is None:
            here = (sweeps == position) & used
            follows = _FOLLOWS if power_unknown(sweep) else _FOLLOWS_UNSEEN
            distance[here] = follows * (values[here] - values[here].mean()) if here.any() else 0.0
    moved = weights @ distance
    return np.outer(moved, moved)


def _believed_between_variance(result: Combination) -> float:
    """Between-sweep variance to count with.

    Where the sweeps plainly disagree nearly all of the uncertainty is the variance found, and it is found from
    few differences: it counts as the variance of Student's t. Where they only scatter it stands as it is.
    """
    freedom = result.degrees_of_freedom
    if result.probability >= _DISAGREE:
        return result.between_variance
    return result.between_variance * (freedom / (freedom - 2.0) if freedom > 2 else 3.0)


def centred_basis(count: int) -> Floats:
    """Orthonormal columns, each summing to 0 (Helmert).

    Parameters
    ----------
    count : int
        Number of cylinders [1].

    Returns
    -------
    ndarray, shape (count, count - 1)
        The columns [1].
    """
    basis = np.zeros((count, max(count - 1, 0)))
    for column in range(count - 1):
        basis[: column + 1, column] = 1.0
        basis[column + 1, column] = -(column + 1.0)
        basis[:, column] /= np.sqrt((column + 1.0) * (column + 2.0))
    return basis


def _kept(peaks: Peaks) -> Integers:
    """Rows of the values that are finite and belong to a sweep that is used."""
    used = np.array([peaks.sweeps[position].sweep.used for position, _ in peaks.index], dtype=bool)
    finite = np.isfinite(peaks.log_flow) & np.isfinite(np.diag(peaks.covariance))
    return np.flatnonzero(used & finite)


def _largest_group(sweep: Integers, cylinder: Integers) -> tuple[int, ...]:
    """The most cylinders that hang together through sweeps, rising; the lowest numbers if two are equal."""
    groups: list[set[int]] = []
    for one in np.unique(sweep):
        joined = set(cylinder[sweep == one].tolist())
        apart = [group for group in groups if not group & joined]
        groups = [*apart, joined.union(*(group for group in groups if group & joined))]
    groups.sort(key=lambda group: (-len(group), min(group)))
    return tuple(sorted(groups[0])) if groups else ()


def _symmetric(matrix: Floats) -> Floats:
    return (matrix + matrix.T) / 2.0


def _blocks(blocks: Sequence[Floats]) -> Floats:
    """The blocks along the diagonal of one matrix."""
    size = sum(block.shape[0] for block in blocks)
    whole = np.zeros((size, size))
    start = 0
    for block in blocks:
        end = start + block.shape[0]
        whole[start:end, start:end] = block
        start = end
    return whole
