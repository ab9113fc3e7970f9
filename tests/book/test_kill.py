"""A saved entry survives kill -9, a lost connection, and many writers at once: none lost, none twice, none unreadable."""

import os
import random
import select
import signal
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from leanwright.book import ledger
from leanwright.book.stores import postgresql, sqlite
from tests.book.cluster import Cluster
from tests.book.conftest import NAME, SetClock
from tests.book.killing import AFFECTED, Opened, check, databases, files, forked, said, write
from tests.faults.promises import TrialRun

# From Python 3.12 on a fork beside threads is warned of; the child opens everything anew and shares nothing.
pytestmark = pytest.mark.filterwarnings("ignore:This process:DeprecationWarning")
LATEST_S = 0.05
DATABASE_SHARE, DATABASE_SHARE_IN_SAMPLE = 0.06, 0.03
"""Of the trials in which the database is ended instead of the writer: each of them takes seconds."""
HASTY_TRIALS = 40
WRITERS = 8


@dataclass
class Lane:
    """A book that is written into until its writer is killed, and what was promised of it."""

    opened: Opened
    promised: dict[str, int] = field(default_factory=dict)
    hasty: bool = False

    def killed(self, prefix: str, after_s: float, meanwhile: Callable[[], None]) -> None:
        """Kill a writer so long after its first word, and do something else until then; then hear what it had said."""
        pid, pipe = forked(self.opened, prefix, hasty=self.hasty)
        select.select([pipe], [], [], 5.0)
        killer = threading.Timer(after_s, os.kill, (pid, signal.SIGKILL))
        killer.start()
        meanwhile()
        os.waitpid(pid, 0)
        killer.join()
        lines = said(pipe)
        assert not [line for line in lines if line[0] == "failed"], lines
        self.promised |= {key: int(number) for number, key, _ in lines}


def killed_often(made: Callable[[], Opened], trials: int, draw: random.Random) -> str:
    """Kill a writer again and again; gives what was measured.

    While it writes the other book is checked, so that no time is spent waiting. Each book is new now and then, so that
    checking stays short.
    """
    took: list[float] = []
    lanes: list[Lane] = []
    before: Lane | None = None
    saved = 0

    def check_before() -> None:
        if before is not None:
            took.append(check(before.opened, before.promised))

    for trial in range(trials):
        if trial % 20 == 0:
            check_before()
            saved += sum(len(one.promised) for one in lanes)
            before, lanes = None, [Lane(made()), Lane(made())]
        lane = lanes[trial % 2]
        lane.killed(f"t{trial}", draw.uniform(0.0, LATEST_S), check_before)
        before = lane
    check_before()
    saved += sum(len(one.promised) for one in lanes)
    assert len(took) == trials
    nearly_all_s = sorted(took)[int(0.99 * len(took)) - 1]
    assert nearly_all_s <= 1.0
    return f"0 lost, 0 doubled, 0 unreadable of {saved:,} saved entries; opened again within {nearly_all_s:.2f} s in 99 %"


def missed_of_hasty(made: Callable[[], Opened], draw: random.Random) -> int:
    """Kill writers that report before they save; gives how often the check misses an entry, until the first time."""
    for trial in range(HASTY_TRIALS):
        lane = Lane(made(), hasty=True)
        lane.killed(f"t{trial}", draw.uniform(0.0, LATEST_S), lambda: None)
        try:
            check(lane.opened, lane.promised)
        except AssertionError:
            return 1
    return 0


@pytest.mark.promise("D1")
@pytest.mark.parametrize(
    ("mode", "version", "share"), [("WAL FULL", (3, 51, 3), 0.6), ("DELETE EXTRA", AFFECTED, 0.4)]
)
def test_saved_entries_survive_kill_9_in_a_file(
    quick: Path, mode: str, version: tuple[int, int, int], share: float, trial_run: TrialRun
) -> None:
    trials = round(share * trial_run.trials)
    figure = killed_often(files(quick, version), trials, trial_run.random(mode))
    trial_run.measured(f"{mode}: {figure}", trials)


