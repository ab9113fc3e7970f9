"""The engine in time: controls and gusts in, every true signal out, on an even grid."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.engine import sharing
from leanwright.simulate import noise
from leanwright.simulate.air import ambient_pressure_inhg, ambient_temperature_k
from leanwright.simulate.script import CONTROLS, Script
from leanwright.simulate.virtual_engine import COLD_GAS_F, VirtualEngine
from leanwright.simulate.weather import Weather

Floats = NDArray[np.float64]

STEP_S: Final = 0.1
"""Step of the grid [s]."""


@dataclass(frozen=True, slots=True, eq=False)
class Gusts:
    """What the air does, shape (n,)."""

    egt_f: Floats
    air: Floats
    """Change of ln(air flow)."""
    height_ft: Floats
    airspeed_kt: Floats


@dataclass(frozen=True, slots=True)
class Nature:
    """The laws of noise and lag that a simulator obeys."""

    gusts: Callable[[Weather, np.random.Generator, int], Gusts]
    own_noise: Callable[[Weather, np.random.Generator, int], Floats]
    """Noise of one cylinder's gas [degF]."""
    probe: Callable[[Floats, float], Floats]
    """What a probe of a time constant [s] says of the gas [degF]."""
    flow_reading: Callable[[Floats, float], Floats]
    """What the flow meter of a time constant [s] says of the true flow [gal/h]."""
    reading_noise: Callable[[Weather, np.random.Generator, int], Floats]
    """Noise of one EGT reading [degF]."""


@dataclass(frozen=True, slots=True, eq=False)
class Motion:
    """True signals on the grid. Arrays have shape (n,), those of every cylinder (cylinders, n)."""

    time_s: Floats
    signals: dict[str, Floats]
    egt_f: Floats
    """What the probes say, by lead, before reading noise [degF]."""
    cht_f: Floats


def _gusts(weather: Weather, rng: np.random.Generator, size: int) -> Gusts:
    """Draw the shared disturbances: turbulence and swaying, one part that heats and one that breathes."""
    turbulent = np.sqrt(1.0 - weather.sway_share)
    swaying = np.sqrt(weather.sway_share)
    sway = noise.hunting(rng, size, STEP_S, weather.sway_period_s)
    first = turbulent * noise.gust(rng, size, STEP_S, weather.gust_time_s) + swaying * sway
    second = turbulent * noise.gust(rng, size, STEP_S, 0.6 * weather.gust_time_s) + swaying * sway
    drift = noise.correlated(rng, size, STEP_S, 300.0)
    air = 0.01 * (
        weather.gust_air_percent * (0.5 * first + np.sqrt(0.75) * second)
        + weather.power_drift_percent * drift
    )
    shared = weather.shared_drift_f * noise.correlated(rng, size, STEP_S, 240.0)
    strength = 2.0 if weather.gusty else 1.0
    return Gusts(
        egt_f=weather.gust_egt_f * first + shared,
        air=np.asarray(air),
        height_ft=8.0 * strength * sway + 3.0 * strength * noise.correlated(rng, size, STEP_S, 8.0),
        airspeed_kt=1.2 * strength * first,
    )


def _own_noise(weather: Weather, rng: np.random.Generator, size: int) -> Floats:
    quick = weather.own_noise_f * noise.correlated(rng, size, STEP_S, weather.own_noise_time_s)
    return quick + weather.own_drift_f * noise.correlated(rng, size, STEP_S, 300.0)


def _first_order(signal: Floats, lag_s: float) -> Floats:
    return noise.first_order_lag(signal, STEP_S, lag_s)


def _white(weather: Weather, rng: np.random.Generator, size: int) -> Floats:
    return weather.reading_noise_f * rng.standard_normal(size)


FIRST: Final = Nature(_gusts, _own_noise, _first_order, _first_order, _white)
"""Dryden gusts and swaying, first-order probes and flow meter, white reading noise."""


def run(
    engine: VirtualEngine, weather: Weather, script: Script, rng: np.random.Generator, nature: Nature = FIRST
) -> Motion:
    """Run the engine through the script."""
    t = np.arange(0.0, script.now_s + STEP_S / 2.0, STEP_S)
    control = {name: script.at(name, t) for name in CONTROLS}
    air = nature.gusts(weather, rng, t.size)
    signals = _breathing(engine, weather, control, air, rng)
    phi, pressure = engine.equivalence_ratios(
        signals["fuel_gph"],
        signals["air_lb_h"],
        signals["manifold_inhg"],
        signals["ambient_inhg"],
        signals["ambient_k"],
    )
    signals["fuel_pressure_psi"] = (
        np.where(control["running"] > 0.0, pressure, 0.0) + 2.0 * control["boost_pump"]
    )
    signals["fuel_pressure_psi"] *= np.minimum(1.0, control["running"] + control["boost_pump"])
    egt = np.array(
        [_probe(engine, weather, control, air, signals, phi, i, rng, nature) for i in range(engine.cylinders)]
    )
    cht = np.array([_head(engine, control, signals, phi, i) for i in range(engine.cylinders)])
    signals["fuel_gph"] = np.where(control["running"] > 0.5, signals["fuel_gph"], 0.0)
    signals["fuel_reading_gph"] = engine.flow_reading_factor * nature.flow_reading(
        signals["fuel_gph"], engine.flow_lag_s
    )
    signals["airspeed_kt"] = np.maximum(
        control["airspeed_kt"] + np.where(control["airspeed_kt"] > 40.0, air.airspeed_kt, 0.0), 0.0
    )
    signals["altitude_ft"] = control["altitude_ft"] + np.where(
        control["airspeed_kt"] > 60.0, air.height_ft, 0.0
    )
    signals["running"] = control["running"]
    return Motion(t, signals, egt[list(engine.probe_leads)], cht)


