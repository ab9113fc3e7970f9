"""Simulated years of an engine, watched: false alarms, how late a fault is found, its cause and its date.

``python -m benchmarks.watch`` flies histories of 200 flights, writes each as a file, reads it back and follows them in order of
time. Nothing of the truth is given to the program. ``--engines`` and ``--flights`` take fewer, ``--first-seed`` others.
"""

import tempfile
from pathlib import Path
from typing import Any, Final

import numpy as np

from leanwright.simulate.faults import Fault
from leanwright.simulate.flight import simulate_flight
from leanwright.simulate.history import draw_history, flights_of
from leanwright.simulate.write import write_flight
from leanwright.workbench.watch_file import evidence_of_file

KINDS: Final = (
    ("nozzle-blocked", 3.0), ("nozzle-blocked", 6.0), ("plug-dead", 55.0), ("probe-dead", 0.0), ("intake-leak", 0.09),
    ("flow-misscaled", 6.0),
)  # fmt: skip


def fault_of(seed: int, flights: int) -> tuple[Fault | None, int]:
    """Every second engine gets one fault, the kinds in turn, somewhere from the first fifth to the last."""
    if seed % 2 == 0:
        return None, 0
    rng = np.random.Generator(np.random.PCG64([seed, 79]))
    kind, size = KINDS[(seed // 2) % len(KINDS)]
    cylinders = () if kind == "flow-misscaled" else (int(rng.integers(1, 7)),)
    return Fault(kind, cylinders, size), int(rng.integers(flights // 5, 4 * flights // 5))


def write_history(seed: int, flights: int, folder: Path) -> list[Path]:
    """Fly a history and write its recordings."""
    fault, begins = fault_of(seed, flights)
    history = draw_history(seed, flights, fault, begins)
    return [
        write_flight(simulate_flight(spec, 1000 * seed + number), folder, f"flight-{number:03d}")[0]
        for number, spec in enumerate(flights_of(history, seed))
    ]


def evidence(seed: int, flights: int) -> list[dict[str, Any]]:
    """The evidence of each flight of a history."""
    with tempfile.TemporaryDirectory() as folder:
        return [
            row
            for place in write_history(seed, flights, Path(folder))
            for row in evidence_of_file(str(place), place.name)
        ]
