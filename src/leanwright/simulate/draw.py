"""Draw engines, weather, recorders and flights evenly from ranges wide enough for what is met in the field.

Ranges are invented but for those with a source beside them; where a quantity spans more than a factor of two it is
drawn evenly in its logarithm.
"""

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.simulate.air import ambient_pressure_inhg
from leanwright.simulate.faults import Fault
from leanwright.simulate.flight import FlightSpec, Surroundings
from leanwright.simulate.layouts import LAYOUTS, Layout
from leanwright.simulate.pilot import SweepPlan
from leanwright.simulate.recorder import OPTIONAL, Recorder
from leanwright.simulate.virtual_engine import Propeller, Setting, VirtualEngine, true_peaks, with_offsets
from leanwright.simulate.weather import Weather

Floats = NDArray[np.float64]

INTERVALS_S: Final = (0.2, 0.25, 0.5, 1.0, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0)
SPREAD_ROUNDS: Final = 4
"""Rounds in which a wanted spread is approached; two are enough but for spreads below the grid of the curves."""
RELATIVE_TIME: Final = frozenset({"elapsed", "minutes", "hours", "row"})
"""Forms of time that begin anew, or not at all, when the panel is switched on again."""
REFERENCE: Final = Setting(22.0, 2350.0, 23.98, 276.3)
"""Setting at which the wanted spread is made."""


def _log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _each(values: Floats) -> tuple[float, ...]:
    return tuple(values.tolist())


def draw_engine(
    rng: np.random.Generator,
    cylinders: int | None = None,
    spread_gph: float | None = None,
    propeller: Propeller | None = None,
) -> VirtualEngine:
    """A healthy engine: a third with four cylinders, a third with a fixed pitch.

    ``spread_gph`` is the true spread of the flows at peak at the reference setting [gal/h]; drawn from 0 to 1.4 for
    a six-cylinder engine if not given (less in proportion to the flow for four), exactly 0 once in ten.
    """
    n = cylinders if cylinders is not None else (4 if rng.random() < 1.0 / 3.0 else 6)
    pitch: Propeller = propeller or ("fixed-pitch" if rng.random() < 1.0 / 3.0 else "constant-speed")
    air = np.exp(rng.normal(0.0, 0.02, n))
    scatter = np.clip(rng.uniform(0.03, 0.08) * np.exp(rng.normal(0.0, 0.12, n)), 0.03, 0.08)
    line_psi = rng.uniform(2.5, 6.0)
    engine = VirtualEngine(
        propeller=pitch,
        air_shares=_each(air / air.sum()),
        nozzle_coefficients=(2.0 / float(np.sqrt(line_psi)),) * n,
        heat_loss=_each(np.clip(rng.uniform(0.05, 0.25) + rng.normal(0.0, 0.02, n), 0.0, 0.25)),
        scatter=_each(scatter),
        late_burning_k=_each(rng.uniform(0.0, 1200.0) * np.exp(rng.normal(0.0, 0.1, n))),
        peak_egt_f=_each(rng.uniform(1430.0, 1540.0) + rng.normal(0.0, 22.0, n)),
        egt_gain=_each(rng.uniform(0.75, 1.0) * np.exp(rng.normal(0.0, 0.05, n))),
        probe_lag_s=_each(np.exp(rng.uniform(np.log(1.0), np.log(5.0), n))),
        gust_gain=_each(np.exp(rng.normal(0.0, 0.08, n))),
        single_ignition_rise_f=_each(rng.uniform(45.0, 70.0) + rng.normal(0.0, 6.0, n)),
        cht_rise_f=_each(rng.uniform(285.0, 330.0) + rng.normal(0.0, 12.0, n)),
        cht_lag_s=_each(rng.uniform(60.0, 110.0, n)),
        displacement_in3=float(rng.uniform(80.0, 92.0)),
        volumetric_efficiency=float(rng.uniform(0.80, 0.88)),
        egt_per_log_air_f=float(rng.uniform(120.0, 260.0)),
        flow_lag_s=_log_uniform(rng, 0.5, 2.0),
        metering_exponent=float(rng.uniform(0.4, 1.0)),
        speed_exponent=float(rng.uniform(0.32, 0.46)),
        throttle_exponent=float(rng.uniform(-0.25, -0.1)),
    )
    shape = rng.standard_normal(n)
    even, uniform = rng.random() < 0.1, float(rng.uniform(0.0, 1.4))
    if spread_gph is None:
        spread_gph = 0.0 if even else uniform * n / 6.0
    return with_spread(engine, spread_gph, shape)


