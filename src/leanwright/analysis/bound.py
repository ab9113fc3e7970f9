"""What is known of a cylinder whose peak was never found: the limits that all sweeps together leave."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from leanwright.analysis.peak import CylinderPeak, Status, SweepPeaks
from leanwright.findings import Statement

_LEVEL_DOUBT = 0.03
"""How far a sweep's mean flow at peak may lie off what its power foretells (common practice) [1]."""

_RUNS = (-0.63, 0.21)
"""Offsets between which a cylinder lies that runs while the others pass their peaks [1]. It burns between air/fuel
ratios of 8 and 16 (FAA-H-8083-32B, p. 2-4) where theirs is 15, and a sweep starts some 15 % rich of their peaks (common
practice): ln(8/15) and ln(1.15 x 16/15)."""


@dataclass(frozen=True, slots=True)
class Limits:
    """One cylinder without a peak over all sweeps.

    ``low`` and ``high`` are the offsets [1] between which the peak lies, in natural logarithms against the mean
    flow of the balance; infinite where nothing is known. ``certain`` tells that both are bounds of sweeps that
    stopped short of the peak; a possible range of a sweep that could not tell is less than that.
    """

    cylinder: int
    status: Status
    low: float = -np.inf
    high: float = np.inf
    reason: Statement | None = None
    certain: bool = False

    @property
    def farthest(self) -> tuple[float, float]:
        """Offsets between which the peak certainly lies [1]."""
        return (self.low, self.high) if self.certain else (-np.inf, np.inf)

    @property
    def side(self) -> Literal["below", "above"] | None:
        """Which side of its one bound the peak lies on; ``None`` unless there is exactly one."""
        if self.status != "not-reached":
            return None
        return "below" if np.isfinite(self.high) else "above"


def limits(
    cylinder: int, sweeps: Sequence[SweepPeaks], levels: Mapping[int, float], log_mean_flow: float
) -> Limits:
    """Bring together what each sweep says of a cylinder that peaked in none that counts.

    Parameters
    ----------
    cylinder : int
        Its number [1].
    sweeps : sequence of SweepPeaks
        All sweeps; what one that is not used says does not count.
    levels : mapping of int to float
        ln of the mean flow at peak of those that have one, by position [ln gal/h].
    log_mean_flow : float
        ln of the mean flow that the offsets refer to [ln gal/h].

    Returns
    -------
    Limits
        ``not-reached`` with the tightest bound; ``unclear`` where the limits close from both sides or a sweep was
        unclear; else ``no-signal``.
    """
    lows: list[float] = []
    highs: list[float] = []
    reasons: dict[Status, Statement | None] = {}
    for position, sweep in enumerate(sweeps):
        level, doubt = _level(position, sweeps, levels, log_mean_flow)
        for peak in sweep.cylinders if sweep.sweep.used else ():
            if peak.cylinder == cylinder:
                low, high = _range(peak)
                lows.append(np.log(low) - level - doubt if low > 0.0 else -np.inf)
                highs.append(np.log(high) - level + doubt if high < np.inf else np.inf)
                reasons.setdefault(peak.status, peak.reason)
    low, high = max(lows, default=-np.inf), min(highs, default=np.inf)
    certain = "not-reached" in reasons and not {"unclear", "peaked"} & reasons.keys() and low <= high
    if low > high:  # the sweeps contradict one another: either may be as far off as they lie apart
        apart = low - high
        low, high = high - apart, low + apart
    found = _decided(cylinder, low, high, reasons)
    certain = certain and bool(np.isfinite(low) and np.isfinite(high))
    return (
        replace(found, certain=certain)
        if found.status != "unclear"
        else _closed(found, levels, certain=certain)
    )


def _closed(found: Limits, levels: Mapping[int, float], *, certain: bool) -> Limits:
    """The range of an unclear cylinder, its open sides closed by what a running cylinder can be at all."""
    ends = [end for end in (found.low, found.high) if np.isfinite(end)]
    about = [0.0, *ends] if levels else ends
    if not about:
        return replace(found, certain=certain)
    low = found.low if np.isfinite(found.low) else min(about) + _RUNS[0]
    high = found.high if np.isfinite(found.high) else max(about) + _RUNS[1]
    return replace(found, low=low, high=high, certain=certain)


def _decided(cylinder: int, low: float, high: float, reasons: Mapping[Status, Statement | None]) -> Limits:
    closed = bool(np.isfinite(low) and np.isfinite(high))
    if "peaked" in reasons:
        # Its sweep shares no cylinder with the others, so its place among them is known by power only.
        reason = Statement("cylinder-not-compared", {"cylinder": cylinder})
        return Limits(cylinder, "unclear", low, high, reason)
    if "not-reached" in reasons and not closed and (np.isfinite(low) or np.isfinite(high)):
        return Limits(cylinder, "not-reached", low, high, reasons["not-reached"])
    for status in ("unclear", "not-reached"):
        if status in reasons:
            return Limits(cylinder, "unclear", low, high, reasons[status])
    return Limits(cylinder, "no-signal", reason=reasons.get("no-signal"))


def _range(peak: CylinderPeak) -> tuple[float, float]:
    """Flows between which one sweep puts the peak [gal/h]."""
    if peak.status == "not-reached" and peak.bound_gph is not None:
        return (0.0, peak.bound_gph) if peak.bound_side == "below" else (peak.bound_gph, np.inf)
    if peak.status == "unclear" and peak.possible_gph is not None:
        return peak.possible_gph
    if peak.status == "peaked" and peak.fuel_flow_at_peak_gph is not None:
        u = 2.0 * (peak.u_fuel_flow_at_peak_gph or 0.0)
        return peak.fuel_flow_at_peak_gph - u, peak.fuel_flow_at_peak_gph + u
    return 0.0, np.inf


def _level(
    position: int, sweeps: Sequence[SweepPeaks], levels: Mapping[int, float], log_mean_flow: float
) -> tuple[float, float]:
    """Ln of a sweep's mean flow at peak [ln gal/h], and how far it may be off [1].

    A sweep without a peak of its own is placed by its power: flow at peak goes with manifold pressure times
    engine speed, at one mixture and about one volumetric efficiency.
    """
    if position in levels:
        return levels[position], 0.0
    if not levels:
        return log_mean_flow, 0.0 if len(sweeps) == 1 else 3.0 * _LEVEL_DOUBT
    power = {number: _log_power(sweeps[number]) for number in levels}
    here = _log_power(sweeps[position])
    known = [levels[number] - value for number, value in power.items() if value is not None]
    if here is None or not known:
        return log_mean_flow, 3.0 * _LEVEL_DOUBT
    return here + float(np.mean(known)), _LEVEL_DOUBT


def _log_power(sweep: SweepPeaks) -> float | None:
    pressure, speed = sweep.sweep.manifold_pressure_inhg, sweep.sweep.engine_speed_rpm
    if pressure is None or speed is None or pressure <= 0.0 or speed <= 0.0:
        return None
    return float(np.log(pressure * speed))
