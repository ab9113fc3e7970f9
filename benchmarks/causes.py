"""How well causes are told on simulated engines with one fault each.

``python benchmarks/causes.py --each 12 --first-seed 30000``

Each engine is even but for its fault (spread 0 to 0.4 gal/h of six cylinders, less for four), flown in whole flights: four
sweeps at two manifold pressures and an ignition check before flight. Sizes run from barely to plainly visible
(:data:`SIZES`). A nozzle of the wrong size was always there; every other fault is new since the recordings from before.
Five ways of asking: "full" with recordings from before and a fill-up, "before" without the fill-up, "alone" without both,
"single" with one sweep only, "single-before" with one sweep, recordings from before and the fill-up. The same flights, so statements
of different ways about one engine are not independent. Where no usable sweep was found there is no answer; these are counted apart.
Seeds 30 000 to 39 999 are for development.

``python benchmarks/causes.py --troubleshooting 200`` compares the mean cost to the right cause with exact dynamic
programming and with the tests in the order in which they are listed.
"""

import argparse
import time
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from benchmarks.sweeps import as_recording
from leanwright.analysis.cause_rows import FillUp
from leanwright.analysis.causes import Causes, WeighedCause
from leanwright.analysis.measured import Measured
from leanwright.analysis.troubleshooting import TESTS, Search, best_policy_cost, exact_cost, listed_cost
from leanwright.simulate.draw import draw_spec, draw_sweeps, draw_weather
from leanwright.simulate.faults import PAIRS, WHOLE_ENGINE, Fault
from leanwright.simulate.flight import FlightSpec, simulate_flight
from leanwright.workbench.cause_files import Health
from leanwright.workbench.explain import Given, explain
from leanwright.workbench.measure import measure

SIZES: Final[Mapping[str, tuple[float, float]]] = {
    "none": (0.0, 0.0),
    "nozzle-size": (2.0, 6.0),
    "nozzle-blocked": (3.0, 15.0),
    "nozzles-exchanged": (3.0, 8.0),
    "intake-leak": (0.05, 0.11),
    "air-bleed-blocked": (15.0, 60.0),
    "plug-dead": (45.0, 75.0),
    "ignition-weak": (0.92, 0.98),
    "low-airflow": (4.0, 12.0),
    "probe-slow": (7.0, 15.0),
    "probe-dead": (0.0, 85.0),
    "probes-exchanged": (0.0, 0.0),
    "flow-misscaled": (4.0, 12.0),
}
"""Smallest and largest size of each kind; either sign for a nozzle's size and the flow reading."""
WAYS: Final = ("full", "before", "alone", "single", "single-before")
BAND: Final = (0.85, 0.95)
BANDS: Final = ((0.05, 0.15), (0.15, 0.3), (0.3, 0.5), (0.5, 0.7), (0.7, 0.85), BAND, (0.95, 1.01))
SURE: Final = 0.80


@dataclass(frozen=True)
class Case:
    """One engine: what was wrong, and what was said in each way of asking."""

    fault: Fault
    said: Mapping[str, Causes | None]
    seconds: float


def draw_fault(rng: np.random.Generator, kind: str, cylinders: int) -> Fault:
    """A fault of a kind at any cylinder."""
    low, high = SIZES[kind]
    size = float(rng.uniform(low, high))
    if kind in {"nozzle-size", "flow-misscaled"} and rng.random() < 0.5:
        size = -size
    count = 0 if kind in WHOLE_ENGINE else 2 if kind in PAIRS else 1
    places = rng.choice(cylinders, count, replace=False) + 1
    return Fault(kind, tuple(sorted(places.tolist())), size)


