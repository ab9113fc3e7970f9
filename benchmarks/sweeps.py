"""How well sweeps are found in whole simulated flights.

``python benchmarks/sweeps.py --flights 200 --first-seed 10000``

A sweep counts as found when a sweep of the same direction overlaps it by 0.7 or more (intersection over union of the
two stretches of time). Recall is over true sweeps of 50 s and more, precision over found sweeps of 50 s and more.
Seeds 10 000 to 19 999 are for development; the final figures are run once on others.
"""

import argparse
import importlib
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from leanwright.analysis.flight import find_power_ups
from leanwright.analysis.sweep import Sweep, find_sweeps
from leanwright.quantities import QUANTITIES, UNITS
from leanwright.recordings.recording import Channel, Recording
from leanwright.simulate.draw import draw_spec
from leanwright.simulate.flight import SimulatedFlight
from leanwright.simulate.truth import SweepTruth

OVERLAP = 0.7
LONG_S = 50.0
TIMED_REPEATS = 3
NONE_AT = 7


@dataclass(frozen=True)
class Flight:
    """One flight, what is true of it, and what was found."""

    seed: int
    simulated: SimulatedFlight
    recording: Recording
    sweeps: tuple[Sweep, ...]
    processor_s: float

    @property
    def used(self) -> list[Sweep]:
        """Sweeps found."""
        return [sweep for sweep in self.sweeps if sweep.used]

    @property
    def kinds(self) -> tuple[str, ...]:
        """What to tell the figures apart by."""
        spec = self.simulated.spec
        interval = spec.recorder.interval_s
        return (
            spec.engine.propeller,
            "gusty" if spec.weather.gusty else "calm",
            f"{spec.engine.cylinders} cylinders",
            "rows <= 0.5 s" if interval <= 0.5 else "rows <= 2 s" if interval <= 2.0 else "rows >= 3 s",
        )


def as_recording(flight: SimulatedFlight) -> Recording:
    """The simulated table as the reader would give it, without the detour through a file."""
    table = flight.table
    channels = []
    for column in table.columns:
        inside = QUANTITIES[column.quantity].unit
        step = 10.0**-column.decimals
        if column.unit is not None and inside is not None:
            step *= UNITS[column.unit].factor / UNITS[inside].factor
        name = f"{column.quantity} {column.cylinder or ''}".strip()
        channels.append(
            Channel(
                name,
                column.quantity,
                column.cylinder,
                column.unit,
                "header",
                values=column.inside,
                resolution=step,
            )
        )
    rows = np.arange(table.time_s.size, dtype=np.int64)
    return Recording(
        f"seed {flight.seed}",
        "",
        table.time_s,
        rows,
        tuple(channels),
        0,
        (),
        power_up_rows=table.power_up_rows,
    )


def overlap(found: Sweep, true: SweepTruth) -> float:
    """Intersection over union, 0 where the directions differ."""
    if found.direction != true.direction:
        return 0.0
    shared = min(found.end_s, true.end_s) - max(found.start_s, true.start_s)
    return max(shared, 0.0) / (max(found.end_s, true.end_s) - min(found.start_s, true.start_s))


def fly(seed: int, simulate: Callable[..., SimulatedFlight], surroundings: str) -> Flight:
    """Draw one flight, record it, and look for its sweeps: one to four, and none in one flight of ten."""
    rng = np.random.default_rng(seed)
    count = 0 if seed % 10 == NONE_AT and surroundings == "whole-flight" else int(rng.integers(1, 5))
    powers = int(rng.integers(1, 3)) if count > 1 else 1
    spec = draw_spec(rng, sweeps=count, powers=powers, surroundings=surroundings)  # type: ignore[arg-type]  # checked by argparse
    simulated = simulate(spec, seed)
    recording = as_recording(simulated)
    seconds = []
    for _ in range(TIMED_REPEATS):
        began = time.process_time()
        sweeps = find_sweeps(recording, find_power_ups(recording))
        seconds.append(time.process_time() - began)
    return Flight(seed, simulated, recording, sweeps, min(seconds))


def match(flight: Flight) -> list[tuple[Sweep, SweepTruth, float]]:
    """Found and true sweeps in pairs, the best overlap first, each in one pair at most."""
    candidates = [(overlap(s, t), s, t) for s in flight.used for t in flight.simulated.truth.sweeps]
    pairs: list[tuple[Sweep, SweepTruth, float]] = []
    for share, sweep, true in sorted(candidates, key=lambda c: -c[0]):
        if share >= OVERLAP and all(sweep is not s and true is not t for s, t, _ in pairs):
            pairs.append((sweep, true, share))
    return pairs


def describe(sweep: Sweep) -> str:
    """One found stretch on a line."""
    said = "used" if sweep.used else f"left out: {sweep.reason.code}" if sweep.reason else ""
    return f"{sweep.start_s:.0f}-{sweep.end_s:.0f} s {sweep.direction} {said}"


