"""How well a plan does on made-up engines whose truth is known: measure, plan, fit, and look at the true spread.

::

    python -m benchmarks.plan --engines 200 --seed 1
    python -m benchmarks.plan --engines 200 --seed 1 --step-percent 2.5

Uneven engines of four and six cylinders are drawn with a true spread of 0.6 to 2 gal/h, in the three shapes of
:mod:`benchmarks.spread`, measured with a random, correlated covariance (``--u-percent`` an offset, all sweeps together),
planned for, and fitted with new nozzles whose flow lies evenly within ± 0.5 % of what it is taken to be. Where the plan
says to fly more, more is flown before it counts as a round. Then the same with even engines (true spread below 0.7
of the goal), which are to be left alone; and with engines whose response to a change is not 1, which is learned.
"""

import argparse
import itertools
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from benchmarks.spread import SHAPES, Shape, covariance
from leanwright.analysis.balance import Balance, balance
from leanwright.analysis.compare import Prediction, compare
from leanwright.analysis.peak import CylinderPeak, Peaks, SweepPeaks
from leanwright.analysis.plan import Means, plan
from leanwright.analysis.plan_search import Problem, closest, options_at
from leanwright.analysis.planned import Action, Plan
from leanwright.analysis.response import AS_PROMISED, Response
from leanwright.analysis.sweep import Sweep
from leanwright.engine.nozzles import NEW_NOZZLE, Available, Fitted, flow_factors

Floats = NDArray[np.float64]

MEAN_FLOW_GPH = {4: 10.0, 6: 13.0}
SWEEPS = 4
BANDS = (0.0, 0.05, 0.5, 0.85, 0.95, 1.0)
TOLERANCE = NEW_NOZZLE.percent / 100.0


@dataclass
class Engine:
    """A made-up engine: true offsets [1], its mean flow [gal/h], and how far a change shows."""

    offset: Floats
    mean_flow_gph: float
    response: float = 1.0

    @property
    def spread_gph(self) -> float:
        """Largest less smallest true flow at peak [gal/h]."""
        return float(np.ptp(self.mean_flow_gph * np.exp(self.offset)))

    @property
    def goal_gph(self) -> float:
        """The goal at its true mean flow [gal/h]."""
        return 0.5 * min(1.0, self.mean_flow_gph * float(np.exp(self.offset.mean())) / 12.0)

    def fit(self, factors: Floats, rng: np.random.Generator) -> None:
        """Change nozzles; each new one lies somewhere within its tolerance."""
        changed = factors != 1.0
        true = factors * np.where(changed, 1.0 + rng.uniform(-TOLERANCE, TOLERANCE, factors.size), 1.0)
        self.offset = self.offset - self.response * np.log(true) + np.log(true.mean())


@dataclass
class Case:
    """What came of one engine."""

    before_gph: float
    goal_gph: float
    after_gph: list[float] = field(default_factory=list)
    chance: float | None = None
    changes: int = 0
    least_changes: int = 0
    actions: list[str] = field(default_factory=list)
    errors: list[Floats] = field(default_factory=list)
    """predicted less true offset of the changed cylinders [percent], a round"""
    seconds: float = 0.0


def draw(rng: np.random.Generator, cylinders: int, spread_gph: float, response: float = 1.0) -> Engine:
    """An engine with this true spread."""
    shape: Shape = SHAPES[int(rng.integers(len(SHAPES)))]
    if shape == "normal":
        pattern = rng.normal(size=cylinders)
    elif shape == "uniform":
        pattern = rng.uniform(size=cylinders)
    else:
        pattern = 0.2 * rng.normal(size=cylinders)
        pattern[rng.integers(cylinders)] += rng.choice([-2.0, 2.0])
    pattern -= pattern.mean()
    mean = MEAN_FLOW_GPH[cylinders]
    return Engine(np.log(1.0 + pattern * spread_gph / np.ptp(pattern) / mean), mean, response)


def measure(rng: np.random.Generator, engine: Engine, sweeps: int, u: float) -> Peaks:
    """Peaks of so many sweeps, ``u`` [1] an offset of all of ``SWEEPS`` sweeps together."""
    cylinders = engine.offset.size
    each = u * np.sqrt(SWEEPS)
    whole = covariance(rng, cylinders, sweeps, each)
    truth = np.log(engine.mean_flow_gph) + engine.offset
    values = rng.multivariate_normal(np.tile(truth, sweeps), whole, method="cholesky")
    kinds = [
        Sweep(0.0, 150.0, "enriching" if one % 2 else "leaning", True, None, 22.0, 2300.0, 6500.0)
        for one in range(sweeps)
    ]
    return Peaks(
        tuple(
            SweepPeaks(
                kind,
                tuple(
                    CylinderPeak(i + 1, "peaked", float(np.exp(values[one * cylinders + i])), each)
                    for i in range(cylinders)
                ),
            )
            for one, kind in enumerate(kinds)
        ),
        tuple((one, i + 1) for one in range(sweeps) for i in range(cylinders)),
        values,
        whole,
        {"reading-noise": whole},
    )


