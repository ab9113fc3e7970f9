"""In which conditions a stretch of a recording was flown."""

from dataclasses import dataclass

import numpy as np

from leanwright.recordings.recording import Recording


@dataclass(frozen=True, slots=True)
class Conditions:
    """Means over a stretch; ``None`` where nothing was recorded."""

    manifold_pressure_inhg: float | None
    engine_speed_rpm: float | None
    altitude_ft: float | None


def conditions(recording: Recording, start_s: float, end_s: float, engine: int) -> Conditions:
    """Mean conditions between two times.

    Parameters
    ----------
    recording
        What was read.
    start_s, end_s
        Limits of the stretch [s].
    engine
        Which engine of a twin.

    Returns
    -------
    Conditions
        Manifold pressure [inHg], engine speed [rpm], altitude [ft]; pressure altitude where no other is recorded.
    """
    rows = slice(*np.searchsorted(recording.time_s, [start_s, end_s + 1e-6]))

    def mean(quantity: str) -> float | None:
        values = recording.values(quantity, None, engine)
        if values is None:
            values = recording.values(quantity)
        good = values[rows][np.isfinite(values[rows])] if values is not None else np.empty(0)
        return float(good.mean()) if good.size else None

    altitude = mean("altitude")
    return Conditions(
        manifold_pressure_inhg=mean("manifold_pressure"),
        engine_speed_rpm=mean("engine_speed"),
        altitude_ft=mean("pressure_altitude") if altitude is None else altitude,
    )
