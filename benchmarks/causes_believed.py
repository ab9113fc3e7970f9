"""Whether what is said of causes comes true as often as it says, on engines drawn from what the program believes.

::

    python -m benchmarks.causes_believed --engines 300 --first-seed 2300000

A chance is right only for the engines that it speaks of. Here they are those of ``analysis.cause_priors``: each cause with the
chance that is believed of it, several at once or none, new or always so, in the sizes believed, cylinders that
scatter as a sound engine's, uneven intakes, and an engine that is a little different on each day. Noise, weather, lags, heights and
recorders are the simulator's, not the priors'.
Asked in the ways of :mod:`benchmarks.causes`; one flight gives many statements, so they are not independent: the interval is drawn
from whole engines. A cause said without a cylinder is true where any cylinder has it. Seeds 30 000 to 39 999 are for development.
"""

import argparse
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from benchmarks.causes import BANDS, SIZES, SURE, asked, filled, measured
from leanwright.analysis.cause_models import CAUSES_AT_ONE, SLOTS, TWICE
from leanwright.analysis.cause_priors import DEFAULT, Priors, Scatter
from leanwright.analysis.causes import Causes, WeighedCause
from leanwright.simulate.draw import REFERENCE, draw_spec, draw_sweeps, draw_weather
from leanwright.simulate.faults import LIMITS, Fault
from leanwright.simulate.virtual_engine import VirtualEngine, with_offsets

OF_SIMULATOR: Final = ("ignition-weak", "probe-dead")
"""Kinds whose believed size is in another unit than the simulator's: drawn from ``SIZES``."""
DRAWS: Final = 2000


@dataclass(frozen=True)
class Believed:
    """One engine: all that was wrong with it, and what was said in each way of asking."""

    faults: tuple[Fault, ...]
    said: Mapping[str, Causes | None]


def draw_size(rng: np.random.Generator, kind: str, priors: Priors) -> float:
    """A size as it is believed, in the simulator's unit."""
    if kind in OF_SIMULATOR:
        return float(rng.uniform(*SIZES[kind]))
    pieces = priors.sizes[kind]
    low, high = LIMITS[kind]
    while True:
        piece = pieces[rng.choice(len(pieces), p=[one.weight for one in pieces])]
        size = float(rng.normal(piece.mean, piece.sd))
        if kind == "air-bleed-blocked":
            size *= 100.0
        elif kind == "probe-slow":
            size = priors.scatter.usual_lag_s * float(np.exp(size))
        elif kind == "nozzles-exchanged":
            size = abs(size)
        if low < size <= high:
            return size


def draw_faults(rng: np.random.Generator, cylinders: int, priors: Priors) -> tuple[tuple[Fault, bool], ...]:
    """What is wrong with an engine, and whether it is new: as believed."""
    numbers = range(1, cylinders + 1)
    found: list[tuple[Fault, bool]] = []
    taken: set[tuple[str, int, bool]] = set()

    def put(kind: str, places: tuple[int, ...]) -> None:
        new = bool(rng.random() < priors.new[kind])
        slot = SLOTS.get(kind, "mixture")
        if len(places) == 1:
            place = (slot, places[0], new and slot in TWICE)
            if place in taken:
                return
            taken.add(place)
        size = 0.0 if kind == "probes-exchanged" else draw_size(rng, kind, priors)
        found.append((Fault(kind, places, size), new))

    uneven = priors.share_of_uneven * priors.chances["nozzle-size"]
    is_uneven = rng.random() < uneven
    for kind in CAUSES_AT_ONE:
        chance = priors.chances[kind]
        if kind == "nozzle-size":
            chance = (chance - uneven) / (1.0 - uneven)
        each = 1.0 - (1.0 - chance) ** (1.0 / cylinders)
        if kind == "nozzle-size" and is_uneven:
            each = priors.wrong_in_uneven
        for number in numbers:
            if rng.random() < each:
                put(kind, (number,))
    for kind in ("nozzles-exchanged", "probes-exchanged", "flow-misscaled"):
        if rng.random() < priors.chances[kind]:
            pair = tuple(sorted((rng.choice(cylinders, 2, replace=False) + 1).tolist()))
            put(kind, () if kind == "flow-misscaled" else pair)
    return tuple(found)


