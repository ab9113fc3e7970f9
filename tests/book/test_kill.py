"""A saved entry survives kill -9, a lost connection, and many writers at once: none lost, none twice, none unreadable.

``LEANWRIGHT_KILLS=10000 python -m pytest --timeout 0 tests/book/test_kill.py`` is the long run.
"""

import os
import random
import select
import signal
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import pytest
import sqlalchemy as sa

from leanwright.book import ledger
from leanwright.book.entry import Author
from leanwright.book.ledger import Draft, Ledger, Written
from leanwright.book.stores import modes, postgresql, sqlite, tables
from leanwright.book.stores.store import Store
from leanwright.book.verify import verify
from tests.book.cluster import Cluster, quick_folder
from tests.book.conftest import NAME, SetClock

# From Python 3.12 on a fork beside threads is warned of; the child opens everything anew and shares nothing.
pytestmark = pytest.mark.filterwarnings("ignore:This process:DeprecationWarning")
KILLS = int(os.environ.get("LEANWRIGHT_KILLS", "500"))
LATEST_S = 0.05
AFFECTED = (3, 40, 1)
Opened = Callable[[], Store]


def write(book: Ledger, key: str) -> Written:
    """Append a note under a key."""
    return book.append(
        Draft("note", {"text": f"note {key} " * 4}, Author(name="Ada", identified_by="typed"), key)
    )


def child(opened: Opened, prefix: str, pipe: int, count: int = 1_000_000) -> None:
    """Write entries, and say each one's number once it is durable; never returns."""
    try:
        book = ledger.open_ledger(opened(), SetClock(), "t")
        for number in range(count):
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


def forked(opened: Opened, prefix: str, count: int = 1_000_000) -> tuple[int, int]:
    """Start a writer; gives its process and the end of the pipe that it speaks into."""
    reading, writing = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(reading)
        child(opened, prefix, writing, count)
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
    assert verify(store).problems == ()
    assert {key: found.get(key) for key in promised} == promised
    assert sorted(found.values()) == list(range(1, len(found) + 1))
    store.close()
    return reopened


@dataclass
class Lane:
    """A book that is written into until its writer is killed, and what was promised of it."""

    opened: Opened
    promised: dict[str, int] = field(default_factory=dict)

    def killed(self, prefix: str, after_s: float, meanwhile: Callable[[], None]) -> None:
        """Kill a writer so long after its first word, and do something else until then; then hear what it had said."""
        pid, pipe = forked(self.opened, prefix)
        select.select([pipe], [], [], 5.0)
        killer = threading.Timer(after_s, os.kill, (pid, signal.SIGKILL))
        killer.start()
        meanwhile()
        os.waitpid(pid, 0)
        killer.join()
        lines = said(pipe)
        assert not [line for line in lines if line[0] == "failed"], lines
        self.promised |= {key: int(number) for number, key, _ in lines}


def killed_often(made: Callable[[], Opened], trials: int, seed: int) -> None:
    """Kill a writer again and again. While it writes the other book is checked, so that no time is spent waiting.

    Each book is new now and then, so that checking stays short.
    """
    draw = random.Random(seed)  # noqa: S311  draws of a test, no secrets
    took: list[float] = []
    lanes: list[Lane] = []
    before: Lane | None = None

    def check_before() -> None:
        if before is not None:
            took.append(check(before.opened, before.promised))

    for trial in range(trials):
        if trial % 20 == 0:
            check_before()
            before, lanes = None, [Lane(made()), Lane(made())]
        lane = lanes[trial % 2]
        lane.killed(f"t{trial}", draw.uniform(0.0, LATEST_S), check_before)
        before = lane
    check_before()
    assert len(took) == trials
    assert sorted(took)[int(0.99 * len(took)) - 1] <= 1.0


@pytest.fixture
def quick() -> Iterator[Path]:
    """A private folder in memory, if there is one."""
    with tempfile.TemporaryDirectory(prefix="lw-kill-", dir=quick_folder()) as made:
        yield Path(made)


