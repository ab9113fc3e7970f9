"""Steady cruise in a recording: what each cylinder's temperatures were, and at which power, mixture, height and air."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.flight import PowerUp
from leanwright.analysis.probe_signal import median
from leanwright.recordings.recording import Recording

Floats = NDArray[np.float64]

# Reasons for every threshold stand in docs/theory/watch.md.
WINDOW_S: Final = 60.0
STEADY_FLOW: Final = 0.015
STEADY_POWER: Final = 0.01
SETTLED_HEAD_F: Final = 5.0
MOST_WINDOWS: Final = 12
LEAST_ROWS: Final = 4
RANKINE_OFFSET: Final = 459.67
OUTSIDE_AIR_F: Final = 40.0
FAR_BELOW_F: Final = 400.0
STUCK: Final = 0.05


@dataclass(frozen=True, slots=True)
class Cruise:
    """One minute in which nothing was touched.

    ``log_mixture`` is ln of fuel flow over what the engine breathes, up to a constant of the engine [1]; ``log_pressure`` and
    ``log_speed`` ln of manifold pressure [inHg] and engine speed [rpm], 0 where not recorded; ``egt_f`` and ``cht_f`` by
    cylinder [degF], heads only once they have settled.
    """

    log_mixture: float
    log_flow: float
    log_pressure: float
    log_speed: float
    altitude_ft: float
    outside_f: float
    egt_f: Mapping[int, float]
    cht_f: Mapping[int, float]


def find_cruise(
    recording: Recording,
    power_ups: Sequence[PowerUp],
    apart_from: Sequence[tuple[float, float]],
    *,
    engine: int = 1,
) -> tuple[Cruise, ...]:
    """Minutes of steady cruise, at most twelve, spread over the flight.

    Parameters
    ----------
    recording : Recording
        What was read.
    power_ups : sequence of PowerUp
        Its phases of flight.
    apart_from : sequence of (float, float)
        Sweeps and ignition checks, in which nothing is steady [s].
    engine : int
        Which engine of a twin [1].

    Returns
    -------
    tuple of Cruise
        In order of time; empty without a fuel flow or an EGT.
    """
    flow = recording.values("fuel_flow", None, engine)
    numbers = recording.cylinders(engine)
    if flow is None or not numbers:
        return ()
    found = []
    for start, end in _windows(power_ups, apart_from):
        rows = slice(*np.searchsorted(recording.time_s, [start, end]))
        made = _window(recording, rows, engine, numbers)
        if made is not None:
            found.append(made)
    if len(found) <= MOST_WINDOWS:
        return tuple(found)
    return tuple(found[place] for place in np.linspace(0, len(found) - 1, MOST_WINDOWS).round().astype(int))


def _windows(
    power_ups: Sequence[PowerUp], apart_from: Sequence[tuple[float, float]]
) -> list[tuple[float, float]]:
    return [
        (start, start + WINDOW_S)
        for up in power_ups
        for phase in up.phases
        if phase.kind == "cruise"
        for start in np.arange(phase.start_s, phase.end_s - WINDOW_S, WINDOW_S).tolist()
        if not any(first < start + WINDOW_S and start < last for first, last in apart_from)
    ]


def _window(recording: Recording, rows: slice, engine: int, numbers: Sequence[int]) -> Cruise | None:
    flow = _level(recording, rows, "fuel_flow", None, engine, STEADY_FLOW)
    if flow is None:
        return None
    power = []
    for quantity in ("manifold_pressure", "engine_speed"):
        if recording.values(quantity, None, engine) is None:
            power.append(0.0)
            continue
        level = _level(recording, rows, quantity, None, engine, STEADY_POWER)
        if level is None:
            return None
        power.append(float(np.log(level)))
    outside = _middle(recording, rows, "outside_air_temperature", None, 1)
    warm = OUTSIDE_AIR_F if outside is None else outside
    altitude = _middle(recording, rows, "pressure_altitude", None, 1)
    if altitude is None:
        altitude = _middle(recording, rows, "altitude", None, 1)
    egt = {number: _middle(recording, rows, "egt", number, engine) for number in numbers}
    cht = {number: _settled_head(recording, rows, number, engine) for number in numbers}
    log_flow = float(np.log(flow))
    return Cruise(
        log_flow - sum(power) + float(np.log(warm + RANKINE_OFFSET)),
        log_flow,
        power[0],
        power[1],
        0.0 if altitude is None else altitude,
        warm,
        {number: value for number, value in egt.items() if value is not None},
        {number: value for number, value in cht.items() if value is not None},
    )


def _good(
    recording: Recording, rows: slice, quantity: str, cylinder: int | None, engine: int
) -> Floats | None:
    values = recording.values(quantity, cylinder, engine)
    if values is None:
        return None
    here = values[rows]
    good = here[np.isfinite(here)]
    return good if good.size >= LEAST_ROWS and 2 * good.size >= here.size else None


def _middle(
    recording: Recording, rows: slice, quantity: str, cylinder: int | None, engine: int
) -> float | None:
    good = _good(recording, rows, quantity, cylinder, engine)
    return None if good is None else float(np.median(good))


def _level(
    recording: Recording, rows: slice, quantity: str, cylinder: int | None, engine: int, steady: float
) -> float | None:
    """Median of what stays within a share of it from the first third to the last; ``None`` if it does not."""
    good = _good(recording, rows, quantity, cylinder, engine)
    if good is None or good.min() <= 0.0:
        return None
    third = max(good.size // 3, 1)
    first, last, middle = (float(np.mean(part)) for part in (good[:third], good[-third:], good))
    if abs(last - first) > steady * middle or float(np.std(good)) > 2.0 * steady * middle:
        return None
    return middle


def _settled_head(recording: Recording, rows: slice, number: int, engine: int) -> float | None:
    good = _good(recording, rows, "cht", number, engine)
    if good is None:
        return None
    third = max(good.size // 3, 1)
    moved = abs(float(np.mean(good[-third:]) - np.mean(good[:third])))
    return float(np.median(good)) if moved <= SETTLED_HEAD_F else None


def silent_shares(
    recording: Recording, power_ups: Sequence[PowerUp], *, engine: int = 1
) -> Mapping[int, float]:
    """Share of each EGT probe's readings in flight that are missing, far below the others', or never move [1].

    Parameters
    ----------
    recording : Recording
        What was read.
    power_ups : sequence of PowerUp
        Its phases of flight.
    engine : int
        Which engine of a twin [1].

    Returns
    -------
    mapping of int to float
        By cylinder [1]; empty without a flight.
    """
    numbers = recording.cylinders(engine)
    flown = np.zeros(recording.time_s.size, dtype=bool)
    for up in power_ups:
        for phase in up.phases:
            if phase.kind != "ground":
                flown |= (recording.time_s >= phase.start_s) & (recording.time_s <= phase.end_s)
    if not flown.any() or not numbers:
        return {}
    missing = np.full(recording.time_s.size, np.nan)
    rows = [recording.values("egt", number, engine) for number in numbers]
    egt = np.array([missing if row is None else row for row in rows])[:, flown]
    seen = np.isfinite(egt).any(axis=0)
    middle = np.full(egt.shape[1], np.nan)
    middle[seen] = median(egt[:, seen].T)
    moved = np.array([np.ptp(row[np.isfinite(row)]) if np.isfinite(row).any() else 0.0 for row in egt])
    usual = float(np.median(moved))
    silent = ~np.isfinite(egt) | (egt < middle - FAR_BELOW_F)
    return {
        number: 1.0 if own <= STUCK * usual else float(share)
        for number, own, share in zip(numbers, moved, silent.mean(axis=1), strict=True)
    }
