"""The demo's story: invented people, an invented aircraft, its first flight and the one after. Nothing here is real."""

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Final

import numpy as np

from leanwright.simulate.draw import draw_engine, draw_weather, with_spread
from leanwright.simulate.flight import FlightSpec, SimulatedFlight, simulate_flight
from leanwright.simulate.pilot import SweepPlan
from leanwright.simulate.recorder import Recorder
from leanwright.simulate.virtual_engine import VirtualEngine
from leanwright.simulate.write import write_flight

SEED: Final = 2031
SEED_AFTER: Final = 2036
"""A day with flows like those of the first flight."""

OWNER: Final = "Orla Quillfeather (invented)"
MECHANIC: Final = "Bram Tallowick (invented)"
AIRCRAFT: Final = "ZZ-OAK (invented)"
WATCHED_AIRCRAFT: Final = "ZZ-ASH (invented)"
"""A sister aircraft, two years ahead on the round."""
AIRCRAFT_TYPE: Final = "Hollowbrook Tarn (invented)"
ENGINE: Final = "Stonewick Six, fuel injected, six cylinders (invented)"
NOZZLES: Final = "Pennygill set, marked by position group (invented)"

UNEVENNESS: Final = (0.3, -0.5, 4.2, 0.6, -3.6, 0.1)
"""How the spread lies among cylinders 1 to 6 [any unit]: one clearly lean, one clearly rich, the others close."""
SPREAD_GPH: Final = 0.945
"""True spread at the reference setting [gal/h]; 0.9 at the mean of the flight's two lower settings."""


def engine() -> VirtualEngine:
    """The engine as it is found: constant-speed propeller, in sound health."""
    drawn = draw_engine(np.random.Generator(np.random.PCG64([SEED, 1])), 6, 0.0, "constant-speed")
    return with_spread(drawn, SPREAD_GPH, np.array(UNEVENNESS))


NEW_NOZZLES: Final = {3: ("Q7-104", 1.04), 5: ("Q7-097", 0.97)}
"""What the story orders: by cylinder the marking, and its flow over that of the one fitted before [1]."""


def changed_engine() -> VirtualEngine:
    """The same engine with the new nozzles in it."""
    found = engine()
    coefficients = [
        one * NEW_NOZZLES.get(cylinder, ("", 1.0))[1]
        for cylinder, one in enumerate(found.nozzle_coefficients, 1)
    ]
    return replace(found, nozzle_coefficients=tuple(coefficients))


def first_flight() -> SimulatedFlight:
    """The baseline flight: calm air, a leaning and an enriching sweep at each of two manifold pressures."""
    return _flight(engine(), SEED, datetime(2031, 5, 17, 9, 4, 11))  # noqa: DTZ001 - a panel's clock knows no zone


def flight_after() -> SimulatedFlight:
    """The same flight with the new nozzles, three weeks later."""
    return _flight(changed_engine(), SEED_AFTER, datetime(2031, 6, 7, 9, 31, 40))  # noqa: DTZ001 - the same


def _flight(flown: VirtualEngine, seed: int, began: datetime) -> SimulatedFlight:
    plans = []
    for pressure in (22.0, 19.0):
        down = SweepPlan(
            manifold_pressure_inhg=pressure,
            engine_speed_rpm=2300.0,
            altitude_ft=6500.0,
            rate_gph_per_s=0.035,
            rest_before_s=40.0,
            rest_after_s=15.0,
            return_s=None,
        )
        plans += [down, replace(down, direction="enriching", rest_before_s=15.0)]
    spec = FlightSpec(
        engine=flown,
        sweeps=tuple(plans),
        weather=draw_weather(np.random.Generator(np.random.PCG64([seed, 2])), gusty=False),
        recorder=Recorder(interval_s=1.0),
        surroundings="whole-flight",
        began=began,
        notes=(
            ("Aircraft", AIRCRAFT),
            ("Type", AIRCRAFT_TYPE),
            ("Engine", ENGINE),
            ("Nozzles", NOZZLES),
            ("Owner", OWNER),
            ("Mechanic", MECHANIC),
        ),
        layout="comma",
    )
    return simulate_flight(spec, seed)


def write_first_flight(folder: Path) -> Path:
    """Write the first flight and its truth into a folder that is there; return the recording's place."""
    recording, _ = write_flight(first_flight(), folder, "first-flight")
    return recording


def write_flight_after(folder: Path) -> Path:
    """Write the flight after the change and its truth into a folder that is there; return the recording's place."""
    recording, _ = write_flight(flight_after(), folder, "flight-after")
    return recording
