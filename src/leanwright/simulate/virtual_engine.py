"""A virtual fuel-injected engine: what it is made of, and its steady state at any mixture."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.engine import mixture, sharing
from leanwright.quantities import AVGAS_POUNDS_PER_US_GALLON, PASCALS_PER_INCH_OF_MERCURY, PASCALS_PER_PSI

Floats = NDArray[np.float64]
Propeller = Literal["constant-speed", "fixed-pitch"]
Each = tuple[float, ...]

_PHI = np.linspace(0.30, 2.20, 1901)
PSI_PER_INHG = PASCALS_PER_INCH_OF_MERCURY / PASCALS_PER_PSI
COLD_GAS_F = 550.0
"""What a probe tends to behind a cylinder that does not fire while the others run [degF] (invented)."""


@dataclass(frozen=True, slots=True)
class Setting:
    """A power setting, without gusts: what the throttle, the propeller and the height make of the engine when rich."""

    manifold_pressure_inhg: float
    engine_speed_rpm: float
    ambient_pressure_inhg: float
    ambient_temperature_k: float


@dataclass(frozen=True, slots=True)
class Laws:
    """How exhaust temperature [K] and work [any unit] go with mixture: functions of phi, heat loss and scatter."""

    exhaust_k: Callable[[Floats, float, float], Floats]
    work: Callable[[Floats, float, float], Floats]


EQUILIBRIUM = Laws(mixture.rounded_exhaust_temperature, mixture.rounded_work_per_air)
"""The fuel-air cycle with equilibrium products."""


@dataclass(frozen=True)
class VirtualEngine:
    """What the engine and its probes are made of. Tuples hold one value a cylinder, cylinder 1 first.

    Healthy by default; :func:`leanwright.simulate.faults.afflict` makes a faulty one of it.
    """

    propeller: Propeller
    air_shares: Each
    """Share of the engine's air that each cylinder gets through its own valves [-], sum 1."""
    nozzle_coefficients: Each
    """[gal/h per square root of psi]"""
    heat_loss: Each
    """Share of the released heat lost at top centre [-]; see :mod:`leanwright.engine.mixture`."""
    scatter: Each
    """Relative standard deviation of the mixture inside the cylinder [-]."""
    late_burning_k: Each
    """Rise of the exhaust temperature from slow burning: this times (1 - phi) squared, lean only, down to 0.65 [K]."""
    peak_egt_f: Each
    """Reading at the top at the reference power [degF]."""
    egt_gain: Each
    """Change of the reading for a change of the gas [-]."""
    probe_lag_s: Each
    """Time constant of each EGT probe [s]."""
    gust_gain: Each
    """Response of each cylinder's EGT to a disturbance that all share [-], 1 on average."""
    single_ignition_rise_f: Each
    """Rise of the reading when one ignition alone fires [degF]."""
    cht_rise_f: Each
    """Cylinder head above outside air at reference power and mixture [degF]."""
    cht_lag_s: Each
    displacement_in3: float = 90.0
    """Swept volume of one cylinder [in3]."""
    volumetric_efficiency: float = 0.85
    egt_per_log_air_f: float = 200.0
    """Rise of every EGT for a change of ln(air flow) by one [degF]."""
    flow_lag_s: float = 1.0
    """Time constant of the fuel-flow reading [s]."""
    metering_exponent: float = 0.8
    """Fuel follows the air at a fixed lever with this power [-]: 1 air-metered, 0 not at all."""
    speed_exponent: float = 0.4
    """Fixed pitch: speed follows torque with this power [-]."""
    throttle_exponent: float = -0.15
    """Fixed pitch: manifold pressure follows speed with this power at a fixed throttle [-]."""
    laws: Laws = EQUILIBRIUM
    leak_diameter_in: Each = ()
    bleed_blocked: Each = ()
    """Share of the suction that reaches the nozzle's chamber [-]: 0 open, 1 shut."""
    dead_plug: tuple[int, ...] = ()
    """Ignition (1 or 2) whose plug is dead, 0 for none."""
    dead_plug_rise_f: Each = ()
    misfire_onset: Each = ()
    """Equivalence ratio at which half of the cycles misfire [-], 0 for none."""
    probe_works: Each = ()
    """Share of the time in which the EGT probe reads [-]."""
    probe_leads: tuple[int, ...] = ()
    """Index of the cylinder whose probe each EGT channel shows."""
    flow_reading_factor: float = 1.0
    """Fuel-flow reading over true flow [-]."""

    def __post_init__(self) -> None:
        """Give the faults that are not named their neutral values."""
        n = self.cylinders
        neutral: dict[str, tuple[float, ...]] = {
            "leak_diameter_in": (0.0,) * n,
            "bleed_blocked": (0.0,) * n,
            "dead_plug": (0,) * n,
            "dead_plug_rise_f": (55.0,) * n,
            "misfire_onset": (0.0,) * n,
            "probe_works": (1.0,) * n,
            "probe_leads": tuple(range(n)),
        }
        for name, value in neutral.items():
            if not getattr(self, name):
                object.__setattr__(self, name, value)

    @property
    def cylinders(self) -> int:
        """Number of cylinders."""
        return len(self.air_shares)

    @cached_property
    def curves_f(self) -> Floats:
        """Steady EGT against equivalence ratio at the reference air flow [degF], shape (cylinders, grid)."""
        rows = []
        for i in range(self.cylinders):
            gas = _gas_below_top(self.laws, self.heat_loss[i], self.scatter[i], self.late_burning_k[i])
            row = self.peak_egt_f[i] + 1.8 * self.egt_gain[i] * gas
            if self.dead_plug[i]:
                row = row + self.dead_plug_rise_f[i]
            if self.misfire_onset[i]:
                missed = misfire(_PHI, self.misfire_onset[i])
                row = row + 35.0 * missed - (row + 35.0 - COLD_GAS_F) * np.maximum(missed - 0.1, 0.0)
            rows.append(row)
        return np.array(rows)

    def nominal_air_lb_h(self, setting: Setting) -> float:
        """Air that the engine takes at a setting when rich and undisturbed [lb/h]."""
        return float(
            sharing.engine_air_flow(
                self.cylinders * self.displacement_in3,
                setting.engine_speed_rpm,
                setting.manifold_pressure_inhg,
                setting.ambient_temperature_k,
                self.volumetric_efficiency,
            )
        )

    @cached_property
    def reference_air_lb_h(self) -> float:
        """Air at the reference power, at which ``peak_egt_f`` holds [lb/h]."""
        return self.nominal_air_lb_h(Setting(22.0, 2350.0, 24.0, 278.0))

    def speed_ratio(self, lever: Floats) -> Floats:
        """Engine speed over that of the setting at the mixture that a lever gives, settled [-].

        ``lever`` is the equivalence ratio of the whole engine at the setting's nominal air flow.
        """
        if self.propeller == "constant-speed":
            return np.ones_like(lever)
        table = _speed_table(
            self.laws,
            self.heat_loss,
            self.scatter,
            self.speed_exponent,
            self.throttle_exponent,
            self.metering_exponent,
        )
        return np.asarray(np.interp(lever, *table))

    def air_ratio(self, speed_ratio: Floats) -> Floats:
        """Air flow over nominal when the speed departs from the setting's, throttle untouched [-]."""
        return np.asarray(speed_ratio ** (1.0 + self.throttle_exponent))

    def fuel_flow_gph(self, setting_air_lb_h: Floats | float, lever: Floats, air_ratio: Floats) -> Floats:
        """Metered fuel flow [gal/h] at a lever position and air flow."""
        nominal = lever * setting_air_lb_h * mixture.STOICHIOMETRIC_FUEL_AIR / AVGAS_POUNDS_PER_US_GALLON
        return np.asarray(nominal * air_ratio**self.metering_exponent)

    def equivalence_ratios(
        self,
        fuel_gph: Floats,
        air_lb_h: Floats,
        manifold_inhg: Floats,
        ambient_inhg: Floats,
        ambient_k: Floats,
    ) -> tuple[Floats, Floats]:
        """Mixture of every cylinder [-], shape (cylinders, n), and pressure in the nozzle line [psi], shape (n,).

        All arguments have shape (n,).
        """
        suction = np.maximum(ambient_inhg - manifold_inhg, 0.0) * PSI_PER_INHG
        blocked = np.asarray(self.bleed_blocked)[:, None]
        shares, pressure = sharing.shares_under_suction(self.nozzle_coefficients, fuel_gph, blocked * suction)
        air = np.asarray(self.air_shares)[:, None] * air_lb_h
        for i, hole in enumerate(self.leak_diameter_in):
            if hole:
                air[i] += sharing.orifice_air_flow(hole, ambient_inhg, manifold_inhg, ambient_k)
        return mixture.equivalence_ratio(shares * fuel_gph * AVGAS_POUNDS_PER_US_GALLON, air), pressure

    def steady_egt_of(self, index: int, phi: Floats, air_lb_h: Floats) -> Floats:
        """EGT that the reading of one cylinder settles at [degF]; both arguments have shape (n,)."""
        level = self.egt_per_log_air_f * np.log(air_lb_h / self.reference_air_lb_h)
        return np.asarray(np.interp(phi, _PHI, self.curves_f[index]) + level)


