"""How processor time grows: with the rows of a file, the sweeps of a recording, and the number of recordings.

``python -m benchmarks.growth`` prints each as an exponent, the slope of log time over log size: 1 is "twice as much takes
twice as long". Each time is the least of several goes. ``--times`` takes fewer or more of them, ``--sizes`` other steps.
"""

import argparse
import io
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from benchmarks.corpus import as_recording
from benchmarks.whole_process import three_hours
from leanwright.recordings.read import read_recording
from leanwright.simulate.draw import draw_spec
from leanwright.simulate.flight import FlightSpec, simulate_flight
from leanwright.simulate.layouts import LAYOUTS, render
from leanwright.workbench.measure import measure

SIZES: Final = (1, 2, 4, 8)
SEED: Final = 424_242
RECORDINGS_EACH: Final = 4


def exponent(work: Callable[[int], Callable[[], object]], sizes: Sequence[int], times: int) -> float:
    """How the time of a work grows with its size; what ``work`` gives is what is timed."""
    ready = [work(size) for size in sizes]
    spent = [min(_timed(task) for _ in range(times)) for task in ready]
    return float(np.polyfit(np.log(sizes), np.log(spent), 1)[0])


def _timed(task: Callable[[], object]) -> float:
    began = time.process_time()
    task()
    return time.process_time() - began


def reading(size: int) -> Callable[[], object]:
    """Reading a file of so many times three hours at 1 Hz."""
    lines = three_hours().splitlines(keepends=True)
    head = next(i for i, line in enumerate(lines) if b"EGT" in line) + 2
    body = [line.partition(b",")[2] for line in lines[head:]]
    rows = (b"%d," % n + body[n % len(body)] for n in range(size * len(body)))
    names = [*lines[: head - 2], lines[head - 2].replace(b"Time", b"Time (s)"), lines[head - 1]]
    data = b"".join([*names, *rows])
    return lambda: read_recording(io.BytesIO(data), name="grown")


def _spec(sweeps: int) -> FlightSpec:
    rng = np.random.Generator(np.random.PCG64([SEED, 99]))
    spec = draw_spec(rng, cylinders=6, sweeps=sweeps, powers=1, surroundings="sweeps-only", layout="comma")
    return replace(spec, recorder=replace(spec.recorder, interval_s=1.0, jitter_s=0.0, stamp_step_s=1.0))


def sweeping(size: int) -> Callable[[], object]:
    """Measuring a recording with so many sweeps."""
    spec = _spec(1)
    recording = as_recording(simulate_flight(replace(spec, sweeps=spec.sweeps * size), SEED))
    return lambda: measure([recording])


def gathering(size: int) -> Callable[[], object]:
    """Reading and measuring so many times a few recordings of one engine, which are combined."""
    spec = _spec(1)
    files = [
        render(simulate_flight(spec, SEED + number), LAYOUTS["comma"]).data
        for number in range(size * RECORDINGS_EACH)
    ]
    return lambda: measure(
        [read_recording(io.BytesIO(data), name=f"{place}.csv") for place, data in enumerate(files)]
    )


WORKS: Final = {
    "reading, with the rows of a file": reading,
    "measuring, with the sweeps of a recording": sweeping,
    "reading and measuring, with the recordings": gathering,
}


def main() -> None:
    """Print the exponents."""
    asked = argparse.ArgumentParser(description="How processor time grows with rows, sweeps and recordings.")
    asked.add_argument("--sizes", type=int, nargs="+", default=list(SIZES))
    asked.add_argument("--times", type=int, default=3)
    wanted = asked.parse_args()
    for name, work in WORKS.items():
        print(f"{name}: to the power {exponent(work, wanted.sizes, wanted.times):.2f}")


if __name__ == "__main__":
    main()
