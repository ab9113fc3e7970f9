"""The rows of one sweep and of the quiet stretches beside it, as plain arrays."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.middle import middle, quantile
from leanwright.analysis.sweep import Direction, Sweep
from leanwright.recordings.recording import Recording

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

SECONDS_BEFORE = 40.0
SECONDS_AFTER = 40.0
STAMP_RANGE_S = 1.5
"""Stamps in whole seconds range by one about an even clock, and by a little more where the rows were not quite even."""
POWER_HOLDS = 0.015
"""Power beside a sweep holds while it stays within this of what it was during the sweep (logarithm)."""


@dataclass(frozen=True, slots=True, eq=False)
class Excerpt:
    """What the recording holds about one sweep. Missing values are NaN; nothing is filled."""

    time_s: Floats
    """[s], shape (rows,)"""
    flow_gph: Floats
    """Total fuel flow as read [gal/h], shape (rows,)"""
    egt_f: Floats
    """[degF], shape (cylinders, rows)"""
    log_power: Floats
    """ln(manifold pressure x engine speed) about its median in the sweep, shape (rows,); 0 where unknown"""
    cylinders: tuple[int, ...]
    egt_step_f: Floats
    """Smallest step of each EGT channel [degF], shape (cylinders,)"""
    flow_step_gph: float
    inside: Flags
    """Rows of the lever's movement, shape (rows,)"""
    start_s: float
    end_s: float
    direction: Direction


def _step(values: Floats, told: float | None) -> float:
    """Step of a channel: as told by the reader, else the smallest difference between its values."""
    if told is not None:
        return told
    different = np.unique(values[np.isfinite(values)])
    return float(np.diff(different).min()) if different.size > 1 else 0.0


def even_times(time_s: Floats) -> Floats:
    """Times of rows that were taken evenly but stamped in whole seconds.

    Rows every two seconds that are taken near the turn of a second come out one, two or three seconds apart. Where
    every stamp lies within a second of an even clock, that clock is the better time.

    Parameters
    ----------
    time_s : ndarray
        Stamped times, never falling [s], shape (rows,).

    Returns
    -------
    ndarray
        Even times where the stamps allow it, else the stamps [s], shape (rows,).
    """
    if time_s.size < 8 or np.any(time_s - time_s[0] != np.round(time_s - time_s[0])):
        return time_s
    apart = np.diff(time_s)
    usual = middle(apart)
    if usual < 2.0:
        if not (apart == 0.0).any():
            return time_s
        count = np.arange(time_s.size, dtype=np.float64)
    else:
        if not ((apart < usual).any() and (apart > usual).any()):
            return time_s
        steps = np.where(np.abs(apart - usual) <= 1.0, 1.0, np.maximum(np.round(apart / usual), 1.0))
        count = np.concatenate(([0.0], np.cumsum(steps)))
    line = np.polynomial.Polynomial.fit(count, time_s, 1)(count)
    return line if np.ptp(time_s - line) <= STAMP_RANGE_S else time_s


def _channel(
    recording: Recording, quantity: str, cylinder: int | None, engine: int
) -> tuple[Floats, float] | None:
    for channel in recording.channels:
        if (channel.quantity, channel.cylinder, channel.engine) == (quantity, cylinder, engine):
            if channel.values is None:
                return None
            return channel.values, _step(channel.values, channel.resolution)
    return None


def _log_power(recording: Recording, engine: int) -> Floats:
    """ln(manifold pressure x engine speed), NaN where either is missing in a row.

    A channel that is not there counts as steady: a governor holds the speed, and with a fixed pitch the speed alone
    tells how power follows the mixture.
    """
    total = np.zeros(recording.rows_kept)
    for quantity in ("manifold_pressure", "engine_speed"):
        found = _channel(recording, quantity, None, engine)
        if found is not None and np.isfinite(found[0]).any():
            total = total + np.log(np.where(found[0] > 0.0, found[0], np.nan))
    return total


def _power_up(recording: Recording, row: int) -> tuple[int, int]:
    """First row and end row (exclusive) of the power-up that holds a row."""
    firsts = np.asarray(recording.power_up_rows, dtype=np.int64)
    position = int(np.searchsorted(firsts, row, side="right")) - 1
    end = int(firsts[position + 1]) if position + 1 < firsts.size else recording.rows_kept
    return int(firsts[max(position, 0)]), end


