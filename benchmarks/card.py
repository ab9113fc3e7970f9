"""Whether the card's prediction comes true: fly once, make the card from that, fly by it, look at the uncertainty it gave.

::

    python -m benchmarks.card --engines 60 --first-seed 520000

Engines, weather and recorders are drawn as :mod:`leanwright.simulate.draw` says. The first flight has two or four sweeps of
any pace and any margins; the second is flown by the card, in the same kind of weather, the lever twice as fast through
the tops. Seeds 500 000 to 527 900 are for development.
"""

import argparse
from dataclasses import replace

import numpy as np

from benchmarks.corpus import as_recording
from leanwright.analysis.flight_card import (
    BRISK_TIMES,
    LEAN_MARGIN,
    RICH_MARGIN,
    CardSweep,
    FlightCard,
    flight_card,
)
from leanwright.analysis.measured import Measured
from leanwright.simulate.draw import draw_spec
from leanwright.simulate.flight import FlightSpec, simulate_flight
from leanwright.simulate.pilot import SweepPlan
from leanwright.workbench.measure import measure

WITHIN = 0.2


def flown(spec: FlightSpec, seed: int) -> Measured:
    """One flight, measured."""
    return measure([as_recording(simulate_flight(spec, seed))], cylinders=spec.engine.cylinders)


def by_card(spec: FlightSpec, card: FlightCard, rng: np.random.Generator) -> FlightSpec:
    """The same engine in the same kind of weather, flown by the card."""

    def plan(one: CardSweep) -> SweepPlan:
        first = spec.sweeps[0]
        pressure = one.manifold_pressure_inhg or first.manifold_pressure_inhg
        return replace(
            first,
            direction=one.direction,
            movement=str(rng.choice(["smooth", "steps", "hesitant"])),  # type: ignore[arg-type]  # one of the names
            rate_gph_per_s=card.rate_gph_per_s,
            manifold_pressure_inhg=round(pressure, 1),
            rich_margin_percent=100.0 * RICH_MARGIN,
            lean_margin_percent=100.0 * LEAN_MARGIN,
            rest_before_s=30.0,
            rest_after_s=30.0,
            return_s=None,
            brisk_times=BRISK_TIMES,
        )

    return replace(spec, sweeps=tuple(plan(one) for one in card.sweeps))


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--engines", type=int, default=60)
    parser.add_argument("--first-seed", type=int, default=520_000)
    parser.add_argument("--u-spread", type=float)
    given = parser.parse_args()
    ratios, from_nothing, lacking = [], [], 0
    for number in range(given.engines):
        seed = given.first_seed + 100 * number
        rng = np.random.default_rng([seed, 3])
        sweeps = (2, 4)[number // 2 % 2]
        spec = draw_spec(
            rng,
            cylinders=(4, 6)[number % 2],
            sweeps=sweeps,
            powers=sweeps // 2,
            spread_gph=float(rng.uniform(0.2, 1.5)),
        )
        card = flight_card(flown(spec, seed), given.u_spread)
        came = flown(by_card(spec, card, rng), seed + 1).balance.u_spread_gph
        if came is None or not card.sweeps_before:
            lacking += 1
            continue
        ratios.append(came / card.expected_u_spread_gph)
        nothing = flight_card(None, given.u_spread)
        from_nothing.append(came * np.sqrt(len(card.sweeps) / len(nothing.sweeps)))
    whole, plain = np.array(ratios), np.array(from_nothing)
    low, high = flight_card(None, given.u_spread).likely_u_spread_gph
    print(f"first seed {given.first_seed}, {given.engines} engines, {lacking} without an answer")
    print(
        f"  came over predicted: median {np.median(whole):.2f}, 5-95 % {np.percentile(whole, [5, 95]).round(2)}"
    )
    near = np.abs(1.0 / whole - 1.0) <= WITHIN
    print(f"  predicted within +- 20 % of what came: {100 * np.mean(near):.1f} % of {whole.size}")
    print(f"  from nothing, within {low:.3f} to {high:.3f}: {100 * np.mean((plain >= low) & (plain <= high)):.0f} %, "
          f"median {np.median(plain):.4f} gal/h")  # fmt: skip


if __name__ == "__main__":
    main()
