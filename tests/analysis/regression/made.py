"""Balances of made peaks, and plans from them, that go through the ways in which no flight above goes."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from leanwright.analysis.balance import Balance, balance, sweep_spreads, withheld
from leanwright.analysis.compare import Prediction, compare
from leanwright.analysis.payback import Prices
from leanwright.analysis.peak import CylinderPeak, Peaks
from leanwright.analysis.plan import Means, plan
from leanwright.analysis.plan_trial import place_name, tried
from leanwright.analysis.planned import Suspected
from leanwright.analysis.response import Response
from leanwright.analysis.sweep import Sweep
from leanwright.engine.nozzle_set import fitted_of_set
from leanwright.engine.nozzles import Available, Fitted, Tolerance
from leanwright.engine.profile import by_rows, opposed, unplaced
from leanwright.findings import Statement
from tests.analysis.made_peaks import made_peaks as plainly
from tests.analysis.made_peaks import made_sweep, random_covariance
from tests.analysis.plan_scene import TWO_OUT
from tests.analysis.regression.plain import parts

Result = dict[str, object]
ALL = frozenset(range(1, 7))
LEANING, ENRICHING = made_sweep(), made_sweep("enriching")
LOW, UNKNOWN, UNUSED = made_sweep(pressure=17.5), made_sweep(pressure=None), made_sweep(used=False)
FOUR = (12.0, 12.3, 11.8, 12.1)


def not_reached(number: int, bound: float, side: str) -> CylinderPeak:
    return CylinderPeak(number, "not-reached", bound_gph=bound, bound_side=side)  # type: ignore[arg-type]  # one of the two sides


def unclear(number: int, low: float, high: float) -> CylinderPeak:
    return CylinderPeak(number, "unclear", possible_gph=(low, high), reason=Statement("at-the-end"))


def silent(number: int) -> CylinderPeak:
    return CylinderPeak(number, "no-signal", reason=Statement("too-few-readings", {"kept_percent": 3.0}))


def made_peaks(
    flows: Sequence[Sequence[float]],
    u: float = 0.001,
    sweeps: Sequence[Sweep] = (),
    absent: Mapping[tuple[int, int], CylinderPeak] | None = None,
    statements: Sequence[Statement] = (),
) -> Peaks:
    """Peaks whose covariance is like that of no other, so that its axes are the same on every processor."""
    size = sum(map(len, flows)) - len(absent or {})
    whole = random_covariance(size, size, u)
    return plainly(flows, sweeps=sweeps, absent=absent, covariance=whole, statements=statements)


def flown(
    flows: Sequence[float], *, sweeps: int = 4, u: float = 0.001, absent: Sequence[int] = ()
) -> tuple[Balance, list[Peaks]]:
    """A balance of so many sweeps, and its peaks."""
    both = [(LEANING, ENRICHING)[one % 2] for one in range(sweeps)]
    lost = {
        (sweep, number): CylinderPeak(number, "no-signal") for sweep in range(sweeps) for number in absent
    }
    peaks = [made_peaks([flows] * sweeps, u, both, lost)]
    return balance(peaks, cylinders=len(flows)), peaks


def rows(count: int, flows: Sequence[float] = FOUR, share: float = 1.0) -> list[list[float]]:
    """The same flows in so many sweeps, a little apart from one to the next."""
    return [[share * flow * (1.0 + 0.0007 * (sweep * k % 3 - 1)) for k, flow in enumerate(flows, 1)] for sweep in range(count)]  # fmt: skip


def balances() -> dict[str, list[Peaks]]:
    """Peaks of every kind that a balance is made of."""
    both = [LEANING, ENRICHING]
    return {
        "one-sweep": [made_peaks(rows(1))],
        "two-ways": [made_peaks(rows(2), 0.002, both)],
        "leaning-and-enriching-apart": [made_peaks([FOUR, [11.8, 12.3, 12.0, 12.1]], 0.002, both)],
        "two-powers": [made_peaks([*rows(2), *rows(2, share=0.8)], 0.001, [LEANING, ENRICHING, LOW, LOW])],
        "differs-with-power": [made_peaks([*rows(2), *rows(2, (9.6, 9.84, 9.8, 9.68))], 0.001, [LEANING, ENRICHING, LOW, LOW])],
        "unknown-power": [made_peaks(rows(2), 0.001, [UNKNOWN, UNKNOWN])],
        "one-not-used": [made_peaks(rows(3), 0.001, [LEANING, UNUSED, ENRICHING])],
        "two-recordings": [made_peaks(rows(2)), made_peaks(rows(2, share=0.97))],
        "two-recordings-apart": [made_peaks(rows(2)), made_peaks(rows(2, (12.0, 12.3, 12.1, 12.1)))],
        "two-engines": [made_peaks(rows(2, TWO_OUT)), made_peaks(rows(2, (12.5, 11.6, 12.0, 12.4, 12.2, 11.5)))],
        "less-sure": [made_peaks(rows(2), 0.004)],
        "sweeps-scatter": [made_peaks([FOUR, [12.2, 12.2, 11.7, 12.1], [11.9, 12.4, 11.9, 12.0]])],
        "below": [made_peaks(rows(2), 0.001, both, {(s, 3): not_reached(3, 11.7 + 0.05 * s, "below") for s in (0, 1)})],
        "above": [made_peaks(rows(2), 0.001, both, {(s, 2): not_reached(2, 12.2 + 0.05 * s, "above") for s in (0, 1)})],
        "far-below": [made_peaks(rows(2), 0.001, both, {(s, 3): not_reached(3, 10.2, "below") for s in (0, 1)})],
        "closed": [made_peaks(rows(2), 0.001, both, {(0, 3): not_reached(3, 12.0, "below"), (1, 3): not_reached(3, 11.7, "above")})],
        "contradicting": [made_peaks(rows(2), 0.001, both, {(0, 3): not_reached(3, 11.5, "below"), (1, 3): not_reached(3, 12.0, "above")})],
        "unclear": [made_peaks(rows(2), 0.001, both, {(s, 4): unclear(4, 11.9, 12.2 + 0.1 * s) for s in (0, 1)})],
        "unclear-and-not-reached": [made_peaks(rows(2), 0.001, both, {(0, 4): unclear(4, 11.9, 12.2), (1, 4): not_reached(4, 12.1, "below")})],
        "silent": [made_peaks(rows(2), 0.001, both, {(s, 1): silent(1) for s in (0, 1)})],
        "silent-once": [made_peaks(rows(2), 0.001, both, {(0, 1): silent(1)})],
        "all-but-one": [made_peaks(rows(1), absent={(0, n): silent(n) for n in (1, 2, 3)})],
        "none": [made_peaks(rows(1), absent={(0, n): unclear(n, 11.0, 13.0) for n in (1, 2, 3, 4)})],
        "none-at-two-powers": [made_peaks(rows(2), 0.001, [LEANING, LOW], {(1, n): not_reached(n, 9.5, "below") for n in (1, 2, 3, 4)})],
        "not-together": [made_peaks(rows(2), 0.001, both, {**{(0, n): silent(n) for n in (1, 2)}, **{(1, n): silent(n) for n in (3, 4)}})],
        "poorly-described": [made_peaks(rows(2), statements=(Statement("poorly-described", {"enlarged_by_percent": 30.0}),))],
        "very-even": [made_peaks(rows(4, (12.0, 12.001, 12.0, 11.999)))],
        "high-flows": [made_peaks(rows(2, (22.0, 22.4, 21.8, 22.1)))],
    }  # fmt: skip


def balanced() -> Result:
    """The whole answer to each."""
    found: Result = {}
    for name, peaks in balances().items():
        found[name] = {
            "answer": balance(peaks, cylinders=4),
            "spreads": [sweep_spreads(one) for one in peaks],
        }
    uneven = balance(balances()["two-ways"], goal_gph=0.8, cylinders=6)
    return found | {"goal-and-more-cylinders": uneven, "withheld": withheld(balance(balances()["very-even"]))}


def shapes() -> dict[str, Means]:
    """What can be done, in every way that a plan knows."""
    tight = Tolerance(0.1, "normal")
    fitted = tuple(Fitted(n, f"N{n}", {3: 0.976, 5: 1.024}.get(n, 1.0), tight, ALL) for n in sorted(ALL))
    steps = tuple(
        Available(f"S{step:+d}", 1.0 + step / 100.0, Tolerance(0.5), ALL) for step in (-8, -4, 4, 8)
    )
    prices = Prices(40.0, 60.0, 8.0, 100.0, 12.0, "money")
    return {
        "factors": Means(),
        "exchange": Means(fitted, (Available("N-105", 1.05, tight, ALL),)),
        "steps": Means(tuple(Fitted(n) for n in sorted(ALL)), steps, prices=prices, fitted_assumed=True),
        "shelf": Means(to_be_had=(Available("B", 1.04, tight, frozenset({3}), 1, "shelf"), Available("C", 0.96, tight, ALL, 1))),
        "none-helps": Means(to_be_had=(Available("B", 1.04, Tolerance(0.5), frozenset({1, 2})),)),
        "learned": Means(response=Response(0.6, 0.05, 2)),
        "carburetted": Means(fuel_system="carburetted"),
        "not-sound": Means(not_sound=("compression", "plugs")),
        "leak": Means(causes=(Suspected("intake-leak", 0.88, (3,)), Suspected("nozzle-size", 0.1, (3,)))),
        "open": Means(causes=(Suspected("intake-leak", 0.45, (3,)), Suspected("nozzle-size", 0.41, (3,)))),
        "little-air": Means(causes=(Suspected("low-airflow", 0.6, (3,)), Suspected("nozzle-size", 0.2, (3,)))),
        "exchanged": Means(causes=(Suspected("nozzles-exchanged", 0.6, (3, 5)),)),
    }  # fmt: skip


ENGINES: Mapping[str, tuple[tuple[float, ...], int, float]] = {
    "two-out": (TWO_OUT, 4, 0.001),
    "uncertain": (TWO_OUT, 2, 0.03),
    "one-sweep": (TWO_OUT, 1, 0.001),
    "near-the-goal": ((12.25, 11.8, 12.2, 11.82, 12.0, 11.9), 2, 0.005),
    "far-out": ((12.0, 12.0, 13.0, 12.0, 12.8, 11.2), 4, 0.002),
    "even": ((12.0, 12.05, 12.1, 11.95, 12.02, 12.0), 4, 0.001),
    "hardly-out": ((12.0, 12.0, 12.28, 12.0, 11.76, 12.0), 3, 0.006),
}


def planned(scene: str) -> Result:
    """A plan for an engine with each of the means."""
    flows, sweeps, u = ENGINES[scene]
    answer, peaks = flown(flows, sweeps=sweeps, u=u)
    usual = {"factors", "steps", "little-air"}
    return {
        name: plan(answer, peaks, means)
        for name, means in shapes().items()
        if name in usual or scene == "two-out"
    }


def odd_plans() -> Result:
    """Where something speaks against a plan that the balance alone would allow."""
    answer, peaks = flown(TWO_OUT)
    power = Statement(
        "offsets-differ-between-powers",
        {"cylinder": 3, "difference_percent": 3.0, "u_difference_percent": 0.2, "probability": 0.0,
         "manifold_pressure_high_inhg": 24.0, "manifold_pressure_low_inhg": 18.0},
    )  # fmt: skip
    mixed = replace(flown(TWO_OUT, absent=sorted(ALL))[0], reasons=(Statement("mixed-engines", {}),))
    split, split_peaks = flown(TWO_OUT, sweeps=2)
    moved = (
        split_peaks[0].log_flow
        + np.where(np.arange(12) == 2, 0.04, 0.0)
        - np.where(np.arange(12) == 8, 0.04, 0.0)
    )
    return {
        "differs-with-power": plan(replace(answer, reasons=(*answer.reasons, power)), peaks),
        "mixed": plan(mixed, []),
        "no-peak": plan(*flown(TWO_OUT, absent=sorted(ALL))),
        "missing": plan(*flown(TWO_OUT, absent=[2])),
        "split": plan(split, [replace(split_peaks[0], log_flow=moved)]),
    }  # fmt: skip


def trials_and_comparisons() -> Result:
    """Trials that a rule refuses, and what came of a change that was planned."""
    answer, peaks = flown(TWO_OUT)
    means = shapes()
    placed = {
        "exchange": {3: "from 5", 5: "from 3", 1: "order N-105"},
        "steps": {3: "order S+4", 5: "order S-4", 2: "order nothing"},
        "shelf": {3: "shelf B", 5: "shelf B", 1: "order C", 2: "order C"},
        "factors": {3: "factor 1.0500", 5: "factor 0.9500", 6: "factor 2.0000"},
        "learned": {3: "from 4", 4: "from 4"},
    }
    tries = {name: tried(answer, means[name], what) for name, what in placed.items()}
    best = plan(answer, peaks).chosen
    assert best is not None
    promised = Prediction(
        {one.cylinder: one.flow_factor for one in best.cylinders}, {3: 0.3, 5: 0.3}, 0.2, 0.06
    )
    after = {
        "as-promised": (12.0, 12.05, 12.0, 11.95, 12.0, 12.0),
        "not-changed": (12.0, 12.05, 12.6, 11.95, 12.0, 12.0),
        "exchanged": (12.0, 12.05, 13.2, 11.95, 10.9, 12.0),
        "another-cylinder": (12.6, 12.05, 12.0, 11.95, 12.0, 12.0),
        "another-power": (9.0, 9.04, 9.0, 8.96, 9.0, 9.0),
    }
    comparisons = {name: _compared(answer, flows, promised) for name, flows in after.items()}
    fewer = compare(answer, flown(TWO_OUT, absent=[2, 4])[0])
    return {
        "names": [place_name(one) for one in best.cylinders],
        "tried": tries,
        "compared": comparisons,
        "fewer": parts(fewer, "before", "after"),
        "fitted": fitted_of_set([Fitted(2, "X", 1.02), Fitted(4, None, 0.98, Tolerance(1.0))], None, opposed(4)),
        "profiles": [by_rows([(4, 1), (5, 2), (6, 3)]), by_rows([(None, 2), (1, None)], (1, 2)), unplaced(5), opposed(8)],
    }  # fmt: skip


def _compared(before: Balance, flows: Sequence[float], promised: Prediction) -> object:
    found = compare(before, flown(flows, sweeps=3)[0], promised, Response(0.95, 0.08, 1))
    return parts(found, "before", "after")
