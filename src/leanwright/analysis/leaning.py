"""How an engine leans now: where each cylinder sits against its own peak at a total fuel flow, for one power."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.health_cruise import RANKINE_OFFSET
from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.analysis.sweep import Sweep

Floats = NDArray[np.float64]
Curve = tuple[Floats, Floats]
Side = Literal["rich", "lean"]

RICHEST: Final = 0.10
LEANEST: Final = 0.08
"""The guide goes so far beyond the first and the last peak (share of the flow)."""
STEPS: Final = 14
FUEL_POWER_HP_PER_GPH: Final = 44.17
"""Heat in one US gallon an hour of fuel: 6.01 lb/gal at 43.5 MJ/kg [hp/(gal/h)]."""
EFFICIENCY: Final = 0.34
"""Brake thermal efficiency lean of peak (FAA-H-8083-32B, p. 1-35: "about 34 percent") [1]."""
OUTSIDE_AIR_F: Final = 40.0


@dataclass(frozen=True, slots=True)
class Power:
    """What is chosen: manifold pressure [inHg], engine speed [rpm], outside air [degF]; ``None`` where not known."""

    manifold_pressure_inhg: float | None
    engine_speed_rpm: float | None
    outside_f: float | None


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit that can be held against the guide: of the total flow [gal/h] or of every cylinder's EGT [degF]."""

    of: Literal["fuel_flow", "egt"]
    most: float | None = None
    """[gal/h or degF]"""
    least: float | None = None
    """[gal/h or degF]"""


@dataclass(frozen=True, slots=True)
class Place:
    """One cylinder at one total flow: how far from its own peak; positive is rich of it.

    ``below_peak_df`` is how far its EGT lies below its own top [degF], ``None`` beyond the curve that was flown; ``egt_f`` its EGT
    where the top's height is known [degF].
    """

    cylinder: int
    from_peak_gph: float
    from_peak_percent: float
    below_peak_df: float | None
    egt_f: float | None


@dataclass(frozen=True, slots=True)
class Row:
    """All cylinders at one total flow [gal/h]; ``within`` tells whether it is inside every limit and what was flown."""

    flow_gph: float
    places: tuple[Place, ...]
    within: bool


@dataclass(frozen=True, slots=True)
class Guide:
    """The guide for one power.

    ``peaks_gph`` are the flows at peak there [gal/h] with ``u_peaks_gph``; ``leanest_flown_gph`` is the leanest total flow that
    these recordings flew at like mixture [gal/h]: what lies below was never tried. ``rough_at_gph`` is the flow where a
    cylinder's EGT fell away as in a lean misfire, ``None`` where none did. ``saving_gph`` is what an even engine, or the engine
    before against now, needs less [gal/h].
    """

    power: Power
    peaks_gph: Mapping[int, float]
    u_peaks_gph: Mapping[int, float]
    leanest: int
    richest: int
    rows: tuple[Row, ...]
    leanest_flown_gph: float
    rough_at_gph: float | None
    saving_gph: float
    u_saving_gph: float
    compared_with: Literal["even", "before"]
    curves: Mapping[int, Curve]
    """Total flow [gal/h], rising, and EGT below the own peak [degF], at most 0, by cylinder; shape (points,) each."""
    limits: tuple[Limit, ...] = ()
    """Those that were held against it."""


def power_of(measured: Measured) -> Power:
    """The power of the last sweep that was used.

    Parameters
    ----------
    measured : Measured
        What was measured.
    """
    sweeps = [(result, sweep) for result in measured.results for sweep in result.sweeps if sweep.used]
    if not sweeps:
        return Power(None, None, None)
    result, sweep = sweeps[-1]
    return Power(sweep.manifold_pressure_inhg, sweep.engine_speed_rpm, _outside(result, sweep))