def with_spread(
    engine: VirtualEngine, spread_gph: float, shape: Floats, setting: Setting = REFERENCE
) -> VirtualEngine:
    """The same engine with nozzles that make a spread [gal/h] at a setting; ``shape`` says how it is distributed."""
    shape = shape - shape.mean()
    mean = true_peaks(engine, setting).mean_gph
    scale = 100.0 * spread_gph / (mean * float(np.ptp(shape)))
    made = with_offsets(engine, setting, _each(scale * shape))
    for _ in range(SPREAD_ROUNDS):
        found = true_peaks(made, setting).spread_gph
        if abs(found - spread_gph) <= 1e-4 * spread_gph or found == 0.0:
            break
        scale *= spread_gph / found
        made = with_offsets(engine, setting, _each(scale * shape))
    return made


def draw_weather(rng: np.random.Generator, *, gusty: bool | None = None) -> Weather:
    """Calm or gusty air, half and half. Shared EGT disturbance 0.8 to 2 degF calm, 2 to 6 degF gusty."""
    bad = bool(rng.random() < 0.5) if gusty is None else gusty
    return Weather(
        gusty=bad,
        gust_egt_f=_log_uniform(rng, 2.0, 6.0) if bad else _log_uniform(rng, 0.8, 2.0),
        gust_air_percent=_log_uniform(rng, 0.03, 0.12) if bad else _log_uniform(rng, 0.01, 0.03),
        gust_time_s=_log_uniform(rng, 3.0, 15.0),
        sway_period_s=_log_uniform(rng, 25.0, 70.0),
        sway_share=float(rng.uniform(0.1, 0.5)),
        power_drift_percent=_log_uniform(rng, 0.02, 0.12),
        shared_drift_f=_log_uniform(rng, 1.5, 6.0),
        own_drift_f=_log_uniform(rng, 0.4, 1.2),
        own_noise_f=_log_uniform(rng, 0.6, 2.0),
        own_noise_time_s=_log_uniform(rng, 0.5, 5.0),
        reading_noise_f=float(rng.uniform(0.2, 0.8)),
        metering_noise_percent=_log_uniform(rng, 0.01, 0.05),
        flow_reading_noise_gph=_log_uniform(rng, 0.005, 0.04),
        warmer_k=float(rng.uniform(-12.0, 15.0)),
    )


def draw_recorder(rng: np.random.Generator, layout: Layout | None = None) -> Recorder:
    """A recorder: rows every 0.2 to 6 s, EGT in 1 degF or 1 degC, flow in 0.1 gal/h mostly, 0.05 or 0.01 at times.

    Where the layout says no units, none is metric: litres and gallons cannot be told apart by their values.
    """
    interval = float(rng.choice(INTERVALS_S))
    celsius = bool(rng.random() < 0.4)
    optional = [name for name in OPTIONAL if name in {"cht", "manifold_pressure"} or rng.random() < 0.75]
    return Recorder(
        interval_s=interval,
        jitter_s=interval * float(rng.uniform(0.0, 0.04)),
        stamp_step_s=1.0 if interval.is_integer() else 0.01,
        metric=celsius and bool(rng.random() < 0.5) and (layout is None or layout.units != "none"),
        egt_unit="degC" if celsius else "degF",
        flow_step_gph=float(rng.choice([0.1, 0.1, 0.1, 0.05, 0.01])),
        manifold_step_inhg=float(rng.choice([0.1, 0.1, 0.01])),
        speed_step_rpm=float(rng.choice([1.0, 10.0])),
        quantities=tuple(optional),
        dropout_percent=max(0.0, float(rng.uniform(-0.2, 0.2))),
    )


