"""Nothing is left open and memory does not grow, however much is asked of the workbench (Q6)."""

import re
import signal
import sys
import time
from dataclasses import dataclass
from itertools import cycle, islice
from pathlib import Path

import pytest

from leanwright.workbench.invent import write_first_flight
from tests.faults.promises import TrialRun
from tests.faults.workbench import PROGRAM, Workbench, request, started
from tests.web.table import GETS
from tests.web.wire import exchange

pytestmark = pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="the system tells it elsewhere")
MOST_MB = 20.0
SETTLES_S = 8.0
BROUGHT = {200, 303}
EVERY = 60
EVERY_IN_LONG = 10
"""One in so many requests brings a file."""
LEAKING = """
import os
from leanwright.cli.start import run
from leanwright.workbench import preferences

read, kept = preferences.read, []

def leaking(folder):
    kept.append((open(os.devnull), b"x" * 400_000))
    return read(folder)

preferences.read = leaking
run()
"""


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


def ask(bench: Workbench, requests: int, every: int, files: list[bytes]) -> int:
    """Look at every page in turn, and bring a file now and then; gives how many files were brought."""
    contents, brought = cycle(files), 0
    for number, target in enumerate(islice(cycle(GETS), requests)):
        if number % every == every - 1:
            assert bench.bring(next(contents)).status in BROUGHT
            brought += 1
        assert exchange(bench.port, request(bench.port, "GET", target, bench.cookie)).status < 500
    return brought


def grown(
    folder: Path,
    requests: int,
    every: int,
    program: tuple[str, ...] = PROGRAM,
    settles_s: float = SETTLES_S,
) -> tuple[dict[str, int], float, int]:
    """What is open more after so many requests, how much the memory grew [MB], and how many files were brought."""
    files = [write_first_flight(folder).read_bytes(), b"nothing,that,flies\n1,2\n"]
    bench = started(folder, program)
    try:
        for content in files:
            assert bench.bring(content).status in BROUGHT
        assert bench.post("/book/begin").status == 303
        ask(bench, len(GETS), requests, files)
        before = settled(bench.pid, within_s=settles_s)
        brought = ask(bench, requests, every, files)
        after = settled(bench.pid, before, settles_s)
        left = more(before, after)
        if left:  # a pool starts a thread once, when two requests meet; a leak grows in every round
            brought += ask(bench, requests, every, files)
            left = more(after, settled(bench.pid, after, settles_s))
        return left, after.memory_mb - before.memory_mb, brought
    finally:
        bench.signal(signal.SIGTERM)
        bench.ended(20)


@pytest.mark.promise("Q6")
@pytest.mark.timeout(4500)
def test_nothing_is_left_open_and_memory_does_not_grow(tmp_path: Path, trial_run: TrialRun) -> None:
    every = EVERY_IN_LONG if trial_run.is_long else EVERY
    left, memory_mb, brought = grown(tmp_path, trial_run.trials, every)
    assert left == {}
    assert memory_mb <= MOST_MB
    trial_run.measured(
        f"nothing left open, {memory_mb:.1f} MB more, {brought} imports among the requests", trial_run.trials
    )


@pytest.mark.promise("Q6")
def test_canary_a_planted_leak_is_found(tmp_path: Path) -> None:
    # What is leaked never goes, however long it is waited for.
    left, memory_mb, _ = grown(tmp_path, 100, EVERY, (sys.executable, "-c", LEAKING), settles_s=1.0)
    assert left["files"] >= 50
    assert memory_mb > MOST_MB
