"""A second simulator, with another curve law and another noise, for one final opening.

Nothing in the program may be tuned to it. What is other here:

* Exhaust temperature against mixture follows the law of an open flight-dynamics library, JSBSim: the gas takes up 30
  percent of the heat of the fuel that burns, with a table of combustion efficiency against equivalence ratio
  (``FGPiston.cpp``, ``doEGT``, read in version 1.3.3). Its top lies at an equivalence ratio of 1.05, has kinks in
  place of a smooth round, and is rounded by scatter of the mixture inside each cylinder. The library's power factor
  against fuel/air ratio is taken as work at constant air.
* The shared disturbance is a random walk held together loosely, with bursts of half a sine now and then.
* Each probe has two stages, a sheath and a bead.
* The flow reading counts whole pulses over a sliding window.
* Readings have heavy tails, and once in a long while a spike.

Everything else (sharing of air and fuel, levers, flights, recorder, layouts, truth) is that of the first simulator.
"""

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.simulate import noise
from leanwright.simulate.draw import REFERENCE, draw_spec, with_spread
from leanwright.simulate.flight import FlightSpec, SimulatedFlight, simulate_flight
from leanwright.simulate.motion import STEP_S, Gusts, Nature
from leanwright.simulate.virtual_engine import Laws, VirtualEngine
from leanwright.simulate.weather import Weather

Floats = NDArray[np.float64]

EFFICIENCY_PHI: Final = (0.0, 0.90, 1.00, 1.05, 1.10, 1.15, 1.20, 1.30, 1.40, 1.50, 1.60, 2.00)
EFFICIENCY: Final = (0.980, 0.980, 0.970, 0.950, 0.900, 0.850, 0.790, 0.700, 0.630, 0.570, 0.525, 0.345)
POWER_FUEL_AIR: Final = (0.0543, 0.0584, 0.0631, 0.0694, 0.0779, 0.0885, 0.0927, 0.1012, 0.1146)
POWER_FACTOR: Final = (0.483, 0.707, 0.836, 0.931, 1.000, 1.000, 0.983, 0.931, 0.724)
STOICHIOMETRIC_AIR_FUEL: Final = 14.7
AMBIENT_K: Final = 288.15

PULSES_A_GALLON: Final = 68_000.0
"""Pulses of the flow meter for each gallon (invented)."""


def exhaust_k(phi: Floats, heat_loss: float, scatter: float) -> Floats:
    """Exhaust temperature [K] at equivalence ratio ``phi`` [-], rounded by scatter; ``heat_loss`` plays no part."""
    del heat_loss
    steps = np.linspace(-4.0, 4.0, 81)
    weights = np.exp(-0.5 * steps**2)
    return np.asarray(unrounded_k(phi[..., None] * (1.0 + scatter * steps)) @ (weights / weights.sum()))


def unrounded_k(phi: Floats) -> Floats:
    """The law itself [K]: Tamb + 0.30 * 47.3e6 eta mf / (1005 ma + 1700 mf), mf and ma the masses of fuel and air."""
    fuel = phi / STOICHIOMETRIC_AIR_FUEL
    burnt = np.interp(phi, EFFICIENCY_PHI, EFFICIENCY)
    return np.asarray(AMBIENT_K + 0.30 * 47.3e6 * burnt * fuel / (1005.0 + 1700.0 * fuel))


def work(phi: Floats, heat_loss: float, scatter: float) -> Floats:
    """Power factor at constant air [-]; ``heat_loss`` and ``scatter`` play no part."""
    del heat_loss, scatter
    return np.asarray(np.interp(phi / STOICHIOMETRIC_AIR_FUEL, POWER_FUEL_AIR, POWER_FACTOR))


LAWS: Final = Laws(exhaust_k, work)


def _gusts(weather: Weather, rng: np.random.Generator, size: int) -> Gusts:
    """A walk of unit standard deviation over two minutes, seen through two seconds of lag, and bursts."""
    walk = noise.first_order_lag(noise.correlated(rng, size, STEP_S, 120.0), STEP_S, 2.0)
    quick = noise.first_order_lag(rng.standard_normal(size), STEP_S, 1.2) * np.sqrt(2.0 * 1.2 / STEP_S)
    bursts = _bursts(rng, size)
    shared = 0.7 * walk + 0.4 * quick + bursts
    breath = 0.6 * noise.correlated(rng, size, STEP_S, 90.0) + 0.5 * bursts + 0.3 * quick
    strength = 2.0 if weather.gusty else 1.0
    return Gusts(
        egt_f=weather.gust_egt_f * shared,
        air=0.01 * weather.gust_air_percent * breath,
        height_ft=10.0 * strength * walk,
        airspeed_kt=1.5 * strength * quick,
    )


