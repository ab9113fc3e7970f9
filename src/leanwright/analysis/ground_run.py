"""Runs of the engine on the ground above taxiing: before a flight, and when somebody tried it out."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from leanwright.analysis.flight import PowerUp
from leanwright.analysis.middle import quantile
from leanwright.recordings.recording import Recording

LEAST_RPM: Final = 1500.0
"""Faster than an engine taxies (common practice: checks are made at 1,700 to 2,200 rpm)."""
SHORTEST_S: Final = 10.0
LONGEST_GAP_S: Final = 15.0
"""Stretches nearer than this are one run (our choice)."""
HELD_SHARE: Final = 0.9
"""The speed that was held is the one that so much of a run stayed below (our choice)."""


@dataclass(frozen=True, slots=True)
class GroundRun:
    """One run; ``engine_speed_rpm`` is the highest speed held in it [rpm], as the 90 percent point."""

    start_s: float
    end_s: float
    engine_speed_rpm: float


def find_ground_runs(
    recording: Recording, power_ups: Sequence[PowerUp], *, engine: int = 1
) -> tuple[GroundRun, ...]:
    """Find the runs on the ground.

    Parameters
    ----------
    recording : Recording
        What was read.
    power_ups : sequence of PowerUp
        As :func:`leanwright.analysis.flight.find_power_ups` gives them.
    engine : int
        Which engine of a twin [1].

    Returns
    -------
    tuple of GroundRun
        In order of time; none where the engine speed or the phases are not known. The rolls before a climb and after a
        descent are part of the flight, not runs.
    """
    speed = recording.values("engine_speed", None, engine)
    if speed is None:
        return ()
    found: list[GroundRun] = []
    for power_up in power_ups:
        for place, phase in enumerate(power_up.phases):
            if phase.kind != "ground":
                continue
            rows = np.arange(*np.searchsorted(recording.time_s, [phase.start_s, phase.end_s]))
            runs = _runs(recording, speed, rows)
            takes_off = place + 1 < len(power_up.phases)
            if takes_off and runs and runs[-1].end_s > phase.end_s - LONGEST_GAP_S:
                runs = runs[:-1]
            if place and runs and runs[0].start_s < phase.start_s + LONGEST_GAP_S:
                runs = runs[1:]
            found += runs
    return tuple(found)


def _runs(recording: Recording, speed: np.ndarray, rows: np.ndarray) -> list[GroundRun]:
    fast = rows[speed[rows] >= LEAST_RPM]
    if not fast.size:
        return []
    time = recording.time_s[fast]
    edges = [0, *(np.flatnonzero(np.diff(time) > LONGEST_GAP_S) + 1).tolist(), time.size]
    return [
        GroundRun(float(time[a]), float(time[b - 1]), quantile(speed[fast[a:b]], HELD_SHARE))
        for a, b in pairwise(edges)
        if time[b - 1] - time[a] >= SHORTEST_S
    ]
