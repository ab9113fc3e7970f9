"""Simulated years of an engine, watched: false alarms, how late a fault is found, its cause and its date.

``python -m benchmarks.watch`` flies histories, writes each flight as a file, reads it back and follows them in order of time;
every second engine gets one fault that begins somewhere. Nothing of the truth is given to the program. ``--engines``,
``--flights`` and ``--first-seed`` choose the histories, ``--workers`` the processes; ``--years`` the clean engine-years of residuals
that go through the charts alone, beside what the Markov chain says of them, ``--whole-years`` those that go the whole way,
``--years-seed`` their draws. ``--evidence`` keeps what each flight showed in a folder,
and takes it from there when it is asked again: for trying other charts on the same flights.
"""

import argparse
import json
import multiprocessing
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from leanwright.analysis.chart import Design, cusum_run_length
from leanwright.analysis.health import Seen
from leanwright.analysis.health_cruise import Cruise
from leanwright.analysis.trend import FLIGHTS_A_YEAR, chart_design, follow
from leanwright.simulate.faults import Fault
from leanwright.simulate.flight import simulate_flight
from leanwright.simulate.history import draw_history, flights_of
from leanwright.simulate.write import write_flight
from leanwright.workbench.watch import Event, watch_rows
from leanwright.workbench.watch_file import evidence_of_file
from leanwright.workbench.watch_order import in_order

Floats = NDArray[np.float64]
KINDS: Final = (
    ("nozzle-blocked", 3.0), ("nozzle-blocked", 6.0), ("plug-dead", 55.0), ("probe-dead", 0.0), ("intake-leak", 0.09),
    ("flow-misscaled", 6.0),
)  # fmt: skip
WITHIN: Final = {
    ("nozzle-blocked", 3.0): 10, ("nozzle-blocked", 6.0): 3, ("plug-dead", 55.0): 1, ("probe-dead", 0.0): 1
}  # fmt: skip
"""Within how many flights it is to be found, the first with the fault counted."""
ONSET: Final = 3


@dataclass(frozen=True, slots=True)
class Told:
    """What came of one history. ``delay`` counts flights with the fault until it was known; 0: never."""

    seed: int
    fault: Fault | None
    begins: int
    false_alarms: int
    clean_flights: int
    delay: int
    cause: str | None
    onset_off: int | None


