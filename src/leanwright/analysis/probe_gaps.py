"""Readings of each EGT probe that are missing, jump, or stand still."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.probe_signal import median
from leanwright.analysis.sweep import Sweep
from leanwright.recordings.recording import Recording

Floats = NDArray[np.float64]

# Reasons for every threshold stand in docs/theory/causes.md.
AROUND_S: Final = 60.0
FAR_F: Final = 110.0
STUCK: Final = 0.2
LEVEL_PERCENT: Final = 80
LEVEL_S: Final = 40.0
LEVEL_ROWS: Final = 5
LEAST_ROWS: Final = 10
RICH_OF_PEAKS: Final = 1.03
LEANER: Final = 0.97
SETTLED_S: Final = 15.0


@dataclass(frozen=True, slots=True)
class Gaps:
    """The ``share`` of a probe's readings that say nothing [1] of so many ``rows`` [1], in a stretch of the recording."""

    cylinder: int
    share: float
    start_s: float
    end_s: float
    rows: int


def probe_gaps(
    recording: Recording,
    sweeps: Sequence[Sweep],
    highest_gph: Mapping[float, float] = MappingProxyType({}),
    *,
    engine: int = 1,
) -> Mapping[int, Gaps]:
    """Count the readings that say nothing: missing ones in all sweeps, odd ones only where the mixture is rich of all peaks.

    There a cylinder fires whatever its ignition is like, so that a lean misfire is not taken for a probe; but no misfire makes a
    reading missing.

    Parameters
    ----------
    recording : Recording
        What was read.
    sweeps : sequence of Sweep
        Its sweeps; those not used are passed over.
    highest_gph : mapping of float to float
        By a sweep's start [s]: the highest flow at peak that was found in it [gal/h].
    engine : int
        Which engine of a twin [1].

    Returns
    -------
    mapping of int to Gaps
        By cylinder. Empty if no sweep is used.
    """
    used = [sweep for sweep in sweeps if sweep.used]
    flow = recording.values("fuel_flow", None, engine)
    if not used or flow is None:
        return {}
    rows = _rich_rows(recording.time_s, flow, used, highest_gph)
    numbers = recording.cylinders(engine)
    if int(rows.sum()) < LEAST_ROWS or not numbers:
        return {}
    egt = np.array(
        [
            np.full(recording.time_s.size, np.nan) if values is None else values
            for values in (recording.values("egt", number, engine) for number in numbers)
        ]
    )
    start, end = used[0].start_s, used[-1].end_s
    around = max(LEVEL_ROWS, round(LEVEL_S / (recording.interval_s or LEVEL_S)))
    swept = egt[:, _swept_rows(recording.time_s, used)]
    missing = np.mean(~np.isfinite(swept), axis=1).tolist()
    rich = _silent_shares(egt[:, rows], around)
    return {
        number: Gaps(number, gone, start, end, swept.shape[1])
        if gone > share
        else Gaps(number, share, start, end, int(rows.sum()))
        for number, share, gone in zip(numbers, rich, missing, strict=True)
    }


def _swept_rows(time: Floats, sweeps: Sequence[Sweep]) -> NDArray[np.bool_]:
    """Rows of all sweeps."""
    chosen = np.zeros(time.size, dtype=bool)
    for sweep in sweeps:
        chosen |= (time >= sweep.start_s) & (time <= sweep.end_s)
    return chosen


def _rich_rows(
    time: Floats, flow: Floats, sweeps: Sequence[Sweep], highest_gph: Mapping[float, float]
) -> NDArray[np.bool_]:
    """Rows about the sweeps in the rich third of what each swept, and rich of all peaks found in it."""
    chosen = np.zeros(time.size, dtype=bool)
    for sweep in sweeps:
        near = (time >= sweep.start_s - AROUND_S) & (time <= sweep.end_s + AROUND_S) & np.isfinite(flow)
        inside = near & (time >= sweep.start_s) & (time <= sweep.end_s)
        if inside.any():
            low, high = float(flow[inside].min()), float(flow[inside].max())
            rich = max(low + 0.67 * (high - low), RICH_OF_PEAKS * highest_gph.get(sweep.start_s, 0.0))
            chosen |= near & (flow > rich) & _settled(time, flow, rich)
    return chosen


def _settled(time: Floats, flow: Floats, rich: float) -> NDArray[np.bool_]:
    """Rows at which it has been rich for a while: just after a quick enrichening no two probes read alike."""
    leaner = np.flatnonzero(flow < LEANER * rich)
    last = np.searchsorted(leaner, np.arange(time.size)) - 1
    since = np.full(time.size, np.inf)
    since[last >= 0] = time[last >= 0] - time[leaner[last[last >= 0]]]
    return np.asarray(since > SETTLED_S)


def _silent_shares(egt: Floats, around: int) -> list[float]:
    """Share of readings that are missing, or far off what the others do, or never move."""
    with_reading = np.isfinite(egt)
    middle = np.zeros(egt.shape[1])
    any_ = with_reading.any(axis=0)
    middle[any_] = median(egt[:, any_].T)
    moved = [
        float(np.ptp(row[good])) if good.any() else 0.0 for row, good in zip(egt, with_reading, strict=True)
    ]
    usual = float(np.median(moved))
    shares = []
    for row, good, own in zip(egt, with_reading, moved, strict=True):
        if not good.any() or own <= STUCK * usual:
            shares.append(1.0)
            continue
        apart = (row - middle)[good]
        level = running_level(apart, min(around, apart.size))
        far = int(np.sum(np.abs(apart - level) > FAR_F))
        shares.append((far + int(np.sum(~good))) / row.size)
    return shares


def running_level(values: Floats, around: int) -> Floats:
    """The level about each reading: the value that :data:`LEVEL_PERCENT` of those around it do not exceed.

    Parameters
    ----------
    values : ndarray, shape (rows,)
        Readings [degF]; beyond its ends the first and the last one go on.
    around : int
        So many readings are looked at each time [1].

    Returns
    -------
    ndarray, shape (rows,)
        In the unit of the readings [degF].

    Examples
    --------
    >>> running_level(np.array([1.0, 1.0, 9.0, 1.0, 1.0]), 3).tolist()
    [1.0, 9.0, 9.0, 9.0, 1.0]
    """
    before = around // 2
    padded = np.pad(values, (before, around - 1 - before), mode="edge")
    rank = min(around * LEVEL_PERCENT // 100, around - 1)
    windows = np.lib.stride_tricks.sliding_window_view(padded, around)
    level: Floats = np.partition(windows, rank, axis=1)[:, rank]
    return level
