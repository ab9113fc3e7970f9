"""Ignition checks in a recording: one ignition at a time, and what each cylinder's EGT does."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.probe_signal import median
from leanwright.analysis.turning import tops
from leanwright.recordings.recording import Recording

Floats = NDArray[np.float64]

# Reasons for every threshold stand in docs/theory/causes.md.
LEAST_RISE_IN_FLIGHT_F: Final = 30.0
SHORTEST_S: Final = 2.0
LONGEST_S: Final = 60.0
LONGEST_IN_FLIGHT_S: Final = 30.0
MARGIN_S: Final = 5.0
BEFORE_S: Final = 8.0
AFTER_S: Final = 14.0
RUNNING_RPM: Final = 1300.0
GROUND_RPM: Final = 2200.0
SPEED_DROP: Final = 0.012
MOST_SPEED_DROP: Final = 0.2
STEADY_PRESSURE: Final = 0.05
STEADY_FLOW: Final = 0.12
STEADY_FLOW_IN_FLIGHT: Final = 0.02
LEAST_CYLINDERS: Final = 3
BEGINS_S: Final = 1.5
BEGINS_ROWS: Final = 0.75


@dataclass(frozen=True, slots=True)
class IgnitionCheck:
    """One ignition alone for a while.

    ``response_df`` is how far each cylinder's EGT went from the line between before and after, at its farthest [degF];
    ``median_df`` the median over the cylinders [degF].
    """

    start_s: float
    end_s: float
    response_df: Mapping[int, float]
    median_df: float


def find_ignition_checks(
    recording: Recording, spans: Sequence[tuple[float, float]] = (), *, engine: int = 1
) -> tuple[IgnitionCheck, ...]:
    """Find the stretches in which one ignition fired alone.

    Parameters
    ----------
    recording : Recording
        What was read.
    spans : sequence of (float, float)
        Sweeps and other movements of the lever: nothing is looked for there [s].
    engine : int
        Which engine of a twin [1].

    Returns
    -------
    tuple of IgnitionCheck
        In order of time. The EGT of most cylinders rises and falls together while fuel flow and manifold pressure
        stand still; on the ground the engine slows down a little too (FAA-H-8083-32B p. 10-27).
    """
    numbers = recording.cylinders(engine)
    rows = [recording.values("egt", number, engine) for number in numbers]
    if sum(row is not None for row in rows) < LEAST_CYLINDERS or recording.time_s.size < LEAST_CYLINDERS:
        return ()
    egt = np.array([np.full(recording.time_s.size, np.nan) if row is None else row for row in rows])
    stretches = _apart([*_slowed(recording, engine), *_rose(recording, egt, engine)])
    interval_s = recording.interval_s or 0.0
    found = []
    for place, (start, end) in enumerate(stretches):
        if any(first - MARGIN_S <= end and start <= last + MARGIN_S for first, last in spans):
            continue
        not_before = stretches[place - 1][1] if place else -np.inf
        not_after = stretches[place + 1][0] if place + 1 < len(stretches) else np.inf
        check = _check(recording, numbers, egt, (not_before, start, end, not_after), engine, interval_s)
        if check is not None:
            found.append(check)
    return tuple(found)


def _apart(stretches: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """In order of time; of those that overlap the first."""
    kept: list[tuple[float, float]] = []
    for start, end in sorted(stretches):
        if not kept or start > kept[-1][1]:
            kept.append((start, end))
    return kept


def _slowed(recording: Recording, engine: int) -> list[tuple[float, float]]:
    """Stretches on the ground in which the engine ran a little slower while its throttle stood still."""
    speed = recording.values("engine_speed", None, engine)
    if speed is None:
        return []
    good = np.flatnonzero(np.isfinite(speed) & (speed > 0.0))
    if good.size < LEAST_CYLINDERS:
        return []
    log_speed, time = np.log(speed[good]), recording.time_s[good]
    found = []
    for dip in tops(-log_speed, SPEED_DROP):
        start, end = _time_at(time, dip.left), _time_at(time, dip.right)
        if (
            dip.height <= MOST_SPEED_DROP
            and SHORTEST_S <= end - start <= LONGEST_S
            and RUNNING_RPM <= float(np.exp(log_speed[dip.row])) <= GROUND_RPM
            and _still(recording, start, end, STEADY_FLOW, engine)
        ):
            found.append((start, end))
    return found


def _rose(recording: Recording, egt: Floats, engine: int) -> list[tuple[float, float]]:
    """Stretches at flight speed in which all EGTs rose together while nothing was touched."""
    seen = np.flatnonzero(np.isfinite(egt).sum(axis=0) * 2 >= len(egt))
    if seen.size < LEAST_CYLINDERS:
        return []
    middle, time = median(egt[:, seen].T), recording.time_s[seen]
    speed = recording.values("engine_speed", None, engine)
    found = []
    for top in tops(middle, LEAST_RISE_IN_FLIGHT_F):
        start, end = _time_at(time, top.left), _time_at(time, top.right)
        if (
            SHORTEST_S <= end - start <= LONGEST_IN_FLIGHT_S
            and (speed is None or bool((speed[_rows(recording, start, end)] >= GROUND_RPM).all()))
            and _still(recording, start, end, STEADY_FLOW_IN_FLIGHT, engine)
        ):
            found.append((start, end))
    return found


def _time_at(time: Floats, row: float) -> float:
    """The time of a row with a fraction, on the line between its neighbours [s]."""
    before = int(row)
    if before == row:
        return float(time[before])
    return float((time[before + 1] - time[before]) * (row - before) + time[before])


def _still(recording: Recording, start: float, end: float, most_flow: float, engine: int) -> bool:
    """Whether fuel and air are the same as just before."""
    inside = _rows(recording, start, end)
    before = slice(*np.searchsorted(recording.time_s, [start - BEFORE_S, start - 1.0]))
    for quantity, most in (("fuel_flow", most_flow), ("manifold_pressure", STEADY_PRESSURE)):
        values = recording.values(quantity, None, engine)
        if values is None:
            continue
        here, level = _middle(values[inside]), _middle(values[before])
        if abs(here - level) > most * max(level, 1e-9):  # never so where one of them is missing
            return False
    return True


def _middle(values: Floats) -> float:
    """Median of a few values, missing ones left out: quicker so than through the library."""
    known = sorted(value for value in values.tolist() if value == value)  # noqa: PLR0124  NaN alone is not itself
    return 0.5 * (known[(len(known) - 1) // 2] + known[len(known) // 2]) if known else np.nan


def _middles(values: Floats) -> Floats:
    """Median of a few values of each cylinder, missing ones left out."""
    return np.array([_middle(row) for row in values])


def _rows(recording: Recording, start: float, end: float) -> slice:
    """Rows from a time to another, both with it."""
    return slice(
        int(np.searchsorted(recording.time_s, start)),
        int(np.searchsorted(recording.time_s, end, side="right")),
    )


def _check(
    recording: Recording,
    numbers: Sequence[int],
    egt: Floats,
    limits: tuple[float, float, float, float],
    engine: int,
    interval_s: float,
) -> IgnitionCheck | None:
    """What each cylinder did in a stretch; ``None`` if too few can be read."""
    responses = _responses(recording, egt, limits, engine, interval_s)
    known = {
        number: float(value) for number, value in zip(numbers, responses, strict=True) if np.isfinite(value)
    }
    if len(known) < LEAST_CYLINDERS:
        return None
    return IgnitionCheck(limits[1], limits[2], known, _middle(np.array(list(known.values()))))


def _responses(
    recording: Recording,
    egt: Floats,
    limits: tuple[float, float, float, float],
    engine: int,
    interval_s: float,
) -> Floats:
    """Where each cylinder's EGT stands at the end of the stretch, against the line between before and after [degF]."""
    time, (not_before, start, end, not_after) = recording.time_s, limits
    inside = slice(*np.searchsorted(time, [start + 0.4 * (end - start), end + 1.5], side="right"))
    begins = start - max(BEGINS_S, BEGINS_ROWS * interval_s)
    before = slice(*np.searchsorted(time, [max(start - BEFORE_S, not_before + MARGIN_S), begins]))
    if before.start >= before.stop:
        before = slice(*np.searchsorted(time, [begins - BEFORE_S, begins]))
    after = slice(*np.searchsorted(time, [end + MARGIN_S, min(end + AFTER_S, not_after - 0.5)], side="right"))
    after_rows = np.arange(after.start, after.stop)[_as_before(recording, before, after, engine)]
    line, settled = _middles(egt[:, before]), _middles(egt[:, after_rows])
    line = np.where(np.isfinite(settled), line + 0.5 * (settled - line), line)
    departure = egt[:, inside] - line[:, None]
    if not departure.size:
        return np.full(len(egt), np.nan)
    known = np.isfinite(departure)
    at = np.abs(np.where(known, departure, 0.0)).argmax(axis=1)
    return np.where(known.any(axis=1), departure[np.arange(len(egt)), at], np.nan)


def _as_before(recording: Recording, before: slice, after: slice, engine: int) -> NDArray[np.bool_]:
    """Which rows of those after have the manifold pressure of before."""
    pressure = recording.values("manifold_pressure", None, engine)
    level = np.nan if pressure is None else _middle(pressure[before])
    if pressure is None or not np.isfinite(level):
        return np.ones(max(after.stop - after.start, 0), dtype=bool)
    return np.asarray(np.abs(pressure[after] - level) < STEADY_PRESSURE * level)
