"""Simulated recordings for the figures: drawn evenly, seeds printed, built in memory.

Run it to see what a corpus holds::

    python benchmarks/corpus.py --recordings 200 --first-seed 20000
    python benchmarks/corpus.py --simulator second --recordings 200 --first-seed 30000

Other benchmarks import :func:`corpus`, :func:`as_recording` (the table, without a reader in between) and
:func:`as_file` (the bytes of the file, for a reader to be tried on). Seeds 10 000 to 19 999 are for development; the
final figures are run once on others, and the second simulator is opened once.
"""

import argparse
import hashlib
from collections.abc import Iterator
from typing import Literal

import numpy as np

from leanwright.quantities import QUANTITIES, UNITS
from leanwright.recordings.recording import Channel, Recording
from leanwright.simulate.draw import draw_spec
from leanwright.simulate.flight import SimulatedFlight, Surroundings, simulate_flight
from leanwright.simulate.layouts import LAYOUTS, Rendered, render
from leanwright.simulate.recorder import Column
from leanwright.simulate.second import draw_second_spec, simulate_second

Simulator = Literal["first", "second"]


def corpus(
    recordings: int,
    first_seed: int,
    *,
    sweeps: int = 1,
    powers: int = 1,
    simulator: Simulator = "first",
    surroundings: Surroundings = "whole-flight",
    spread_gph: float | None = None,
) -> Iterator[SimulatedFlight]:
    """Flights with seeds from ``first_seed`` on; a third have four cylinders, half are gusty, all layouts occur."""
    draw, simulate = {
        "first": (draw_spec, simulate_flight),
        "second": (draw_second_spec, simulate_second),
    }[simulator]
    for seed in range(first_seed, first_seed + recordings):
        rng = np.random.Generator(np.random.PCG64([seed, 99]))
        spec = draw(rng, sweeps=sweeps, powers=powers, surroundings=surroundings, spread_gph=spread_gph)
        yield simulate(spec, seed)


def as_recording(flight: SimulatedFlight) -> Recording:
    """The recording as a reader that misses nothing would give it, without a file in between."""
    channels = []
    for column in flight.table.columns:
        values = column.inside.astype(np.float64)
        values.setflags(write=False)
        title = column.quantity if column.cylinder is None else f"{column.quantity} {column.cylinder}"
        channels.append(
            Channel(
                title,
                column.quantity,
                column.cylinder,
                column.unit,
                "header",
                values=values,
                resolution=_step_inside(flight, column),
            )
        )
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


def _step_inside(flight: SimulatedFlight, column: Column) -> float:
    """The recorder's step of a channel in the quantity's inside unit."""
    step, own = flight.spec.recorder.step(column.quantity), QUANTITIES[column.quantity].unit
    if column.unit is None or own is None:
        return step
    return step * UNITS[column.unit].factor / UNITS[own].factor


def as_file(flight: SimulatedFlight) -> tuple[str, Rendered]:
    """Name and contents of the flight's file in its layout."""
    layout = LAYOUTS[flight.spec.layout]
    return f"simulated-{flight.seed}{layout.suffix}", render(flight, layout)


def main() -> None:
    """Print one line a recording."""
    parser = argparse.ArgumentParser(description="Simulated recordings for the figures.")
    parser.add_argument("--recordings", type=int, default=200)
    parser.add_argument("--first-seed", type=int, default=10_000)
    parser.add_argument("--sweeps", type=int, default=2)
    parser.add_argument("--simulator", choices=("first", "second"), default="first")
    wanted = parser.parse_args()
    for flight in corpus(
        wanted.recordings, wanted.first_seed, sweeps=wanted.sweeps, simulator=wanted.simulator
    ):
        truth, recorder = flight.truth, flight.spec.recorder
        name, rendered = as_file(flight)
        print(
            f"seed {flight.seed}: {truth.cylinders} cylinders, {truth.propeller}, {len(truth.sweeps)} sweeps, "
            f"{flight.table.time_s.size} rows every {recorder.interval_s:g} s, spread {truth.spread_gph:.3f} gal/h, "
            f"{'gusty' if truth.gusty else 'calm'}, {flight.spec.layout} ({name}, {len(rendered.data)} bytes)"
        )


if __name__ == "__main__":
    main()