@lru_cache(maxsize=64)
def _gas_below_top(laws: Laws, heat_loss: float, scatter: float, late_burning_k: float) -> Floats:
    """Exhaust gas below its own top against equivalence ratio [K], shape (grid,)."""
    gas = laws.exhaust_k(_PHI, heat_loss, scatter) + late_burning_k * np.clip(1.0 - _PHI, 0.0, 0.35) ** 2
    return np.asarray(gas - gas.max())


@lru_cache(maxsize=16)
def _work(laws: Laws, heat_loss: Each, scatter: Each) -> Floats:
    rows = [laws.work(_PHI, loss, width) for loss, width in zip(heat_loss, scatter, strict=True)]
    mean = np.mean(rows, axis=0)
    return np.asarray(mean / mean.max())


@lru_cache(maxsize=16)
def _speed_table(
    laws: Laws,
    heat_loss: Each,
    scatter: Each,
    speed_exponent: float,
    throttle_exponent: float,
    metering_exponent: float,
) -> tuple[Floats, Floats]:
    """Lever [-] and the speed ratio that a fixed-pitch engine settles at there [-].

    Torque follows manifold pressure and work, speed follows torque; mixture follows the metering of the fuel.
    """
    lever = np.linspace(0.5, 1.7, 481)
    speed = np.ones_like(lever)
    for _ in range(60):
        air = speed ** (1.0 + throttle_exponent)
        work = np.interp(lever * air ** (metering_exponent - 1.0), _PHI, _work(laws, heat_loss, scatter))
        speed = (work * speed**throttle_exponent) ** speed_exponent
    return lever, speed