def guide(
    measured: Measured,
    power: Power,
    limits: Sequence[Limit] = (),
    rough: Mapping[int, float] | None = None,
    before: Measured | None = None,
) -> Guide | None:
    """Work out the guide.

    Parameters
    ----------
    measured : Measured
        The engine as it is.
    power : Power
        What is chosen.
    limits : sequence of Limit
        Of the flight manual, as the owner typed them.
    rough : mapping of int to float, optional
        Cylinders whose EGT fell away on the lean flank, with the share of their own flow at peak at which it did [1].
    before : Measured, optional
        The engine as it was, to tell what the change saves.

    Returns
    -------
    Guide or None
        ``None`` if fewer than two cylinders have a peak.
    """
    found = [one for one in measured.balance.cylinders if one.offset_percent is not None]
    level = level_at(measured, power)
    if len(found) < 2 or level is None:
        return None
    peaks = {one.cylinder: level * float(np.exp((one.offset_percent or 0.0) / 100.0)) for one in found}
    u = {one.cylinder: peaks[one.cylinder] * (one.u_offset_percent or 0.0) / 100.0 for one in found}
    leanest = max(peaks, key=lambda number: peaks[number])
    richest = min(peaks, key=lambda number: peaks[number])
    curves, tops = _curves(measured), _tops(measured)
    flown = _leanest_flown(measured) * level
    fallen = [share * peaks[number] for number, share in (rough or {}).items() if number in peaks]
    rows = []
    for flow in _round_flows(peaks[richest] * (1.0 - LEANEST), peaks[leanest] * (1.0 + RICHEST)):
        places = tuple(_place(number, flow, peak, curves, tops) for number, peak in sorted(peaks.items()))
        within = flow >= flown and all(_inside(one, flow, places) for one in limits)
        rows.append(Row(flow, places, within and all(flow > at for at in fallen)))
    saving, u_saving = _saving(measured, before, level)
    return Guide(
        power, peaks, u, leanest, richest, tuple(rows), flown, max(fallen, default=None), saving, u_saving,
        "even" if before is None else "before", {n: _at(curves[n], peaks[n]) for n in sorted(peaks) if n in curves},
        tuple(limits),
    )  # fmt: skip


def _round_flows(low: float, high: float) -> list[float]:
    """About so many as are wanted, in whole tenths, so that a limit typed in tenths falls on a row or between two [gal/h]."""
    step = max(1, round(10.0 * (high - low) / STEPS))
    last, first = int(np.floor(10.0 * low / step)), int(np.ceil(10.0 * high / step))
    return [number * step / 10.0 for number in range(first, last - 1, -1)]


def level_at(measured: Measured, power: Power) -> float | None:
    """Mean flow at peak at a power: that of the sweeps, in proportion to the air that the engine breathes.

    Parameters
    ----------
    measured : Measured
        What was measured.
    power : Power
        What is chosen.

    Returns
    -------
    float or None
        Geometric mean of the flows at peak [gal/h].

    Notes
    -----
    Air goes with manifold pressure times speed over the absolute temperature outside; where one of them is not known, it is
    taken to be that of the sweeps.
    """
    mean = measured.balance.mean_flow_gph
    if mean is None:
        return None
    ratios = []
    for result in measured.results:
        for sweep in (one for one in result.sweeps if one.used):
            ratio = 1.0
            if power.manifold_pressure_inhg and sweep.manifold_pressure_inhg:
                ratio *= power.manifold_pressure_inhg / sweep.manifold_pressure_inhg
            if power.engine_speed_rpm and sweep.engine_speed_rpm:
                ratio *= power.engine_speed_rpm / sweep.engine_speed_rpm
            outside = _outside(result, sweep)
            if power.outside_f is not None and outside is not None:
                ratio *= (outside + RANKINE_OFFSET) / (power.outside_f + RANKINE_OFFSET)
            ratios.append(ratio)
    return mean * float(np.exp(np.mean(np.log(ratios)))) if ratios else None


def lean_side_power_hp(flow_gph: float) -> float:
    """Power lean of every peak, where fuel alone decides it.

    Parameters
    ----------
    flow_gph : float
        Total fuel flow [gal/h].

    Returns
    -------
    float
        Brake power [hp].

    Notes
    -----
    Heat of the fuel times a brake thermal efficiency of 34 percent (FAA-H-8083-32B, p. 1-35); common practice says 14.9 hp
    for each gal/h at a compression of 8.5.

    Examples
    --------
    >>> round(lean_side_power_hp(10.0))
    150
    """
    return FUEL_POWER_HP_PER_GPH * EFFICIENCY * flow_gph


