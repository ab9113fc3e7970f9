"""Fuel flow at peak EGT of every cylinder, with the covariance that belongs to it."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.sweep import Sweep
from leanwright.findings import Statement

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
