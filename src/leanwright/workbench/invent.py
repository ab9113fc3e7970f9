"""Invented engines: a simulated recording beside its truth, and the first flight of the demo's story."""

from collections.abc import Sequence
from pathlib import Path

from leanwright.errors import UnwritablePlaceError
from leanwright.simulate.story import write_first_flight as write_story
from leanwright.simulate.story import write_flight_after as write_story_after
from leanwright.simulate.write import simulate_to


def simulate_into(
    folder: Path, *, seed: int, cylinders: int, faults: Sequence[str], sweeps: int
) -> tuple[Path, ...]:
    """Write a virtual engine's recording and its ``truth.json``; return both places."""
    _make(folder)
    return simulate_to(folder, seed=seed, cylinders=cylinders, faults=faults, sweeps=sweeps)


def write_first_flight(folder: Path) -> Path:
    """Write the first flight of the invented story; return the recording's place."""
    _make(folder)
    return write_story(folder)


def write_flight_after(folder: Path) -> Path:
    """Write the flight after the change of the invented story; return the recording's place."""
    _make(folder)
    return write_story_after(folder)


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UnwritablePlaceError(folder, error.strerror or str(error)) from error
