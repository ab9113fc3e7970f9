"""A whole flight about the sweeps: start, ignition check, climb, ordinary leaning, cruise, descent, shut-down.

Heights, speeds and times are those of a light single-engine aircraft, invented; none is of a real type.
"""

from leanwright.simulate.air import ambient_pressure_inhg
from leanwright.simulate.pilot import Pilot, SweepPlan
from leanwright.simulate.truth import IgnitionCheck, OtherLeaning
from leanwright.simulate.virtual_engine import lever_at_flow, true_peaks

FULL_RICH = 1.30
INTAKE_LOSS_INHG = 0.8
"""Manifold pressure stands this far below ambient at full throttle (common practice)."""


def fly(pilot: Pilot, plans: tuple[SweepPlan, ...], cruise: SweepPlan, *, earlier_power_up: bool) -> None:
    """Fly from panel on to panel off; ``cruise`` is the setting flown when there is no sweep."""
    first = plans[0] if plans else cruise
    field_ft = float(pilot.rng.uniform(200.0, min(2500.0, first.altitude_ft - 1500.0)))
    _start(pilot, field_ft, earlier_power_up=earlier_power_up)
    _run_up(pilot)
    _climb(pilot, field_ft, first.altitude_ft)
    _level_off(pilot, first)
    lean_for_cruise(pilot, first)
    for number, plan in enumerate(plans):
        if number and pilot.rng.random() < 0.3:
            pilot.script.hold(pilot.rng.uniform(60.0, 200.0))
        pilot.fly_sweep(plan)
    _after_the_sweeps(pilot, plans[-1] if plans else cruise)
    _descend(pilot, field_ft)
    _land(pilot)


def _start(pilot: Pilot, field_ft: float, *, earlier_power_up: bool) -> None:
    script, rng = pilot.script, pilot.rng
    script.begin(
        manifold_pressure_inhg=12.0,
        engine_speed_rpm=1000.0,
        lever=FULL_RICH,
        altitude_ft=field_ft,
        airspeed_kt=0.0,
        running=0.0,
        ignition_1=1.0,
        ignition_2=1.0,
        boost_pump=0.0,
    )
    if earlier_power_up:
        script.hold(rng.uniform(30.0, 120.0))
        off = script.now_s
        script.hold(rng.uniform(300.0, 1500.0))
        pilot.panel_off.append((off, script.now_s))
    script.hold(rng.uniform(5.0, 20.0))
    script.move(1.0, boost_pump=1.0)
    script.hold(rng.uniform(3.0, 6.0))
    script.move(1.0, boost_pump=0.0)
    script.move(1.5, running=1.0)
    script.hold(rng.uniform(60.0, 150.0))
    script.move(5.0, engine_speed_rpm=1200.0, manifold_pressure_inhg=13.0, airspeed_kt=12.0)
    script.hold(rng.uniform(60.0, 150.0))
    script.move(5.0, airspeed_kt=0.0)


def _run_up(pilot: Pilot) -> None:
    script, rng = pilot.script, pilot.rng
    script.move(6.0, engine_speed_rpm=1750.0, manifold_pressure_inhg=16.0)
    script.hold(rng.uniform(15.0, 30.0))
    check_ignition(pilot)
    script.move(4.0, engine_speed_rpm=1000.0, manifold_pressure_inhg=12.0)
    script.hold(rng.uniform(20.0, 60.0))


def check_ignition(pilot: Pilot) -> None:
    """Each ignition alone for a while, both in between."""
    script, rng = pilot.script, pilot.rng
    for alone, other in ((1, "ignition_2"), (2, "ignition_1")):
        began = script.now_s
        script.move(0.2, **{other: 0.0})
        script.hold(rng.uniform(7.0, 14.0))
        script.move(0.2, **{other: 1.0})
        pilot.ignition_checks.append(IgnitionCheck(began, script.now_s, alone))
        script.hold(rng.uniform(6.0, 12.0))


def _full_throttle(altitude_ft: float) -> float:
    return float(ambient_pressure_inhg(altitude_ft)) - INTAKE_LOSS_INHG


def _climb(pilot: Pilot, field_ft: float, cruise_ft: float) -> None:
    script, rng = pilot.script, pilot.rng
    fixed = pilot.engine.propeller == "fixed-pitch"
    full = _full_throttle(field_ft)
    script.move(4.0, manifold_pressure_inhg=full, engine_speed_rpm=2350.0 if fixed else 2680.0)
    script.move(22.0, airspeed_kt=72.0)
    script.move(45.0, altitude_ft=field_ft + 600.0)
    power = min(full, float(rng.uniform(24.0, 26.0)))
    script.move(
        8.0, manifold_pressure_inhg=power, engine_speed_rpm=2400.0 if fixed else 2500.0, airspeed_kt=98.0
    )
    feet_a_minute = float(rng.uniform(550.0, 850.0))
    _change_height(pilot, cruise_ft, feet_a_minute, power, lever=FULL_RICH - 0.05)


