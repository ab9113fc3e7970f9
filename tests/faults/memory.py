"""Memory runs out at one call after the other: ``python -m tests.faults.memory save|read PLACE SEED POINTS``.

A ``MemoryError`` is raised at a call in our own code, as the interpreter raises it where something cannot be had. What was
found is printed as JSON; a process that fails was wrong.
"""

import json
import os
import random
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from itertools import count
from pathlib import Path
from types import FrameType
from typing import Any

import sqlalchemy

import leanwright
from leanwright.book import ledger
from leanwright.book.stores import sqlite
from leanwright.book.verify import verify
from leanwright.recordings.read import read_recording
from leanwright.recordings.recording import Recording
from leanwright.workbench import records
from tests.book.conftest import NAME, SetClock

ROOM = Path(leanwright.__file__).parent
SQLALCHEMY = str(Path(sqlalchemy.__file__).parent)
GIVING_BACK = frozenset({"__exit__", "release", "remove", "_leave", "close", "rollback"})


@contextmanager
def no_memory_at(point: int | None, *folders: str) -> Iterator[list[int]]:
    """Raise at the so-manieth call of a function or by one of some folders of the program, once; gives how many there were."""
    ours = tuple(f"{ROOM / folder}{os.sep}" for folder in folders)
    numbers, calls = count(1), [0]

    def call(frame: FrameType, event: str, called: Any) -> None:
        is_ours = frame.f_code.co_filename.startswith(ours)
        if not is_ours or event not in {"call", "c_call"} or needs_none(frame, called):
            return
        calls[0] = next(numbers)
        if calls[0] == point:
            raise MemoryError

    sys.setprofile(call)
    try:
        yield calls
    finally:
        sys.setprofile(None)


def needs_none(frame: FrameType, called: Any) -> bool:
    """Whether a call only gives back what was had, which needs no memory."""
    return (called.__name__ if called is not None else frame.f_code.co_name) in GIVING_BACK


def save(folder: Path, draw: random.Random, wanted: int) -> dict[str, int]:
    """Save an entry, and let memory run out; the same request again has to be there once, in the book that stayed open."""
    place = folder / "book.sqlite"
    book = ledger.make(sqlite.make_file(place), NAME, SetClock(), "t")

    def add(key: str) -> int:
        said = records.Said(by="Ada", request_key=key)
        return records.add(book, "note", {"text": "one more"}, said).sequence

    add("first")
    with no_memory_at(None, "book", "workbench", SQLALCHEMY) as calls:
        add("second")
    points = draw.sample(range(1, calls[0] + 1), min(calls[0], wanted))
    raised = 0
    for number, point in enumerate(points, 3):
        # What keeps the database's connections may stumble over its own tidying up: then its error comes instead.
        with no_memory_at(point, "book", "workbench", SQLALCHEMY), suppress(Exception):
            add(f"key {number}")
            raised -= 1
        raised += 1
        fresh = ledger.open_ledger(sqlite.open_file(place), SetClock(), "t")
        assert fresh.state().head_sequence in {number - 1, number}, point
        fresh.close()
        assert add(f"key {number}") == book.state().head_sequence == number, point
    assert verify(book.store).problems == ()
    book.close()
    return {"calls": calls[0], "points": len(points), "raised": raised}


def is_same(one: Recording, other: Recording) -> bool:
    """Whether two readings tell the same."""
    return one.findings == other.findings and one.time_s.tolist() == other.time_s.tolist()


def read(flight: Path, draw: random.Random, wanted: int) -> dict[str, int]:
    """Read a recording, and let memory run out: it says so, and the next time it is read as ever."""
    good = read_recording(flight)
    with no_memory_at(None, "recordings") as calls:
        read_recording(flight)
    points = draw.sample(range(1, calls[0] + 1), min(calls[0], wanted))
    raised = 0
    for point in points:
        with no_memory_at(point, "recordings") as calls_until, suppress(MemoryError):
            # The interpreter lets no error out of a generator that it throws away: then nothing may be missing.
            assert is_same(read_recording(flight), good), point
        raised += calls_until[0] >= point
    assert is_same(read_recording(flight), good)
    return {"calls": calls[0], "points": len(points), "raised": raised}


if __name__ == "__main__":
    what, where, seed, wanted = sys.argv[1:]
    work = {"save": save, "read": read}[what]
    sys.stdout.write(json.dumps(work(Path(where), random.Random(seed), int(wanted))))  # noqa: S311  faults, no secrets