def _bursts(rng: np.random.Generator, size: int) -> Floats:
    """Half sines of 2 to 8 s, one every 25 s on average, with exponential heights of either sign."""
    signal = np.zeros(size)
    for _ in range(rng.poisson(size * STEP_S / 25.0)):
        length = int(rng.uniform(2.0, 8.0) / STEP_S)
        start = int(rng.integers(0, max(1, size - length)))
        shape = np.sin(np.linspace(0.0, np.pi, length)) * rng.exponential(0.9) * rng.choice([-1.0, 1.0])
        signal[start : start + length] += shape[: size - start]
    return signal


def _own_noise(weather: Weather, rng: np.random.Generator, size: int) -> Floats:
    """White noise from cycle to cycle through a short lag, and a slow walk."""
    quick = noise.first_order_lag(rng.standard_normal(size), STEP_S, 0.4) * np.sqrt(2.0 * 0.4 / STEP_S)
    slow = noise.correlated(rng, size, STEP_S, 600.0)
    return np.asarray(weather.own_noise_f * quick + weather.own_drift_f * slow)


def _two_stages(signal: Floats, lag_s: float) -> Floats:
    """Sheath and bead: seven tenths and three tenths of the lag, one after the other."""
    return noise.first_order_lag(noise.first_order_lag(signal, STEP_S, 0.7 * lag_s), STEP_S, 0.3 * lag_s)


def _counted(flow_gph: Floats, lag_s: float) -> Floats:
    """Whole pulses over a window of twice the lag, whose delay is then the lag."""
    window = max(1, round(2.0 * lag_s / STEP_S))
    pulses = np.floor(np.cumsum(flow_gph) * STEP_S / 3600.0 * PULSES_A_GALLON)
    before = np.concatenate([np.full(window, -1.0), pulses[:-window]])
    counted = (pulses - before) / (window * STEP_S) * 3600.0 / PULSES_A_GALLON
    return np.asarray(np.where(before < 0.0, flow_gph, counted))


def _heavy_tailed(weather: Weather, rng: np.random.Generator, size: int) -> Floats:
    """Student's t of four degrees of freedom at the standard deviation asked for, and a spike in three thousand."""
    tails = rng.standard_t(4, size) / np.sqrt(2.0)
    spikes = np.where(rng.random(size) < 1.0 / 3000.0, rng.uniform(-80.0, 80.0, size), 0.0)
    return np.asarray(weather.reading_noise_f * tails + spikes)


SECOND: Final = Nature(_gusts, _own_noise, _two_stages, _counted, _heavy_tailed)


def second_engine(engine: VirtualEngine, rng: np.random.Generator, spread_gph: float) -> VirtualEngine:
    """A drawn engine under the other law, with its own scatter and the same true spread [gal/h] as was drawn."""
    n = engine.cylinders
    scatter = rng.uniform(0.02, 0.06) * np.exp(rng.normal(0.0, 0.15, n))
    changed = replace(
        engine,
        laws=LAWS,
        scatter=tuple(scatter.tolist()),
        late_burning_k=(0.0,) * n,
        egt_gain=tuple(rng.uniform(0.7, 1.1, n).tolist()),
    )
    return with_spread(changed, spread_gph, rng.standard_normal(n), REFERENCE)


def draw_second_spec(
    rng: np.random.Generator, *, spread_gph: float | None = None, **named: object
) -> FlightSpec:
    """A flight drawn as :func:`leanwright.simulate.draw.draw_spec` draws it, of an engine under the other law."""
    spec = draw_spec(rng, spread_gph=spread_gph, **named)  # type: ignore[arg-type]  # passed through as named there
    n = spec.engine.cylinders
    spread = spread_gph if spread_gph is not None else float(rng.uniform(0.0, 1.4)) * n / 6.0
    return replace(spec, engine=second_engine(spec.engine, rng, spread))


def simulate_second(spec: FlightSpec, seed: int) -> SimulatedFlight:
    """Fly a flight of :func:`draw_second_spec` under the other noise."""
    return simulate_flight(spec, seed, SECOND)