def _held_span(time_s: Floats, log_power: Floats, first: int, last: int) -> tuple[int, int]:
    """Extend a stretch of rows on both sides for as long as power holds, within the longest span allowed."""
    during = log_power[first : last + 1]
    during = during[np.isfinite(during)]
    low, high = (quantile(during, 0.02), quantile(during, 0.98)) if during.size else (0.0, 0.0)
    low, high = low - POWER_HOLDS, high + POWER_HOLDS
    holds = ~((log_power < low) | (log_power > high))
    before = np.flatnonzero(~holds[:first] | (time_s[:first] < time_s[first] - SECONDS_BEFORE))
    after = np.flatnonzero(~holds[last + 1 :] | (time_s[last + 1 :] > time_s[last] + SECONDS_AFTER))
    begin = int(before[-1]) + 1 if before.size else 0
    end = last + 1 + int(after[0]) if after.size else time_s.size
    return begin, end


def excerpt(
    recording: Recording,
    sweep: Sweep,
    engine: int = 1,
    *,
    not_before_s: float = -np.inf,
    not_after_s: float = np.inf,
) -> Excerpt | None:
    """Cut one sweep out of a recording, with what lies beside it at the same power.

    Parameters
    ----------
    recording : Recording
        The recording.
    sweep : Sweep
        The sweep.
    engine : int
        Number of the engine [1].
    not_before_s, not_after_s : float
        Where neighbouring sweeps begin to count [s].

    Returns
    -------
    Excerpt or None
        ``None`` where the recording has no fuel flow or no EGT, or no row in the sweep.
    """
    flow = _channel(recording, "fuel_flow", None, engine)
    numbers = tuple(
        c for c in recording.cylinders(engine) if _channel(recording, "egt", c, engine) is not None
    )
    inside = (recording.time_s >= sweep.start_s) & (recording.time_s <= sweep.end_s)
    if flow is None or not numbers or not inside.any():
        return None
    rows = np.flatnonzero(inside)
    first, end = _power_up(recording, int(rows[0]))
    time_s = recording.time_s[first:end]
    inside = inside[first:end]
    rows = np.flatnonzero(inside)
    log_power = _log_power(recording, engine)[first:end]
    a, b = _held_span(time_s, log_power, int(rows[0]), int(rows[-1]))
    a = min(max(a, int(np.searchsorted(time_s, not_before_s))), int(rows[0]))
    b = max(min(b, int(np.searchsorted(time_s, not_after_s, side="right"))), int(rows[-1]) + 1)
    found = [_channel(recording, "egt", c, engine) for c in numbers]
    egt = np.array([pair[0][first:end][a:b] for pair in found if pair is not None])
    power = log_power[a:b]
    known = power[inside[a:b]]
    known = known[np.isfinite(known)]
    return Excerpt(
        time_s=even_times(time_s[a:b]),
        flow_gph=np.where(flow[0][first:end][a:b] > 0.0, flow[0][first:end][a:b], np.nan),
        egt_f=egt,
        log_power=power - (middle(known) if known.size else 0.0),
        cylinders=numbers,
        egt_step_f=np.array([pair[1] for pair in found if pair is not None]),
        flow_step_gph=flow[1],
        inside=inside[a:b],
        start_s=sweep.start_s,
        end_s=sweep.end_s,
        direction=sweep.direction,
    )


def excerpts(recording: Recording, sweeps: Sequence[Sweep], engine: int = 1) -> list[Excerpt | None]:
    """Cut several sweeps out of a recording so that no row counts twice.

    Parameters
    ----------
    recording : Recording
        The recording.
    sweeps : sequence of Sweep
        The sweeps.
    engine : int
        Number of the engine [1].

    Returns
    -------
    list of Excerpt or None
        One a sweep, with the rows beside it up to the middle of the rest between it and its neighbours.
    """
    parts = []
    for sweep in sweeps:
        halfway = 0.5 * (sweep.start_s + sweep.end_s)
        before = [other.end_s for other in sweeps if other is not sweep and other.end_s <= halfway]
        after = [other.start_s for other in sweeps if other is not sweep and other.start_s >= halfway]
        parts.append(
            excerpt(
                recording,
                sweep,
                engine,
                not_before_s=0.5 * (max(before) + sweep.start_s) if before else -np.inf,
                not_after_s=0.5 * (min(after) + sweep.end_s) if after else np.inf,
            )
        )
    return parts
