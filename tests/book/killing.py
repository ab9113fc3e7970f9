"""Writers in processes of their own, which can be killed, and what their book has to hold afterwards."""

import os
import time
from collections.abc import Callable
from pathlib import Path

import sqlalchemy as sa

from leanwright.book import ledger
from leanwright.book.entry import Author
from leanwright.book.ledger import Draft, Ledger, Written
from leanwright.book.stores import modes, postgresql, sqlite, tables
from leanwright.book.stores.store import Store
from leanwright.book.verify import verify
from tests.book.cluster import Cluster
from tests.book.conftest import NAME, SetClock

AFFECTED = (3, 40, 1)
"""A version of SQLite in which the book does not use WAL."""
Opened = Callable[[], Store]


def write(book: Ledger, key: str) -> Written:
    """Append a note under a key."""
    return book.append(
        Draft("note", {"text": f"note {key} " * 4}, Author(name="Ada", identified_by="typed"), key)
    )


def child(opened: Opened, prefix: str, pipe: int, count: int, *, hasty: bool) -> None:
    """Write entries, and say each one's number once it is durable, or already before if it is hasty; never returns."""
    try:
        book = ledger.open_ledger(opened(), SetClock(), "t")
        for number in range(count):
            if hasty:
                os.write(pipe, f"{number + 1} {prefix}-{number} 0\n".encode())
                write(book, f"{prefix}-{number}")
                continue
            started = time.monotonic()
            written = write(book, f"{prefix}-{number}")
            os.write(
                pipe, f"{written.sequence} {prefix}-{number} {time.monotonic() - started:.4f}\n".encode()
            )
        book.close()
        os._exit(0)
    except BaseException as error:  # noqa: BLE001  the parent is told whatever it was
        os.write(pipe, f"failed {error!r}\n".encode())
        os._exit(1)


def forked(opened: Opened, prefix: str, count: int = 1_000_000, *, hasty: bool = False) -> tuple[int, int]:
    """Start a writer; gives its process and the end of the pipe that it speaks into."""
    reading, writing = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(reading)
        child(opened, prefix, writing, count, hasty=hasty)
    os.close(writing)
    return pid, reading


def said(pipe: int) -> list[list[str]]:
    """Everything that a writer said, its last line only if it is whole."""
    parts = []
    while part := os.read(pipe, 1 << 16):
        parts.append(part)
    os.close(pipe)
    return [line.split(" ", 2) for line in b"".join(parts).decode().split("\n")[:-1]]


def check(opened: Opened, promised: dict[str, int]) -> float:
    """Reopen, and compare with what was promised; gives the time of the reopening [s]."""
    started = time.monotonic()
    store = opened()
    with store.reading() as connection:
        wanted = sa.select(tables.ENTRIES.c.request_key, tables.ENTRIES.c.sequence)
        found = {key: number for key, number in connection.execute(wanted)}  # noqa: C416  rows, not pairs
    reopened = time.monotonic() - started
    problems = verify(store).problems
    store.close()
    assert problems == ()
    assert {key: found.get(key) for key in promised} == promised
    assert sorted(found.values()) == list(range(1, len(found) + 1))
    return reopened


def files(folder: Path, version: tuple[int, int, int]) -> Callable[[], Opened]:
    """A maker of new books in files, in the mode that fits a version of SQLite."""
    assert modes.mode_for(version) is not None
    numbers = iter(range(1_000_000))

    def made() -> Opened:
        place = folder / f"book{next(numbers)}.sqlite"
        ledger.make(sqlite.make_file(place, version=version), NAME, SetClock(), "t").close()
        return lambda: sqlite.open_file(place, version=version)

    return made


def databases(cluster: Cluster) -> Callable[[], Opened]:
    """A maker of new books in PostgreSQL."""

    def made() -> Opened:
        place = cluster.address(cluster.new_place())
        ledger.make(postgresql.open_address(place), NAME, SetClock(), "t").close()
        return lambda: postgresql.open_address(place)

    return made