def _breathing(
    engine: VirtualEngine, weather: Weather, control: dict[str, Floats], air: Gusts, rng: np.random.Generator
) -> dict[str, Floats]:
    """Speed, manifold pressure, air and fuel.

    A disturbance of the air shows as manifold pressure; with a fixed pitch a third of it shows as speed. A governor
    hunts by a few turns on top, and the air follows the turns.
    """
    running = control["running"]
    lever = np.clip(control["lever"], 0.3, 1.7)
    fixed = engine.propeller == "fixed-pitch"
    ratio = engine.speed_ratio(lever)
    single = np.minimum(control["ignition_1"], control["ignition_2"]) < 0.5
    ratio = noise.first_order_lag(
        ratio * np.where(single & (control["engine_speed_rpm"] < 2000.0), 0.95, 1.0), STEP_S, 1.5
    )
    hunt = noise.correlated(rng, running.size, STEP_S, 2.5) * (0.0003 if fixed else 0.0009)
    turns = (air.air / 3.0 if fixed else 0.0) + hunt
    throttle = engine.throttle_exponent if fixed else 0.0
    manifold = control["manifold_pressure_inhg"] * ratio**throttle * np.exp(air.air / (1.5 if fixed else 1.0))
    speed = control["engine_speed_rpm"] * ratio * np.exp(turns)
    ambient_k = ambient_temperature_k(control["altitude_ft"], weather.warmer_k)
    ambient = ambient_pressure_inhg(control["altitude_ft"])
    volume = engine.cylinders * engine.displacement_in3

    def breathed(rpm: Floats, pressure: Floats) -> Floats:
        return sharing.engine_air_flow(volume, rpm, pressure, ambient_k, engine.volumetric_efficiency)

    nominal = np.maximum(breathed(control["engine_speed_rpm"], control["manifold_pressure_inhg"]), 1.0)
    flow = np.maximum(breathed(np.maximum(speed, 100.0), np.maximum(manifold, 5.0)), 1.0)
    metering = 0.01 * weather.metering_noise_percent * noise.correlated(rng, running.size, STEP_S, 4.0)
    fuel = engine.fuel_flow_gph(nominal, lever, flow / nominal) * np.exp(metering)
    return {
        "engine_speed_rpm": speed * running,
        "manifold_inhg": np.where(running > 0.0, manifold * running + ambient * (1.0 - running), ambient),
        "ambient_inhg": ambient,
        "ambient_k": ambient_k,
        "air_lb_h": flow,
        "fuel_gph": fuel,
    }


def _probe(
    engine: VirtualEngine,
    weather: Weather,
    control: dict[str, Floats],
    air: Gusts,
    signals: dict[str, Floats],
    phi: Floats,
    i: int,
    rng: np.random.Generator,
    nature: Nature,
) -> Floats:
    """What the probe of one cylinder says before reading noise [degF]."""
    gas = engine.steady_egt_of(i, phi[i], signals["air_lb_h"])
    first, second = control["ignition_1"] > 0.5, control["ignition_2"] > 0.5
    dead = engine.dead_plug[i]
    fires = (first & (dead != 1)) | (second & (dead != 2))
    alone = (first != second) & (dead == 0)
    gas = gas + np.where(alone, engine.single_ignition_rise_f[i], 0.0)
    outside = 1.8 * signals["ambient_k"] - 459.67
    gas = np.where(fires, gas, np.minimum(gas, COLD_GAS_F))
    running = control["running"] > 0.5
    gas = np.where(running, gas, noise.first_order_lag(np.where(running, gas, outside), STEP_S, 90.0))
    own = nature.own_noise(weather, rng, gas.size)
    if engine.misfire_onset[i]:
        own *= 1.0 + 3.0 * (phi[i] < engine.misfire_onset[i] + 0.03)
    return nature.probe(gas + running * (engine.gust_gain[i] * air.egt_f + own), engine.probe_lag_s[i])


def _head(
    engine: VirtualEngine, control: dict[str, Floats], signals: dict[str, Floats], phi: Floats, i: int
) -> Floats:
    """Head temperature of one cylinder [degF].

    Highest at an equivalence ratio of 1.08, falling to both sides; rising with air flow to the power 0.55, falling
    with airspeed to the power 0.3 (invented exponents). At cruise power it is lower lean than rich of there, as
    FAA-H-8083-32B p. 10-31 says.
    """
    outside = 1.8 * signals["ambient_k"] - 459.67
    power = (signals["air_lb_h"] / engine.reference_air_lb_h) ** 0.55
    richness = np.clip(1.0 - 2.6 * (phi[i] - 1.08) ** 2, 0.5, 1.0)
    cooling = (np.maximum(control["airspeed_kt"], 45.0) / 130.0) ** -0.3
    rise = np.where(control["running"] > 0.5, engine.cht_rise_f[i] * power * richness * cooling, 0.0)
    if engine.dead_plug[i]:
        rise *= 0.96
    return noise.first_order_lag(outside + rise, STEP_S, engine.cht_lag_s[i])
