"""The pilot of the virtual aircraft: settles the engine and flies sweeps, as a script of the controls."""

from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from leanwright.simulate import lever as levers
from leanwright.simulate.air import ambient_pressure_inhg, ambient_temperature_k
from leanwright.simulate.script import Script
from leanwright.simulate.truth import Direction, IgnitionCheck, LeaningKind, OtherLeaning, SweepTruth
from leanwright.simulate.virtual_engine import Setting, TruePeaks, VirtualEngine, lever_at_flow, true_peaks

BRISK_MARGIN: Final = 0.02


@dataclass(frozen=True, slots=True)
class SweepPlan:
    """How one sweep is to be flown."""

    direction: Direction = "leaning"
    movement: levers.Movement = "smooth"
    rate_gph_per_s: float = 0.04
    """Mean rate while the lever moves [gal/h per s]."""
    manifold_pressure_inhg: float = 22.0
    engine_speed_rpm: float = 2350.0
    altitude_ft: float = 6500.0
    rich_margin_percent: float = 10.0
    """Rich end above the highest flow at peak [percent]."""
    lean_margin_percent: float = 8.0
    """Lean end below the lowest flow at peak [percent]; negative: the sweep stops before that peak."""
    rest_before_s: float = 30.0
    """Nothing moves at the start of the sweep [s]."""
    rest_after_s: float = 15.0
    """Nothing moves at its end [s]."""
    return_s: float | None = 5.0
    """Time of a quick return to rich after the last rest [s]; None: the lever stays."""
    brisk_times: float = 1.0
    """How many times faster the lever goes from 2 percent above the highest flow at peak to 2 percent below the lowest."""