@pytest.mark.promise("D1")
@pytest.mark.parametrize(
    ("version", "share"), [((3, 51, 3), 0.6), (AFFECTED, 0.4)], ids=["WAL FULL", "DELETE EXTRA"]
)
def test_saved_entries_survive_kill_9_in_a_file(
    quick: Path, version: tuple[int, int, int], share: float
) -> None:
    assert modes.mode_for(version) is not None
    numbers = iter(range(1_000_000))

    def made() -> Opened:
        place = quick / f"book{next(numbers)}.sqlite"
        ledger.make(sqlite.make_file(place, version=version), NAME, SetClock(), "t").close()
        return lambda: sqlite.open_file(place, version=version)

    killed_often(made, round(share * KILLS), seed=1)


@pytest.mark.promise("D3")
@pytest.mark.usefixtures("cluster")
def test_saved_entries_survive_kill_9_of_the_writer_in_postgresql(cluster: Cluster) -> None:
    def made() -> Opened:
        place = cluster.address(cluster.new_place())
        ledger.make(postgresql.open_address(place), NAME, SetClock(), "t").close()
        return lambda: postgresql.open_address(place)

    killed_often(made, max(KILLS // 3, 20), seed=2)


@pytest.mark.promise("D3")
def test_saved_entries_survive_kill_9_of_the_database_itself(cluster: Cluster) -> None:
    place = cluster.address(cluster.new_place())
    ledger.make(postgresql.open_address(place), NAME, SetClock(), "t").close()
    promised: dict[str, int] = {}
    draw = random.Random(3)  # noqa: S311  draws of a test, no secrets
    for trial in range(max(KILLS // 100, 3)):
        pid, pipe = forked(lambda: postgresql.open_address(place), f"t{trial}")
        select.select([pipe], [], [], 5.0)
        time.sleep(draw.uniform(0.0, LATEST_S))
        cluster.kill()
        os.waitpid(pid, 0)
        promised |= {
            key: int(number) for number, key, _ in (line for line in said(pipe) if line[0] != "failed")
        }
        cluster.start()
        check(lambda: postgresql.open_address(place), promised)
        # The request of which nobody knows the outcome is asked again by its key: it is there once afterwards.
        store = postgresql.open_address(place)
        book = ledger.open_ledger(store, SetClock(), "t")
        key = f"t{trial}-{sum(1 for one in promised if one.startswith(f't{trial}-'))}"
        promised[key] = write(book, key).sequence
        store.close()
        check(lambda: postgresql.open_address(place), promised)


def written_together(opened: Opened, writers: int, each: int) -> list[float]:
    """Several processes write at once; gives how long each entry waited [s]."""
    started = [forked(opened, f"w{number}", each) for number in range(writers)]
    lines = [line for _, pipe in started for line in said(pipe)]
    for pid, _ in started:
        os.waitpid(pid, 0)
    assert not [line for line in lines if line[0] == "failed"], lines
    assert len(lines) == writers * each
    check(opened, {key: int(number) for number, key, _ in lines})
    return sorted(float(waited) for _, _, waited in lines)


@pytest.mark.promise("D8")
@pytest.mark.parametrize("version", [(3, 51, 3), AFFECTED], ids=["WAL FULL", "DELETE EXTRA"])
def test_eight_writers_at_once_make_one_chain_in_a_file(folder: Path, version: tuple[int, int, int]) -> None:
    place = folder / "book.sqlite"
    ledger.make(sqlite.make_file(place, version=version), NAME, SetClock(), "t").close()
    waits = written_together(lambda: sqlite.open_file(place, version=version), 8, 75)
    assert waits[-1] <= 10.0
    assert waits[int(0.99 * len(waits))] <= 2.0


@pytest.mark.promise("D8")
def test_eight_writers_at_once_make_one_chain_in_postgresql(database: str) -> None:
    ledger.make(postgresql.open_address(database), NAME, SetClock(), "t").close()
    waits = written_together(lambda: postgresql.open_address(database), 8, 75)
    assert waits[-1] <= 10.0


def test_a_book_is_not_carried_over_a_fork(folder: Path) -> None:
    store = sqlite.make_file(folder / "book.sqlite")
    book = ledger.make(store, NAME, SetClock(), "t")
    write(book, "before")
    reading, writing = os.pipe()
    pid = os.fork()
    if pid == 0:
        with suppress(Exception):
            write(book, "after")
            os.write(writing, b"written")
        os._exit(0)
    os.close(writing)
    os.waitpid(pid, 0)
    assert os.read(reading, 100) == b""
    os.close(reading)
    book.close()