def fly(seed: int, kind: str) -> Case:
    """Draw one engine, fly it before and with its fault, and ask."""
    rng = np.random.default_rng(seed)
    cylinders = 4 if rng.random() < 1.0 / 3.0 else 6
    spec = draw_spec(
        rng,
        cylinders=cylinders,
        sweeps=4,
        powers=2,
        spread_gph=float(rng.uniform(0.0, 0.4)) * cylinders / 6.0,
        surroundings="whole-flight",
    )
    fault = draw_fault(rng, kind, cylinders)
    now = measured(replace(spec, faults=(fault,)), seed)
    earlier = replace(
        spec,
        sweeps=draw_sweeps(rng, 4, 2),
        weather=draw_weather(rng),
        faults=(fault,) if kind == "nozzle-size" else (),
    )
    before = measured(earlier, seed + 1_000_000)
    single = measured(replace(spec, sweeps=spec.sweeps[:1], faults=(fault,)), seed + 2_000_000)
    pump = filled(rng, (fault,))
    began = time.process_time()
    said = asked(now, before, single, pump)
    return Case(fault, said, (time.process_time() - began) / len(said))


def asked(now: Measured, before: Measured, single: Measured, pump: Given) -> Mapping[str, Causes | None]:
    """What is said of the causes in each way of asking."""
    return {
        "full": explain(now, before, pump).causes,
        "before": explain(now, before, Given()).causes,
        "alone": explain(now, None, Given()).causes,
        "single": explain(single, None, Given()).causes,
        "single-before": explain(single, before, pump).causes,
    }


def filled(rng: np.random.Generator, faults: Sequence[Fault]) -> Given:
    """A fill-up of 40 gal at the pump against what the panel counted, known to 1 percent."""
    factor = float(np.prod([1.0 + one.size / 100.0 for one in faults if one.kind == "flow-misscaled"]))
    counted = 40.0 * factor * float(np.exp(rng.normal(0.0, 0.01)))
    return Given(health=Health({}, fill_up=FillUp(40.0, counted)))


def measured(spec: FlightSpec, seed: int) -> Measured:
    return measure([as_recording(simulate_flight(spec, seed))], cylinders=spec.engine.cylinders)


def names(one: WeighedCause, fault: Fault) -> bool:
    """Whether a cause that was named is the fault, at its place."""
    return one.cause == fault.kind and one.cylinders == fault.cylinders


def is_true(one: WeighedCause, fault: Fault) -> bool:
    """Whether a cause is there as it was said; one said without a cylinder is true at any."""
    return one.cause == fault.kind and one.cylinders in {fault.cylinders, ()}


def holds(causes: Causes, fault: Fault) -> bool:
    """Whether the list holds the fault, at its place or at a place that nobody can say."""
    return any(is_true(one, fault) for one in causes.causes)


def report(cases: Sequence[Case]) -> None:
    """Print all figures."""
    for way in WAYS:
        first: dict[str, list[bool]] = defaultdict(list)
        listed: dict[str, list[bool]] = defaultdict(list)
        band, wrong_sure, lengths = [], set(), []
        mistaken: Counter[str] = Counter()
        for case in cases:
            causes = case.said[way]
            if causes is None or not causes.causes:
                mistaken[f"{case.fault.kind} -> no answer"] += 1
                continue
            top = causes.causes[0]
            right = names(top, case.fault)
            first[case.fault.kind].append(right)
            listed[case.fault.kind].append(holds(causes, case.fault))
            lengths.append(len(causes.causes))
            if not right:
                mistaken[f"{case.fault.kind} -> {top.cause}"] += 1
            for one in causes.causes:
                true = is_true(one, case.fault)
                if BAND[0] <= one.probability <= BAND[1]:
                    band.append(true)
                if one.probability > SURE and not true:
                    wrong_sure.add(id(case))
                    mistaken[
                        f"{case.fault.kind} {case.fault.cylinders}: sure of {one.cause} {one.cylinders}"
                    ] += 1
        print(f"\n{way}: {len(cases)} engines, {len(lengths)} with an answer")
        for kind in SIZES:
            if first[kind]:
                print(
                    f"  {kind:18} first {np.mean(first[kind]):.2f}  in the list {np.mean(listed[kind]):.2f}"
                    f"  of {len(first[kind])}"
                )
        all_first = [one for kind in first.values() for one in kind]
        all_listed = [one for kind in listed.values() for one in kind]
        print(f"  true cause first {np.mean(all_first):.3f}, in the list {np.mean(all_listed):.3f}")
        print(
            f"  said {BAND[0]} to {BAND[1]}: {len(band)}, true {np.mean(band) if band else float('nan'):.2f}"
        )
        print(
            f"  wrong cause above {SURE}: in {len(wrong_sure)} of {len(lengths)} engines; "
            f"mean length {np.mean(lengths):.1f}"
        )
        print(f"  mistaken: {dict(mistaken.most_common(12))}")
    print(f"\nprocessor: {np.mean([case.seconds for case in cases]):.2f} s an answer")