@pytest.mark.promise("D1")
def test_canary_an_entry_that_is_reported_before_it_is_durable_is_missed(
    quick: Path, trial_run: TrialRun
) -> None:
    assert missed_of_hasty(files(quick, AFFECTED), trial_run.random("hasty")) == 1


@pytest.mark.promise("D3")
def test_saved_entries_survive_kill_9_of_the_writer_in_postgresql(
    cluster: Cluster, trial_run: TrialRun
) -> None:
    figure = killed_often(databases(cluster), trial_run.trials, trial_run.random("writer"))
    trial_run.measured(f"writer killed: {figure}", trial_run.trials)


@pytest.mark.promise("D3")
def test_canary_an_entry_that_is_reported_before_postgresql_has_it_is_missed(
    cluster: Cluster, trial_run: TrialRun
) -> None:
    assert missed_of_hasty(databases(cluster), trial_run.random("hasty")) == 1


@pytest.mark.promise("D3")
def test_saved_entries_survive_the_end_of_the_database_itself(cluster: Cluster, trial_run: TrialRun) -> None:
    place = cluster.address(cluster.new_place())
    ledger.make(postgresql.open_address(place), NAME, SetClock(), "t").close()
    promised: dict[str, int] = {}
    draw = trial_run.random("database")
    share = DATABASE_SHARE if trial_run.is_long else DATABASE_SHARE_IN_SAMPLE
    trials = round(share * trial_run.trials)
    for trial in range(trials):
        pid, pipe = forked(lambda: postgresql.open_address(place), f"t{trial}")
        select.select([pipe], [], [], 5.0)
        time.sleep(draw.uniform(0.0, LATEST_S))
        (cluster.kill if trial % 2 else cluster.stop_at_once)()
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
    trial_run.measured(
        f"database killed or stopped at once: 0 lost, 0 doubled of {len(promised):,} saved entries; "
        "every request without an answer there once after it was asked again",
        trials,
    )


def written_together(opened: Opened, writers: int, each: int) -> list[float]:
    """Several processes write at once; gives how long each entry waited [s]."""
    started = [forked(opened, f"w{number}", each) for number in range(writers)]
    lines = [line for _, pipe in started for line in said(pipe)]
    for pid, _ in started:
        os.waitpid(pid, 0)
    assert not [line for line in lines if line[0] == "failed"], lines
    assert len(lines) == writers * each
    check(opened, {key: int(number) for number, key, _ in lines})
    waits = sorted(float(waited) for _, _, waited in lines)
    assert waits[-1] <= 10.0
    assert waits[int(0.99 * len(waits))] <= 2.0
    return waits


@pytest.mark.promise("D8")
@pytest.mark.parametrize(("mode", "version"), [("WAL FULL", (3, 51, 3)), ("DELETE EXTRA", AFFECTED)])
def test_eight_writers_at_once_make_one_chain_in_a_file(
    folder: Path, mode: str, version: tuple[int, int, int], trial_run: TrialRun
) -> None:
    opened = files(folder, version)()
    waits = written_together(opened, WRITERS, trial_run.trials // WRITERS)
    trial_run.measured(f"{mode}: 0 lost, one chain, longest wait {waits[-1]:.1f} s", len(waits))


@pytest.mark.promise("D8")
def test_eight_writers_at_once_make_one_chain_in_postgresql(cluster: Cluster, trial_run: TrialRun) -> None:
    waits = written_together(databases(cluster)(), WRITERS, trial_run.trials // WRITERS)
    trial_run.measured(f"PostgreSQL: 0 lost, one chain, longest wait {waits[-1]:.1f} s", len(waits))


@pytest.mark.promise("D8")
def test_canary_writers_without_a_common_lock_get_in_each_others_way(
    folder: Path, monkeypatch: pytest.MonkeyPatch, trial_run: TrialRun
) -> None:
    assert trial_run.trials >= WRITERS
    opened = files(folder, (3, 51, 3))()
    monkeypatch.setattr(sqlite.SqliteStore, "_begin_writing", lambda _, raw: raw.cursor().execute("BEGIN"))
    with pytest.raises(AssertionError, match="failed"):
        written_together(opened, WRITERS, 75)


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
