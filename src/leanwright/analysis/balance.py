"""From the peaks of all sweeps to one answer: offsets, spread, verdict, each with its uncertainty."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.peak import BudgetSource, Status
from leanwright.findings import Statement

Floats = NDArray[np.float64]
Verdict = Literal["even", "uneven", "cannot-tell"]


@dataclass(frozen=True, slots=True)
class CylinderBalance:
    """One cylinder over all sweeps used. Units and meaning as in :class:`leanwright.analysis.peak.CylinderPeak`.

    ``offset_percent`` is 100 ln(F* / geometric mean of all F*) [percent], positive = lean.
    """

    cylinder: int
    status: Status
    fuel_flow_at_peak_gph: float | None = None
    u_fuel_flow_at_peak_gph: float | None = None
    offset_percent: float | None = None
    u_offset_percent: float | None = None
    bound_gph: float | None = None
    bound_side: Literal["below", "above"] | None = None
    possible_gph: tuple[float, float] | None = None
    sweeps_peaked: int = 0
    reason: Statement | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Balance:
    """How even the cylinders are, and how sure that is.

    ``spread_gph`` is the posterior mean of max - min of the true flows at peak [gal/h], ``None`` if fewer than two
    cylinders peaked. ``offset_covariance`` [percent squared] is over ``offset_cylinders``, in that order.
    """

    cylinders: tuple[CylinderBalance, ...]
    spread_gph: float | None
    u_spread_gph: float | None
    spread_interval95_gph: tuple[float, float] | None
    spread_percent: float | None
    u_spread_percent: float | None
    spread_at_least_gph: float | None
    mean_flow_gph: float | None
    """G of the contract: geometric mean over the sweeps used of each sweep's mean flow at peak [gal/h]."""
    budget: tuple[tuple[BudgetSource, float], ...]
    """Share of the spread's variance by source, largest first; shares sum to 1."""
    goal_gph: float
    probability_within_goal: float
    verdict: Verdict
    offset_cylinders: tuple[int, ...]
    offset_covariance: Floats
    reasons: tuple[Statement, ...]