def misfire(phi: Floats, onset: float) -> Floats:
    """Share of cycles that do not burn [-]: half at ``onset``, falling richer (invented, logistic over 2 %)."""
    return np.asarray(1.0 / (1.0 + np.exp(np.clip((phi - onset) / 0.02, -60.0, 60.0))))


@dataclass(frozen=True, slots=True)
class TruePeaks:
    """Where the peaks of a setting lie. Tuples hold one value a cylinder."""

    flow_gph: Each
    """Total metered flow at which the steady EGT is highest along the engine's own steady line [gal/h]."""
    flow_at_common_power_gph: Each
    """The same with the air flow held at what it is where the geometric mean of ``flow_gph`` is metered [gal/h]."""

    @property
    def mean_gph(self) -> float:
        """Geometric mean of the flows along the steady line [gal/h]."""
        return float(np.exp(np.mean(np.log(self.flow_gph))))

    @property
    def offset_percent(self) -> Each:
        """100 ln(F* / geometric mean of F*) at common power [percent]; positive = lean."""
        return _offsets(self.flow_at_common_power_gph)

    @property
    def offset_at_own_crossing_percent(self) -> Each:
        """The same from the flows along the steady line, where power falls from one peak to the next [percent]."""
        return _offsets(self.flow_gph)

    @property
    def spread_gph(self) -> float:
        """Largest less smallest of mean flow times exp(offset) [gal/h]."""
        flows = self.mean_gph * np.exp(np.array(self.offset_percent) / 100.0)
        return float(flows.max() - flows.min())