def fault_of(seed: int, flights: int) -> tuple[Fault | None, int]:
    """Every second engine gets one fault, the kinds in turn, somewhere from the first fifth to the last."""
    if seed % 2 == 0:
        return None, 0
    rng = np.random.Generator(np.random.PCG64([seed, 79]))
    kind, size = KINDS[(seed // 2) % len(KINDS)]
    cylinders = () if kind == "flow-misscaled" else (int(rng.integers(1, 7)),)
    return Fault(kind, cylinders, size), int(rng.integers(flights // 5, 4 * flights // 5))


class Flights(Mapping[str, Path]):
    """The recordings of one history by name; each is flown and written when it is asked for."""

    def __init__(self, seed: int, flights: int, folder: Path) -> None:
        fault, begins = fault_of(seed, flights)
        self._seed, self._folder = seed, folder
        self._specs = list(flights_of(draw_history(seed, flights, fault, begins), seed))
        self._written: dict[str, Path] = {}

    def __len__(self) -> int:
        return len(self._specs)

    def __iter__(self) -> Iterator[str]:
        return (f"flight-{number:03d}.csv" for number in range(len(self._specs)))

    def __getitem__(self, name: str) -> Path:
        if name not in self._written:
            stem = name.removesuffix(".csv")
            number = int(stem.rpartition("-")[2])
            flight = simulate_flight(self._specs[number], 1000 * self._seed + number)
            self._written[name] = write_flight(flight, self._folder, stem)[0]
        return self._written[name]


def evidence_of(flights: Flights, kept: Path | None) -> list[dict[str, Any]]:
    """What each flight of a history shows, read from its file; taken from ``kept`` if it is there."""
    if kept is not None and kept.is_file():
        return [json.loads(line) for line in kept.read_text().splitlines()]
    rows = []
    for name in flights:
        place = flights[name]
        rows += evidence_of_file(str(place), name)
        place.unlink()
    if kept is not None:
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.write_text("".join(json.dumps(row) + "\n" for row in rows))
    return rows


def watched(seed: int, flights: int, evidence: Path | None = None) -> Told:
    """Fly, write, read and watch one history."""
    kept = evidence / f"{seed}-{flights}.jsonl" if evidence else None
    with tempfile.TemporaryDirectory() as folder:
        kept_rows, _ = in_order(evidence_of(Flights(seed, flights, Path(folder)), kept))
        events = watch_rows(kept_rows, Flights(seed, flights, Path(folder))).events
    return judged(seed, flights, events)


def judged(seed: int, flights: int, events: Sequence[Event]) -> Told:
    """Hold what was told against the truth: an alarm before the fault, or at a sound cylinder, is false."""
    fault, begins = fault_of(seed, flights)
    mine: list[Event] = []
    if fault is not None:
        cylinder = fault.cylinders[0] if fault.cylinders else None
        mine = [one for one in events if one.change.raised >= begins and one.cylinder == cylinder]
    false_alarms = sum(one not in mine for one in events)
    clean = flights if fault is None else begins
    if fault is None or not mine:
        return Told(seed, fault, begins, false_alarms, clean, 0, None, None)
    first = mine[0]
    return Told(
        seed, fault, begins, false_alarms, clean, first.change.raised - begins + 1, first.cause, first.change.first - begins
    )  # fmt: skip


def of_residuals(years: int, seed: int, freedom: float | None = None) -> float:
    """False alarms an engine-year of residuals that go through all charts of a six-cylinder engine."""
    design = chart_design(6)
    rng = np.random.Generator(np.random.PCG64([seed, 80]))
    sums = np.zeros((years, 44))
    alarms = 0
    for _ in range(int(FLIGHTS_A_YEAR)):
        values = rng.standard_normal((years, 19))
        if freedom is not None:
            values *= np.sqrt((freedom - 2.0) / rng.chisquare(freedom, (years, 19)))
        # Two sides of 19 series, and how far off six of them are, whichever way.
        far = np.maximum(-ndtri(2.0 * ndtr(-np.abs(values[:, :6]))), -design.allowance)
        clipped = np.clip(values, -design.cap, design.cap)
        sums = np.maximum(
            0.0,
            sums
            + np.concatenate([clipped, -clipped, np.minimum(far, design.cap)], axis=1)
            - design.allowance,
        )
        over = sums > design.limit
        alarms += int(over.sum())
        sums[over] = 0.0
    return alarms / years


def by_chain(design: Design, freedom: float = np.inf) -> float:
    """The same as the Markov chain says."""
    return 50.0 * FLIGHTS_A_YEAR / cusum_run_length(design, two_sided=False, freedom=freedom)


def of_histories(years: int, seed: int, freedom: float | None = None) -> float:
    """False alarms an engine-year of clean evidence that goes the whole way: what is expected and the noise are learned too."""
    rng = np.random.Generator(np.random.PCG64([seed, 81]))
    return sum(len(follow(_clean_year(rng, freedom)).changes) for _ in range(years)) / years


def _clean_year(rng: np.random.Generator, freedom: float | None) -> list[Seen]:
    """A new engine's first year: everything scatters and nothing changes; half of the flights have a leaning."""
    numbers, count = tuple(range(1, 7)), int(FLIGHTS_A_YEAR)

    def noise(*shape: int) -> Floats:
        if freedom is None:
            return rng.standard_normal(shape)
        return np.asarray(rng.standard_t(freedom, shape) * np.sqrt((freedom - 2.0) / freedom))

    own = {
        name: sigma * rng.standard_normal(6)
        for name, sigma in (("egt", 20.0), ("cht", 15.0), ("offset", 1.5))
    }
    egt, cht = own["egt"] + 1400.0 + 4.0 * noise(count, 6), own["cht"] + 340.0 + 3.0 * noise(count, 6)
    offset, level = own["offset"] + 0.35 * noise(count, 6), 1.5 * noise(count)
    made = []
    for flight in range(count):
        mixture, pressure = rng.uniform(-0.05, 0.05), 3.05 + 0.05 * rng.standard_normal()
        heat = [dict(zip(numbers, one[flight].tolist(), strict=True)) for one in (egt, cht)]
        cruise = Cruise(
            mixture - 2.0, 2.3, pressure, 7.75, rng.uniform(3500.0, 8500.0), rng.uniform(20.0, 90.0), *heat
        )
        leaned = rng.random() < 0.5
        made.append(
            Seen(
                f"flight-{flight}", None, numbers, numbers if leaned else (), offset[flight] if leaned else np.zeros(0),
                np.zeros((6, 6) if leaned else (0, 0)), float(level[flight]) if leaned else None, (cruise,), {},
                dict.fromkeys(numbers, 0.0),
            )
        )  # fmt: skip
    return made


def main() -> None:
    """Print the figures."""
    asked = argparse.ArgumentParser(description="Simulated years of engines, watched.")
    asked.add_argument("--engines", type=int, default=12)
    asked.add_argument("--flights", type=int, default=200)
    asked.add_argument("--first-seed", type=int, default=0)
    asked.add_argument("--workers", type=int, default=1)
    asked.add_argument("--years", type=int, default=3000)
    asked.add_argument("--whole-years", type=int, default=100)
    asked.add_argument("--years-seed", type=int, default=1)
    asked.add_argument("--evidence", type=Path)
    wanted = asked.parse_args()
    design = chart_design(6)
    print(f"False alarms an engine-year of six cylinders; limit {design.limit:.2f}")
    for name, freedom in (("normal", None), ("Student, 5 degrees", 5.0), ("Student, 3 degrees", 3.0)):
        print(
            f"  {name}: by the Markov chain {by_chain(design, freedom or np.inf):.4f}; of {wanted.years} years through the charts "
            f"{of_residuals(wanted.years, wanted.years_seed, freedom):.4f}; of {wanted.whole_years} first years with all learned on the way "
            f"{of_histories(wanted.whole_years, wanted.years_seed, freedom):.4f}"
        )
    if not wanted.engines:
        return
    seeds = range(wanted.first_seed, wanted.first_seed + wanted.engines)
    spawn = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(wanted.workers, mp_context=spawn) as pool:
        told = list(
            pool.map(watched, seeds, [wanted.flights] * wanted.engines, [wanted.evidence] * wanted.engines)
        )
    show(told)


def show(told: Sequence[Told]) -> None:
    """Print what came of the histories."""
    clean = sum(one.clean_flights for one in told)
    alarms = sum(one.false_alarms for one in told)
    print(
        f"Whole histories: {len(told)}; false alarms {alarms} in {clean / FLIGHTS_A_YEAR:.1f} clean engine-years"
    )
    for kind in KINDS:
        mine = [one for one in told if one.fault is not None and (one.fault.kind, one.fault.size) == kind]
        if not mine:
            continue
        within = WITHIN.get(kind, 10)
        found = [one for one in mine if 0 < one.delay <= within]
        right = [one for one in mine if one.cause == kind[0]]
        dated = [one for one in mine if one.onset_off is not None and abs(one.onset_off) <= ONSET]
        print(
            f"{kind[0]} {kind[1]:g}: {len(mine)}; found within {within}: {len(found)}; cause right: {len(right)}; "
            f"onset within {ONSET}: {len(dated)}; delays {[one.delay for one in mine]}; causes {[one.cause for one in mine]}; "
            f"onset off by {[one.onset_off for one in mine]}"
        )


if __name__ == "__main__":
    main()
