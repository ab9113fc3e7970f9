"""Lags and random processes on an even grid of time."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def first_order_lag(signal: Floats, step_s: float, lag_s: float, start: float | None = None) -> Floats:
    """A signal as an instrument of first order shows it.

    Parameters
    ----------
    signal : ndarray
        Input on an even grid, straight between its points [any unit], shape (n,).
    step_s : float
        Step of the grid [s].
    lag_s : float
        Time constant [s], above 0.
    start : float, optional
        Reading at the first point [unit of signal]; settled at the first value if not given.

    Returns
    -------
    ndarray
        Reading [unit of signal], shape (n,).

    Notes
    -----
    The exact answer of ``lag y' + y = x`` to straight pieces. The recursion runs in blocks: inside a block it is
    a cumulative sum of the inputs weighted with the growing inverse powers of the decay.
    """
    decay = float(np.exp(-step_s / lag_s))
    if decay == 0.0:
        return signal.copy()
    late = 1.0 - (1.0 - decay) * lag_s / step_s
    early = (1.0 - decay) - late
    drive = np.empty_like(signal)
    drive[0] = signal[0] if start is None else start
    drive[1:] = early * signal[:-1] + late * signal[1:]
    return _recursion(drive, decay)


def _recursion(drive: Floats, decay: float) -> Floats:
    """``y[k] = decay y[k-1] + drive[k]`` with ``y[-1] = 0``."""
    length = int(np.clip(300.0 / -np.log(decay), 1, 4096)) if decay < 1.0 else 4096
    blocks = -(-drive.size // length)
    padded = np.zeros(blocks * length)
    padded[: drive.size] = drive
    powers = decay ** np.arange(length)
    inside = np.cumsum(padded.reshape(blocks, length) / powers, axis=1) * powers
    carry = 0.0
    for block in range(blocks):
        inside[block] += carry * decay * powers
        carry = inside[block, -1]
    return np.asarray(inside.ravel()[: drive.size])


def correlated(rng: np.random.Generator, size: int, step_s: float, time_s: float) -> Floats:
    """Noise of unit standard deviation whose correlation falls as exp(-t / ``time_s``) (Ornstein-Uhlenbeck)."""
    decay = float(np.exp(-step_s / time_s))
    drive = rng.standard_normal(size)
    drive[1:] *= np.sqrt(1.0 - decay**2)
    return _recursion(drive, decay)


def gust(rng: np.random.Generator, size: int, step_s: float, time_s: float) -> Floats:
    """Turbulence of unit standard deviation with the shape of Dryden's vertical gust.

    Transfer function ``(1 + sqrt(3) T s) / (1 + T s)^2`` driven by white noise, scaled to unit variance (MIL-F-8785C,
    section 3.7.2; from memory). T is the length of the turbulence over the airspeed.
    """
    white = rng.standard_normal(size + round(6.0 * time_s / step_s)) * np.sqrt(2.0 * time_s / step_s)
    once = first_order_lag(white, step_s, time_s, start=0.0)
    twice = first_order_lag(once, step_s, time_s, start=0.0)
    # The variance of the shaped noise is (1 + 3) / 2 of that of the once-lagged noise.
    return np.asarray((np.sqrt(3.0) * once + (1.0 - np.sqrt(3.0)) * twice)[-size:] / np.sqrt(2.0))


def hunting(rng: np.random.Generator, size: int, step_s: float, period_s: float) -> Floats:
    """Slow swaying of unit standard deviation about a period: height and speed under an autopilot.

    Sum of eight sinusoids with periods within a third of ``period_s`` and random phases.
    """
    periods = period_s * rng.uniform(0.75, 1.35, 8)
    phases = rng.uniform(0.0, 2.0 * np.pi, 8)
    t = np.arange(size) * step_s
    return np.asarray(
        sum(np.sin(2.0 * np.pi * t / p + f) for p, f in zip(periods, phases, strict=True)) / 2.0
    )
