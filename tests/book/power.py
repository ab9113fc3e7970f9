"""A file layer that remembers every write, cut, flush and delete, so that a test can cut the power at any of them.

The model: a file system that keeps its own order. What was written or deleted counts for sure only after the next flush of
that file (of its folder, for a delete); before that each part may be there or not, whole or torn at 512 bytes. Drives that
lie about flushing are outside it.
"""

import random
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import apsw

SECTOR = 512


@dataclass(frozen=True)
class Operation:
    """Something that was asked of the disk."""

    what: str  # write, cut, flush, delete, delete-flushed
    file: str
    at: int = 0
    data: bytes = b""


@dataclass
class Disk:
    """Everything that was asked of the disk, in order."""

    operations: list[Operation] = field(default_factory=list)

    def image(self, until: int, draw: random.Random) -> dict[str, bytes]:
        """What may be on the disk if the power goes after so many operations."""
        files: dict[str, bytearray] = {}
        pending: dict[str, list[Operation]] = {}
        gone: dict[str, bytearray] = {}
        for one in self.operations[:until]:
            if one.what == "flush":
                new = one.file not in files
                for waiting in pending.pop(one.file, []):
                    _apply(files, waiting)
                if new and one.file.endswith(("-wal", "-journal")):
                    # SQLite flushes the folder with the first flush of a new log (os_unix.c, UNIXFILE_DIRSYNC), and
                    # with it all deletes before.
                    gone.clear()
                files.setdefault(one.file, bytearray())
                gone.pop(one.file, None)
            elif one.what.startswith("delete"):
                pending.pop(one.file, None)
                content = files.pop(one.file, None)
                if content is not None and one.what == "delete":
                    gone[one.file] = content
            else:
                pending.setdefault(one.file, []).append(one)
        for name, content in gone.items():
            if name not in files and name not in pending and draw.random() < 0.5:
                files[name] = content
        for name, waiting_all in pending.items():
            if name not in files and draw.random() < 0.3:
                continue
            for one in waiting_all:
                if draw.random() < 0.5:
                    _apply(files, _torn(one, draw))
        return {name: bytes(content) for name, content in files.items()}


def _torn(one: Operation, draw: random.Random) -> Operation:
    """A write that came through whole, cut short, or in some of its sectors only."""
    if one.what != "write" or draw.random() < 0.6 or len(one.data) <= SECTOR:
        return one
    kept = draw.randrange(1, len(one.data) // SECTOR + 1) * SECTOR
    return Operation("write", one.file, one.at, one.data[:kept])


def _apply(files: dict[str, bytearray], one: Operation) -> None:
    content = files.setdefault(one.file, bytearray())
    if one.what == "cut":
        del content[one.at :]
        return
    if len(content) < one.at:
        content.extend(bytes(one.at - len(content)))
    content[one.at : one.at + len(one.data)] = one.data


@contextmanager
def watched(disk: Disk, name: str) -> Iterator[str]:
    """A file layer of SQLite's that remembers into a disk; gives its name."""

    class File(apsw.VFSFile):
        def __init__(self, vfs: str, filename: object, flags: list[int]) -> None:
            super().__init__(vfs, filename, flags)  # type: ignore[arg-type]  # as the layer hands it over
            self.name = Path(
                filename.filename() if isinstance(filename, apsw.URIFilename) else str(filename)
            ).name

        def xWrite(self, data: bytes, offset: int) -> None:  # noqa: N802  SQLite's name
            super().xWrite(data, offset)
            disk.operations.append(Operation("write", self.name, offset, bytes(data)))

        def xTruncate(self, size: int) -> None:  # noqa: N802  SQLite's name
            super().xTruncate(size)
            disk.operations.append(Operation("cut", self.name, size))

        def xSync(self, flags: int) -> None:  # noqa: N802  SQLite's name
            super().xSync(flags)
            disk.operations.append(Operation("flush", self.name))

    class Layer(apsw.VFS):
        def __init__(self) -> None:
            super().__init__(name, "")

        def xOpen(self, filename: object, flags: list[int]) -> apsw.VFSFile:  # noqa: N802  SQLite's name
            return File("", filename, flags)

        def xDelete(self, filename: str, syncdir: bool) -> None:  # noqa: N802, FBT001  SQLite's name and form
            super().xDelete(filename, syncdir)
            what = "delete-flushed" if syncdir else "delete"
            disk.operations.append(Operation(what, Path(filename).name))

    layer = Layer()
    try:
        yield name
    finally:
        layer.unregister()
