"""Recordings are opened: files, archives and standard input, with the corrections that belong to them."""

import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from leanwright.recordings.memory import load_remembered, remember
from leanwright.recordings.read import read_recordings
from leanwright.recordings.recording import Recording
from leanwright.workbench.places import memory_place
from leanwright.workbench.plain_recording import MARK, from_bytes, is_reading

__all__ = ["STANDARD_INPUT", "memory_place", "open_recordings", "read_kept"]

STANDARD_INPUT = "-"


def read_kept(place: Path) -> tuple[Recording, ...]:
    """Every recording of a file: one as the panel wrote it, or a reading that the desk keeps."""
    with place.open("rb") as stream:
        begun = stream.read(len(MARK))
    if is_reading(begun):
        return (from_bytes(place.read_bytes()),)
    return tuple(read_recordings(place, remembered=load_remembered(memory_place())))


def open_recordings(
    places: Sequence[str],
    *,
    corrections: Sequence[str] = (),
    keep_corrections: bool = False,
    row_interval_s: float | None = None,
    memory: Path | None = None,
    progress: Callable[[str], None] = lambda _name: None,
) -> tuple[Recording, ...]:
    """Read every recording named; ``-`` is standard input.

    An archive may hold several. ``corrections`` are those of ``--column``; with ``keep_corrections`` they are
    remembered for files of the same layout. ``progress`` is told each name before it is read.
    """
    memory = memory or memory_place()
    remembered = load_remembered(memory)
    opened: list[Recording] = []
    for place in places:
        progress(place)
        source = sys.stdin.buffer if place == STANDARD_INPUT else Path(place)
        found = read_recordings(
            source,
            name="standard input" if place == STANDARD_INPUT else None,
            corrections=corrections,
            row_interval_s=row_interval_s,
            remembered=remembered,
        )
        opened.extend(found)
    if keep_corrections and corrections:
        for layout in sorted({recording.layout for recording in opened}):
            remember(memory, layout, corrections)
    return tuple(opened)
