"""Simulated recordings for the figures: drawn evenly, seeds printed, built in memory.

Run it to see what a corpus holds::

    python benchmarks/corpus.py --recordings 20

Other benchmarks import :func:`corpus` and :func:`as_recording`.
"""

import argparse
import hashlib
from collections.abc import Iterator

import numpy as np

from leanwright.recordings.recording import Channel, Recording
from leanwright.simulate.draw import draw_spec
from leanwright.simulate.flight import SimulatedFlight, simulate_flight


def as_recording(flight: SimulatedFlight) -> Recording:
    """The recording as a reader that misses nothing would give it, without a file in between."""
    channels = []
    for column in flight.table.columns:
        values = column.inside.astype(np.float64)
        values.setflags(write=False)
        name = column.quantity if column.cylinder is None else f"{column.quantity} {column.cylinder}"
        channels.append(Channel(name, column.quantity, column.cylinder, column.unit, "header", values=values))
    time = flight.table.time_s.copy()
    time.setflags(write=False)
    lines = np.arange(2, time.size + 2)
    lines.setflags(write=False)
    name = f"simulated-{flight.seed}"
    return Recording(
        name=name,
        sha256=hashlib.sha256(name.encode()).hexdigest(),
        time_s=time,
        lines=lines,
        channels=tuple(channels),
        rows_skipped=0,
        findings=(),
        power_up_rows=flight.table.power_up_rows,
    )


def corpus(recordings: int, first_seed: int, sweeps: int = 1) -> Iterator[SimulatedFlight]:
    """Flights of the project's own simulator with seeds from ``first_seed`` on."""
    for seed in range(first_seed, first_seed + recordings):
        spec = draw_spec(np.random.Generator(np.random.PCG64([seed, 99])), sweeps=sweeps)
        yield simulate_flight(spec, seed)


def main() -> None:
    """Print one line a recording."""
    parser = argparse.ArgumentParser(description="Simulated recordings for the figures.")
    parser.add_argument("--recordings", type=int, default=200)
    parser.add_argument("--first-seed", type=int, default=1)
    parser.add_argument("--sweeps", type=int, default=1)
    wanted = parser.parse_args()
    for flight in corpus(wanted.recordings, wanted.first_seed, wanted.sweeps):
        truth = flight.truth
        print(
            f"seed {flight.seed}: {truth.cylinders} cylinders, {truth.propeller}, {len(truth.sweeps)} sweeps, "
            f"{flight.table.time_s.size} rows, spread {truth.spread_gph:.3f} gal/h, "
            f"{'gusty' if truth.gusty else 'calm'}"
        )


if __name__ == "__main__":
    main()