def decide(
    rng: np.random.Generator, engine: Engine, u: float, means: Means, sweeps: int = SWEEPS
) -> tuple[Plan, Balance, list[Action]]:
    """Measure and plan; fly more where the plan says so, twice at most."""
    flown = [measure(rng, engine, sweeps, u)]
    actions: list[Action] = []
    for _ in range(3):
        found = balance(flown)
        decided = plan(found, flown, means)
        actions.append(decided.action)
        if decided.action != "fly-more" or decided.next_flight is None:
            break
        flown.append(measure(rng, engine, decided.next_flight.sweeps, u))
    return decided, found, actions


def run(
    rng: np.random.Generator,
    engine: Engine,
    u: float,
    sizes: tuple[Available, ...] | None,
    rounds: int,
    *,
    learn: bool,
) -> Case:
    """Go round so many times."""
    case = Case(engine.spread_gph, engine.goal_gph)
    case.least_changes = least_changes(engine, sizes)
    response: Response = AS_PROMISED
    for one in range(rounds):
        # With a set named, the fitted nozzles count as exactly known: the steps are on what is fitted, as in a set
        # whose own bench flows are used.
        means = Means(
            to_be_had=sizes, response=response if learn else AS_PROMISED, fitted=known(engine, sizes)
        )
        began = time.process_time()
        decided, found, actions = decide(rng, engine, u, means)
        case.seconds = max(case.seconds, (time.process_time() - began) / len(actions))
        case.actions += actions
        factors = np.ones(engine.offset.size)
        if decided.action == "change" and decided.chosen is not None:
            factors = np.array([one.flow_factor for one in decided.chosen.cylinders])
            if one == 0:
                case.chance = decided.chosen.probability_within_goal
                case.changes = decided.chosen.changes
        engine.fit(factors, rng)
        case.after_gph.append(engine.spread_gph)
        if decided.action == "change" and decided.chosen is not None:
            predicted = np.array([one.predicted_offset_percent or 0.0 for one in decided.chosen.cylinders])
            true = 100.0 * (engine.offset - engine.offset.mean())
            case.errors.append((predicted - true)[factors != 1.0])
            if learn:
                after = balance([measure(rng, engine, SWEEPS, u)])
                promised = Prediction(
                    {one.cylinder: one.flow_factor for one in decided.chosen.cylinders},
                    {one.cylinder: one.u_flow_percent for one in decided.chosen.cylinders},
                )
                response = compare(found, after, promised, response).response or response
    return case


def known(engine: Engine, sizes: tuple[Available, ...] | None) -> tuple[Fitted, ...]:
    """The nozzles fitted, each the standard one and exactly known."""
    return () if sizes is None else tuple(Fitted(i + 1) for i in range(engine.offset.size))


def least_changes(engine: Engine, sizes: tuple[Available, ...] | None) -> int:
    """The fewest changes that would do with perfect knowledge of the engine and of the nozzles."""
    count = engine.offset.size
    to_be_had = flow_factors(frozenset(range(1, count + 1))) if sizes is None else sizes
    options, quantity = options_at([Fitted(i + 1) for i in range(count)], to_be_had, relative=True)
    problem = Problem(engine.offset, engine.offset, np.full(count, 1.0 / count), options, quantity)
    if engine.spread_gph <= engine.goal_gph:
        return 0
    for changes in range(1, count + 1):
        for chosen in closest(problem, changes, 1):
            factor = np.array([rows[place].factor for rows, place in zip(options, chosen, strict=True)])
            flows = engine.mean_flow_gph * factor.mean() * np.exp(engine.offset) / factor
            if np.ptp(flows) <= engine.goal_gph:
                return changes
    return count


def steps(step_percent: float, cylinders: int) -> tuple[Available, ...] | None:
    """Sizes to be had; ``None`` for the built-in steps of 1 percent."""
    if step_percent == 1.0:
        return None
    return flow_factors(
        frozenset(range(1, cylinders + 1)), step_percent=step_percent, most=int(20 / step_percent)
    )


def told(cases: Sequence[Case]) -> list[str]:
    """The figures of uneven engines."""
    within = [
        np.mean([one.after_gph[number] <= one.goal_gph for one in cases])
        for number in range(len(cases[0].after_gph))
    ]
    ordered = [one for one in cases if one.chance is not None]
    near = [one for one in cases if 0.8 <= one.before_gph <= 1.0]
    sure = [one for one in ordered if 0.85 <= (one.chance or 0.0) <= 0.95]
    over = np.mean([one.changes - one.least_changes for one in ordered])
    fallen = np.median([one.after_gph[0] for one in near]) if near else np.nan
    stated = np.mean([one.chance or 0.0 for one in ordered])
    true = np.mean([one.after_gph[0] <= one.goal_gph for one in ordered])
    lines = [
        f"  within the goal after rounds 1, 2, ...: {', '.join(f'{100 * one:.1f} %' for one in within)}",
        f"  nozzles over the fewest with perfect knowledge: {over:+.2f}",
        f"  spread of 0.8-1.0 comes down to (median): {fallen:.3f} gal/h ({len(near)} engines)",
        f"  stated chance, mean {stated:.3f}, came true {true:.3f} ({len(ordered)} orders)",
        f"  slowest plan {max(one.seconds for one in cases):.2f} s of processor time",
    ]
    if sure:
        came = np.mean([one.after_gph[0] <= one.goal_gph for one in sure])
        lines.insert(4, f"  of those said 0.85-0.95: {100 * came:.1f} % came true ({len(sure)} orders)")
    flown = sum(one.actions.count("fly-more") for one in cases)
    lines.append(f"  first actions: {count(one.actions[0] for one in cases)}; said to fly more {flown} times")
    return lines


