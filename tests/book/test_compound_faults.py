"""A fault while an earlier fault is put right (D11): a kill in the start after a kill, in an upgrade that is taken up again, a disk
that fails while a save is taken back. Nothing is lost, and nothing is stuck.
"""

import random
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from leanwright.book import schema
from leanwright.book.stores import sqlite
from tests.book.killing import AFFECTED, Opened, check, files
from tests.book.test_upgrade import Old, old_books, opened_until
from tests.faults.promises import TrialRun
from tests.faults.tracer import KILLS, failing, needs_tracer, tracing

__all__ = ["old_books"]
# From Python 3.12 on a fork beside threads is warned of; the child opens everything anew and shares nothing.
pytestmark = [
    pytest.mark.filterwarnings("ignore:This process:DeprecationWarning"),
    needs_tracer,
]
ROOT = Path(__file__).resolve().parents[2]
MODES = {"WAL FULL": (3, 51, 3), "DELETE EXTRA": AFFECTED}
CALLS = ("pwrite64", "fdatasync", "fsync", "ftruncate", "unlink")
ENTRIES = 3
STARTING, UPGRADE, TAKING_BACK = 0.2, 0.15, 0.15
"""Share of the trials that each mode, and each store, takes of a kind of fault."""


@dataclass
class Shelf:
    """A book in a file, and what its writers said was saved."""

    file: Path
    version: tuple[int, int, int]
    opened: Opened
    promised: dict[str, int] = field(default_factory=dict)

    def write(self, prefix: str, *faults: str) -> int:
        """Start a writer, with faults of the system if there are any; gives how it ended."""
        version = ".".join(map(str, self.version))
        done = subprocess.run(
            [*(failing(*faults) if faults else ()), sys.executable, "-m", "tests.book.writer", str(self.file), version, str(ENTRIES), prefix],
            cwd=ROOT, capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert "Traceback" not in done.stderr, done.stderr
        lines = [line.split() for line in done.stdout.splitlines()]
        self.promised |= {key: int(number) for number, key, _ in lines}
        return done.returncode

    def log_left(self) -> bool:
        """Whether a log stands beside the book from which the next start has to put it right."""
        logs = [self.file.with_name(self.file.name + ending) for ending in ("-journal", "-wal")]
        return any(one.exists() and one.stat().st_size > 0 for one in logs)


def shelf(folder: Path, mode: str) -> Callable[[], Shelf]:
    """A maker of new books in a mode."""
    made = files(folder, MODES[mode])

    def new() -> Shelf:
        opened = made()
        store = opened()
        assert isinstance(store, sqlite.SqliteStore)
        store.close()
        return Shelf(store.file, MODES[mode], opened)

    return new


def counted(one: Shelf, folder: Path) -> Counter[str]:
    """How often a writer makes each call."""
    trace = folder / "trace"
    version = ".".join(map(str, one.version))
    program = [sys.executable, "-m", "tests.book.writer", str(one.file), version, str(ENTRIES), "counted"]
    subprocess.run([*tracing(CALLS, trace), *program], cwd=ROOT, capture_output=True, check=True)
    words = [line.split(maxsplit=1)[1] for line in trace.read_text("utf-8", "replace").splitlines()]
    return Counter(word.partition("(")[0] for word in words if word.partition("(")[0] in CALLS)


def killed_at(calls: Counter[str], draw: random.Random, latest: int | None = None) -> str:
    """A kill at one call of those that are made, by chance; at an early one, if the latest is named."""
    call = draw.choice(sorted(calls))
    return f"{call}:{KILLS}:when={draw.randint(1, latest or calls[call])}"


@pytest.mark.promise("D11")
@pytest.mark.timeout(4500)
@pytest.mark.parametrize("mode", MODES)
def test_a_kill_in_the_start_after_a_kill_loses_nothing(quick: Path, mode: str, trial_run: TrialRun) -> None:
    draw = trial_run.random(mode)
    new = shelf(quick, mode)
    calls = counted(new(), quick)
    trials = round(STARTING * trial_run.trials)
    twice = 0
    for _ in range(trials):
        one = new()
        first = one.write("first", killed_at(calls, draw))
        there = one.log_left()
        second = one.write("second", killed_at(calls, draw, latest=2))
        twice += first != 0 and there and second != 0
        # Neither is stuck: the next writer saves all that it is asked to.
        assert one.write("third") == 0
        check(one.opened, one.promised)
    assert twice, "canary: the first fault is there when the second one comes"
    trial_run.measured(
        f"{mode}: killed in the start after a kill: 0 lost, 0 stuck; {twice} with a log to put right", trials
    )


@pytest.mark.promise("D11")
@pytest.mark.timeout(4500)
@pytest.mark.parametrize("mode", MODES)
def test_a_disk_that_fails_while_a_save_is_taken_back_loses_nothing(
    quick: Path, mode: str, trial_run: TrialRun
) -> None:
    draw = trial_run.random(mode)
    new = shelf(quick, mode)
    calls = counted(new(), quick)
    trials = round(TAKING_BACK * trial_run.trials)
    failed = 0
    for _ in range(trials):
        one = new()
        call = draw.choice(sorted(set(calls) & {"pwrite64", "fdatasync", "fsync"}))
        k = draw.randint(1, calls[call])
        # The save fails, and everything that taking it back would need fails too.
        others = [f"{other}:error=EIO:when={calls[other] // 2 or 1}+" for other in calls if other != call]
        code = one.write("first", f"{call}:error=EIO:when={k}+", *others)
        failed += code != 0
        assert one.write("second") == 0
        check(one.opened, one.promised)
    assert failed, "canary: the disk really failed"
    trial_run.measured(
        f"{mode}: the disk fails while a save is taken back: 0 lost, 0 stuck; {failed} saves refused", trials
    )


@pytest.mark.promise("D11")
@pytest.mark.timeout(4500)
def test_an_upgrade_that_is_killed_and_killed_again_as_it_is_taken_up_is_taken_up_again(
    old_books: tuple[str, Callable[[], Old]],
    trial_run: TrialRun,
) -> None:
    name, made = old_books
    draw = trial_run.random(name)
    statements = 1
    while opened_until(made().place, statement=statements):
        statements += 1
    trials = round(UPGRADE * trial_run.trials)
    twice = 0
    for _ in range(trials):
        old = made()
        opened_until(old.place, statement=draw.randint(1, statements - 1))
        before = old.form_now() == old.form
        again = opened_until(old.place, statement=draw.randint(1, statements - 1))
        twice += before and again
        old.is_taken_up_again()
    assert made().form == schema.STEPS[0]
    assert twice, "canary: the first fault is there when the second one comes"
    trial_run.measured(
        f"{name}: an upgrade killed twice: 0 lost, 0 stuck; {twice} killed in taking it up", trials
    )
