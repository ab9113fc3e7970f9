"""Every number down to the rows it came from: what the page shows when one is opened."""

import math
from dataclasses import dataclass

import numpy as np

from leanwright.analysis.measured import Measured
from leanwright.analysis.peak import BudgetSource, CylinderPeak
from leanwright.recordings.recording import Recording
from leanwright.report import cells
from leanwright.report.ladder import LEAST_ROOM_GPH, Ladder, Row, leanest_first, rails_about, seen_range
from leanwright.report.numbers import clock, plain
from leanwright.report.sweeps import SweepLine, rows, used
from leanwright.report.units import show_difference, sign_of
from leanwright.report.words import Voice, say

_ROWS_AROUND = 3
_FLOW_DECIMALS, _MOST_DECIMALS = 2, 3


@dataclass(frozen=True, slots=True)
class FileRow:
    """One row of a file: its line, time and readings as text; ``here`` where the flow passed the peak's."""

    line: str
    time: str
    flow: str
    egt: str
    here: bool


@dataclass(frozen=True, slots=True)
class PeakEvidence:
    """One cylinder in one sweep, every number as text."""

    sweep: int
    status: str
    flow: str
    witness: str
    lag: str
    peak_egt: str
    budget: tuple[tuple[str, str], ...]
    reason: str
    file_rows: tuple[FileRow, ...]


def of_cylinder(measured: Measured, cylinder: int, voice: Voice) -> tuple[PeakEvidence, ...]:
    """What each sweep says of a cylinder."""
    found = []
    for line in used(measured):
        peak = next((one for one in line.peaks.cylinders if one.cylinder == cylinder), None)
        if peak is not None:
            found.append(_peak(line, peak, voice))
    return tuple(found)


def _peak(line: SweepLine, peak: CylinderPeak, voice: Voice) -> PeakEvidence:
    flow = peak.fuel_flow_at_peak_gph
    if flow is not None:
        shown = cells.uncertain(flow, peak.u_fuel_flow_at_peak_gph, "gph", voice)
    elif peak.bound_gph is not None:
        bound = cells.quantity(peak.bound_gph, "gph", 2, voice)
        shown = f"{voice.word('bound-side', peak.bound_side)} {bound}"
    else:
        shown = ""
    return PeakEvidence(
        sweep=line.number,
        status=voice.word("status", peak.status),
        flow=shown,
        witness=cells.quantity(peak.witness_gph, "gph", 2, voice),
        lag=cells.uncertain(peak.lag_s, peak.u_lag_s, "s", voice),
        peak_egt=cells.quantity(peak.peak_egt_f, "f", 0, voice),
        budget=_budget(line, peak, voice),
        reason=say(peak.reason, voice) if peak.reason else "",
        file_rows=_file_rows(line, peak, voice),
    )


def _budget(line: SweepLine, peak: CylinderPeak, voice: Voice) -> tuple[tuple[str, str], ...]:
    """The standard uncertainty of one flow at peak by source, largest first."""
    peaks = line.result.peaks
    at = (line.position, peak.cylinder)
    if at not in peaks.index or peak.fuel_flow_at_peak_gph is None:
        return ()
    place = peaks.index.index(at)
    variances: dict[BudgetSource, float] = {
        source: float(part[place, place]) for source, part in peaks.parts.items()
    }
    factor = show_difference(peak.fuel_flow_at_peak_gph, "gph", voice.units).value
    return tuple(
        (voice.word("source", source), plain(factor * math.sqrt(max(variance, 0.0)), 3, voice.marks))
        for source, variance in sorted(variances.items(), key=lambda one: -one[1])
    )


def _file_rows(line: SweepLine, peak: CylinderPeak, voice: Voice) -> tuple[FileRow, ...]:
    """The rows about the one where the reading of the flow passed the flow at peak."""
    recording = line.result.recording
    flow = recording.values("fuel_flow", None, line.sweep.engine)
    egt = recording.values("egt", peak.cylinder, line.sweep.engine)
    covered = rows(recording, line.sweep.start_s, line.sweep.end_s)
    if flow is None or egt is None or peak.fuel_flow_at_peak_gph is None:
        return ()
    with np.errstate(invalid="ignore"):
        past = flow[covered] <= peak.fuel_flow_at_peak_gph
    if line.sweep.direction == "enriching":
        past = ~past & np.isfinite(flow[covered])
    if not past.any():
        return ()
    here = covered.start + int(np.argmax(past))
    decimals = _decimals(recording, line.sweep.engine, voice)
    around = range(max(here - _ROWS_AROUND, 0), min(here + _ROWS_AROUND + 1, recording.rows_kept))
    return tuple(
        FileRow(
            line=plain(float(recording.lines[row]), 0, voice.marks),
            time=clock(float(recording.time_s[row])),
            flow=_reading(float(flow[row]), "gph", decimals, voice),
            egt=_reading(float(egt[row]), "f", 0, voice),
            here=row == here,
        )
        for row in around
    )


def _decimals(recording: Recording, engine: int, voice: Voice) -> int:
    """As many decimals as the file gives of the flow, in the reader's unit; two where that is not known."""
    steps = [c.resolution for c in recording.channels if (c.quantity, c.engine) == ("fuel_flow", engine)]
    if not steps or not steps[0]:
        return _FLOW_DECIMALS
    step = show_difference(steps[0], "gph", voice.units).value
    return min(max(math.ceil(-math.log10(step) - 1e-6), 0), _MOST_DECIMALS)


def _reading(value: float, unit: str, decimals: int, voice: Voice) -> str:
    return cells.quantity(value if math.isfinite(value) else None, unit, decimals, voice)


def sweep_ladder(line: SweepLine, goal_gph: float, voice: Voice) -> Ladder | None:
    """One sweep by itself as a ladder about its own mean; ``None`` if no cylinder peaked in it."""
    peaks = line.result.peaks
    places = [place for place, (position, _) in enumerate(peaks.index) if position == line.position]
    flows = {
        peak.cylinder: peak.fuel_flow_at_peak_gph
        for peak in line.peaks.cylinders
        if peak.fuel_flow_at_peak_gph is not None
    }
    if not flows:
        return None
    factor = show_difference(1.0, "gph", voice.units).value
    u_offsets = _offset_uncertainties(line, places)
    listed = [
        Row(
            peak.cylinder,
            peak.status,
            flow=flows[peak.cylinder] * factor if peak.cylinder in flows else None,
            half_width=2.0 * u_offsets.get(peak.cylinder, 0.0) * flows.get(peak.cylinder, 0.0) * factor,
        )
        for peak in line.peaks.cylinders
    ]
    mean = math.exp(sum(math.log(flow) for flow in flows.values()) / len(flows)) * factor
    goal = goal_gph * factor
    rails = rails_about(mean, goal, [flow * factor for flow in flows.values()])
    judged = [row.judged(rails) for row in listed]
    ends = seen_range(judged, rails, 2.0 * goal + show_difference(LEAST_ROOM_GPH, "gph", voice.units).value)
    return Ladder(tuple(leanest_first(judged)), rails, goal, ends, sign_of("gph", voice.units))


def _offset_uncertainties(line: SweepLine, places: list[int]) -> dict[int, float]:
    """Standard uncertainties of a sweep's offsets about its own mean, in natural logarithms."""
    peaks = line.result.peaks
    centre = np.eye(len(places)) - 1.0 / max(len(places), 1)
    covariance = centre @ peaks.covariance[np.ix_(places, places)] @ centre.T
    return {
        peaks.index[place][1]: math.sqrt(max(float(covariance[row, row]), 0.0))
        for row, place in enumerate(places)
    }
