"""Fuel flow and power of one engine as the search for sweeps sees them: means over seconds."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.middle import middle
from leanwright.recordings.recording import Recording

Floats = NDArray[np.float64]
Booleans = NDArray[np.bool_]

# Reasons for every threshold stand in docs/theory/sweeps.md.
LEAST_FLOW_GPH = 1.0
LEAST_POINTS = 3
SMOOTHING_S = 5.0
POWER_SMOOTHING_S = 10.0
POWER_WINDOW_S = 10.0
POWER_MOVE = 0.04
PULL = 0.10
SPIKE = 0.10
LEAST_NOISE = 0.002


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """Fuel flow and power of one engine, means over seconds (or rows, where they are further apart).

    All arrays are of shape (points,) and finite.
    """

    time_s: Floats
    log_flow: Floats
    """ln of the fuel flow [ln(gal/h)]"""
    log_power: Floats
    """ln(manifold pressure x engine speed), or of what there is of it, about its median [1]; 0 without either"""
    log_speed: Floats
    """The speed's part of ``log_power`` [1]"""
    mixture: Floats
    """``log_flow - log_power``, smoothed [ln(gal/h)]"""
    sharp_mixture: Floats
    """The same with the power smoothed and the flow not [ln(gal/h)]: keeps the edges of the lever's path"""
    power_moved: Booleans
    """Where the power was being changed"""
    power_known: bool
    noise: float
    """Standard deviation of the reading noise of one point of ``log_flow - log_power`` [1]"""
    power_noise: float
    """The same of ``log_power`` alone [1]"""


def bin_means(time_s: Floats, values: Floats, origin_s: float, bins: int) -> Floats:
    """Means over whole seconds of the values there are.

    Parameters
    ----------
    time_s
        [s], shape (rows,)
    values
        [any unit], shape (rows,), NaN where missing
    origin_s
        Where the first second begins [s]
    bins
        How many seconds there are

    Returns
    -------
    ndarray
        [unit of ``values``], shape (bins,), NaN where a second holds no value
    """
    good = np.isfinite(values)
    index = (time_s[good] - origin_s).astype(np.intp)
    count = np.bincount(index, minlength=bins)
    total = np.bincount(index, values[good], minlength=bins)
    means: Floats = np.divide(total, count, out=np.full(bins, np.nan), where=count > 0)
    return means


def read_trace(recording: Recording, first_row: int, end_row: int, engine: int) -> Trace | None:
    """Read flow and power of one stretch of rows.

    Parameters
    ----------
    recording
        What was read.
    first_row, end_row
        The stretch; ``end_row`` is exclusive.
    engine
        Which engine of a twin.

    Returns
    -------
    Trace or None
        ``None`` where there is no fuel flow to follow.
    """
    flow = recording.values("fuel_flow", None, engine)
    row_time = recording.time_s[first_row:end_row]
    if flow is None or row_time.size < LEAST_POINTS:
        return None
    origin, bins = float(row_time[0]), int(row_time[-1] - row_time[0]) + 1

    def means(values: Floats) -> Floats:
        return bin_means(row_time, values[first_row:end_row], origin, bins)

    binned_time, binned_flow = means(recording.time_s), means(flow)
    good = np.isfinite(binned_flow) & (np.nan_to_num(binned_flow) >= LEAST_FLOW_GPH)
    if good.sum() < LEAST_POINTS:
        return None
    time, log_flow = binned_time[good], without_spikes(np.log(binned_flow[good]), SPIKE)
    pressure = _log_filled(recording.values("manifold_pressure", None, engine), means, good, time)
    speed = _log_filled(recording.values("engine_speed", None, engine), means, good, time)
    known = bool(pressure.any() or speed.any())
    log_power = pressure + speed
    narrow, wide = _window(time, SMOOTHING_S), _window(time, POWER_SMOOTHING_S)
    mixture = _means(log_flow - log_power, narrow)
    step = _resolution(recording, engine) / middle(binned_flow[good])
    moved = _power_moved(time, _means(log_power, narrow), mixture)
    return Trace(
        time_s=time,
        log_flow=log_flow,
        log_power=log_power,
        log_speed=speed,
        mixture=mixture,
        sharp_mixture=log_flow - _means(log_power, wide),
        power_moved=moved,
        power_known=known,
        noise=_noise(log_flow - log_power, step),
        power_noise=_noise(log_power, 0.0),
    )


