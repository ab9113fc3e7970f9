"""Power-ups and phases of flight."""

import itertools
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.middle import quantile
from leanwright.findings import Statement
from leanwright.recordings.recording import Recording

Floats = NDArray[np.float64]
Booleans = NDArray[np.bool_]
PhaseKind = Literal["ground", "climb", "cruise", "descent"]

# Reasons for every threshold stand in docs/theory/sweeps.md.
SILENCE_S = 300.0
BIN_S = 5.0
FLYING_SPEED_KT = 50.0
CLIMB_FT_MIN = 300.0
RATE_WINDOW_S = 60.0
FLIGHT_POWER_SHARE = 0.45
FLIGHT_FLOW_SHARE = 0.35
FLIGHT_SPEED_RPM = 1900.0
CLIMB_POWER_EASED = 0.08
SHORTEST_FLIGHT_S = 60.0
LONGEST_LULL_S = 180.0
SHORTEST_PHASE_S = 60.0


@dataclass(frozen=True, slots=True)
class Phase:
    """A stretch of one kind of flying, in seconds of the recording."""

    kind: PhaseKind
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class PowerUp:
    """From the panel being switched on to its being switched off: rows ``first_row`` to ``end_row`` (exclusive)."""

    first_row: int
    end_row: int
    phases: tuple[Phase, ...]


def find_power_ups(recording: Recording, engine: int = 1) -> tuple[PowerUp, ...]:
    """Find the power-ups of a recording and the phases of flight in each.

    Parameters
    ----------
    recording
        What was read.
    engine
        Which engine of a twin tells flight power where neither speed nor altitude does.

    Returns
    -------
    tuple of PowerUp
        In order of time. Empty when there are no rows; :func:`why_no_flight` says why nothing was found. A
        power-up has no phases when no channel tells whether the aircraft flew.

    Notes
    -----
    A power-up begins where the reader saw one, and after a silence of more than ``SILENCE_S``.
    """
    time = recording.time_s
    if not time.size:
        return ()
    silent = np.flatnonzero(np.diff(time) > SILENCE_S) + 1
    first = sorted({0, *recording.power_up_rows, *(int(row) for row in silent)})
    last = [*first[1:], time.size]
    return tuple(
        PowerUp(start, end, _phases(recording, start, end, engine))
        for start, end in zip(first, last, strict=True)
        if end > start
    )


def why_no_flight(recording: Recording, power_ups: tuple[PowerUp, ...], engine: int = 1) -> Statement | None:
    """The reason why no flight was found.

    Parameters
    ----------
    recording
        What was read.
    power_ups
        As :func:`find_power_ups` gave them.
    engine
        The engine that was asked for.

    Returns
    -------
    Statement or None
        With the numbers that decide; ``None`` if a flight was found.
    """
    phases = [phase for power_up in power_ups for phase in power_up.phases]
    if any(phase.kind != "ground" for phase in phases):
        return None
    if not recording.rows_kept:
        return Statement("no-rows")
    if not phases:
        return Statement("no-channel-tells-flight")
    values: dict[str, object] = {}
    for quantity, key in (
        ("indicated_airspeed", "highest_airspeed_kt"),
        ("ground_speed", "highest_ground_speed_kt"),
        ("engine_speed", "highest_engine_speed_rpm"),
        ("manifold_pressure", "highest_manifold_pressure_inhg"),
        ("fuel_flow", "highest_fuel_flow_gph"),
    ):
        channel = _channel(recording, quantity, engine)
        if channel is not None and np.isfinite(channel).any():
            values[key] = float(np.nanmax(channel))
    return Statement("never-flew", values)


def _channel(recording: Recording, quantity: str, engine: int) -> Floats | None:
    """Values of an engine's channel, or those of the aircraft, which stand under engine 1."""
    found = recording.values(quantity, None, engine)
    return found if found is not None else recording.values(quantity)


def _phases(recording: Recording, first: int, end: int, engine: int) -> tuple[Phase, ...]:
    """Phases of one power-up, on a grid of ``BIN_S``."""
    time = recording.time_s[first:end]
    grid = time[0] + BIN_S * np.arange(max(1, int(np.ceil((time[-1] - time[0]) / BIN_S))))

    def on_grid(quantity: str) -> Floats | None:
        values = _channel(recording, quantity, engine)
        if values is None:
            return None
        good = np.isfinite(values[first:end])
        if good.sum() < 2:
            return None
        gridded: Floats = np.interp(grid, time[good], values[first:end][good])
        return gridded

    altitude, air_speed = on_grid("altitude"), on_grid("indicated_airspeed")
    if altitude is None:
        altitude = on_grid("pressure_altitude")
    if air_speed is None:
        air_speed = on_grid("ground_speed")
    speed, flow = on_grid("engine_speed"), on_grid("fuel_flow")
    rate = None if altitude is None else _rate_ft_min(altitude)
    power = _power(on_grid("manifold_pressure"), speed)
    flying = _flying(air_speed, power, speed, flow, rate)
    if power is None and flow is not None:
        power = _share(flow)
    if flying is None:
        return ()
    flying = _without_short_runs(flying, value=False, shortest_s=LONGEST_LULL_S)
    flying = _without_short_runs(flying, value=True, shortest_s=SHORTEST_FLIGHT_S)
    return _label(grid, time[-1], flying, rate, power)


