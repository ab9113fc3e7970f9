"""The whole way, from the bytes of a file to the answer, on simulated recordings whose truth is known.

::

    python -m benchmarks.answers --recordings 240 --first-seed 0
    python -m benchmarks.answers --recordings 240 --first-seed 0 --simulator second

Layouts, engines, noise, rates, intervals and resolutions are drawn as :mod:`benchmarks.corpus` says; a third of the flights hold
one sweep, a third a leaning and an enriching one, a third four sweeps at two manifold pressures. Nothing of the truth
is given to the program: it reads the file, finds the sweeps, and answers. Every ``--spread`` adds a block of flights
with that true spread [gal/h].
"""

import argparse
import time
from collections import defaultdict
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from io import BytesIO

import numpy as np

from benchmarks.corpus import Simulator, as_file, corpus
from leanwright.analysis.balance import Verdict
from leanwright.analysis.measured import RecordingResult
from leanwright.recordings.read import read_recording
from leanwright.recordings.recording import Floats, Recording
from leanwright.simulate.flight import SimulatedFlight
from leanwright.workbench.measure import measure

SWEEPS = {"one sweep": (1, 1), "a pair": (2, 1), "four, two powers": (4, 2)}


@dataclass(frozen=True)
class Case:
    """What came of one recording."""

    seed: int
    kinds: tuple[str, ...]
    channels_wrong: tuple[str, ...]
    true_spread_gph: float
    spread_gph: float | None
    u_spread_gph: float | None
    interval_gph: tuple[float, float] | None
    goal_gph: float
    probability: float | None
    verdict: Verdict
    all_peaked: bool
    offset_errors: tuple[float, ...]
    highest_row_errors: tuple[float, ...]
    """The same, had somebody picked the row with the highest EGT of each cylinder in each sweep."""
    u_offsets: tuple[float, ...]
    sweeps_used: int
    true_sweeps: int
    processor_s: float


def answer(seed: int, kind: str, simulator: Simulator, spread_gph: float | None) -> Case:
    """Simulate one flight, answer it, and compare."""
    sweeps, powers = SWEEPS[kind]
    (flight,) = corpus(1, seed, sweeps=sweeps, powers=powers, simulator=simulator, spread_gph=spread_gph)
    name, rendered = as_file(flight)
    began = time.process_time()
    recording = read_recording(BytesIO(rendered.data), name=name)
    measured = measure([recording])
    spent = time.process_time() - began
    balance, truth = measured.balance, flight.truth
    having = [c for c in balance.cylinders if c.offset_percent is not None and c.cylinder <= truth.cylinders]
    numbers = [c.cylinder for c in having]
    true = np.array([truth.offset_percent[n - 1] for n in numbers])
    found = np.array([c.offset_percent for c in having], dtype=float)
    errors = found - (true - true.mean()) if numbers else found
    by_row = _highest_rows(measured.results, numbers) - (true - true.mean()) if numbers else found
    return Case(
        seed=seed,
        kinds=(
            "all",
            kind,
            "gusty" if truth.gusty else "calm",
            f"{truth.cylinders} cylinders",
            *_noise(flight),
        ),
        channels_wrong=tuple(_wrong_channels(recording, rendered.channels)),
        true_spread_gph=truth.spread_gph,
        spread_gph=balance.spread_gph,
        u_spread_gph=balance.u_spread_gph,
        interval_gph=balance.spread_interval95_gph,
        goal_gph=balance.goal_gph,
        probability=balance.probability_within_goal,
        verdict=balance.verdict,
        all_peaked=len(having) == truth.cylinders,
        offset_errors=tuple(errors.tolist()),
        highest_row_errors=tuple(by_row.tolist()),
        u_offsets=tuple(c.u_offset_percent or 0.0 for c in having),
        sweeps_used=sum(sweep.used for result in measured.results for sweep in result.sweeps),
        true_sweeps=sum(s.end_s - s.start_s >= 50.0 for s in truth.sweeps),
        processor_s=spent,
    )


def _highest_rows(results: Sequence[RecordingResult], numbers: Sequence[int]) -> Floats:
    """Offsets [percent] by the fuel flow in the row where each EGT reads highest, averaged over the sweeps used."""
    offsets = []
    for result in results:
        recording, flow = result.recording, result.recording.values("fuel_flow")
        for sweep in result.sweeps:
            rows = (recording.time_s >= sweep.start_s - 5.0) & (recording.time_s <= sweep.end_s + 5.0)
            egts = [recording.values("egt", number) for number in numbers]
            if (
                not sweep.used
                or flow is None
                or any(e is None or not np.isfinite(e[rows]).any() for e in egts)
            ):
                continue
            tops = [np.log(flow[rows][np.nanargmax(e[rows])]) for e in egts if e is not None]
            offsets.append(100.0 * (np.array(tops) - np.mean(tops)))
    return np.mean(offsets, axis=0) if offsets else np.zeros(len(numbers))


def _noise(flight: SimulatedFlight) -> tuple[str, ...]:
    spec = flight.spec
    return (f"layout {spec.layout}", spec.engine.propeller, f"rows every {spec.recorder.interval_s:g} s")


def _wrong_channels(recording: Recording, truths: Iterable[object]) -> Iterable[str]:
    """Columns whose meaning, cylinder or unit is not what it is."""
    found = [(c.column, c.quantity, c.cylinder, c.unit) for c in recording.channels]
    for channel, want in zip(found, truths, strict=False):
        wanted = tuple(getattr(want, key) for key in ("column", "quantity", "cylinder", "unit"))
        # A unit that the file does not say may be left open where two fit: null is an honest answer.
        open_unit = channel[3] is None and not getattr(want, "unit_in_file", True)
        if channel[:3] != wanted[:3] or (channel[3] != wanted[3] and not open_unit):
            yield f"{channel} is {wanted}"


