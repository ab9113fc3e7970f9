"""The closed loop on the project's simulator: fly, measure, plan, fit, and look at the truth of the next flight.

::

    python -m benchmarks.closed_loop --engines 60 --first-seed 70000
    python -m benchmarks.closed_loop --engines 60 --first-seed 70000 --step-percent 2.5
    python -m benchmarks.closed_loop --engines 60 --first-seed 80000 --even

Uneven engines have a true spread of 0.6 to 2 gal/h; even ones (``--even``) one below 0.7 of the goal, and are to be left
alone. Each flight has four sweeps at two manifold pressures, with noise, gusts, lags, rates and intervals drawn as
:mod:`leanwright.simulate.draw` says. Nothing of the truth is given to the program. New nozzles lie evenly within ± 0.5
percent of what they are taken to be. Where the plan says to fly more, another flight is flown before it counts. Where it says
to look elsewhere, the checks that it asks for are made; these engines are sound, so that goes on file, and it plans again.
"""

import argparse
import itertools
import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from benchmarks.corpus import as_recording
from benchmarks.plan import Engine, least_changes
from leanwright.analysis.plan import Means, plan
from leanwright.analysis.planned import Plan
from leanwright.engine.nozzles import NEW_NOZZLE, Available, Fitted, flow_factors
from leanwright.recordings.recording import Recording
from leanwright.simulate.draw import draw_spec
from leanwright.simulate.flight import FlightSpec, simulate_flight
from leanwright.workbench.cause_files import Health
from leanwright.workbench.explain import Given, explain
from leanwright.workbench.measure import measure
from leanwright.workbench.nozzle_files import Check
from leanwright.workbench.nozzle_forms import ALL_CHECKS

Floats = NDArray[np.float64]
TOLERANCE = NEW_NOZZLE.percent / 100.0
MOST_FLIGHTS = 3
BAND = (0.85, 0.95)
BANDS = (0.0, 0.05, 0.25, 0.5, 0.7, 0.85, 0.95, 1.01)
SOUND = Health({what: Check(what, date(2031, 5, 20), sound=True) for what in ALL_CHECKS})


@dataclass
class Loop:
    """What came of one engine."""

    seed: int
    spreads_gph: list[float] = field(default_factory=list)
    goals_gph: list[float] = field(default_factory=list)
    actions: list[str] = field(default_factory=list)
    chance: float | None = None
    changes: int = 0
    least_changes: int = 0
    stated: list[tuple[float, bool]] = field(default_factory=list)
    """Chance of every choice listed in the first round, and whether it would have come true."""
    engines: list[Engine] = field(default_factory=list)
    """What was true of each flight."""

    def within(self, flight: int) -> bool:
        """Whether the true spread at a flight was within the goal."""
        return self.spreads_gph[flight] <= self.goals_gph[flight]


def fly(spec: FlightSpec, seed: int, loop: Loop | None) -> Recording:
    """Fly once; note the truth in the loop if there is one."""
    flight = simulate_flight(spec, seed)
    if loop is not None:
        truth = flight.truth
        loop.spreads_gph.append(truth.spread_gph)
        loop.goals_gph.append(0.5 * min(1.0, truth.mean_gph / 12.0))
        loop.engines.append(Engine(np.array(truth.offset_percent) / 100.0, truth.mean_gph))
    return as_recording(flight)


def go_round(
    seed: int, spread_gph: float, cylinders: int, sizes: tuple[Available, ...] | None, rounds: int
) -> Loop:
    """Measure, plan and fit so many times; the last flight only shows what came."""
    rng = np.random.Generator(np.random.PCG64([seed, 99]))
    spec = draw_spec(
        rng, cylinders=cylinders, sweeps=4, powers=2, surroundings="sweeps-only", spread_gph=spread_gph
    )
    loop = Loop(seed)
    for one in range(rounds):
        flights = [fly(spec, seed + 10 * one, loop)]
        decided = decide(flights, cylinders, sizes)
        while decided.action == "fly-more" and len(flights) < MOST_FLIGHTS:
            loop.actions.append(decided.action)
            flights.append(fly(spec, seed + 10 * one + len(flights), None))
            decided = decide(flights, cylinders, sizes)
        loop.actions.append(decided.action)
        if decided.action == "look-elsewhere":
            decided = decide(flights, cylinders, sizes, SOUND)
            loop.actions.append(decided.action)
        if one == 0:
            loop.stated = stated(decided, loop)
        if decided.action == "change" and decided.chosen is not None:
            if one == 0:
                loop.chance, loop.changes = decided.chosen.probability_within_goal, decided.chosen.changes
                loop.least_changes = least_changes(loop.engines[0], sizes)
            factors = np.array([cylinder.flow_factor for cylinder in decided.chosen.cylinders])
            spec = fitted(spec, factors, rng)
    fly(spec, seed + 10 * rounds, loop)
    return loop


def stated(decided: Plan, loop: Loop) -> list[tuple[float, bool]]:
    """What was said of each choice listed, and what nozzles within their tolerance would have made of it."""
    engine, goal = loop.engines[0], loop.goals_gph[0]
    rng = np.random.default_rng([loop.seed, 11])
    told = []
    for choice in decided.choices:
        factor = np.array([one.flow_factor for one in choice.cylinders])
        true = factor * np.where(factor != 1.0, 1.0 + rng.uniform(-TOLERANCE, TOLERANCE, factor.size), 1.0)
        flows = engine.mean_flow_gph * np.exp(engine.offset) / true * true.mean()
        told.append((choice.probability_within_goal, bool(np.ptp(flows) <= goal)))
    return told


