"""An engine's recordings over the years: ordinary flights, now and then a sweep, and perhaps a fault that begins.

Two hundred flights are two years at a hundred flights a year. How often a leaning passes peaks, and the ranges of height,
power and season, are invented.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

import numpy as np

from leanwright.simulate.air import ambient_pressure_inhg, ambient_temperature_k
from leanwright.simulate.draw import draw_engine, draw_weather
from leanwright.simulate.faults import Fault, afflict
from leanwright.simulate.flight import FlightSpec
from leanwright.simulate.pilot import SweepPlan
from leanwright.simulate.recorder import Recorder
from leanwright.simulate.virtual_engine import Setting, VirtualEngine, true_peaks

DAYS_BETWEEN: Final = 3.65
BEGAN: Final = datetime(2031, 3, 1, 9, 0)  # noqa: DTZ001 - a panel's clock knows no zone
SWEEP_SHARE: Final = 0.05
"""One flight in twenty has a sweep past all peaks."""
PARTIAL_SHARE: Final = 0.5
"""Half have an ordinary leaning past three peaks or more."""
PASSED_BY: Final = 0.045
"""The leaning goes so far beyond the last peak that it passes (share of the flow)."""
SEASON_K: Final = 12.0


@dataclass(frozen=True, slots=True)
class History:
    """What is to be flown: the engine, how many flights, and the fault with the flight from which it is there (from 0)."""

    engine: VirtualEngine
    flights: int
    fault: Fault | None = None
    from_flight: int = 0
    began: datetime = BEGAN
    days_between: float = DAYS_BETWEEN
    notes: tuple[tuple[str, str], ...] = ()
    """What the lines above the header state, by name."""


def draw_history(seed: int, flights: int = 200, fault: Fault | None = None, from_flight: int = 0) -> History:
    """A six-cylinder engine with nozzles that fit fairly well: a spread of 0.2 to 0.6 gal/h."""
    rng = np.random.Generator(np.random.PCG64([seed, 77]))
    engine = draw_engine(rng, 6, float(rng.uniform(0.2, 0.6)), "constant-speed")
    return History(engine, flights, fault, from_flight)


def flights_of(history: History, seed: int) -> Iterator[FlightSpec]:
    """Every flight in order of time. The same history and seed give the same flights."""
    for number in range(history.flights):
        rng = np.random.Generator(np.random.PCG64([seed, 78, number]))
        there = history.fault is not None and number >= history.from_flight
        faults = (history.fault,) if there and history.fault is not None else ()
        yield _flight(history, faults, number, rng)


def _flight(history: History, faults: tuple[Fault, ...], number: int, rng: np.random.Generator) -> FlightSpec:
    engine, day = history.engine, history.days_between * number
    weather = draw_weather(rng)
    warm = SEASON_K * float(np.sin(2.0 * np.pi * day / 365.0)) + 4.0 * float(rng.standard_normal())
    altitude = float(rng.uniform(3500.0, 8500.0))
    cruise = SweepPlan(
        manifold_pressure_inhg=round(
            min(float(rng.uniform(19.5, 23.0)), float(ambient_pressure_inhg(altitude)) - 0.8), 1
        ),
        engine_speed_rpm=float(rng.choice([2300.0, 2350.0, 2400.0])),
        altitude_ft=altitude,
        rate_gph_per_s=float(rng.uniform(0.025, 0.06)),
        rich_margin_percent=float(rng.uniform(7.0, 12.0)),
        rest_before_s=float(rng.uniform(15.0, 40.0)),
        return_s=float(rng.uniform(3.0, 8.0)),
    )
    chance = float(rng.random())
    plans: tuple[SweepPlan, ...] = ()
    if chance < SWEEP_SHARE:
        plans = (replace(cruise, lean_margin_percent=float(rng.uniform(5.0, 9.0))),)
    elif chance < SWEEP_SHARE + PARTIAL_SHARE:
        plans = (_past_some(afflict(engine, faults), cruise, warm, rng),)
    return FlightSpec(
        engine=engine,
        sweeps=plans,
        weather=replace(weather, warmer_k=warm),
        recorder=Recorder(interval_s=1.0),
        faults=faults,
        surroundings="whole-flight",
        cruise=cruise,
        began=history.began + timedelta(days=day, minutes=float(rng.uniform(0.0, 300.0))),
        notes=history.notes,
    )


def _past_some(engine: VirtualEngine, plan: SweepPlan, warm: float, rng: np.random.Generator) -> SweepPlan:
    """A leaning that ends a little beyond the third, fourth or later peak."""
    setting = Setting(
        plan.manifold_pressure_inhg,
        plan.engine_speed_rpm,
        float(ambient_pressure_inhg(plan.altitude_ft)),
        float(ambient_temperature_k(plan.altitude_ft, warm)),
    )
    flows = sorted(true_peaks(engine, setting).flow_gph, reverse=True)
    last = flows[int(rng.integers(2, len(flows)))] * (1.0 - PASSED_BY)
    return replace(plan, lean_margin_percent=100.0 * (1.0 - last / flows[-1]))