def _rows(cases: list[Case]) -> Iterable[str]:
    groups: dict[str, list[Case]] = defaultdict(list)
    for case in cases:
        for kind in case.kinds:
            groups[kind].append(case)
    for name, members in groups.items():
        errors = np.concatenate([c.offset_errors for c in members])
        u = np.concatenate([c.u_offsets for c in members])
        told = [c for c in members if c.spread_gph is not None and c.all_peaked]
        miss = np.array([(c.spread_gph or 0.0) - c.true_spread_gph for c in told])
        inside = [c.interval_gph[0] <= c.true_spread_gph <= c.interval_gph[1] for c in told if c.interval_gph]
        if not errors.size or not told:
            yield f"{name:24s} {len(members):4d}  no answer"
            continue
        by_row = np.concatenate([c.highest_row_errors for c in members])
        ratio = np.abs(errors) / np.maximum(u, 1e-9)
        yield (
            f"{name:24s} {len(members):4d} "
            f"{np.sqrt(np.mean(errors**2)):7.3f} {np.median(np.abs(errors)):7.3f} {np.percentile(np.abs(errors), 95):7.3f} "
            f"{np.sqrt(np.nanmean(by_row**2)):8.3f} {np.mean(ratio < 1):6.2f} {np.mean(ratio < 2):6.2f} "
            f"{np.mean(miss):+8.4f} {np.sqrt(np.mean(miss**2)):7.4f} {np.mean(inside):6.2f} "
            f"{1e3 * np.mean([c.processor_s for c in members]):7.0f}"
        )


def _verdicts(cases: list[Case]) -> Iterable[str]:
    clear = [
        c for c in cases
        if c.spread_gph is not None and abs(c.true_spread_gph - c.goal_gph) > 2 * (c.u_spread_gph or 0.0)
    ]  # fmt: skip
    right = [c for c in clear if c.verdict == ("even" if c.true_spread_gph < c.goal_gph else "uneven")]
    reverse = [
        c for c in cases
        if (c.verdict == "even" and c.true_spread_gph > c.goal_gph)
        or (c.verdict == "uneven" and c.true_spread_gph < c.goal_gph)
    ]  # fmt: skip
    yield f"verdict right where the true spread is more than 2u from the goal: {len(right)} of {len(clear)}"
    yield f"even said for uneven, or the reverse: {len(reverse)} of {len(cases)} (seeds {[c.seed for c in reverse]})"
    for low, high in ((0.0, 0.05), (0.05, 0.15), (0.15, 0.5), (0.5, 0.85), (0.85, 0.95), (0.95, 1.0)):
        said = [c for c in cases if c.spread_gph is not None and low <= (c.probability or 0.0) <= high]
        true = [c for c in said if c.true_spread_gph <= c.goal_gph]
        yield f"  chance of being within the goal said {low:.2f} to {high:.2f}: {len(true)} of {len(said)} are"
    none = [c.seed for c in cases if c.spread_gph is None]
    yield f"no answer: {len(none)} of {len(cases)} (seeds {none})"
    short = [c.seed for c in cases if c.sweeps_used < c.true_sweeps]
    yield f"fewer sweeps used than flown: {len(short)} (seeds {short})"
    wrong = [(c.seed, c.channels_wrong) for c in cases if c.channels_wrong]
    yield f"recordings with a channel misread: {len(wrong)}"
    for seed, what in wrong[:20]:
        yield f"  seed {seed}: {'; '.join(what[:4])}"


def main() -> None:
    """Answer all recordings and print the table."""
    parser = argparse.ArgumentParser(description="From bytes to answers, compared with the truth.")
    parser.add_argument("--recordings", type=int, default=240)
    parser.add_argument("--first-seed", type=int, default=10_000)
    parser.add_argument("--simulator", choices=("first", "second"), default="first")
    parser.add_argument("--spread", type=float, action="append", default=[])
    parser.add_argument("--processes", type=int, default=2)
    wanted = parser.parse_args()
    blocks: list[float | None] = [None, *wanted.spread]
    with ProcessPoolExecutor(wanted.processes) as pool:
        for block, spread in enumerate(blocks):
            first = wanted.first_seed + block * wanted.recordings
            seeds = range(first, first + wanted.recordings)
            kinds = list(SWEEPS)
            jobs = [pool.submit(answer, s, kinds[s % 3], wanted.simulator, spread) for s in seeds]
            cases = [job.result(timeout=120) for job in jobs]
            print(f"\n{wanted.simulator} simulator, seeds {first} to {first + wanted.recordings - 1}, "
                  f"true spread {'as drawn' if spread is None else f'{spread} gal/h'}")  # fmt: skip
            print(f"{'':24s} {'n':>4s} {'rms %':>7s} {'median':>7s} {'p95':>7s} {'by row':>8s} {'<u':>6s} {'<2u':>6s} "
                  f"{'bias gph':>8s} {'rms':>7s} {'in 95':>6s} {'cpu ms':>7s}")  # fmt: skip
            for row in _rows(cases):
                print(row)
            for line in _verdicts(cases):
                print(line)
            if spread is not None:
                told = [c for c in cases if c.spread_gph is not None and c.all_peaked]
                bias = np.mean([(c.spread_gph or 0.0) - c.true_spread_gph for c in told])
                print(f"bias at {spread} where every cylinder peaked: {bias:+.4f} gal/h")


if __name__ == "__main__":
    main()
