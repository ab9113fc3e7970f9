"""Nothing is left open and memory does not grow, however much is asked of the workbench (Q6)."""

import os
import re
import signal
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count, cycle, islice
from pathlib import Path

import pytest

from leanwright.workbench.invent import write_first_flight
from tests.faults.promises import TrialRun
from tests.faults.workbench import Workbench, request, started
from tests.web.table import GETS
from tests.web.wire import exchange

pytestmark = pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="the system tells it elsewhere")
MOST_MB = 20.0
SETTLES_S = 8.0
FLAT_MB = 1.0
"""In ten minutes."""
EVERY = 60
EVERY_IN_LONG = 10
"""One in so many requests brings a file."""
GIVING = """
import ctypes, gc, signal
from leanwright.cli.start import run

def give_back(*_):
    gc.collect()
    ctypes.CDLL(None).malloc_trim(0)

signal.signal(signal.SIGUSR1, give_back)
"""
"""The program, which gives the memory that is free back to the system when it is asked to: what is left is held."""
LEAKING = """
import os
from leanwright.workbench import preferences

read, kept = preferences.read, []

def leaking(folder):
    kept.append((open(os.devnull), b"x" * 400_000))
    return read(folder)

preferences.read = leaking
"""
RUN = "run()"


@dataclass(frozen=True)
class Held:
    """What a process holds: open files and sockets, threads, children, and memory of its own [MB]."""

    files: int
    threads: int
    children: int
    memory_mb: float

    def open(self) -> tuple[int, int, int]:
        """What is countable of it."""
        return self.files, self.threads, self.children


def held(process: int) -> Held:
    """What a process holds now, as the system tells it."""
    place = Path(f"/proc/{process}")
    tasks = list((place / "task").iterdir())
    children = sum(len((task / "children").read_text().split()) for task in tasks)
    memory = re.search(r"VmRSS:\s+(\d+) kB", (place / "status").read_text())
    assert memory is not None
    return Held(len(list((place / "fd").iterdir())), len(tasks), children, int(memory[1]) / 1000.0)


def settled(process: int, before: Held | None = None, within_s: float = SETTLES_S) -> Held:
    """What a process holds once it does nothing: twice the same, and no more than before if that comes in time."""
    until = time.monotonic() + within_s
    now = held(process)
    while time.monotonic() < until:
        time.sleep(0.3)
        last, now = now, held(process)
        if last.open() == now.open() and (before is None or not more(before, now)):
            break
    return now


def more(before: Held, after: Held) -> dict[str, int]:
    """How much more is open than before."""
    names = ("files", "threads", "children")
    found = {name: getattr(after, name) - getattr(before, name) for name in names}
    return {name: number for name, number in found.items() if number > 0}


def come_and_gone(bench: Workbench, content: bytes) -> None:
    """Bring a recording, look at it if it could be read, and put it away."""
    where = bench.bring(content).header("location")
    while where.startswith("/imports/"):
        page = exchange(bench.port, request(bench.port, "GET", where, bench.cookie))
        if "/stop" not in page.text and not page.header("location"):
            return  # it could not be read, and says so
        where = page.header("location") or where
        time.sleep(0.05)
    assert exchange(bench.port, request(bench.port, "GET", where, bench.cookie)).status == 200
    assert bench.post(f"/recordings/{where.partition('?r=')[2]}/away").status == 303


def ask(bench: Workbench, requests: int, every: int, files: Iterator[bytes]) -> int:
    """Look at every page in turn, and bring a new file now and then; gives how many files were brought."""
    brought = 0
    for number, target in enumerate(islice(cycle(GETS), requests)):
        if number % every == every - 1:
            come_and_gone(bench, next(files))
            brought += 1
        assert exchange(bench.port, request(bench.port, "GET", target, bench.cookie)).status < 500
    return brought


def new_files(flight: bytes) -> Iterator[bytes]:
    """A recording that can be read and a file that cannot, in turn, none of them the same as another."""
    for number in count():
        yield b"nothing,that,flies\n1,%d\n" % number if number % 2 else b"# %d\n" % number + flight


def still_held(bench: Workbench) -> float:
    """The memory of a workbench once it has given back what is free [MB]."""
    os.kill(bench.pid, signal.SIGUSR1)
    assert exchange(bench.port, request(bench.port, "GET", "/settings", bench.cookie)).status == 200
    return settled(bench.pid, within_s=2.0).memory_mb


@dataclass(frozen=True)
class Grown:
    """What is open more after so many requests, how much the memory grew [MB], and how many files were brought."""

    left: dict[str, int]
    memory_mb: float
    late_mb: float
    """Of what is held, amid half as many requests after that."""
    late_s: float
    brought: int


def grown(folder: Path, requests: int, every: int, planted: str = "", settles_s: float = SETTLES_S) -> Grown:
    """Ask a workbench so often, and half as often again."""
    files = new_files(write_first_flight(folder).read_bytes())
    bench = started(folder, (sys.executable, "-c", GIVING + planted + RUN))
    try:
        assert bench.post("/book/begin").status == 303
        ask(bench, len(GETS), len(GETS) // 2, files)
        before = settled(bench.pid, within_s=settles_s)
        brought = ask(bench, requests, every, files)
        after = settled(bench.pid, before, settles_s)
        kept, begun = still_held(bench), time.monotonic()
        brought += ask(bench, requests // 2, every, files)
        late_mb, late_s = still_held(bench) - kept, time.monotonic() - begun
        left = more(before, after)
        if left:  # a pool starts a thread once, when two requests meet; a leak grows in every round
            brought += ask(bench, requests, every, files)
            left = more(after, settled(bench.pid, after, settles_s))
        return Grown(left, after.memory_mb - before.memory_mb, late_mb, late_s, brought)
    finally:
        bench.signal(signal.SIGTERM)
        bench.ended(20)


@pytest.mark.promise("Q6")
@pytest.mark.timeout(4500)
def test_nothing_is_left_open_and_memory_does_not_grow(tmp_path: Path, trial_run: TrialRun) -> None:
    every = EVERY_IN_LONG if trial_run.is_long else EVERY
    found = grown(tmp_path, trial_run.trials, every)
    assert found.left == {}
    assert found.memory_mb <= MOST_MB
    if trial_run.is_long:
        assert found.late_mb <= FLAT_MB * max(1.0, found.late_s / 600.0)
    trial_run.measured(
        f"nothing left open, {found.memory_mb:.1f} MB more; then {found.late_mb:.1f} MB more held after half as many again "
        f"in {found.late_s:.0f} s; {found.brought} imports among the requests",
        trial_run.trials,
    )


@pytest.mark.promise("Q6")
def test_canary_a_planted_leak_is_found(tmp_path: Path) -> None:
    # What is leaked never goes, however long it is waited for.
    found = grown(tmp_path, 100, EVERY, LEAKING, settles_s=1.0)
    assert found.left["files"] >= 50
    assert found.memory_mb > MOST_MB
    assert found.late_mb > FLAT_MB
