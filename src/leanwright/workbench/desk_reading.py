"""Reading a file for the desk: what the worker does with an untrusted file, and what is remembered of its layout."""

from collections.abc import Sequence
from pathlib import Path

from leanwright.recordings.memory import load_remembered, remember
from leanwright.recordings.read import read_recordings
from leanwright.workbench.opening import memory_place
from leanwright.workbench.plain_recording import to_bytes


def read_file(
    place: Path,
    *,
    name: str,
    corrections: Sequence[str] = (),
    row_interval_s: float | None = None,
    memory: Path | None = None,
) -> tuple[bytes, ...]:
    """Every recording of a file, as plain bytes; errors as in :func:`leanwright.recordings.read.read_recordings`."""
    found = read_recordings(
        place,
        name=name,
        corrections=corrections,
        row_interval_s=row_interval_s,
        remembered=load_remembered(memory or memory_place()),
    )
    return tuple(map(to_bytes, found))


def remember_corrections(layout: str, corrections: Sequence[str], memory: Path | None = None) -> None:
    """Keep corrections for files of one layout."""
    if layout and corrections:
        remember(memory or memory_place(), layout, corrections)