def draw_sweeps(
    rng: np.random.Generator,
    count: int = 1,
    powers: int = 1,
    lean_margin_percent: tuple[float, float] = (4.0, 11.0),
) -> tuple[SweepPlan, ...]:
    """Sweeps of one flight: leaning first, then enriching and leaning in turn, spread over ``powers`` settings.

    Rate 0.015 to 0.09 gal/h per s; a leaning sweep that an enriching one follows stays lean. A single sweep is
    leaning three times of four.
    """
    altitude = float(rng.uniform(3500.0, 8500.0))
    first = min(float(rng.uniform(20.0, 23.0)), float(ambient_pressure_inhg(altitude)) - 0.8)
    settings = [first - 2.6 * k for k in range(powers)]
    speed = float(rng.choice([2200.0, 2300.0, 2350.0, 2400.0, 2450.0]))
    margins = {
        "rich_margin_percent": float(rng.uniform(6.0, 14.0)),
        "lean_margin_percent": float(rng.uniform(*lean_margin_percent)),
    }
    lone_enriching = count == 1 and bool(rng.random() < 0.25)
    plans = []
    for k in range(count):
        enriching = lone_enriching or k % 2 == 1
        movement = str(rng.choice(["smooth", "steps", "hesitant"]))
        pair_follows = (
            not enriching and k + 1 < count and _power(k, count, powers) == _power(k + 1, count, powers)
        )
        plans.append(
            SweepPlan(
                direction="enriching" if enriching else "leaning",
                movement=movement,  # type: ignore[arg-type]  # one of the three names just drawn
                rate_gph_per_s=_log_uniform(rng, 0.015, 0.09),
                manifold_pressure_inhg=round(settings[_power(k, count, powers)], 1),
                engine_speed_rpm=speed,
                altitude_ft=altitude,
                rest_before_s=float(rng.uniform(10.0, 40.0)),
                rest_after_s=float(rng.uniform(6.0, 25.0)),
                return_s=None if pair_follows else float(rng.uniform(2.0, 8.0)),
                **margins,
            )
        )
    return tuple(plans)


def _power(sweep: int, count: int, powers: int) -> int:
    """Which setting a sweep belongs to: the sweeps are dealt out in blocks."""
    return min(sweep * powers // count, powers - 1)


def draw_spec(
    rng: np.random.Generator,
    *,
    cylinders: int | None = None,
    sweeps: int = 1,
    powers: int = 1,
    lean_margin_percent: tuple[float, float] = (4.0, 11.0),
    spread_gph: float | None = None,
    gusty: bool | None = None,
    faults: tuple[Fault, ...] = (),
    surroundings: Surroundings = "sweeps-only",
    layout: str | None = None,
) -> FlightSpec:
    """A flight drawn from all ranges; what is named is taken as given.

    ``lean_margin_percent`` is the range of how far below the lowest flow at peak the sweeps go [percent]; negative
    values stop short of it.
    """
    engine = draw_engine(rng, cylinders, spread_gph)
    plans = draw_sweeps(rng, sweeps, powers, lean_margin_percent)
    if engine.cylinders == 4:
        plans = tuple(
            replace(plan, rate_gph_per_s=max(0.015, plan.rate_gph_per_s * 4.0 / 6.0)) for plan in plans
        )
    weather = draw_weather(rng, gusty=gusty)
    names = sorted(LAYOUTS)
    chosen = layout or names[int(rng.integers(len(names)))]
    recorder, again = draw_recorder(rng, LAYOUTS[chosen]), rng.random()
    return FlightSpec(
        engine=engine,
        sweeps=plans,
        weather=weather,
        recorder=recorder,
        faults=faults,
        surroundings=surroundings,
        layout=chosen,
        earlier_power_up=(bool(again < 0.15) and LAYOUTS[chosen].time not in RELATIVE_TIME)
        or LAYOUTS[chosen].header_again == "power-up",
    )
