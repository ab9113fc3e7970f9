"""Flights of the invented engine of the demo, before and after its nozzles were changed."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np

from leanwright.simulate import story
from leanwright.simulate.flight import FlightSpec, simulate_flight
from leanwright.simulate.pilot import SweepPlan
from leanwright.simulate.recorder import Recorder
from leanwright.simulate.weather import Weather
from leanwright.simulate.write import write_flight


def fly(
    folder: Path,
    name: str,
    *,
    factors: Mapping[int, float] | None = None,
    day: int = 17,
    sweeps: int = 4,
    seed: int = 5,
) -> Path:
    """Write the recording of a flight in May 2031 with new nozzles of these factors; return its place."""
    found = story.engine()
    new = np.array(found.nozzle_coefficients) * [(factors or {}).get(number, 1.0) for number in range(1, 7)]
    engine = replace(found, nozzle_coefficients=tuple(new.tolist()))
    plans = []
    for number in range(sweeps):
        plan = SweepPlan(
            manifold_pressure_inhg=(22.0, 19.0)[number // 2 % 2],
            engine_speed_rpm=2300.0,
            altitude_ft=6500.0,
            rate_gph_per_s=0.035,
            rest_before_s=30.0,
            rest_after_s=15.0,
            return_s=None,
        )
        plans.append(replace(plan, direction="enriching", rest_before_s=15.0) if number % 2 else plan)
    spec = FlightSpec(
        engine=engine,
        sweeps=tuple(plans),
        weather=Weather(),
        recorder=Recorder(interval_s=1.0),
        began=datetime(2031, 5, day, 9, 30),  # noqa: DTZ001 - a panel's clock knows no zone
    )
    recording, _ = write_flight(simulate_flight(spec, seed), folder, name)
    return recording
