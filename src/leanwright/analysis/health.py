"""What one recording says about the engine's health: whole and partial sweeps, cruise, ignition checks, probes."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.cause_rows import over
from leanwright.analysis.cause_signs import ignition_ratio
from leanwright.analysis.health_cruise import RANKINE_OFFSET, Cruise, find_cruise, silent_shares
from leanwright.analysis.measured import RecordingResult
from leanwright.analysis.offset import combined_offsets, stack

Floats = NDArray[np.float64]

COLD_F: Final = -160.0
"""A cylinder whose EGT falls so far below the others' on one ignition does not fire on it [degF] (common practice)."""
COLD_RATIO: Final = 16.0
"""What that says for a dead plug (logarithm of the likelihood ratio; our choice): sound cylinders never do it."""
LEAST_TOGETHER: Final = 2
"""Cylinders that have to pass their peak in one recording before anything is said of their offsets."""


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """The evidence of one recording.

    ``offset_percent`` are offsets against the mean of those ``offset_cylinders`` that passed their peak [percent], with
    ``covariance_percent`` [percent squared]; ``air_level_percent`` is 100 ln of their mean flow at peak over what the engine
    breathes, up to a constant [percent]. ``plug_ratio`` is the log of the likelihood ratio of a dead plug by cylinder [1],
    ``silent`` the share of silent readings by probe [1].
    """

    name: str
    started_at: str | None
    cylinders: tuple[int, ...]
    offset_cylinders: tuple[int, ...]
    offset_percent: Floats
    covariance_percent: Floats
    air_level_percent: float | None
    cruise: tuple[Cruise, ...]
    plug_ratio: Mapping[int, float]
    silent: Mapping[int, float]
    sweeps: int = 0
    duration_s: float = 0.0


def seen_in(result: RecordingResult, engine: int = 1) -> Seen:
    """Gather what one recording says.

    Parameters
    ----------
    result : RecordingResult
        The recording, measured.
    engine : int
        Which engine of a twin [1].

    Returns
    -------
    Seen
        Parts that the recording does not hold are empty.
    """
    recording = result.recording
    apart_from = [(sweep.start_s, sweep.end_s) for sweep in result.sweeps]
    apart_from += [(check.start_s - 5.0, check.end_s + 30.0) for check in result.ignition_checks]
    offsets = combined_offsets(stack([result.peaks]))
    together = offsets is not None and len(offsets.cylinders) >= LEAST_TOGETHER
    started = recording.started_at
    return Seen(
        recording.name,
        started.isoformat() if started else None,
        recording.cylinders(engine),
        offsets.cylinders if offsets and together else (),
        100.0 * offsets.offset if offsets and together else np.zeros(0),
        1e4 * offsets.covariance[:-1, :-1] if offsets and together else np.zeros((0, 0)),
        _air_level(result, offsets.levels) if offsets and together else None,
        find_cruise(recording, result.power_ups, apart_from, engine=engine),
        plug_ratios(result),
        silent_shares(recording, result.power_ups, engine=engine),
        sum(sweep.used for sweep in result.sweeps),
        recording.duration_s,
    )


def _air_level(result: RecordingResult, levels: Mapping[int, float]) -> float | None:
    """100 ln of the mean flow at peak over manifold pressure, speed and the density of the outside air."""
    found = []
    for position, level in levels.items():
        sweep = result.peaks.sweeps[position].sweep
        outside = over(result, sweep, "outside_air_temperature")
        if sweep.manifold_pressure_inhg is None or sweep.engine_speed_rpm is None or outside is None:
            continue
        air = sweep.manifold_pressure_inhg * sweep.engine_speed_rpm / (outside + RANKINE_OFFSET)
        found.append(100.0 * (level - float(np.log(air))))
    return float(np.mean(found)) if found else None


def plug_ratios(result: RecordingResult) -> Mapping[int, float]:
    """What a recording's ignition checks say of each cylinder's plugs.

    Parameters
    ----------
    result : RecordingResult
        The recording, measured.

    Returns
    -------
    mapping of int to float
        Log of the likelihood ratio of one dead plug against two sound ones [1]; empty without a check.
    """
    numbers = {number for check in result.ignition_checks for number in check.response_df}
    ratios = {}
    for number in sorted(numbers):
        seen = [
            (check.response_df[number], check.median_df)
            for check in result.ignition_checks
            if number in check.response_df
        ]
        cold = any(response - median < COLD_F and abs(median) < -COLD_F for response, median in seen)
        ratios[number] = max(ignition_ratio(seen), COLD_RATIO) if cold else ignition_ratio(seen)
    return ratios
