"""Fuel flow at peak EGT of every cylinder, with the covariance that belongs to it."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.excerpt import Excerpt, excerpt
from leanwright.analysis.sweep import Sweep
from leanwright.analysis.witness import Vertex, witness
from leanwright.findings import Statement
from leanwright.recordings.recording import Recording

Floats = NDArray[np.float64]
Status = Literal["peaked", "not-reached", "no-signal", "unclear"]
BudgetSource = Literal["reading-noise", "shared-disturbance", "lag", "quantisation", "between-sweeps"]


@dataclass(frozen=True, slots=True)
class CylinderPeak:
    """One cylinder in one sweep.

    ``fuel_flow_at_peak_gph`` [gal/h] is the reading's flow at the sweep's own power with lag taken out, and its
    standard uncertainty; both ``None`` unless ``peaked``. ``bound_gph`` and ``bound_side`` belong to
    ``not-reached`` ("below": the peak lies below the bound), ``possible_gph`` to ``unclear``.
    """

    cylinder: int
    status: Status
    fuel_flow_at_peak_gph: float | None = None
    u_fuel_flow_at_peak_gph: float | None = None
    bound_gph: float | None = None
    bound_side: Literal["below", "above"] | None = None
    possible_gph: tuple[float, float] | None = None
    lag_s: float | None = None
    u_lag_s: float | None = None
    peak_egt_f: float | None = None
    """EGT at the top of the fitted curve [degF]; means little in itself, compared from flight to flight."""
    witness_gph: float | None = None
    """Flow at peak by the plain local fit, its known bias allowed for [gal/h]."""
    reason: Statement | None = None
    """Why the status is what it is, when it is not ``peaked``."""


@dataclass(frozen=True, slots=True, eq=False)
class CylinderCurve:
    """What the curves figure draws: points and fit of one cylinder in one sweep, lag and common noise taken out."""

    cylinder: int
    point_flow_gph: Floats
    """[gal/h], shape (points,)"""
    point_egt_below_peak_f: Floats
    """EGT minus the fitted top [degF], shape (points,); 0 at the top, negative below"""
    fit_flow_gph: Floats
    fit_egt_below_peak_f: Floats


@dataclass(frozen=True, slots=True, eq=False)
class SweepPeaks:
    """All cylinders in one sweep."""

    sweep: Sweep
    cylinders: tuple[CylinderPeak, ...]
    curves: tuple[CylinderCurve, ...] = ()
    statements: tuple[Statement, ...] = ()
    """What is to be said about this sweep: witness differs, leaning and enriching disagree, misfit."""


@dataclass(frozen=True, slots=True, eq=False)
class Peaks:
    """Every sweep used of one recording, fitted together.

    ``log_flow`` holds ln(flow at peak, at common power), one value for each (sweep, cylinder) that peaked, in the
    order of ``index``; only differences within a sweep are meant for offsets. ``covariance`` is its full covariance,
    sweeps of one recording correlated through the lags they share. ``parts`` splits the covariance by source; the
    parts sum to ``covariance``.
    """

    sweeps: tuple[SweepPeaks, ...]
    index: tuple[tuple[int, int], ...]
    """(position in ``sweeps``, cylinder) of each value."""
    log_flow: Floats
    covariance: Floats
    parts: dict[BudgetSource, Floats] = field(default_factory=dict)


def find_peaks(recording: Recording, sweeps: Sequence[Sweep], *, engine: int = 1) -> Peaks:
    """Fuel flow at peak EGT of every cylinder in every sweep that is used.

    Parameters
    ----------
    recording : Recording
        The recording.
    sweeps : sequence of Sweep
        Its sweeps; those not used are passed over.
    engine : int
        Number of the engine.

    Returns
    -------
    Peaks
        One entry a sweep used, in the order given.
    """
    found = [_plain(sweep, excerpt(recording, sweep, engine)) for sweep in sweeps if sweep.used]
    values = [
        (number, cylinder.cylinder, cylinder.fuel_flow_at_peak_gph, cylinder.u_fuel_flow_at_peak_gph)
        for number, one in enumerate(found)
        for cylinder in one.cylinders
        if cylinder.fuel_flow_at_peak_gph is not None and cylinder.u_fuel_flow_at_peak_gph is not None
    ]
    flow = np.array([value[2] for value in values])
    covariance = np.diag(np.array([value[3] for value in values]) / np.where(flow > 0.0, flow, 1.0)) ** 2
    return Peaks(
        sweeps=tuple(found),
        index=tuple((value[0], value[1]) for value in values),
        log_flow=np.log(flow),
        covariance=covariance,
        parts={"reading-noise": covariance},
    )


def _plain(sweep: Sweep, part: Excerpt | None) -> SweepPeaks:
    if part is None:
        return SweepPeaks(sweep, (), statements=(Statement("no-fuel-flow"),))
    return SweepPeaks(
        sweep,
        tuple(
            _plain_cylinder(number, vertex)
            for number, vertex in zip(part.cylinders, witness(part), strict=True)
        ),
    )


def _plain_cylinder(cylinder: int, vertex: Vertex | None) -> CylinderPeak:
    if vertex is None:
        return CylinderPeak(cylinder, "no-signal", reason=Statement("too-few-points"))
    flow = float(np.exp(vertex.log_flow))
    if not vertex.inside:
        wide = max(2.0 * vertex.u_log_flow, 0.05)
        return CylinderPeak(
            cylinder,
            "unclear",
            possible_gph=(flow * np.exp(-wide), flow * np.exp(wide)),
            reason=Statement("at-the-end"),
        )
    return CylinderPeak(cylinder, "peaked", flow, flow * vertex.u_log_flow, witness_gph=flow)