def on_a_day(rng: np.random.Generator, engine: VirtualEngine, scatter: Scatter) -> VirtualEngine:
    """The same engine as it is on one day: off its usual self as much as is believed."""
    n = engine.cylinders

    def each(values: Sequence[float], percent: float) -> tuple[float, ...]:
        return tuple((np.array(values) * np.exp(rng.normal(0.0, percent / 100.0, n))).tolist())

    def whole(percent: float) -> float:
        return float(np.exp(rng.normal(0.0, percent / 100.0)))

    air = np.array(each(engine.air_shares, scatter.offset_between_days_percent))
    pressure = whole(scatter.pressure_between_days_percent / 2.0)
    return replace(
        engine,
        air_shares=tuple((air / air.sum()).tolist()),
        nozzle_coefficients=tuple(one * pressure for one in engine.nozzle_coefficients),
        peak_egt_f=tuple(
            one + float(rng.normal(0.0, scatter.height_between_days_df)) for one in engine.peak_egt_f
        ),
        probe_lag_s=each(engine.probe_lag_s, 100.0 * scatter.log_lag_between_days),
        cht_rise_f=each(engine.cht_rise_f, scatter.head_between_days_percent),
        volumetric_efficiency=engine.volumetric_efficiency * whole(scatter.level_between_days_percent),
    )


def fly(seed: int, priors: Priors = DEFAULT) -> Believed:
    """Draw one engine, fly it before and with what is new, and ask."""
    rng = np.random.default_rng([seed, 17])
    cylinders = 4 if rng.random() < 1.0 / 3.0 else 6
    shares, scatters = zip(*priors.scatter.offsets_percent, strict=True)
    sound = rng.normal(0.0, rng.choice(scatters, p=shares), cylinders)
    spec = draw_spec(
        rng,
        cylinders=cylinders,
        sweeps=4,
        powers=2,
        spread_gph=0.0,
        surroundings="whole-flight",
    )
    drawn = draw_faults(rng, cylinders, priors)
    days = np.random.default_rng([seed, 18])
    faults = tuple(fault for fault, _ in drawn)
    usual = with_offsets(spec.engine, REFERENCE, tuple(sound.tolist()))
    spec = replace(spec, engine=on_a_day(days, usual, priors.scatter))
    earlier = replace(
        spec,
        engine=on_a_day(days, usual, priors.scatter),
        sweeps=draw_sweeps(rng, 4, 2),
        weather=draw_weather(rng),
        faults=tuple(fault for fault, new in drawn if not new),
    )
    now = measured(replace(spec, faults=faults), seed)
    before = measured(earlier, seed + 1_000_000)
    single = measured(replace(spec, sweeps=spec.sweeps[:1], faults=faults), seed + 2_000_000)
    pump = filled(rng, faults)
    return Believed(faults, asked(now, before, single, pump))


def is_true(one: WeighedCause, faults: Sequence[Fault]) -> bool:
    """Whether a cause is there as it was said; without a cylinder, at any."""
    if one.cause == "none":
        return not faults
    return any(fault.kind == one.cause and one.cylinders in {fault.cylinders, ()} for fault in faults)


def statements(case: Believed) -> Iterator[tuple[str, WeighedCause, bool]]:
    """All that was said of an engine: way, cause, and whether it was true."""
    for way, causes in case.said.items():
        for one in causes.causes if causes else ():
            yield way, one, is_true(one, case.faults)


def calibration(cases: Sequence[Believed]) -> list[str]:
    """How often what was said with a chance was true, with 95 percent of 2000 draws of whole engines."""
    rng = np.random.default_rng(1)
    lines = ["said, statements, mean chance, true (95 % of draws of whole engines)"]
    for low, high in BANDS:
        told = np.zeros((len(cases), 3))
        for place, case in enumerate(cases):
            for _, one, true in statements(case):
                if low <= one.probability < high:
                    told[place] += (1.0, one.probability, true)
        count, chance, true = told.sum(axis=0)
        if not count:
            continue
        again = told[rng.integers(len(cases), size=(DRAWS, len(cases)))].sum(axis=1)
        share = again[:, 2] / np.maximum(again[:, 0], 1.0)
        edges = np.percentile(share, [2.5, 97.5])
        lines.append(
            f"{low:.2f} to {min(high, 1.0):.2f}  {count:5.0f}  {chance / count:.3f}  {true / count:.3f}"
            f"  ({edges[0]:.2f} to {edges[1]:.2f})"
        )
    return lines


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--engines", type=int, default=100)
    parser.add_argument("--first-seed", type=int, default=38_000)
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    parser.add_argument("--list", action="store_true", help="print what was said above 0.8 and is not true")
    given = parser.parse_args()
    seeds = range(given.first_seed, given.first_seed + given.engines)
    with ProcessPoolExecutor(given.jobs) as pool:
        cases = list(pool.map(fly, seeds))
    sound = sum(not case.faults for case in cases)
    print(f"first seed {given.first_seed}, {given.engines} engines, {sound} of them sound, "
          f"{np.mean([len(case.faults) for case in cases]):.2f} causes an engine")  # fmt: skip
    for line in calibration(cases):
        print(f"  {line}")
    for seed, case in zip(seeds if given.list else (), cases, strict=False):
        for way, one, true in statements(case):
            if one.probability > SURE and not true:
                print(
                    f"  {seed} {way}: {one.cause} {one.cylinders} {one.probability:.3f}; there is {case.faults}"
                )


if __name__ == "__main__":
    main()