def decide(
    flights: list[Recording],
    cylinders: int,
    sizes: tuple[Available, ...] | None,
    health: Health | None = None,
) -> Plan:
    """Measure all flights together, weigh the causes as ``leanwright plan`` does, and plan."""
    measured = measure(flights, cylinders=cylinders)
    known = () if sizes is None else tuple(Fitted(number + 1) for number in range(cylinders))
    found = explain(measured, None, Given(health=health)).causes
    means = Means(fitted=known, to_be_had=sizes, causes=found.suspected if found else ())
    return plan(measured.balance, [one.peaks for one in measured.results], means)


def fitted(spec: FlightSpec, factors: Floats, rng: np.random.Generator) -> FlightSpec:
    """The engine with the new nozzles in it."""
    error = np.where(factors != 1.0, 1.0 + rng.uniform(-TOLERANCE, TOLERANCE, factors.size), 1.0)
    new = np.array(spec.engine.nozzle_coefficients) * factors * error
    return replace(spec, engine=replace(spec.engine, nozzle_coefficients=tuple(new.tolist())))


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--engines", type=int, default=60)
    parser.add_argument("--first-seed", type=int, default=70_000)
    parser.add_argument("--seeds", type=int, nargs="+", help="look at these engines only")
    parser.add_argument("--step-percent", type=float, default=1.0)
    parser.add_argument("--even", action="store_true")
    given = parser.parse_args()
    began = time.process_time()
    seeds = given.seeds or range(given.first_seed, given.first_seed + 100 * given.engines, 100)
    loops = [one_loop(seed, given.step_percent, even=given.even) for seed in seeds]
    print(
        f"first seed {given.first_seed}, {given.engines} engines, steps of {given.step_percent} %, "
        f"{time.process_time() - began:.0f} s of processor time"
    )
    for line in told_of_even(loops) if given.even else told(loops):
        print(f"  {line}")
    for loop in loops:
        if given.seeds or (not given.even and not loop.within(1)):
            spreads = ", ".join(f"{one:.2f}" for one in loop.spreads_gph)
            came = "came" if loop.within(1) else "missed"
            print(f"  {came}: seed {loop.seed}: {', '.join(loop.actions)}; {spreads}; chance {loop.chance}")


def one_loop(seed: int, step_percent: float, *, even: bool) -> Loop:
    """Draw an engine and go its rounds."""
    cylinders = (4, 6)[seed // 100 % 2]
    draw = np.random.default_rng([seed, 7])
    goal = 0.5 if cylinders == 6 else 0.35
    spread = float(draw.uniform(0.0, 0.7) * goal) if even else float(draw.uniform(0.6, 2.0))
    sizes = None
    if step_percent != 1.0:
        everywhere = frozenset(range(1, cylinders + 1))
        sizes = flow_factors(everywhere, step_percent=step_percent, most=int(20 / step_percent))
    return go_round(seed, spread, cylinders, sizes, 1 if even else 2)


def first_actions(loops: Sequence[Loop]) -> str:
    """What was said first, counted."""
    words = [loop.actions[0] for loop in loops]
    return f"first actions: {', '.join(f'{word} {words.count(word)}' for word in sorted(set(words)))}"


def told_of_even(loops: Sequence[Loop]) -> list[str]:
    """The figures of even engines."""
    even = [loop for loop in loops if loop.spreads_gph[0] <= 0.7 * loop.goals_gph[0]]
    return [first_actions(loops), f"orders: {sum('change' in loop.actions for loop in even)} of {len(even)}"]


def told(loops: Sequence[Loop]) -> list[str]:
    """The figures of uneven engines."""
    lines = [first_actions(loops)]
    for flight in (1, 2):
        share = np.mean([loop.within(flight) for loop in loops])
        lines.append(f"within the goal after round {flight}: {100.0 * share:.1f} %")
    near = [loop.spreads_gph[1] for loop in loops if 0.75 <= loop.spreads_gph[0] <= 1.05]
    if near:
        lines.append(
            f"spread of 0.75-1.05 comes down to (median): {np.median(near):.3f} gal/h ({len(near)} engines)"
        )
    ordered = [loop for loop in loops if loop.chance is not None]
    over = np.mean([loop.changes - loop.least_changes for loop in ordered])
    lines.append(f"nozzles over the fewest with perfect knowledge: {over:+.2f} ({len(ordered)} orders)")
    for what, said in (
        ("orders", [(loop.chance or 0.0, loop.within(1)) for loop in ordered]),
        ("choices listed", [one for loop in loops for one in loop.stated]),
    ):
        sure = [one for one in said if BAND[0] <= one[0] <= BAND[1]]
        if sure:
            lines.append(
                f"of {len(sure)} {what} said {BAND[0]}-{BAND[1]} (mean {np.mean([one[0] for one in sure]):.3f}), "
                f"came true {np.mean([one[1] for one in sure]):.3f}"
            )
    lines.append(f"of {len(ordered)} orders came true {np.mean([loop.within(1) for loop in ordered]):.3f}")
    lines.append("choices listed, by the chance said: how many, mean chance, came true")
    listed = [one for loop in loops for one in loop.stated]
    for low, high in itertools.pairwise(BANDS):
        here = [one for one in listed if low <= one[0] < high]
        if here:
            chance, came = np.mean(here, axis=0)
            lines.append(f"  {low:.2f} to {min(high, 1.0):.2f}  {len(here):4d}  {chance:.3f}  {came:.3f}")
    return lines


if __name__ == "__main__":
    main()