def _change_height(pilot: Pilot, to_ft: float, feet_a_minute: float, power_inhg: float, lever: float) -> None:
    """In pieces of a thousand feet; the throttle gives ``power_inhg`` where the air is thick enough for it."""
    script = pilot.script
    begun_ft, began_lever = script.value("altitude_ft"), script.value("lever")
    pieces = max(1, round(abs(to_ft - begun_ft) / 1000.0))
    for piece in range(1, pieces + 1):
        height = begun_ft + (to_ft - begun_ft) * piece / pieces
        script.move(
            abs(to_ft - begun_ft) / pieces / feet_a_minute * 60.0,
            altitude_ft=height,
            manifold_pressure_inhg=min(power_inhg, _full_throttle(height)),
            lever=began_lever + (lever - began_lever) * piece / pieces,
        )


def _level_off(pilot: Pilot, plan: SweepPlan) -> None:
    script, rng = pilot.script, pilot.rng
    script.move(30.0, airspeed_kt=float(rng.uniform(118.0, 150.0)))
    script.move(
        rng.uniform(6.0, 15.0),
        manifold_pressure_inhg=plan.manifold_pressure_inhg,
        engine_speed_rpm=plan.engine_speed_rpm,
    )
    script.hold(rng.uniform(45.0, 120.0))


def lean_for_cruise(pilot: Pilot, plan: SweepPlan) -> None:
    """Ordinary leaning, which is no sweep: short of the first peak, or past it and back, or quickly past all."""
    script, rng = pilot.script, pilot.rng
    setting = pilot.setting(plan)
    flows = sorted(true_peaks(pilot.engine, setting).flow_gph, reverse=True)
    way = str(rng.choice(["short", "first-peak", "lean-side"]))
    began = script.now_s
    cruise_flow = flows[0] * float(rng.uniform(1.04, 1.12))
    if way == "first-peak" and flows[0] / flows[2] > 1.02:
        touched = lever_at_flow(pilot.engine, setting, 0.5 * (flows[0] + flows[1]) * 0.995)
        script.move(rng.uniform(25.0, 70.0), lever=touched)
        script.hold(rng.uniform(2.0, 8.0))
    elif way == "lean-side":
        cruise_flow = flows[-1] * float(rng.uniform(0.92, 0.97))
        script.move(rng.uniform(3.0, 7.0), lever=lever_at_flow(pilot.engine, setting, cruise_flow))
    script.move(rng.uniform(10.0, 40.0), lever=lever_at_flow(pilot.engine, setting, cruise_flow))
    pilot.other_leanings.append(OtherLeaning(began, script.now_s, "ordinary-leaning"))
    script.hold(rng.uniform(150.0, 420.0))


def _after_the_sweeps(pilot: Pilot, plan: SweepPlan) -> None:
    """Now and then a pull to look at the lean side, then cruise."""
    script, rng = pilot.script, pilot.rng
    if rng.random() < 0.5:
        setting = pilot.setting(plan)
        flows = true_peaks(pilot.engine, setting).flow_gph
        back = script.value("lever")
        pilot.quickly_to(lever_at_flow(pilot.engine, setting, min(flows) * 0.95), rng.uniform(2.0, 5.0))
        script.hold(rng.uniform(3.0, 10.0))
        pilot.quickly_to(back, rng.uniform(2.0, 5.0))
    if rng.random() < 0.5:
        lean_for_cruise(pilot, plan)
    script.hold(rng.uniform(60.0, 240.0))


def _descend(pilot: Pilot, field_ft: float) -> None:
    script, rng = pilot.script, pilot.rng
    began = script.now_s
    script.move(rng.uniform(4.0, 12.0), lever=1.18)
    pilot.other_leanings.append(OtherLeaning(began, script.now_s, "enriched-for-descent"))
    power = max(14.0, script.value("manifold_pressure_inhg") - float(rng.uniform(2.0, 5.0)))
    script.move(10.0, manifold_pressure_inhg=power)
    _change_height(pilot, field_ft + 1000.0, float(rng.uniform(450.0, 700.0)), power, lever=FULL_RICH)


def _land(pilot: Pilot) -> None:
    script, rng = pilot.script, pilot.rng
    script.move(20.0, manifold_pressure_inhg=15.0, engine_speed_rpm=2000.0, airspeed_kt=85.0)
    script.move(110.0, altitude_ft=script.value("altitude_ft") - 950.0)
    script.move(15.0, manifold_pressure_inhg=11.0, engine_speed_rpm=1000.0, airspeed_kt=55.0)
    script.move(25.0, altitude_ft=script.value("altitude_ft") - 50.0, airspeed_kt=12.0)
    script.hold(rng.uniform(60.0, 150.0))
    script.move(2.0, airspeed_kt=0.0)
    script.hold(rng.uniform(15.0, 40.0))
    script.move(3.0, running=0.0)
    script.hold(rng.uniform(5.0, 20.0))
