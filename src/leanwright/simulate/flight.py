"""A simulated recording: from what is to be flown to the table that the panel writes, with its truth.

What counts as the true flow at peak: the total metered flow at which the cylinder's steady-state EGT is highest along
the engine's own steady line at the sweep's setting, throttle and propeller untouched, without lag and without gusts.
It says nothing about how the flow is read: the reading, once settled, shows that flow times the reading factor (1 but
for the fault ``flow-misscaled``).
"""

from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.simulate.faults import Fault, afflict
from leanwright.simulate.motion import FIRST, Motion, Nature, run
from leanwright.simulate.pilot import Pilot, SweepPlan, shifted
from leanwright.simulate.recorder import Column, Recorder, Table
from leanwright.simulate.truth import Truth
from leanwright.simulate.virtual_engine import VirtualEngine, true_peaks
from leanwright.simulate.weather import Weather
from leanwright.simulate.whole_flight import fly

Floats = NDArray[np.float64]
Surroundings = Literal["sweeps-only", "whole-flight"]


@dataclass(frozen=True, slots=True)
class FlightSpec:
    """Everything that is to be simulated but for chance, which comes from the seed."""

    engine: VirtualEngine
    sweeps: tuple[SweepPlan, ...]
    weather: Weather = field(default_factory=Weather)
    recorder: Recorder = field(default_factory=Recorder)
    faults: tuple[Fault, ...] = ()
    surroundings: Surroundings = "sweeps-only"
    cruise: SweepPlan = field(default_factory=SweepPlan)
    """Setting flown, and spoken of by the truth, when there is no sweep."""
    earlier_power_up: bool = False
    """Whole flight: the panel was on once before, with the engine off."""
    began: datetime = datetime(2031, 5, 17, 9, 30)  # noqa: DTZ001 - a panel's clock knows no zone
    notes: tuple[tuple[str, str], ...] = ()
    """What the lines before the header say, beside that the data are invented."""
    layout: str = "comma"
    """Name of the layout that the recording is written in, if it is; see :mod:`leanwright.simulate.layouts`."""


@dataclass(frozen=True, slots=True, eq=False)
class SimulatedFlight:
    """One recording, and what is true of it."""

    spec: FlightSpec
    seed: int
    table: Table
    truth: Truth


def simulate_flight(spec: FlightSpec, seed: int, nature: Nature = FIRST) -> SimulatedFlight:
    """Fly the flight and record it. The same specification and seed give the same bytes."""
    hand, air, panel, chance = (np.random.Generator(np.random.PCG64([seed, stream])) for stream in range(4))
    engine = afflict(spec.engine, spec.faults)
    pilot = Pilot(engine, spec.weather.warmer_k, hand)
    if spec.surroundings == "whole-flight":
        fly(pilot, spec.sweeps, spec.cruise, earlier_power_up=spec.earlier_power_up)
    else:
        _fly_sweeps_only(pilot, spec.sweeps, spec.cruise)
    motion = run(engine, spec.weather, pilot.script, air, nature)
    instants, power_ups = _with_the_panel_on(
        spec.recorder.instants(panel, pilot.script.now_s), pilot.panel_off
    )
    columns = tuple(
        spec.recorder.losing(column, chance)
        for column in _columns(spec, engine, motion, instants, panel, nature)
    )
    table = Table(spec.began, _stamps(spec.recorder, instants), columns, power_ups)
    return SimulatedFlight(spec, seed, table, _truth(spec, seed, engine, pilot, float(instants[0])))


def _fly_sweeps_only(pilot: Pilot, plans: tuple[SweepPlan, ...], cruise: SweepPlan) -> None:
    """Begin in settled cruise, fly the sweeps, stay a while."""
    pilot.begin_settled(plans[0] if plans else cruise)
    pilot.script.hold(pilot.rng.uniform(30.0, 90.0))
    for plan in plans:
        pilot.fly_sweep(plan)
    pilot.script.hold(pilot.rng.uniform(45.0, 90.0))


def _with_the_panel_on(instants: Floats, off: list[tuple[float, float]]) -> tuple[Floats, tuple[int, ...]]:
    """Instants at which the panel was on, and the row at which each power-up begins."""
    kept = np.ones(instants.size, dtype=bool)
    for began, ended in off:
        kept &= (instants < began) | (instants >= ended)
    begins = [int(kept[instants < ended].sum()) for _, ended in off]
    return instants[kept], (0, *begins)


def _stamps(recorder: Recorder, instants: Floats) -> Floats:
    """Written times from the first row [s]: cut to the recorder's step, as a clock is read."""
    read = np.floor(instants / recorder.stamp_step_s + 1e-6) * recorder.stamp_step_s
    return np.asarray(np.round(read - read[0], 3))