def _outside(result: RecordingResult, sweep: Sweep) -> float | None:
    values = result.recording.values("outside_air_temperature")
    if values is None:
        return None
    rows = slice(*np.searchsorted(result.recording.time_s, [sweep.start_s, sweep.end_s]))
    good = values[rows][np.isfinite(values[rows])]
    return float(good.mean()) if good.size else None


def _at(curve: Curve, peak: float) -> Curve:
    """A curve in total flow, for a cylinder that peaks there [gal/h]."""
    return peak * np.exp(curve[0]), np.minimum(curve[1], 0.0)


def _curves(measured: Measured) -> dict[int, Curve]:
    """EGT below its own peak against the logarithm of flow over flow at peak, from each cylinder's widest curve."""
    widest: dict[int, Curve] = {}
    for result in measured.results:
        for sweep in result.peaks.sweeps:
            at = {
                one.cylinder: one.fuel_flow_at_peak_gph
                for one in sweep.cylinders
                if one.fuel_flow_at_peak_gph
            }
            for curve in sweep.curves:
                top = at.get(curve.cylinder)
                if top is None:
                    continue
                x = np.log(curve.fit_flow_gph / top)
                order = np.argsort(x, kind="stable")
                if curve.cylinder not in widest or np.ptp(x) > np.ptp(widest[curve.cylinder][0]):
                    widest[curve.cylinder] = x[order], curve.fit_egt_below_peak_f[order]
    return widest


def _tops(measured: Measured) -> dict[int, float]:
    """Mean EGT at the top [degF], by cylinder."""
    found: dict[int, list[float]] = {}
    for result in measured.results:
        for sweep in result.peaks.sweeps:
            for one in sweep.cylinders:
                if one.peak_egt_f is not None:
                    found.setdefault(one.cylinder, []).append(one.peak_egt_f)
    return {number: float(np.mean(values)) for number, values in found.items()}


def _place(
    number: int, flow: float, peak: float, curves: Mapping[int, Curve], tops: Mapping[int, float]
) -> Place:
    x = float(np.log(flow / peak))
    below = None
    if number in curves and curves[number][0][0] <= x <= curves[number][0][-1]:
        below = -float(np.interp(x, *curves[number]))
    egt = tops[number] - below if below is not None and number in tops else None
    return Place(number, flow - peak, 100.0 * x, below, egt)


def _inside(limit: Limit, flow: float, places: Sequence[Place]) -> bool:
    """Whether a flow is inside a limit; what cannot be known is not."""
    values: Sequence[float | None] = [flow] if limit.of == "fuel_flow" else [one.egt_f for one in places]
    return all(
        value is not None
        and (limit.most is None or value <= limit.most)
        and (limit.least is None or value >= limit.least)
        for value in values
    )


def _leanest_flown(measured: Measured) -> float:
    """The leanest flow of the sweeps used, over the mean flow at peak of the same sweep [1]."""
    least = np.inf
    for result in measured.results:
        flow = result.recording.values("fuel_flow", None, measured.engine)
        for sweep in result.peaks.sweeps:
            flows = [one.fuel_flow_at_peak_gph for one in sweep.cylinders if one.fuel_flow_at_peak_gph]
            if flow is None or not flows:
                continue
            rows = slice(
                *np.searchsorted(result.recording.time_s, [sweep.sweep.start_s, sweep.sweep.end_s + 1.0])
            )
            good = flow[rows][np.isfinite(flow[rows]) & (flow[rows] > 0.0)]
            if good.size:
                least = min(least, float(good.min()) / float(np.exp(np.mean(np.log(flows)))))
    return float(least) if np.isfinite(least) else 1.0


def _saving(measured: Measured, before: Measured | None, level: float) -> tuple[float, float]:
    """What less is needed with the leanest cylinder as near to its peak as before, and its standard uncertainty [gal/h]."""
    now, u_now = _highest(measured)
    if before is None:
        return level * float(np.expm1(now)), level * u_now
    then, u_then = _highest(before)
    return level * float(np.exp(then) - np.exp(now)), level * float(np.hypot(u_then, u_now))


def _highest(measured: Measured) -> tuple[float, float]:
    offsets = [
        (one.offset_percent / 100.0, (one.u_offset_percent or 0.0) / 100.0)
        for one in measured.balance.cylinders
        if one.offset_percent is not None
    ]
    return max(offsets, default=(0.0, 0.0))