def calibration(cases: Sequence[Case]) -> None:
    """Print how often what was said with a chance was true, over all ways of asking; then what was said in the band, by kind."""
    said = [
        (one.probability, is_true(one, case.fault))
        for case in cases
        for causes in case.said.values()
        for one in (causes.causes if causes else ())
    ]
    print("\nall ways together: said, statements, mean chance, true")
    for low, high in BANDS:
        chances = np.array([chance for chance, _ in said if low <= chance < high])
        true = np.array([right for chance, right in said if low <= chance < high])
        if chances.size:
            print(
                f"  {low:.2f} to {min(high, 1.0):.2f}  {chances.size:4d}  {chances.mean():.3f}  {true.mean():.3f}"
            )
    in_band: dict[str, list[bool]] = defaultdict(list)
    for case in cases:
        for causes in case.said.values():
            for one in causes.causes if causes else ():
                if BAND[0] <= one.probability < BAND[1]:
                    in_band[one.cause].append(is_true(one, case.fault))
    told = (f"{cause} {sum(true)} of {len(true)}" for cause, true in sorted(in_band.items()))
    print(f"  {BAND[0]} to {BAND[1]} by what was said: {', '.join(told)}")


def troubleshoot(count: int, seed: int) -> None:
    """Mean cost to the right cause: our order, exact dynamic programming, the tests as they are listed."""
    rng = np.random.default_rng(seed)
    search = Search(tests=TESTS[:9])
    kinds = [
        "nozzle-size", "nozzle-blocked", "intake-leak", "air-bleed-blocked", "plug-dead", "ignition-weak",
        "low-airflow", "probe-slow", "probes-exchanged",
    ]  # fmt: skip
    costs = []
    for _ in range(count):
        some = rng.choice(kinds, int(rng.integers(2, 6)), replace=False).tolist()
        chances = dict(zip(some, rng.dirichlet(np.full(len(some), 1.5)).tolist(), strict=True))
        costs.append([way(chances, search) for way in (best_policy_cost, exact_cost, listed_cost)])
    ours, exact, as_listed = np.mean(costs, axis=0)
    print(f"{count} cases of 2 to 5 causes and {len(search.tests)} tests")
    print(f"mean cost: ours {ours:.2f} h, exact {exact:.2f} h, as listed {as_listed:.2f} h")
    print(f"ours over exact {ours / exact:.3f}, over listed {ours / as_listed:.3f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=12, help="engines of each kind")
    parser.add_argument("--first-seed", type=int, default=30_000)
    parser.add_argument("--kinds", nargs="*", choices=SIZES, default=list(SIZES))
    parser.add_argument("--troubleshooting", type=int, default=0, metavar="CASES")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    options = parser.parse_args()
    if options.troubleshooting:
        troubleshoot(options.troubleshooting, options.first_seed)
        return
    print(f"seeds from {options.first_seed}, {options.each} of each kind")
    kinds = options.kinds * options.each
    seeds = [
        options.first_seed + number * len(SIZES) + place
        for number in range(options.each)
        for place in range(len(options.kinds))
    ]
    with ProcessPoolExecutor(options.jobs) as pool:
        cases = list(pool.map(fly, seeds, kinds))
    report(cases)
    calibration(cases)


if __name__ == "__main__":
    main()