def _columns(
    spec: FlightSpec,
    engine: VirtualEngine,
    motion: Motion,
    instants: Floats,
    rng: np.random.Generator,
    nature: Nature,
) -> list[Column]:
    """Every channel as the recorder reads it."""

    def at(signal: Floats) -> Floats:
        return np.asarray(np.interp(instants, motion.time_s, signal))

    def noisy(signal: Floats, sigma: float) -> Floats:
        return at(signal) + sigma * rng.standard_normal(instants.size)

    signals, recorder, weather = motion.signals, spec.recorder, spec.weather
    columns = []
    for i, row in enumerate(motion.egt_f):
        values = at(row) + nature.reading_noise(weather, rng, instants.size)
        works = engine.probe_works[engine.probe_leads[i]]
        columns.append(
            recorder.reads("egt", _intermittent(values, works, spec.recorder.interval_s, rng), i + 1)
        )
    if "cht" in recorder.quantities:
        columns += [recorder.reads("cht", noisy(row, 0.3), i + 1) for i, row in enumerate(motion.cht_f)]
    flow = np.maximum(noisy(signals["fuel_reading_gph"], weather.flow_reading_noise_gph), 0.0)
    turning = at(signals["running"]) > 0.5
    whole: dict[str, Floats] = {
        "fuel_flow": np.where(turning, flow, 0.0),
        "engine_speed": np.where(turning, noisy(signals["engine_speed_rpm"], 2.0), 0.0),
        "manifold_pressure": noisy(signals["manifold_inhg"], 0.02),
        "outside_air_temperature": noisy(1.8 * signals["ambient_k"] - 459.67, 0.2),
        "altitude": noisy(signals["altitude_ft"], 3.0),
        "indicated_airspeed": np.maximum(noisy(signals["airspeed_kt"], 0.5), 0.0),
        "oil_temperature": noisy(_oil_temperature(motion), 0.2),
        "oil_pressure": np.where(turning, noisy(np.full_like(motion.time_s, 62.0), 0.5), 0.0),
        "fuel_pressure": np.maximum(noisy(signals["fuel_pressure_psi"], 0.03), 0.0),
        "bus_voltage": noisy(np.where(signals["running"] > 0.5, 28.2, 24.6), 0.05),
        "fuel_used": engine.flow_reading_factor
        * at(np.cumsum(signals["fuel_gph"]) * (motion.time_s[1] / 3600.0)),
        "engine_hours": at(412.3 + np.cumsum(signals["running"]) * (motion.time_s[1] / 3600.0)),
    }
    kept = {"fuel_flow", "engine_speed", *recorder.quantities}
    return columns + [recorder.reads(name, values) for name, values in whole.items() if name in kept]


def _oil_temperature(motion: Motion) -> Floats:
    return np.asarray(0.45 * motion.cht_f.mean(axis=0) + 25.0)


def _intermittent(values: Floats, works: float, interval_s: float, rng: np.random.Generator) -> Floats:
    """A probe that reads only part of the time, in stretches of about ten seconds.

    A loose one comes out missing or far too low while it does not read; a dead one is missing throughout or, three
    times of ten, stuck at one value.
    """
    if works >= 1.0:
        return values
    if works <= 0.0:
        stuck = rng.uniform(40.0, 900.0)
        return np.full_like(values, stuck if rng.random() < 0.3 else np.nan)
    stretch = max(1, round(10.0 / interval_s))
    stretches = values.size // stretch + 1

    def in_stretches(each: Floats) -> Floats:
        return np.repeat(each, stretch)[: values.size]

    reads = in_stretches(rng.random(stretches)) < works
    fallen = values - in_stretches(rng.uniform(150.0, 900.0, stretches))
    missing = in_stretches(rng.random(stretches)) < 0.6
    return np.where(reads, values, np.where(missing, np.nan, fallen))


def _truth(spec: FlightSpec, seed: int, engine: VirtualEngine, pilot: Pilot, first_s: float) -> Truth:
    sweeps = tuple(shifted(sweep, first_s) for sweep in pilot.sweeps)
    spoken_of = sweeps or (true_peaks(engine, pilot.setting(spec.cruise)),)
    offsets = np.mean([each.offset_percent for each in spoken_of], axis=0)
    mean = float(np.exp(np.mean([np.log(each.mean_gph) for each in spoken_of])))
    flows = mean * np.exp(offsets / 100.0)
    coefficients = np.array(engine.nozzle_coefficients)
    w = spec.weather
    return Truth(
        seed=seed,
        cylinders=engine.cylinders,
        propeller=engine.propeller,
        sweeps=sweeps,
        other_leanings=tuple(
            replace(o, start_s=o.start_s - first_s, end_s=o.end_s - first_s) for o in pilot.other_leanings
        ),
        ignition_checks=tuple(
            replace(c, start_s=c.start_s - first_s, end_s=c.end_s - first_s) for c in pilot.ignition_checks
        ),
        faults=spec.faults,
        offset_percent=tuple(offsets.tolist()),
        mean_gph=mean,
        spread_gph=float(flows.max() - flows.min()),
        spread_percent=float(100.0 * (flows.max() - flows.min()) / mean),
        flow_reading_factor=engine.flow_reading_factor,
        air_shares=engine.air_shares,
        nozzle_coefficients=engine.nozzle_coefficients,
        fuel_shares=tuple((coefficients / coefficients.sum()).tolist()),
        probe_lag_s=engine.probe_lag_s,
        flow_lag_s=engine.flow_lag_s,
        noise={name: float(getattr(w, name)) for name in w.__slots__ if name != "gusty"},
        gusty=w.gusty,
    )