def near(flight: Flight, start_s: float, end_s: float) -> str:
    """What was found about a stretch of time."""
    found = [describe(s) for s in flight.sweeps if s.end_s > start_s - 20 and s.start_s < end_s + 20]
    return "; ".join(found) or "nothing"


def table(title: str, counts: dict[str, list[int]]) -> None:
    print(f"\n{title}")
    for kind, (part, whole) in sorted(counts.items()):
        print(f"  {kind:16} {part:4d} of {whole:4d}  {part / max(whole, 1):.3f}")


def percentiles(values: Sequence[float]) -> str:
    shown = " ".join(f"{p:+.1f}" for p in np.percentile(values, [5, 25, 50, 75, 95]))
    return f"5/25/50/75/95 %: {shown} s; median size {np.median(np.abs(values)):.2f} s"


def report(flights: Iterable[Flight], *, verbose: bool) -> None:
    """Print all figures."""
    recall: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    precision: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    starts: dict[str, list[float]] = defaultdict(list)
    ends: dict[str, list[float]] = defaultdict(list)
    reasons: Counter[str] = Counter()
    wrong_way = false_finds = 0
    for flight in flights:
        pairs = match(flight)
        for true in flight.simulated.truth.sweeps:
            long = true.end_s - true.start_s >= LONG_S
            hit = any(true is t for _, t, _ in pairs)
            for kind in (
                ("all", true.movement, true.direction, *flight.kinds) if long else ("shorter than 50 s",)
            ):
                recall[kind][0] += hit
                recall[kind][1] += 1
            if long and not hit and verbose:
                told = f"{true.start_s:.0f}-{true.end_s:.0f} s {true.direction} {true.movement}"
                print(
                    f"missed {flight.seed}: {told} {flight.kinds}; found {near(flight, true.start_s, true.end_s)}"
                )
        for sweep in flight.used:
            hit = any(sweep is s for s, _, _ in pairs)
            for kind in (
                ("all", sweep.direction, *flight.kinds)
                if sweep.end_s - sweep.start_s >= LONG_S
                else ("shorter than 50 s",)
            ):
                precision[kind][0] += hit
                precision[kind][1] += 1
            touching = [
                t
                for t in flight.simulated.truth.sweeps
                if t.start_s < sweep.end_s and t.end_s > sweep.start_s
            ]
            false_finds += not touching
            wrong_way += not hit and bool(touching) and all(t.direction != sweep.direction for t in touching)
            if not hit and verbose:
                truths = [f"{t.start_s:.0f}-{t.end_s:.0f} s {t.direction}" for t in touching]
                others = [
                    f"{o.kind} {o.start_s:.0f}-{o.end_s:.0f}"
                    for o in flight.simulated.truth.other_leanings
                    if o.start_s < sweep.end_s + 20 and o.end_s > sweep.start_s - 20
                ]
                print(f"false {flight.seed}: {describe(sweep)} {flight.kinds}; true {truths}; other {others}")
        reasons.update(s.reason.code for s in flight.sweeps if s.reason)
        for sweep, true, _ in pairs:
            for kind in ("all", true.movement):
                starts[kind].append(sweep.start_s - true.start_s)
                ends[kind].append(sweep.end_s - true.end_s)
    table("recall: true sweeps of 50 s and more that were found", recall)
    table("precision: found sweeps of 50 s and more that are true", precision)
    print(f"\nfinds that touch no true sweep: {false_finds}; finds in the wrong direction: {wrong_way}")
    for kind, errors in starts.items():
        print(f"start {kind:9} {percentiles(errors)}")
        print(f"end   {kind:9} {percentiles(ends[kind])}")
    print("left out:", dict(reasons.most_common()))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--flights", type=int, default=200)
    parser.add_argument("--first-seed", type=int, default=10_000)
    parser.add_argument("--surroundings", choices=("whole-flight", "sweeps-only"), default="whole-flight")
    parser.add_argument(
        "--simulator",
        default="leanwright.simulate.flight",
        help="module with simulate_flight(spec, seed); leanwright.simulate.second for the second simulator",
    )
    parser.add_argument("--verbose", action="store_true", help="tell each sweep missed and each false one")
    options = parser.parse_args()
    simulate = importlib.import_module(options.simulator).simulate_flight
    seeds = range(options.first_seed, options.first_seed + options.flights)
    print(f"{options.simulator}, {options.surroundings}, seeds {seeds[0]} to {seeds[-1]}")
    flights = [fly(seed, simulate, options.surroundings) for seed in seeds]
    report(flights, verbose=options.verbose)
    hours = sum(flight.recording.duration_s for flight in flights) / 3600.0
    rows = sum(flight.recording.rows_kept for flight in flights)
    seconds = sum(flight.processor_s for flight in flights)
    print(
        f"processor: {1e3 * seconds / len(flights):.2f} ms a flight, {1e3 * seconds / hours:.2f} ms an hour recorded, "
        f"{3.6e6 * seconds / rows:.2f} ms for 3600 rows; {hours:.1f} h, {rows} rows"
    )


if __name__ == "__main__":
    main()