def _power(pressure: Floats | None, speed: Floats | None) -> Floats | None:
    """Something that goes with power, as a share of nearly its highest value."""
    if pressure is not None and speed is not None:
        return _share(pressure * speed)
    if speed is not None:
        return _share(speed**2)
    return None if pressure is None else _share(pressure)


def _share(values: Floats) -> Floats:
    highest = quantile(values, 0.98)
    share: Floats = values / highest if highest > 0 else np.zeros_like(values)
    return share


def _flying(
    air_speed: Floats | None,
    power: Floats | None,
    speed: Floats | None,
    flow: Floats | None,
    rate: Floats | None,
) -> Booleans | None:
    """Whether the aircraft flies, by the best witness there is."""
    if air_speed is not None:
        return air_speed >= FLYING_SPEED_KT
    if power is not None:
        flying = power >= FLIGHT_POWER_SHARE
        if speed is not None:
            flying &= speed >= FLIGHT_SPEED_RPM
    elif flow is not None:
        flying = _share(flow) >= FLIGHT_FLOW_SHARE
    elif rate is not None:
        flying = np.zeros(rate.size, dtype=bool)
    else:
        return None
    return flying if rate is None else flying | (np.abs(rate) > CLIMB_FT_MIN)


def _rate_ft_min(altitude: Floats) -> Floats:
    """Rate of climb [ft/min] over ``RATE_WINDOW_S``."""
    half = int(RATE_WINDOW_S / BIN_S / 2)
    padded = np.concatenate((np.full(half, altitude[0]), altitude, np.full(half, altitude[-1])))
    rate: Floats = (padded[2 * half :] - padded[: -2 * half]) * (60.0 / RATE_WINDOW_S)
    return rate


def _runs(flags: NDArray[np.generic]) -> list[tuple[int, int]]:
    """Half-open index ranges of equal neighbours."""
    edges = [0, *(int(i) for i in np.flatnonzero(flags[1:] != flags[:-1]) + 1), flags.size]
    return list(itertools.pairwise(edges))


def _without_short_runs(flags: Booleans, *, value: bool, shortest_s: float) -> Booleans:
    """Turn over inner runs of ``value`` shorter than ``shortest_s``."""
    kept = flags.copy()
    for start, end in _runs(flags):
        inner = value or (start > 0 and end < flags.size)
        if flags[start] == value and inner and (end - start) * BIN_S < shortest_s:
            kept[start:end] = not value
    return kept


def _label(
    grid: Floats, last_s: float, flying: Booleans, rate: Floats | None, power: Floats | None
) -> tuple[Phase, ...]:
    """Name each stretch, and merge neighbours of one kind."""
    kinds = np.zeros(grid.size, dtype=np.int8)
    kinds[flying] = 2
    if rate is not None:
        kinds[flying & (rate > CLIMB_FT_MIN)] = 1
        kinds[flying & (rate < -CLIMB_FT_MIN)] = 3
    elif power is not None:
        for start, end in _runs(flying):
            if flying[start]:
                kinds[start : start + _climb_bins(power[start:end])] = 1
    kinds = _merge_short_phases(kinds)
    names: tuple[PhaseKind, ...] = ("ground", "climb", "cruise", "descent")
    return tuple(
        Phase(names[kinds[start]], float(grid[start]), float(grid[end] if end < grid.size else last_s))
        for start, end in _runs(kinds)
    )


def _climb_bins(power: Floats) -> int:
    """How long a flight climbs by its power alone: until power is taken back; 0 if it never is."""
    back = int(RATE_WINDOW_S / BIN_S)
    highest = int(np.argmax(power[: 2 * back])) if power.size else 0
    eased = np.flatnonzero(power[highest:-back] - power[highest + back :] > CLIMB_POWER_EASED)
    return highest + int(eased[0]) + back if eased.size else 0


def _merge_short_phases(kinds: NDArray[np.int8]) -> NDArray[np.int8]:
    """A climb, cruise or descent shorter than ``SHORTEST_PHASE_S`` belongs to its neighbour in the air."""
    merged = kinds.copy()
    for start, end in _runs(kinds):
        if not merged[start] or (end - start) * BIN_S >= SHORTEST_PHASE_S:
            continue
        if start and merged[start - 1]:
            merged[start:end] = merged[start - 1]
        elif end < kinds.size and kinds[end]:
            merged[start:end] = kinds[end]
    return merged
