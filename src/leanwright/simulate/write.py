"""Write a simulated recording and, beside it, what is true of it."""

import json
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

import numpy as np

from leanwright.errors import UnwritablePlaceError
from leanwright.simulate.draw import draw_spec
from leanwright.simulate.faults import parse
from leanwright.simulate.flight import SimulatedFlight, simulate_flight
from leanwright.simulate.layouts import LAYOUTS, write
from leanwright.simulate.truth import document

TRUTH_NAME = "truth.json"


def write_flight(flight: SimulatedFlight, folder: Path, stem: str) -> tuple[Path, Path]:
    """Write the recording in its layout and ``truth.json`` into a folder that is there; return both places."""
    layout = LAYOUTS[flight.spec.layout]
    recording, truth = folder / f"{stem}{layout.suffix}", folder / TRUTH_NAME
    channels = write(flight, layout, recording)
    told = document(flight.truth)
    told["recording"] = recording.name
    told["layout"] = layout.name
    told["channels"] = [asdict(channel) for channel in channels]
    try:
        truth.write_text(json.dumps(told, indent=1, allow_nan=False) + "\n", encoding="utf-8", newline="\n")
    except OSError as error:
        raise UnwritablePlaceError(truth, error.strerror or str(error)) from error
    return recording, truth


def simulate_to(
    folder: Path, *, seed: int, cylinders: int, faults: Sequence[str] = (), sweeps: int = 2
) -> tuple[Path, Path]:
    """Invent an engine, fly it whole, and write the recording and its truth; return both places.

    Everything follows from the arguments. The layout goes through the corpus with the seed. Three sweeps and more are
    dealt out over two manifold pressures, so that causes can be told apart.
    """
    parsed = tuple(parse(text, cylinders) for text in faults)
    names = sorted(LAYOUTS)
    spec = draw_spec(
        np.random.Generator(np.random.PCG64([seed, 99])),
        cylinders=cylinders,
        sweeps=sweeps,
        powers=2 if sweeps > 2 else 1,
        faults=parsed,
        surroundings="whole-flight",
        layout=names[seed % len(names)],
    )
    return write_flight(simulate_flight(spec, seed), folder, f"flight-{seed}")
