"""Folders that are looked into for new recordings: what is new in them is offered, and never taken in by itself."""

import os
import stat
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import msgspec

from leanwright.workbench.desk import Desk
from leanwright.workbench.writing import write_whole

NAME: Final = "looked-at.json"
MOST: Final = 5000
"""Names looked at in one folder."""
ENDINGS: Final = (".csv", ".txt", ".tsv", ".log", ".dat", ".gz", ".zip")
"""What recordings are usually called; anything else is dropped by hand."""


@dataclass(frozen=True, slots=True)
class New:
    """A file that nobody has said anything of yet. ``mark`` tells it from a file of the same name with other content."""

    folder: str
    name: str
    size: int
    mark: str

    @property
    def place(self) -> Path:
        """Where it is."""
        return Path(self.folder) / self.name


@dataclass(frozen=True, slots=True)
class Found:
    """What is new, and the folders that cannot be looked into."""

    new: tuple[New, ...]
    lost: tuple[str, ...]


def usable(folder: str) -> bool:
    """Whether a folder can be looked into: named from the root, and there."""
    return Path(folder).is_absolute() and Path(folder).is_dir()


def look(desk: Desk, folders: Sequence[str]) -> Found:
    """What is new in some folders, the newest first."""
    known = _known(desk) if folders else frozenset()
    found: list[tuple[float, New]] = []
    lost = []
    for folder in folders:
        try:
            found += [one for one in _files(folder) if one[1].mark not in known]
        except OSError:
            lost.append(folder)
    found.sort(key=lambda one: -one[0])
    return Found(tuple(one for _, one in found), tuple(lost))


def note(desk: Desk, files: Iterable[New]) -> None:
    """Offer some files no more."""
    known = _known(desk) | {one.mark for one in files}
    write_whole(desk.folder / NAME, msgspec.json.encode(sorted(known)))


def _files(folder: str) -> list[tuple[float, New]]:
    found = []
    with os.scandir(folder) as entries:
        for _, entry in zip(range(MOST), entries, strict=False):
            if not entry.name.lower().endswith(ENDINGS):
                continue
            about = entry.stat(follow_symlinks=False)
            if stat.S_ISREG(about.st_mode) and about.st_size:
                mark = f"{folder}\0{entry.name}\0{about.st_size}\0{about.st_mtime_ns}"
                found.append((about.st_mtime, New(folder, entry.name, about.st_size, mark)))
    return found


def _known(desk: Desk) -> frozenset[str]:
    try:
        return frozenset(msgspec.json.decode((desk.folder / NAME).read_bytes(), type=list[str]))
    except (OSError, msgspec.DecodeError):
        return frozenset()
