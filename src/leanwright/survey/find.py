"""The files below a folder: each once, links in a circle passed over, what cannot be looked into told."""

import os
import stat
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from leanwright.told import Told


@dataclass(frozen=True, slots=True)
class Found:
    """A file below the folder, as it was when it was found.

    ``name`` is its way from the folder, with ``/`` between the parts; ``mark`` changes whenever the file is written.
    """

    name: str
    place: Path
    size_bytes: int
    mark: str


@dataclass(frozen=True, slots=True)
class Refused:
    """What cannot be read, and why."""

    name: str
    reason: Told


@dataclass(slots=True)
class _Seen:
    """Real folders and files that were looked at: by device and number, so that no link leads there again."""

    folders: set[tuple[int, int]] = field(default_factory=set)
    files: set[tuple[int, int]] = field(default_factory=set)


def find_files(folder: Path, leave_out: frozenset[Path] = frozenset()) -> Iterator[Found | Refused]:
    """Every file below a folder, in order of name.

    Parameters
    ----------
    folder
        Where to look, to any depth. Links are followed, and every real folder and file is met once.
    leave_out
        Files that are passed over, such as the table that is being written.

    Yields
    ------
    Found or Refused
        Names that begin with a dot are passed over: they belong to the system, not to a panel.
    """
    yield from _below(folder, "", _Seen(), leave_out)


def _below(folder: Path, name: str, seen: _Seen, leave_out: frozenset[Path]) -> Iterator[Found | Refused]:
    try:
        status = folder.stat()
        if (status.st_dev, status.st_ino) in seen.folders:
            return
        seen.folders.add((status.st_dev, status.st_ino))
        entries = sorted(os.listdir(folder))  # noqa: PTH208  names alone: a file's state is asked for once, below
    except OSError as error:
        yield Refused(name or ".", Told("This folder cannot be opened ({reason}).", reason=_said(error)))
        return
    for entry in entries:
        if entry.startswith("."):
            continue
        place, path = folder / entry, f"{name}/{entry}" if name else entry
        try:
            status = place.stat()
        except OSError as error:
            reason = Told("It leads nowhere, or cannot be looked at ({reason}).", reason=_said(error))
            yield Refused(path, reason)
            continue
        if stat.S_ISDIR(status.st_mode):
            yield from _below(place, path, seen, leave_out)
        elif not stat.S_ISREG(status.st_mode):
            yield Refused(path, Told("It is no file but a device or a pipe."))
        elif (status.st_dev, status.st_ino) not in seen.files and place not in leave_out:
            seen.files.add((status.st_dev, status.st_ino))
            mark = f"{status.st_size}-{status.st_mtime_ns}-{status.st_ctime_ns}-{status.st_ino}"
            yield Found(path, place, status.st_size, mark)


def _said(error: OSError) -> str:
    return (error.strerror or str(error)).lower()
