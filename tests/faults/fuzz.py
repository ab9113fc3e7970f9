"""Feed one entry point with bytes, led by the branches that they reach: ``python -m tests.faults.fuzz ENTRY FOLDER``.

What follows goes to the engine, for example ``-runs=2000 -seed=7``. The only error that may come out is one of ours, worded
for the user. ``canary`` is a reader with a planted fault, ``greedy`` one that takes too much memory, and ``climbing`` one that writes where it
may not: all have to be found.
"""

import hashlib
import io
import sys
import tempfile
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from pathlib import Path

import atheris
import sqlalchemy as sa

with atheris.instrument_imports(include=["leanwright"]):
    from leanwright.book import portable, schema
    from leanwright.book.stores import sqlite, tables
    from leanwright.book.stores.store import Store
    from leanwright.errors import LeanwrightError
    from leanwright.recordings.read import read_recordings
    from leanwright.workbench import approval, cause_files, limit_files, nozzle_files, safekeeping

from tests.faults.high_mark import risen

PLANTED = b"lw"
EXPORTED = (portable.MANIFEST, portable.ENTRIES, portable.EVENTS)
LINE = b"\n--\n"
"""Between the files of one input, where an entry point takes several."""
MOST_RISE_BYTES = 128 << 20
"""The most memory that one input may take, besides four times its length."""
Target = Callable[[bytes, Path], None]


class Undone(Exception):  # noqa: N818  it is no error: it takes back what was written
    """Ends a transaction of which nothing is kept."""


def recording(data: bytes, _folder: Path) -> None:
    """A recording, packed or not."""
    read_recordings(io.BytesIO(data), name="f")


def form(data: bytes, folder: Path) -> None:
    """The files that a user writes: which of them, the first byte says."""
    readers: tuple[Callable[[Path], object], ...] = (
        nozzle_files.read_nozzle_set,
        nozzle_files.read_stock,
        nozzle_files.read_aircraft,
        approval.read_approval,
        cause_files.read_bottle_test,
        cause_files.read_health,
        cause_files.read_troubleshooting,
        limit_files.read_limits,
    )
    place = folder / "form.toml"
    place.write_bytes(data[1:])
    readers[data[0] % len(readers) if data else 0](place)


@cache
def empty_tables(place: Path) -> Store:
    """The tables of a book in which nothing was ever written."""
    place.mkdir(mode=0o700)
    store = sqlite.make_file(place / "empty.sqlite")
    schema.migrate(store)
    return store


def export(data: bytes, folder: Path) -> None:
    """An export: manifest, entries, events, attachments.

    It goes into tables that are empty again afterwards, which is twenty times as fast as making them anew; one that
    holds together is then imported as a command does it.
    """
    parts = data.split(LINE)
    members = dict(zip(EXPORTED, parts, strict=False))
    for content in parts[len(EXPORTED) :]:
        members[portable.ATTACHMENTS + hashlib.sha256(content).hexdigest()] = content

    def source(name: str) -> io.BytesIO:
        return io.BytesIO(members[name])

    manifest = portable.read_manifest(source, "f")
    with suppress(Undone), empty_tables(folder / "empty").writing() as connection:
        connection.execute(sa.insert(tables.META), [{"name": "ledger", "value": manifest.ledger}])
        portable.read_into(connection, source, manifest, "f")
        raise Undone
    with tempfile.TemporaryDirectory(dir=folder) as place:
        Path(place, portable.ATTACHMENTS).mkdir()
        for name, content in members.items():
            Path(place, name).write_bytes(content)
        safekeeping.import_folder(Path(place), str(folder / "imported.sqlite"))


def backup(data: bytes, folder: Path) -> None:
    """A backup."""
    place = folder / "backup.zip"
    place.write_bytes(data)
    safekeeping.restore(place, str(folder / "restored.sqlite"))


@atheris.instrument_func  # type: ignore[untyped-decorator]  # the fuzzer carries no types
def greedy(data: bytes, _folder: Path) -> None:
    """A reader that takes too much memory for some inputs."""
    if data[:1] == PLANTED[:1]:
        len(b"\1" * (2 * MOST_RISE_BYTES))


@atheris.instrument_func  # type: ignore[untyped-decorator]  # the fuzzer carries no types
def climbing(data: bytes, folder: Path) -> None:
    """A reader that writes outside its folder for some inputs."""
    if data[:1] == PLANTED[:1]:
        (folder.parent / "climbed").touch()


@atheris.instrument_func  # type: ignore[untyped-decorator]  # the fuzzer carries no types
def canary(data: bytes, _folder: Path) -> None:
    """A reader with a planted fault behind two branches."""
    if data[:1] == PLANTED[:1] and data[1:2] == PLANTED[1:]:
        raise ZeroDivisionError("planted")


TARGETS: dict[str, Target] = {
    "recording": recording,
    "archive": recording,
    "form": form,
    "export": export,
    "backup": backup,
    "canary": canary,
    "greedy": greedy,
    "climbing": climbing,
}


def fed(target: Target, folder: Path) -> Callable[[bytes], None]:
    """What the engine calls: the entry point in a folder that is empty again afterwards."""
    beside = set(folder.parent.iterdir())

    def feed(data: bytes) -> None:
        rise = risen()
        with suppress(LeanwrightError):
            target(data, folder)
        if rise() > MOST_RISE_BYTES + 4 * len(data):
            message = f"{rise() >> 20} MB for an input of {len(data)} bytes"
            raise MemoryError(message)
        if outside := set(folder.parent.iterdir()) - beside:
            message = f"written outside: {outside}"
            raise PermissionError(message)
        for left in folder.glob("*.sqlite*"):
            left.unlink()

    return feed


def main() -> None:
    """Feed the entry point that the command line names."""
    entry, place, *engine = sys.argv[1:]
    folder = Path(place)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    atheris.Setup([sys.argv[0], *engine], fed(TARGETS[entry], folder))
    atheris.Fuzz()


if __name__ == "__main__":
    main()
