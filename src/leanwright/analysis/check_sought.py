"""A cheap look for an ignition check, before the careful one with its large library is asked for."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from leanwright.recordings.recording import Recording

Floats = NDArray[np.float64]

# What leanwright.analysis.ignition_check asks for, or a little less, so that nothing is overlooked.
SPEED_DROP: Final = 0.011
MOST_SPEED_DROP: Final = 0.22
GROUND_RPM: Final = (1250.0, 2250.0)
RISE_F: Final = 28.0
STEADY_ON_GROUND: Final = 0.13
STEADY_IN_FLIGHT: Final = 0.025
REACH_S: Final = 60.0
REACH_IN_FLIGHT_S: Final = 30.0
STEADY_S: Final = 8.0


def may_hold_check(
    recording: Recording, spans: Sequence[tuple[float, float]] = (), *, engine: int = 1
) -> bool:
    """Whether anything in a recording looks like one ignition alone.

    Parameters
    ----------
    recording : Recording
        What was read.
    spans : sequence of (float, float)
        Sweeps and other movements of the lever: they are passed over [s].
    engine : int
        Which engine of a twin [1].

    Returns
    -------
    bool
        True where the engine slowed down a little for a while, or most EGTs rose together, with the flow unmoved.
    """
    interval = recording.interval_s
    if interval is None or interval <= 0.0:
        return False
    outside = np.ones(recording.rows_kept, dtype=bool)
    for start, end in spans:
        outside &= (recording.time_s < start) | (recording.time_s > end)
    return _slows(recording, outside, interval, engine) or _rises(recording, outside, interval, engine)


def _slows(recording: Recording, outside: NDArray[np.bool_], interval: float, engine: int) -> bool:
    speed = recording.values("engine_speed", None, engine)
    if speed is None:
        return False
    with np.errstate(invalid="ignore", divide="ignore"):
        dip = _stands_out(-np.log(np.where(speed > 0.0, speed, np.nan)), round(REACH_S / interval))
        candidate = (dip >= SPEED_DROP) & (dip <= MOST_SPEED_DROP) & outside
        candidate &= (speed >= GROUND_RPM[0]) & (speed <= GROUND_RPM[1])
    return bool((candidate & _steady(recording, STEADY_ON_GROUND, interval, engine)).any())


def _rises(recording: Recording, outside: NDArray[np.bool_], interval: float, engine: int) -> bool:
    rows = [recording.values("egt", number, engine) for number in recording.cylinders(engine)]
    known = [row for row in rows if row is not None]
    if not known:
        return False
    egt = np.where(np.isfinite(known), known, 0.0)
    count = np.isfinite(known).sum(axis=0)
    mean = np.where(count > 0, egt.sum(axis=0) / np.maximum(count, 1), np.nan)
    candidate = (_stands_out(mean, round(REACH_IN_FLIGHT_S / interval)) >= RISE_F) & outside
    return bool((candidate & _steady(recording, STEADY_IN_FLIGHT, interval, engine)).any())


def _stands_out(values: Floats, reach: int) -> Floats:
    """By how much each value is above the lowest before and the lowest after it, within some rows."""
    reach = max(reach, 2)
    filled = np.where(np.isfinite(values), values, np.inf)
    padded = np.concatenate((np.full(reach, np.inf), filled, np.full(reach, np.inf)))
    lowest = sliding_window_view(padded, reach).min(axis=1)
    before, after = lowest[: values.size], lowest[reach + 1 : reach + 1 + values.size]
    floor = np.maximum(before, after)
    return np.where(np.isfinite(values) & np.isfinite(floor), values - floor, -np.inf)


def _steady(recording: Recording, most: float, interval: float, engine: int) -> NDArray[np.bool_]:
    """Rows at which the flow is what it was a little before; all of them where there is no flow."""
    flow = recording.values("fuel_flow", None, engine)
    steady = np.ones(recording.rows_kept, dtype=bool)
    if flow is None:
        return steady
    back = max(round(STEADY_S / interval), 1)
    with np.errstate(invalid="ignore"):
        steady[back:] = ~(np.abs(flow[back:] - flow[:-back]) > most * flow[:-back])
    return steady