def _log_filled(
    values: Floats | None, means: Callable[[Floats], Floats], good: Booleans, time: Floats
) -> Floats:
    """Logarithm of a positive quantity about its median at the given times; zeros where it is not recorded."""
    if values is not None:
        binned = means(values)[good]
        there = np.nan_to_num(binned) > 1.0
        if there.sum() >= LEAST_POINTS:
            logarithm = without_spikes(np.log(binned[there]), SPIKE)
            filled: Floats = np.interp(time, time[there], logarithm - middle(logarithm))
            return filled
    return np.zeros(time.size)


def _power_moved(time: Floats, power: Floats, mixture: Floats) -> Booleans:
    """Where power was changed quickly, and by more than a quick pull of the mixture changes it."""
    before = np.searchsorted(time, time - 0.5 * POWER_WINDOW_S)
    after = np.searchsorted(time, time + 0.5 * POWER_WINDOW_S, side="right") - 1
    pulled: Booleans = np.abs(mixture[after] - mixture[before]) > PULL
    return (np.abs(power[after] - power[before]) > POWER_MOVE) & ~pulled


def _resolution(recording: Recording, engine: int) -> float:
    """Step of the flow reading [gal/h], 0 where it is not told."""
    for channel in recording.channels:
        if channel.quantity == "fuel_flow" and channel.engine == engine:
            return channel.resolution or 0.0
    return 0.0


def without_spikes(values: Floats, size: float) -> Floats:
    """Replace each value that stands out from both its neighbours by the middle one of the three.

    Parameters
    ----------
    values
        [any unit], shape (points,)
    size
        By how much a value must stand out [unit of ``values``]

    Returns
    -------
    ndarray
        [unit of ``values``], shape (points,)
    """
    if values.size < LEAST_POINTS:
        return values
    before, here, after = values[:-2], values[1:-1], values[2:]
    middle = np.maximum(np.minimum(before, here), np.minimum(np.maximum(before, here), after))
    kept = values.copy()
    kept[1:-1] = np.where(np.abs(here - middle) > size, middle, here)
    return kept


def smooth(time_s: Floats, values: Floats, width_s: float) -> Floats:
    """Running mean.

    Parameters
    ----------
    time_s
        Rising, with any steps [s], shape (points,)
    values
        [any unit], shape (points,), finite
    width_s
        Width of the window about each point [s]

    Returns
    -------
    ndarray
        [unit of ``values``], shape (points,)
    """
    return _means(values, _window(time_s, width_s))


def _window(time_s: Floats, width_s: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First and last point (exclusive) of the window about each point."""
    low = np.searchsorted(time_s, time_s - width_s / 2.0, side="left")
    return low, np.searchsorted(time_s, time_s + width_s / 2.0, side="right")


def _means(values: Floats, window: tuple[NDArray[np.intp], NDArray[np.intp]]) -> Floats:
    """Means over windows."""
    low, high = window
    total = np.concatenate(([0.0], np.cumsum(values)))
    mean: Floats = (total[high] - total[low]) / (high - low)
    return mean


def _noise(values: Floats, step: float) -> float:
    """Standard deviation of the reading noise of a slowly changing quantity, not less than its quantisation's."""
    if values.size < 5:
        return max(LEAST_NOISE, 0.5 * step)
    curvature = (values[2:] - 2.0 * values[1:-1] + values[:-2]) ** 2
    kept = max(1, int(0.9 * curvature.size))
    trimmed = float(np.partition(curvature, kept - 1)[:kept].mean())
    # 6: variance of a second difference; 0.623: what is left of a normal variance below its 90 % point.
    return max(LEAST_NOISE, 0.5 * step, float((trimmed / (6.0 * 0.623)) ** 0.5))
