"""One piece of work and what came of it: what travels to a worker and back."""

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from leanwright.errors import LeanwrightError, UnreachableRecordingError, UnreadableRecordingError
from leanwright.told import Told

Work = Callable[[str, str], list[dict[str, Any]]]
"""Reads one file, given its place and its name, and returns a row of plain data for each recording in it."""


@dataclass(frozen=True, slots=True)
class Task:
    """One file to be read: where it lies, what it is called, its state, and the digest it had when last read."""

    place: str
    name: str
    mark: str
    known_digest: str | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one file gave: rows, or the reason why it could not be read. ``unchanged`` if its digest is the known one.

    The reason keeps its values, so that it can be said in another language. Without a digest the file will be tried again:
    it was the machine that could not, and not the file.
    """

    name: str
    mark: str
    digest: str | None
    rows: tuple[dict[str, Any], ...] = ()
    reason: Told | None = None
    unchanged: bool = False


def run_chunk(work: Work, tasks: Sequence[Task]) -> list[Outcome]:
    """Do several tasks, one after the other; the fault of one never stops the rest."""
    return [_run(work, task) for task in tasks]


def _run(work: Work, task: Task) -> Outcome:
    try:
        digest = file_digest(Path(task.place))
    except OSError as error:
        return Outcome(task.name, task.mark, None, reason=_unread(error))
    if digest == task.known_digest:
        return Outcome(task.name, task.mark, digest, unchanged=True)
    try:
        rows = work(task.place, task.name)
    except UnreachableRecordingError as error:
        return Outcome(task.name, task.mark, None, reason=error.without_name)
    except UnreadableRecordingError as error:
        return Outcome(task.name, task.mark, digest, reason=error.without_name)
    except LeanwrightError as error:
        return Outcome(task.name, task.mark, digest, reason=error.said)
    except MemoryError:
        return Outcome(task.name, task.mark, None, reason=Told("It needs more memory than there is."))
    except OSError as error:
        return Outcome(task.name, task.mark, None, reason=_unread(error))
    except Exception as error:  # noqa: BLE001  a fault of ours at one file is told, and the other files go on
        reason = Told(
            "The program failed on it ({kind}: {fault}); please report this.",
            kind=type(error).__name__,
            fault=str(error),
        )
        # A library that cannot be loaded, or an interpreter without memory, is no fault of the file.
        kept = None if isinstance(error, ImportError | SystemError) else digest
        return Outcome(task.name, task.mark, kept, reason=reason)
    return Outcome(task.name, task.mark, digest, tuple(rows))


def _unread(error: OSError) -> Told:
    return Told("It cannot be read ({reason}).", reason=(error.strerror or str(error)).lower())


def file_digest(place: Path) -> str:
    """SHA-256 of a file's bytes, read piece by piece."""
    with place.open("rb", buffering=0) as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
