"""Mixture sweeps: found without being marked, each with its grounds; almost-sweeps with the reason why not."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.flight import PowerUp
from leanwright.analysis.lever import Movement, find_movements
from leanwright.analysis.limits import refine_limits
from leanwright.analysis.steadiness import power_remainder
from leanwright.analysis.trace import Trace, bin_means, read_trace, smooth
from leanwright.findings import Statement
from leanwright.recordings.recording import Recording

Floats = NDArray[np.float64]
Direction = Literal["leaning", "enriching"]

# Reasons for every threshold stand in docs/theory/sweeps.md.
LEAST_WORTH_TELLING = 0.06
LEAST_CHANGE = 0.09
SHORTEST_S = 22.0
FLIGHT_SPEED_RPM = 1700.0
POWER_REMAINDER = 0.02
POWER_RANGE = 0.12
RISE_AND_FALL_F = 8.0
EGT_SMOOTHING_S = 7.0
LAG_ALLOWANCE_S = 8.0


@dataclass(frozen=True, slots=True)
class Sweep:
    """A stretch in which the mixture was moved one way through the peaks.

    Start and end are those of the lever's movement; rests before and after don't belong to it.
    """

    start_s: float
    end_s: float
    direction: Direction
    used: bool
    reason: Statement | None
    """Why it was left out; ``None`` when it is used."""
    manifold_pressure_inhg: float | None
    engine_speed_rpm: float | None
    altitude_ft: float | None
    engine: int = 1
    by_hand: bool = False
    grounds: tuple[Statement, ...] = ()
    """What makes it a sweep: steadiness, way of the flow, cylinders that passed their peaks."""


def find_sweeps(recording: Recording, power_ups: Sequence[PowerUp], *, engine: int = 1) -> tuple[Sweep, ...]:
    """Find the mixture sweeps of a recording, and the stretches that almost were one.

    Parameters
    ----------
    recording
        What was read.
    power_ups
        As :func:`leanwright.analysis.flight.find_power_ups` gives them.
    engine
        Which engine of a twin.

    Returns
    -------
    tuple of Sweep
        In order of time; those with ``used`` false carry the reason. When none is used, :func:`why_no_sweep`
        says why.
    """
    found: list[Sweep] = []
    for power_up in power_ups:
        trace = read_trace(recording, power_up.first_row, power_up.end_row, engine)
        if trace is None:
            continue
        movements = [m for m in find_movements(trace) if _in_flight(trace, m, power_up)]
        for movement in movements:
            sweep = _judge(recording, power_up, trace, movement, movements, engine)
            if sweep is not None:
                found.append(sweep)
    return tuple(sorted(found, key=lambda sweep: sweep.start_s))


def why_no_sweep(
    recording: Recording, power_ups: Sequence[PowerUp], sweeps: Sequence[Sweep], *, engine: int = 1
) -> Statement | None:
    """The reason why no sweep can be used, with its numbers; ``None`` if one can."""
    if any(sweep.used for sweep in sweeps):
        return None
    flow = recording.values("fuel_flow", None, engine)
    if flow is None or not np.isfinite(flow).any():
        return Statement("no-fuel-flow")
    if not any(phase.kind != "ground" for power_up in power_ups for phase in power_up.phases):
        return Statement("no-flight")
    if sweeps:
        return Statement("no-sweep-usable", {"stretches": len(sweeps)})
    changes = [0.0]
    for power_up in power_ups:
        trace = read_trace(recording, power_up.first_row, power_up.end_row, engine)
        if trace is not None:
            flows = np.exp(trace.log_flow)
            changes += [
                abs(float(flows[m.last] - flows[m.first])) for m in find_movements(trace) if not m.quick
            ]
    return Statement("no-steady-change-of-flow", {"largest_change_gph": max(changes)})


def _in_flight(trace: Trace, movement: Movement, power_up: PowerUp) -> bool:
    """Whether a movement is large enough to tell of, and lies in flight (or nothing says where it lies)."""
    path = trace.mixture
    if abs(float(path[movement.last] - path[movement.first])) < LEAST_WORTH_TELLING:
        return False
    middle = 0.5 * float(trace.time_s[movement.first] + trace.time_s[movement.last])
    return not any(p.kind == "ground" and p.start_s <= middle < p.end_s for p in power_up.phases)


def _judge(
    recording: Recording,
    power_up: PowerUp,
    trace: Trace,
    movement: Movement,
    movements: Sequence[Movement],
    engine: int,
) -> Sweep | None:
    """A movement becomes a sweep that is used, or one that is left out with its reason."""
    earliest = max(
        (float(trace.time_s[m.last]) for m in movements if m.last <= movement.first), default=-np.inf
    )
    latest = min(
        (float(trace.time_s[m.first]) for m in movements if m.first >= movement.last), default=np.inf
    )
    if movement.quick:
        start, end = float(trace.time_s[movement.first]), float(trace.time_s[movement.last])
    else:
        start, end = refine_limits(trace, movement.first, movement.last, earliest, latest)
    rows = slice(
        power_up.first_row
        + int(np.searchsorted(recording.time_s[power_up.first_row : power_up.end_row], start)),
        power_up.first_row
        + int(np.searchsorted(recording.time_s[power_up.first_row : power_up.end_row], end, "right")),
    )

    def mean(quantity: str) -> float | None:
        values = recording.values(quantity, None, engine)
        if values is None:
            values = recording.values(quantity)
        good = values[rows][np.isfinite(values[rows])] if values is not None else np.empty(0)
        return float(good.mean()) if good.size else None

    altitude = mean("altitude")
    path = trace.mixture
    sweep = Sweep(
        start_s=start,
        end_s=end,
        direction="leaning" if path[movement.last] < path[movement.first] else "enriching",
        used=True,
        reason=None,
        manifold_pressure_inhg=mean("manifold_pressure"),
        engine_speed_rpm=mean("engine_speed"),
        altitude_ft=altitude if altitude is not None else mean("pressure_altitude"),
        engine=engine,
    )
    change = abs(float(path[movement.last] - path[movement.first]))
    if sweep.engine_speed_rpm is not None and sweep.engine_speed_rpm < FLIGHT_SPEED_RPM:
        return None
    inside = _inside(trace.time_s, start, end)
    flows = np.exp(trace.log_flow[inside])
    way = {
        "from_gph": float(flows[:3].mean()),
        "to_gph": float(flows[-3:].mean()),
        "change_percent": 100.0 * change,
        "duration_s": end - start,
    }
    if movement.quick:
        return _left_out(sweep, Statement("too-fast", way))
    power = trace.log_power[inside]
    remainder = float(np.ptp(power_remainder(trace.time_s[inside], power, trace.log_flow[inside])))
    steady = {
        "power_range_percent": 100.0 * float(np.ptp(power)),
        "power_remainder_percent": 100.0 * remainder,
    }
    if remainder > POWER_REMAINDER or float(np.ptp(smooth(trace.time_s[inside], power, 10.0))) > POWER_RANGE:
        return _left_out(sweep, Statement("power-changed", steady))
    if change < LEAST_CHANGE:
        return _left_out(sweep, Statement("too-little-flow-change", way))
    if end - start < SHORTEST_S:
        return _left_out(sweep, Statement("too-short", way))
    cylinders = recording.cylinders(engine)
    passed = tuple(c for c in cylinders if _passed(recording, c, engine, start, end))
    peaks = {"passed": len(passed), "cylinders": len(cylinders), "cylinder_numbers": passed}
    if not cylinders or 2 * len(passed) < len(cylinders):
        return _left_out(sweep, Statement("peaks-not-passed", peaks))
    grounds = (
        Statement(
            "steady-power" if trace.power_known else "power-unknown", steady if trace.power_known else {}
        ),
        Statement("flow-one-way", way),
        Statement("peaks-passed", peaks),
    )
    return replace(sweep, grounds=grounds)


def _inside(time: Floats, start: float, end: float) -> slice:
    """The points of a trace from ``start`` to ``end``, three at least."""
    first, last = np.searchsorted(time, [start - 0.5, end + 0.5])
    return slice(max(min(int(first), time.size - 3), 0), max(int(last), int(first) + 3))


def _left_out(sweep: Sweep, reason: Statement) -> Sweep:
    return replace(sweep, used=False, reason=reason)


def _passed(recording: Recording, cylinder: int, engine: int, start: float, end: float) -> bool:
    """Whether a cylinder's EGT rose and fell by ``RISE_AND_FALL_F`` while the lever moved."""
    values = recording.values("egt", cylinder, engine)
    if values is None:
        return False
    rows = slice(*np.searchsorted(recording.time_s, [start - 3.0, end + LAG_ALLOWANCE_S]))
    time = recording.time_s[rows]
    if time.size < 3:
        return False
    means = bin_means(time, values[rows], float(time[0]), int(time[-1] - time[0]) + 1)
    good = np.flatnonzero(np.isfinite(means))
    if good.size < 3:
        return False
    path = smooth(good.astype(np.float64), means[good], EGT_SMOOTHING_S)
    top = float(path.max())
    return top - float(path[0]) > RISE_AND_FALL_F and top - float(path[-1]) > RISE_AND_FALL_F