def _offsets(flows: Each) -> Each:
    logs = np.log(flows)
    return tuple((100.0 * (logs - logs.mean())).tolist())


def lever_at_flow(engine: VirtualEngine, setting: Setting, flow_gph: float) -> float:
    """Lever position [-] that meters a total flow [gal/h] once settled."""
    lever = np.linspace(0.55, 1.6, 1051)
    air = engine.air_ratio(engine.speed_ratio(lever))
    return float(
        np.interp(flow_gph, engine.fuel_flow_gph(engine.nominal_air_lb_h(setting), lever, air), lever)
    )


def true_peaks(engine: VirtualEngine, setting: Setting) -> TruePeaks:
    """Flows at peak of every cylinder at a setting: steady, no lag, no gusts, by the true and not the read flow."""
    lever = np.exp(np.linspace(np.log(0.72), np.log(1.45), 2001))
    nominal = engine.nominal_air_lb_h(setting)
    speed = engine.speed_ratio(lever)
    air = engine.air_ratio(speed)
    fuel = engine.fuel_flow_gph(nominal, lever, air)
    manifold = setting.manifold_pressure_inhg * speed**engine.throttle_exponent
    if engine.propeller == "constant-speed":
        manifold = np.full_like(lever, setting.manifold_pressure_inhg)
    along = _tops(engine, setting, fuel, air * nominal, manifold)
    mean = float(np.exp(np.mean(np.log(along))))
    held = np.full_like(lever, float(np.interp(mean, fuel, air * nominal)))
    held_manifold = np.full_like(lever, float(np.interp(mean, fuel, manifold)))
    even_fuel = np.exp(np.linspace(np.log(fuel[0]), np.log(fuel[-1]), lever.size))
    return TruePeaks(along, _tops(engine, setting, even_fuel, held, held_manifold))


def _tops(engine: VirtualEngine, setting: Setting, fuel: Floats, air: Floats, manifold: Floats) -> Each:
    ambient = np.full_like(fuel, setting.ambient_pressure_inhg)
    phi, _ = engine.equivalence_ratios(
        fuel, air, manifold, ambient, np.full_like(fuel, setting.ambient_temperature_k)
    )
    egt = [engine.steady_egt_of(i, row, air) for i, row in enumerate(phi)]
    logs = np.log(fuel)
    return tuple(float(np.exp(_smooth_top(logs, row))) for row in egt)


def _smooth_top(x: Floats, y: Floats) -> float:
    """Top of the cubic fitted within 0.008 of the highest point.

    The curves are tables with straight pieces of 0.001 between their points; the fit looks past those.
    """
    near = np.abs(x - x[np.argmax(y)]) < 0.008
    middle = float(x[near].mean())
    cubic = np.polynomial.Polynomial.fit(x[near] - middle, y[near], 3)
    roots = cubic.deriv().roots()
    real = roots[np.abs(roots.imag) < 1e-9].real
    return middle + float(real[np.argmax(cubic(real))] if real.size else 0.0)


def with_offsets(engine: VirtualEngine, setting: Setting, offset_percent: Each) -> VirtualEngine:
    """The same engine with nozzles that give these offsets at common power, their sum unchanged [percent].

    Each round moves ln(coefficient) by the miss, until the miss is below 1e-4 percent; the tops follow one to one
    but for the air that EGT itself depends on.
    """
    wanted = np.array(offset_percent) - np.mean(offset_percent)
    total = sum(engine.nozzle_coefficients)
    for _ in range(6):
        miss = np.array(true_peaks(engine, setting).offset_percent) - wanted
        if np.abs(miss).max() < 1e-4:
            break
        changed = np.array(engine.nozzle_coefficients) * np.exp(miss / 100.0)
        engine = replace(engine, nozzle_coefficients=tuple((changed * total / changed.sum()).tolist()))
    return engine
