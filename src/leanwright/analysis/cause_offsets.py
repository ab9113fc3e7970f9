"""Offsets as evidence: of each cylinder at each manifold pressure, those without a peak by where it may lie."""

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from leanwright.analysis.cause_rows import Row, Rows, Setting, State, diagonal, mean, over
from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.analysis.offset import Offsets, Stack, combined_offsets, stack
from leanwright.analysis.peak import CylinderPeak, SweepPeaks
from leanwright.analysis.plain_top import plain_top
from leanwright.analysis.sweep import Sweep
from leanwright.engine.atmosphere import standard_pressure, standard_temperature
from leanwright.findings import Statement

# Reasons for every threshold stand in docs/theory/causes.md.
SAME_PRESSURE_INHG: Final = 0.7
BEYOND_BOUND_PERCENT: Final = 4.0
LEAST_U_PLACE_PERCENT: Final = 0.5
AT_THE_END: Final = Statement("at-the-end")
USUAL_LINE_PSI: Final = 4.0
USUAL_LINE_AT_GPH: Final = 11.0
USUAL_AMBIENT_INHG: Final = 24.0
LEAST_LINE_PSI: Final = 0.5


def add_offsets(made: Rows, state: State, measured: Measured) -> None:
    """Offsets at each setting, with the covariance between the settings.

    Parameters
    ----------
    made : Rows
        What they are added to [percent].
    state : str
        Which state of the engine this is.
    measured : Measured
        What was measured of it.
    """
    stacked = stack([result.peaks for result in measured.results])
    named = [(result, peaks) for result in measured.results for peaks in result.peaks.sweeps]
    rows: list[Row] = []
    nearly: list[tuple[Row, float, float]] = []
    values, weights, between = [], [], []
    for positions in _by_pressure(stacked):
        offsets = combined_offsets(stacked, positions)
        if offsets is None or len(offsets.cylinders) < 2:
            continue
        flown = [(named[position][0], named[position][1].sweep) for position in positions]
        level = float(np.mean(list(offsets.levels.values())) + np.median(offsets.offset))
        made.settings.append(_setting(state, flown, float(np.exp(level)), measured.profile.cylinders))
        number = len(made.settings) - 1
        rows += [Row("offset", state, cylinder, number) for cylinder in offsets.cylinders]
        values.append(100.0 * offsets.offset)
        weights.append(100.0 * offsets.weights[:-1])
        between.append(
            1e4 * offsets.covariance[:-1, :-1]
            - 1e4 * offsets.weights[:-1] @ stacked.covariance @ offsets.weights[:-1].T
        )
        nearly += [
            (Row("offset", state, cylinder, number), *place)
            for cylinder, place in _places(named, positions, offsets).items()
        ]
    if rows:
        all_weights = np.vstack(weights)
        covariance = all_weights @ stacked.covariance @ all_weights.T + diagonal(between)
        made.add(rows, np.concatenate(values), (covariance + covariance.T) / 2.0)
    for row, value, u in nearly:
        made.add([row], np.array([value]), np.array([[u**2]]))


def _places(
    named: Sequence[tuple[RecordingResult, SweepPeaks]],
    positions: Sequence[int],
    offsets: Offsets,
) -> Mapping[int, tuple[float, float]]:
    """About where the offsets of cylinders lie that gave no peak but a bound or a range, with their uncertainty [percent]."""
    found: dict[int, tuple[float, float]] = {}
    for position in positions:
        level = offsets.levels.get(position)
        if level is None:
            continue
        for peak in named[position][1].cylinders:
            if peak.cylinder in offsets.cylinders:
                continue
            result, swept = named[position]
            place = _place(peak, level, plain_top(result.recording, swept.sweep, peak.cylinder))
            if place is not None and (peak.cylinder not in found or place[1] < found[peak.cylinder][1]):
                found[peak.cylinder] = place
    return found


def _place(peak: CylinderPeak, level: float, top: tuple[float, float] | None) -> tuple[float, float] | None:
    """Middle and standard uncertainty of where a peak may lie against a sweep's level [percent]."""
    if peak.status == "not-reached" and peak.bound_gph is not None:
        beyond = -BEYOND_BOUND_PERCENT if peak.bound_side == "below" else BEYOND_BOUND_PERCENT
        return 100.0 * (float(np.log(peak.bound_gph)) - level) + beyond, BEYOND_BOUND_PERCENT
    if peak.status == "unclear" and top is not None and peak.reason != AT_THE_END:
        return 100.0 * (top[0] - level), top[1]
    if peak.status == "unclear" and peak.possible_gph is not None:
        low, high = (100.0 * (float(np.log(one)) - level) for one in peak.possible_gph)
        return 0.5 * (low + high), max((high - low) / np.sqrt(12.0), LEAST_U_PLACE_PERCENT)
    return None


def _by_pressure(stacked: Stack) -> list[list[int]]:
    """Positions of the sweeps that have a value, together where the manifold pressure is the same."""
    present = sorted(set(stacked.sweep.tolist()))
    known = sorted((stacked.sweeps[position].manifold_pressure_inhg or 0.0, position) for position in present)
    groups: list[list[int]] = []
    last = -np.inf
    for pressure, position in known:
        if pressure - last > SAME_PRESSURE_INHG:
            groups.append([])
        groups[-1].append(position)
        last = pressure
    return groups[::-1]


def _setting(
    state: State, sweeps: Sequence[tuple[RecordingResult, Sweep]], at_gph: float, cylinders: int
) -> Setting:
    pressure = mean([sweep.manifold_pressure_inhg for _, sweep in sweeps])
    altitude = mean([sweep.altitude_ft for _, sweep in sweeps])
    ambient = USUAL_AMBIENT_INHG if altitude is None else standard_pressure(altitude)
    if altitude is None and pressure is not None and pressure > ambient:
        ambient = pressure
    flow = mean([over(result, sweep, "fuel_flow") for result, sweep in sweeps])
    line = mean([over(result, sweep, "fuel_pressure") for result, sweep in sweeps])
    if line is None or flow is None or flow <= 0.0:
        line, flow = USUAL_LINE_PSI, USUAL_LINE_AT_GPH
    line *= (at_gph / flow) ** 2
    return Setting(
        state,
        pressure,
        ambient,
        standard_temperature(altitude or 6000.0),
        mean([sweep.engine_speed_rpm for _, sweep in sweeps]) or 2350.0,
        max(line, LEAST_LINE_PSI),
        tuple((result.recording.name, sweep.start_s, sweep.end_s) for result, sweep in sweeps),
        altitude is not None,
        cylinders,
    )
