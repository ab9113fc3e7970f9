"""The lean flank of each cylinder against the others': weak ignition cuts it short."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.probe_signal import median
from leanwright.analysis.sweep import Sweep
from leanwright.analysis.trace import smooth
from leanwright.recordings.recording import Recording

Floats = NDArray[np.float64]

# Reasons for every threshold stand in docs/theory/causes.md.
SMOOTHING_S: Final = 5.0
AFTER_S: Final = 8.0
LEAST_DISTANCE: Final = 0.01
LEAST_OTHERS: Final = 2
LEAST_ROWS: Final = 8


@dataclass(frozen=True, slots=True)
class Flank:
    """How much farther a cylinder's EGT falls lean of its top than the others' do at the same distance [degF]."""

    cylinder: int
    excess_df: float
    start_s: float
    end_s: float


def lean_flanks(recording: Recording, sweeps: Sequence[Sweep], *, engine: int = 1) -> Mapping[int, Flank]:
    """Compare the lean flanks of all cylinders.

    Parameters
    ----------
    recording : Recording
        What was read.
    sweeps : sequence of Sweep
        Its sweeps; those not used are passed over.
    engine : int
        Which engine of a twin [1].

    Returns
    -------
    mapping of int to Flank
        By cylinder, the sweep in which it falls farthest below the others.
    """
    worst: dict[int, Flank] = {}
    for sweep in sweeps:
        if not sweep.used:
            continue
        for flank in _of_sweep(recording, sweep, engine):
            known = worst.get(flank.cylinder)
            if known is None or flank.excess_df > known.excess_df:
                worst[flank.cylinder] = flank
    return worst


def _of_sweep(recording: Recording, sweep: Sweep, engine: int) -> list[Flank]:
    time = recording.time_s
    rows = slice(*np.searchsorted(time, [sweep.start_s, sweep.end_s + AFTER_S]))
    flow = recording.values("fuel_flow", None, engine)
    if flow is None or time[rows].size < LEAST_ROWS:
        return []
    falls = {}
    for number in recording.cylinders(engine):
        values = recording.values("egt", number, engine)
        fall = None if values is None else _fall(time[rows], flow[rows], values[rows])
        if fall is not None:
            falls[number] = fall
    found = []
    for number, (distance, drop) in falls.items():
        others = [one for other, one in falls.items() if other != number]
        excess = _excess(distance, drop, others)
        if excess is not None:
            found.append(Flank(number, excess, sweep.start_s, sweep.end_s))
    return found


def _fall(time: Floats, flow: Floats, egt: Floats) -> tuple[Floats, Floats] | None:
    """Distance lean of the own top (logarithm, rising) and the fall there [degF]."""
    good = np.isfinite(egt) & np.isfinite(flow) & (flow > 0.0)
    if int(good.sum()) < LEAST_ROWS:
        return None
    path, log_flow = (
        smooth(time[good], egt[good], SMOOTHING_S),
        smooth(time[good], np.log(flow[good]), SMOOTHING_S),
    )
    top = int(np.argmax(path))
    distance = log_flow[top] - log_flow
    lean = np.flatnonzero(distance > LEAST_DISTANCE)
    if lean.size < 2:
        return None
    order = lean[np.argsort(distance[lean], kind="stable")]
    return distance[order], (path[top] - path)[order]


def _excess(distance: Floats, drop: Floats, others: Sequence[tuple[Floats, Floats]]) -> float | None:
    """Largest fall below the median of the others at the same distance [degF]."""
    expected = np.array([np.interp(distance, far, fall, right=np.nan) for far, fall in others])
    known = (
        np.isfinite(expected).sum(axis=0) >= LEAST_OTHERS if len(expected) else np.zeros(distance.size, bool)
    )
    if not known.any():
        return None
    return float(np.max(drop[known] - median(expected[:, known].T)))