def calibration(
    rng: np.random.Generator, engines: int, u: float, sizes: Callable[[int], tuple[Available, ...] | None]
) -> list[str]:
    """Stated chance against what came true, over every choice that is listed for engines measured once."""
    stated, true = [], []
    for number in range(engines):
        cylinders = (4, 6)[number % 2]
        engine = draw(rng, cylinders, float(rng.uniform(0.6, 2.0)))
        flown = [measure(rng, engine, SWEEPS, u)]
        found = balance(flown)
        means = Means(to_be_had=sizes(cylinders), fitted=known(engine, sizes(cylinders)))
        for choice in plan(found, flown, means).choices[1:]:
            fitted = replace(engine)
            fitted.fit(np.array([one.flow_factor for one in choice.cylinders]), rng)
            stated.append(choice.probability_within_goal)
            true.append(fitted.spread_gph <= found.goal_gph)
    chance, came = np.array(stated), np.array(true)
    lines = []
    for low, high in itertools.pairwise(BANDS):
        band = (chance >= low) & ((chance < high) | (high == 1.0))
        if band.any():
            lines.append(
                f"  chance {low:.2f}-{high:.2f}: {band.sum():4d} choices, stated {chance[band].mean():.3f}, "
                f"came true {came[band].mean():.3f}"
            )
    return lines


def count(actions: object) -> str:
    found = list(actions)  # type: ignore[call-overload]  # any iterable of words
    return ", ".join(f"{word} {found.count(word)}" for word in sorted(set(found)))


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--engines", type=int, default=200)
    parser.add_argument("--u-percent", type=float, default=0.1)
    parser.add_argument("--step-percent", type=float, default=1.0)
    parser.add_argument("--only", choices=["uneven", "even", "response", "calibration"])
    given = parser.parse_args()
    u = given.u_percent / 100.0
    print(
        f"seed {given.seed}, {given.engines} engines, u {given.u_percent} %, steps of {given.step_percent} %"
    )
    if given.only in {None, "uneven"}:
        rng = np.random.default_rng([given.seed, 1])
        cases = []
        for number in range(given.engines):
            cylinders = (4, 6)[number % 2]
            engine = draw(rng, cylinders, float(rng.uniform(0.6, 2.0)))
            cases.append(run(rng, engine, u, steps(given.step_percent, cylinders), 2, learn=False))
        print("uneven engines", *told(cases), sep="\n")
    if given.only in {None, "even"}:
        rng = np.random.default_rng([given.seed, 2])
        even = []
        for number in range(given.engines):
            cylinders = (4, 6)[number % 2]
            goal = draw(rng, cylinders, 0.01).goal_gph
            engine = draw(rng, cylinders, float(rng.uniform(0.0, 0.7)) * goal)
            even.append(run(rng, engine, u, steps(given.step_percent, cylinders), 1, learn=False))
        print(
            "even engines",
            f"  orders: {sum('change' in one.actions for one in even)} of {len(even)}",
            sep="\n",
        )
    if given.only in {None, "calibration"}:
        rng = np.random.default_rng([given.seed, 4])
        print("every choice listed")
        lines = calibration(rng, given.engines, u, lambda cylinders: steps(given.step_percent, cylinders))
        print("\n".join(lines))
    if given.only in {None, "response"}:
        for learn in (False, True):
            rng = np.random.default_rng([given.seed, 3])
            cases = []
            for number in range(given.engines):
                cylinders = (4, 6)[number % 2]
                response = float(rng.normal(1.0, 0.15))
                engine = draw(rng, cylinders, float(rng.uniform(0.6, 2.0)), response)
                cases.append(run(rng, engine, u, steps(given.step_percent, cylinders), 3, learn=learn))
            rms = [
                np.sqrt(
                    np.mean(
                        np.concatenate([one.errors[number] for one in cases if len(one.errors) > number]) ** 2
                    )
                )
                for number in range(2)
            ]
            print(
                f"response drawn about 1 with 0.15, {'learned' if learn else 'not learned'}: rms prediction error "
                f"of changed cylinders {rms[0]:.3f} % in round 1, {rms[1]:.3f} % in round 2, ratio {rms[1] / rms[0]:.2f}"
            )


if __name__ == "__main__":
    main()
