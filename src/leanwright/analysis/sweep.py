"""Mixture sweeps: found without being marked, each with its grounds; almost-sweeps with the reason why not."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.conditions import conditions
from leanwright.analysis.flight import PowerUp
from leanwright.analysis.lever import LEAST_SWEEP, LEVEL, Movement, find_movements
from leanwright.analysis.limits import refine_limits
from leanwright.analysis.steadiness import MEAN_S, power_remainder
from leanwright.analysis.trace import Trace, bin_means, read_trace, smooth, without_spikes
from leanwright.findings import Statement
from leanwright.recordings.recording import Recording
from leanwright.showing import html_of

Floats = NDArray[np.float64]
Direction = Literal["leaning", "enriching"]

# Reasons for every threshold stand in docs/theory/sweeps.md.
LEAST_WORTH_TELLING = 0.06
LEAST_PART = 0.03
LONGEST_POWER_MOVE_S = 45.0
SHORTEST_S = 22.0
EASE_S = 2.0
FLIGHT_SPEED_RPM = 1700.0
POWER_REMAINDER = 0.01
READING_RANGE = 4.0
POWER_RANGE = 0.10
RISE_AND_FALL_F = 8.0
EGT_SMOOTHING_S = 7.0
EGT_SPIKE_F = 40.0
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

    _repr_html_ = html_of


@dataclass(frozen=True, slots=True, eq=False)
class Moves:
    """What the lever did between two power-ups."""

    power_up: PowerUp
    trace: Trace
    movements: tuple[Movement, ...]


def find_moves(recording: Recording, power_ups: Sequence[PowerUp], *, engine: int = 1) -> tuple[Moves, ...]:
    """Find all movements of the lever, of which some are sweeps.

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
    tuple of Moves
        One for each power-up in which there is a fuel flow to follow.
    """
    traces = [(one, read_trace(recording, one.first_row, one.end_row, engine)) for one in power_ups]
    return tuple(
        Moves(one, trace, tuple(find_movements(trace))) for one, trace in traces if trace is not None
    )


def find_sweeps(
    recording: Recording,
    power_ups: Sequence[PowerUp],
    *,
    engine: int = 1,
    moves: Sequence[Moves] | None = None,
) -> tuple[Sweep, ...]:
    """Find the mixture sweeps of a recording, and the stretches that almost were one.

    Parameters
    ----------
    recording
        What was read.
    power_ups
        As :func:`leanwright.analysis.flight.find_power_ups` gives them.
    engine
        Which engine of a twin.
    moves
        As :func:`find_moves` gave them, where they are known.

    Returns
    -------
    tuple of Sweep
        In order of time; those with ``used`` false carry the reason. When none is used, :func:`why_no_sweep`
        says why.
    """
    found: list[Sweep] = []
    for one in find_moves(recording, power_ups, engine=engine) if moves is None else moves:
        trace, movements = one.trace, one.movements
        stretches = [
            (movement, _judge(recording, trace, movement, _between(trace, movements, index), engine))
            for index, movement in enumerate(movements)
            if _size(trace, movement) >= LEAST_PART and _in_flight(trace, movement, one.power_up)
        ]
        found += _joined(trace, stretches)
    return tuple(sorted(found, key=lambda sweep: sweep.start_s))


def _joined(trace: Trace, stretches: Sequence[tuple[Movement, Sweep]]) -> list[Sweep]:
    """Two halves of a sweep that a change of power cut become one stretch, left out for that reason."""
    told: list[tuple[Movement, Sweep]] = []
    for movement, sweep in stretches:
        if told and _cut_by_power(trace, *told[-1], movement, sweep):
            before, first = told.pop()
            steady, _ = _steadiness(trace, slice(before.first, movement.last + 1))
            joined = replace(first, end_s=sweep.end_s, reason=Statement("power-changed", steady))
            told.append((Movement(before.first, movement.last, quick=False), joined))
        else:
            told.append((movement, sweep))
    return [
        sweep
        for movement, sweep in told
        if sweep.used or _size(trace, movement) >= LEAST_WORTH_TELLING - LEVEL
    ]


def _cut_by_power(trace: Trace, before: Movement, first: Sweep, after: Movement, second: Sweep) -> bool:
    return (
        not (first.used or second.used or before.quick or after.quick)
        and first.direction == second.direction
        and second.start_s - first.end_s <= LONGEST_POWER_MOVE_S
        and bool(trace.power_moved[before.last : after.first + 1].any())
    )


def untimed(recording: Recording) -> bool:
    """Whether nothing tells the time of the rows, so that neither rates nor the probes' lags mean anything.

    Parameters
    ----------
    recording
        What was read.

    Returns
    -------
    bool
        True where the reader found neither a clock nor a stated interval.
    """
    return any(finding.code == "no-time" for finding in recording.findings)


def why_no_sweep(
    recording: Recording,
    power_ups: Sequence[PowerUp],
    sweeps: Sequence[Sweep],
    *,
    engine: int = 1,
    moves: Sequence[Moves] | None = None,
) -> Statement | None:
    """The reason why no sweep can be used.

    Parameters
    ----------
    recording
        What was read.
    power_ups
        As :func:`leanwright.analysis.flight.find_power_ups` gave them.
    sweeps
        As :func:`find_sweeps` gave them.
    engine
        The engine that was asked for.
    moves
        As :func:`find_moves` gave them, where they are known.

    Returns
    -------
    Statement or None
        With the numbers that decide; ``None`` if a sweep can be used.
    """
    if any(sweep.used for sweep in sweeps):
        return None
    if not power_ups:
        return Statement("no-rows")
    if untimed(recording):
        return Statement("no-time")
    flow = recording.values("fuel_flow", None, engine)
    if flow is None or not np.isfinite(flow).any():
        return _without_flow(recording, engine)
    phases = [phase for power_up in power_ups for phase in power_up.phases]
    if phases and all(phase.kind == "ground" for phase in phases):
        return Statement("no-flight")
    if sweeps:
        return Statement("no-sweep-usable", {"stretches": len(sweeps)})
    changes = [0.0]
    for one in find_moves(recording, power_ups, engine=engine) if moves is None else moves:
        flows = np.exp(one.trace.log_flow)
        changes += [abs(float(flows[m.last] - flows[m.first])) for m in one.movements if not m.quick]
    return Statement("no-steady-change-of-flow", {"largest_change_gph": max(changes)})


def _without_flow(recording: Recording, engine: int) -> Statement:
    """That there is no fuel flow, or one whose unit nobody knows, with what to type."""
    for channel in recording.channels:
        here = channel.quantity == "fuel_flow" and channel.engine == engine
        if here and channel.unit is None and channel.values is None:
            values = {"column": channel.column, "correction": f"{channel.column}=fuel_flow:gal/h"}
            return Statement("fuel-flow-without-unit", values)
    return Statement("no-fuel-flow")


def _size(trace: Trace, movement: Movement) -> float:
    """By how much a movement changed the mixture."""
    return abs(float(trace.mixture[movement.last] - trace.mixture[movement.first]))


def _in_flight(trace: Trace, movement: Movement, power_up: PowerUp) -> bool:
    """Whether a movement lies in flight, or nothing says where it lies."""
    middle = 0.5 * float(trace.time_s[movement.first] + trace.time_s[movement.last])
    return not any(p.kind == "ground" and p.start_s <= middle < p.end_s for p in power_up.phases)


def _between(trace: Trace, movements: Sequence[Movement], index: int) -> tuple[float, float]:
    """Times between which one movement can lie: neither another movement nor a change of power is there [s]."""
    movement, moved = movements[index], np.flatnonzero(trace.power_moved)
    before = moved[: np.searchsorted(moved, movement.first, side="right")][-1:].tolist()
    after = moved[np.searchsorted(moved, movement.last) :][:1].tolist()
    if index:
        before.append(movements[index - 1].last)
    if index + 1 < len(movements):
        after.append(movements[index + 1].first)
    return (
        float(trace.time_s[max(before)]) if before else -np.inf,
        float(trace.time_s[min(after)]) if after else np.inf,
    )


def _judge(
    recording: Recording, trace: Trace, movement: Movement, between: tuple[float, float], engine: int
) -> Sweep:
    """A movement becomes a sweep that is used, or one that is left out with its reason."""
    sweep = _describe(recording, trace, movement, between, engine)
    inside = _inside(trace.time_s, sweep.start_s, sweep.end_s)
    flow = np.exp(trace.log_flow[inside])
    ends = np.interp([sweep.start_s - EASE_S, sweep.end_s + EASE_S], trace.time_s, trace.mixture)
    change = max(abs(float(ends[1] - ends[0])), _size(trace, movement))
    way: dict[str, object] = {
        "from_gph": float(flow[:3].mean()),
        "to_gph": float(flow[-3:].mean()),
        "change_percent": 100.0 * change,
        "duration_s": sweep.end_s - sweep.start_s,
    }
    if movement.quick:
        return _left_out(sweep, Statement("too-fast", way))
    if sweep.engine_speed_rpm is not None and sweep.engine_speed_rpm < FLIGHT_SPEED_RPM:
        return _left_out(sweep, Statement("engine-too-slow", {"engine_speed_rpm": sweep.engine_speed_rpm}))
    if change < LEAST_SWEEP:
        return _left_out(sweep, Statement("too-little-flow-change", way))
    if sweep.end_s - sweep.start_s < SHORTEST_S:
        return _left_out(sweep, Statement("too-short", way))
    steady, changed = _steadiness(trace, inside)
    if changed:
        return _left_out(sweep, Statement("power-changed", steady))
    cylinders = recording.cylinders(engine)
    if not cylinders:
        return _left_out(sweep, Statement("no-egt"))
    passed = tuple(c for c in cylinders if _passed(recording, c, engine, sweep.start_s, sweep.end_s))
    peaks = {"passed": len(passed), "cylinders": len(cylinders), "cylinder_numbers": passed}
    if 2 * len(passed) < len(cylinders):
        return _left_out(sweep, Statement("peaks-not-passed", peaks))
    power = Statement("steady-power", steady) if trace.power_known else Statement("power-unknown")
    return replace(sweep, grounds=(power, Statement("flow-one-way", way), Statement("peaks-passed", peaks)))


def _describe(
    recording: Recording, trace: Trace, movement: Movement, between: tuple[float, float], engine: int
) -> Sweep:
    """When a movement began and ended, which way it went, and in which conditions."""
    time, path = trace.time_s, trace.mixture
    start, end = float(time[movement.first]), float(time[movement.last])
    if not movement.quick:
        start, end = refine_limits(trace, movement.first, movement.last, *between)
    found = conditions(recording, start, end, engine)
    return Sweep(
        start_s=start,
        end_s=end,
        direction="leaning" if path[movement.last] < path[movement.first] else "enriching",
        used=True,
        reason=None,
        manifold_pressure_inhg=found.manifold_pressure_inhg,
        engine_speed_rpm=found.engine_speed_rpm,
        altitude_ft=found.altitude_ft,
        engine=engine,
    )


def _steadiness(trace: Trace, inside: slice) -> tuple[dict[str, object], bool]:
    """What to say of the power within a stretch, and whether it changed by more than its reading wavers."""
    time, power = trace.time_s[inside], trace.log_power[inside]
    range_ = float(np.ptp(smooth(time, power, MEAN_S)))
    speed = trace.log_speed[inside]
    means = power_remainder(time, power - speed, speed, trace.log_flow[inside])
    remainder = float(np.ptp(means))
    wavering = READING_RANGE * trace.power_noise / (power.size / means.size) ** 0.5
    return (
        {"power_range_percent": 100.0 * range_, "power_remainder_percent": 100.0 * remainder},
        remainder > POWER_REMAINDER + wavering or range_ > POWER_RANGE,
    )


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
    path = smooth(good.astype(np.float64), without_spikes(means[good], EGT_SPIKE_F), EGT_SMOOTHING_S)
    top = float(path.max())
    return top - float(path[0]) > RISE_AND_FALL_F and top - float(path[-1]) > RISE_AND_FALL_F
