"""Many small made scenes, drawn once from a seed: levers, flights, checks of the ignition, and choices of nozzles."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.flight import find_power_ups, why_no_flight
from leanwright.analysis.ground_run import find_ground_runs
from leanwright.analysis.health_cruise import find_cruise, silent_shares
from leanwright.analysis.ignition_check import find_ignition_checks
from leanwright.analysis.lean_flank import lean_flanks
from leanwright.analysis.plan_search import Problem, closest, options_at
from leanwright.analysis.probe_gaps import probe_gaps
from leanwright.analysis.sweep import find_moves, find_sweeps, why_no_sweep
from leanwright.engine.nozzles import Available, Fitted, Tolerance, flow_factors
from leanwright.recordings.recording import Recording
from tests.analysis.scene import Lever, cruise, recording

Floats = NDArray[np.float64]
Result = dict[str, object]
LEVERS, FLIGHTS, SEARCHES = 40, 16, 24


def drawn_lever(rng: np.random.Generator) -> Lever:
    """A hand that pulls, waits, goes on in steps or slowly, comes back, now and then too quickly or too little."""
    lever = Lever(float(rng.uniform(13.0, 15.0)))
    lever.rest(float(rng.uniform(15.0, 80.0)))
    for _ in range(int(rng.integers(1, 4))):
        lean, rich = float(rng.uniform(9.8, 11.6)), float(rng.uniform(13.0, 15.0))
        way = int(rng.integers(6))
        if way == 0:
            lever.move(lean, float(rng.uniform(40.0, 200.0)))
        elif way == 1:
            lever.steps(lean, int(rng.integers(5, 15)), float(rng.uniform(6.0, 30.0)))
        elif way == 2:  # a quick approach, a rest, and the rest of the way
            lever.move(float(rng.uniform(12.4, 13.2)), float(rng.uniform(1.0, 6.0)))
            lever.rest(float(rng.uniform(4.0, 30.0)))
            lever.move(lean, float(rng.uniform(40.0, 120.0)))
        elif way == 3:
            lever.move(float(rng.uniform(11.5, 12.5)), float(rng.uniform(20.0, 60.0)))
            lever.rest(float(rng.uniform(5.0, 60.0)))
            lever.move(lean, float(rng.uniform(20.0, 60.0)))
        elif way == 4:
            lever.move(lean, float(rng.uniform(2.0, 9.0)))
        else:
            lever.move(float(rng.uniform(12.3, 13.2)), float(rng.uniform(20.0, 80.0)))
        lever.rest(float(rng.uniform(5.0, 60.0)))
        lever.move(rich, float(rng.choice([3.0, 8.0, 60.0, 120.0])))
        lever.rest(float(rng.uniform(20.0, 60.0)))
    return lever


def of_levers() -> Result:
    """Movements, sweeps and what is left out of each hand."""
    found: Result = {}
    for number in range(LEVERS):
        rng = np.random.default_rng(4000 + number)
        step = [0.1, None, 0.05, 0.2][number % 4]
        flight = cruise(drawn_lever(rng), float(rng.choice([0.5, 1.0, 2.0, 4.0, 6.0])), number, step)
        power_ups = find_power_ups(flight)
        moves = find_moves(flight, power_ups)
        sweeps = find_sweeps(flight, power_ups, moves=moves)
        found[f"lever-{number}"] = {
            "movements": [one.movements for one in moves],
            "sweeps": sweeps,
            "why": why_no_sweep(flight, power_ups, sweeps, moves=moves),
            "flanks": lean_flanks(flight, sweeps),
        }
    return found


def drawn_flight(number: int) -> Recording:
    """Ground, climb, cruise, descent, now and then with a channel missing, checks of the ignition and a silent probe."""
    rng = np.random.default_rng(5000 + number)
    ends = np.cumsum([0.0, *rng.uniform([120, 20, 30, 300, 400, 200, 60], [300, 60, 90, 700, 900, 500, 200])])
    high = float(rng.uniform(2500.0, 9000.0))
    time = np.arange(0.0, ends[-1], float(rng.choice([1.0, 2.0, 3.0])))

    def path(*values: float) -> Floats:
        return np.interp(time, ends, values)

    run_up = (time > ends[1]) & (time < ends[2])
    speed = np.where(run_up, 1750.0, path(900, 1000, 1000, 2550, 2350, 2300, 1900, 900))
    pressure = np.where(run_up, 15.5, path(11, 12, 12, 26, 22, 21, 15, 11))
    altitude = path(400, 400, 400, 420, high, high, 600, 400) + 4.0 * rng.standard_normal(time.size)
    flow = path(1.8, 2.0, 2.0, 17.0, 12.5, 12.0, 7.0, 1.8) + 0.03 * rng.standard_normal(time.size)
    start = ends[1] + 5.0
    alone = sum(((time > at) & (time < at + 9.0)).astype(np.float64) for at in (start, start + 20.0))
    egt = {}
    for cylinder in range(1, 7):
        rise = -400.0 if cylinder == 3 and number % 3 == 0 else 45.0 + 3.0 * cylinder
        warm = path(900, 1000, 1000, 1380, 1420, 1430, 1200, 900) + 12.0 * cylinder
        egt[cylinder] = np.round(warm + alone * rise + 1.5 * rng.standard_normal(time.size))
    if number % 4 == 1:
        egt[5][(time > ends[4]) & (time < ends[4] + 120.0)] = np.nan
    channels = {
        "fuel_flow": np.maximum(flow, 0.0), "engine_speed": np.round(speed, -1) - 60.0 * (np.asarray(alone) > 0),
        "manifold_pressure": pressure, "altitude": altitude,
        "indicated_airspeed": path(0, 8, 5, 90, 135, 140, 80, 5),
        "outside_air_temperature": 60.0 - altitude / 300.0,
    }  # fmt: skip
    for missing in [(), ("altitude",), ("manifold_pressure",), ("indicated_airspeed", "altitude")][
        number // 4 % 4
    ]:
        del channels[missing]
    return recording(time, egt, **channels)


def of_flights() -> Result:
    """Phases, runs, checks, cruise and silent probes of each."""
    found: Result = {}
    for number in range(FLIGHTS):
        flight = drawn_flight(number)
        power_ups = find_power_ups(flight)
        found[f"flight-{number}"] = {
            "phases": power_ups,
            "no-flight": why_no_flight(flight, power_ups),
            "runs": find_ground_runs(flight, power_ups),
            "checks": find_ignition_checks(flight, []),
            "cruise": find_cruise(flight, power_ups, [(0.0, 400.0)]),
            "silent": silent_shares(flight, power_ups),
            "gaps": probe_gaps(flight, find_sweeps(flight, power_ups)),
        }
    return found


def of_searches() -> Result:
    """The closest choices of each drawn engine, with as many changes as are asked for."""
    found: Result = {}
    for number in range(SEARCHES):
        rng = np.random.default_rng(6000 + number)
        count = int(rng.choice([4, 6]))
        everywhere = frozenset(range(1, count + 1))
        fitted = [
            Fitted(n, f"F{n}", float(rng.choice([0.97, 1.0, 1.02])), Tolerance(0.5), everywhere)
            for n in everywhere
        ]
        to_be_had = (
            flow_factors(everywhere, step_percent=2.0, most=4)
            if number % 2
            else (
                Available("A", 1.03, Tolerance(0.5), everywhere, 1, "shelf"),
                Available("B", 0.96, Tolerance(0.3), frozenset({1, 2, 4}), 2),
                Available("C", 1.05, Tolerance(0.3, "normal"), everywhere),
            )
        )
        options, quantity = options_at(fitted, to_be_had, relative=bool(number % 2))
        likely = 0.03 * rng.standard_normal(count)
        flows = np.array([one.flow for one in fitted])
        problem = Problem(
            likely=likely,
            measured=likely + 2.5,
            coefficient=flows / flows.sum(),
            options=options,
            quantity=quantity,
            response=float(rng.choice([1.0, 0.7])),
            band=0.01,
            others=0.0,
        )
        found[f"search-{number}"] = {
            "options": options if number < 4 else None,
            "quantity": quantity,
            "found": [closest(problem, changes, 5) for changes in range(count + 1)],
        }
    return found


SCENES: dict[str, Callable[[], Result]] = {
    "made-levers": of_levers, "made-flights": of_flights, "made-searches": of_searches,
}  # fmt: skip
