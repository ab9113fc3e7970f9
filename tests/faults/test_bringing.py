"""Whichever call of the system fails, or wherever the workbench dies, as a recording comes in: it is there whole, or not at all.

The running workbench is traced (strace) from the moment before the file is sent, and so is its worker.
"""

import re
import signal
import subprocess
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from leanwright.workbench import desk as desks
from leanwright.workbench import records
from leanwright.workbench.invent import write_first_flight
from tests.faults.promises import TrialRun
from tests.faults.test_calls import CALLS, points_of
from tests.faults.tracer import TRACER, needs_tracer
from tests.faults.workbench import BOOK, Workbench, forked, request
from tests.web.wire import Heard, exchange

pytestmark = needs_tracer
WITHIN_S = 20.0
DETACHES_S = 2.0
READ = re.compile(r"^/balance\?r=")
WAITING = re.compile(r"^/imports/")


@contextmanager
def workbench(folder: Path) -> Iterator[Workbench]:
    """A running workbench; it may be dead at the end."""
    bench = forked(folder)
    try:
        yield bench
    finally:
        with suppress(ProcessLookupError):
            bench.signal(signal.SIGKILL)
        bench.ended(WITHIN_S)


def processes(bench: Workbench) -> list[int]:
    """The workbench and the worker that stands ready."""
    tasks = Path(f"/proc/{bench.pid}/task").iterdir()
    return [bench.pid, *(int(child) for task in tasks for child in (task / "children").read_text().split())]


@contextmanager
def traced(bench: Workbench, trace: Path, *options: str) -> Iterator[None]:
    """Trace a running workbench and its worker."""
    assert TRACER is not None
    known = processes(bench)
    named = [part for number in known for part in ("-p", str(number))]
    with subprocess.Popen(
        [TRACER, "-f", "-qq", *options, "-o", str(trace), *named], stderr=subprocess.DEVNULL
    ) as tracer:
        try:
            until = time.monotonic() + WITHIN_S
            while not all(is_traced(number) for number in known) and time.monotonic() < until:
                time.sleep(0.01)
            yield
        finally:
            tracer.terminate()
            try:
                tracer.wait(DETACHES_S)
            except subprocess.TimeoutExpired:  # it waits for a process that it let die
                tracer.kill()


def is_traced(process: int) -> bool:
    """Whether somebody traces every thread of a process."""
    states = [(task / "status").read_text() for task in Path(f"/proc/{process}/task").iterdir()]
    return all(not re.search(r"^TracerPid:\t0$", state, re.MULTILINE) for state in states)


def brought(bench: Workbench, flight: bytes) -> Heard | None:
    """Bring a recording and wait for its end; nothing where the workbench died."""
    try:
        answer = bench.bring(flight)
        until = time.monotonic() + WITHIN_S
        where = answer.header("location")
        while WAITING.search(where) and time.monotonic() < until:
            page = exchange(bench.port, request(bench.port, "GET", where, bench.cookie))
            if "/stop" not in page.text:
                return page
            time.sleep(0.05)
    except OSError:
        return None
    assert not WAITING.search(where), "the import never ends"
    return answer if answer.status else None


def kept(folder: Path) -> int:
    """How many recordings lie on the desk; each has to be whole."""
    desk = desks.open_desk(folder / "leanwright-desk")
    return sum(desks.reading(desk, about).rows_kept == about.rows for about in desks.everything(desk))


def new(folder: Path) -> Path:
    """A folder with an empty book."""
    folder.mkdir(mode=0o700)
    records.make_book(str(folder / BOOK)).store.close()
    return folder


def counts(folder: Path, flight: bytes) -> Counter[str]:
    """The most calls of each kind that one thread makes as a recording comes in."""
    trace = folder / "trace"
    with workbench(folder) as bench, traced(bench, trace, "-e", f"trace={','.join(CALLS)}"):
        answer = brought(bench, flight)
        assert answer is not None
        assert READ.search(answer.header("location"))
    assert kept(folder) == 1
    each = Counter(re.findall(r"^(\d+) +(\w+)\(", trace.read_text("utf-8", "replace"), re.MULTILINE))
    most: Counter[str] = Counter()
    for (_, call), times in each.items():
        most[call] = max(most[call], times)
    return most


def wrong(folder: Path, flight: bytes, fault: str) -> str | None:
    """Make one call fail as a recording comes in: what is wrong with what comes of it, if anything is."""
    with workbench(folder) as bench:
        with traced(bench, folder / "trace", "-e", f"inject={fault}"):
            answer = brought(bench, flight)
        if answer is not None and "Traceback" in answer.text:
            return f"a traceback: {answer.text[-600:]}"
        there = kept(folder)
        if answer is not None and READ.search(answer.header("location")) and there != 1:
            return "false success"
    with workbench(folder) as bench:
        again = brought(bench, flight)
        if again is None or not READ.search(again.header("location")):
            return f"stuck: {again}"
    return None if kept(folder) == 1 else f"{kept(folder)} recordings"


@pytest.mark.promise("D5")
@pytest.mark.timeout(4500)
def test_a_failing_call_leaves_a_recording_whole_or_out(tmp_path: Path, trial_run: TrialRun) -> None:
    flight = write_first_flight(tmp_path).read_bytes()
    points = points_of(counts(new(tmp_path / "counted"), flight))
    chosen = trial_run.random("recording").sample(points, min(trial_run.trials, len(points)))
    found = {fault: wrong(new(tmp_path / f"{n}"), flight, fault) for n, fault in enumerate(chosen)}
    assert {fault: what for fault, what in found.items() if what} == {}
    trial_run.measured(
        f"recording: {len(chosen)} of {len(points)} points, each before or after, none stuck", len(chosen)
    )