@dataclass
class Pilot:
    """Flies a virtual engine and keeps what was done. Times here are seconds from the start of the script."""

    engine: VirtualEngine
    warmer_k: float
    rng: np.random.Generator
    script: Script = field(default_factory=Script)
    sweeps: list[SweepTruth] = field(default_factory=list)
    other_leanings: list[OtherLeaning] = field(default_factory=list)
    ignition_checks: list[IgnitionCheck] = field(default_factory=list)
    panel_off: list[tuple[float, float]] = field(default_factory=list)
    """Stretches in which the panel was switched off and nothing was recorded."""

    def setting(self, plan: SweepPlan) -> Setting:
        """The engine's setting of a plan, in this weather."""
        return Setting(
            plan.manifold_pressure_inhg,
            plan.engine_speed_rpm,
            float(ambient_pressure_inhg(plan.altitude_ft)),
            float(ambient_temperature_k(plan.altitude_ft, self.warmer_k)),
        )

    def begin_settled(self, plan: SweepPlan) -> None:
        """Start the script in cruise, rich of the first sweep."""
        setting = self.setting(plan)
        peaks = true_peaks(self.engine, setting)
        self.script.begin(
            manifold_pressure_inhg=plan.manifold_pressure_inhg,
            engine_speed_rpm=plan.engine_speed_rpm,
            lever=self._ends(plan, setting, peaks)[0],
            altitude_ft=plan.altitude_ft,
            airspeed_kt=135.0,
            running=1.0,
            ignition_1=1.0,
            ignition_2=1.0,
            boost_pump=0.0,
        )

    def fly_sweep(self, plan: SweepPlan) -> None:
        """Settle at the plan's setting, go to the start of the sweep, rest, sweep, rest, return."""
        script = self.script
        self._settle(plan)
        setting = self.setting(plan)
        peaks = true_peaks(self.engine, setting)
        rich, lean = self._ends(plan, setting, peaks)
        start, end = (rich, lean) if plan.direction == "leaning" else (lean, rich)
        if abs(script.value("lever") - start) > 0.004:
            self.quickly_to(start, self.rng.uniform(3.0, 9.0))
        script.hold(plan.rest_before_s)
        began, flow = script.now_s, self._flow(setting, start)
        rate = plan.rate_gph_per_s * abs(end - start) / abs(self._flow(setting, end) - flow)
        times, way = levers.path(self.rng, start, end, rate, plan.movement)
        if plan.brisk_times != 1.0:
            tops = (max(peaks.flow_gph) * (1.0 + BRISK_MARGIN), min(peaks.flow_gph) * (1.0 - BRISK_MARGIN))
            first, last = (lever_at_flow(self.engine, setting, flow) for flow in tops)
            times = levers.hurried(times, way, sorted((first, last)), plan.brisk_times)
        script.follow("lever", times, way)
        self.sweeps.append(self._truth(plan, setting, peaks, began, (rich, lean)))
        script.hold(plan.rest_after_s)
        if plan.return_s is not None and plan.direction == "leaning":
            self.quickly_to(rich, plan.return_s)
            script.hold(self.rng.uniform(20.0, 45.0))

    def quickly_to(self, lever: float, seconds: float) -> None:
        """Push or pull the lever."""
        began = self.script.now_s
        kind: LeaningKind = "quick-return" if lever > self.script.value("lever") else "quick-pull"
        self.script.move(seconds, lever=lever)
        self.other_leanings.append(OtherLeaning(began, self.script.now_s, kind))

    def _settle(self, plan: SweepPlan) -> None:
        """Change power and height if the plan asks for it, slowly, and wait until temperatures are steady."""
        wanted = {
            "manifold_pressure_inhg": plan.manifold_pressure_inhg,
            "engine_speed_rpm": plan.engine_speed_rpm,
            "altitude_ft": plan.altitude_ft,
        }
        moved = {name: value for name, value in wanted.items() if self.script.value(name) != value}
        if moved:
            climb_s = abs(plan.altitude_ft - self.script.value("altitude_ft")) / 500.0 * 60.0
            self.script.move(max(climb_s, self.rng.uniform(6.0, 15.0)), **moved)
            self.script.hold(self.rng.uniform(90.0, 180.0))

    def _ends(self, plan: SweepPlan, setting: Setting, peaks: TruePeaks) -> tuple[float, float]:
        rich = max(peaks.flow_gph) * (1.0 + plan.rich_margin_percent / 100.0)
        lean = min(peaks.flow_gph) * (1.0 - plan.lean_margin_percent / 100.0)
        return lever_at_flow(self.engine, setting, rich), lever_at_flow(self.engine, setting, lean)

    def _flow(self, setting: Setting, lever: float) -> float:
        air = self.engine.air_ratio(self.engine.speed_ratio(np.array([lever])))
        return float(
            self.engine.fuel_flow_gph(self.engine.nominal_air_lb_h(setting), np.array([lever]), air)[0]
        )

    def _truth(
        self, plan: SweepPlan, setting: Setting, peaks: TruePeaks, began: float, ends: tuple[float, float]
    ) -> SweepTruth:
        rich, lean = (self._flow(setting, end) for end in ends)
        return SweepTruth(
            start_s=began,
            end_s=self.script.now_s,
            direction=plan.direction,
            movement=plan.movement,
            rate_gph_per_s=abs(rich - lean) / (self.script.now_s - began),
            manifold_pressure_inhg=plan.manifold_pressure_inhg,
            engine_speed_rpm=plan.engine_speed_rpm,
            altitude_ft=plan.altitude_ft,
            rich_end_gph=rich,
            lean_end_gph=lean,
            flow_at_peak_gph=peaks.flow_gph,
            flow_at_common_power_gph=peaks.flow_at_common_power_gph,
            offset_percent=peaks.offset_percent,
            offset_at_own_crossing_percent=peaks.offset_at_own_crossing_percent,
            mean_gph=peaks.mean_gph,
            spread_gph=peaks.spread_gph,
            passed=tuple(lean < flow < rich for flow in peaks.flow_gph),
        )


def shifted(sweep: SweepTruth, seconds: float) -> SweepTruth:
    """The same sweep on a clock that began later by so many seconds [s]."""
    return replace(sweep, start_s=sweep.start_s - seconds, end_s=sweep.end_s - seconds)
