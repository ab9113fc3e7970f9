"""A bad import hurts nobody else (I4): whatever its worker does, people who look at pages meanwhile are answered as ever.

The worker of an import takes all the memory that there is, never comes to an end, waits for ever, breaks, or is killed; it is ended
at its limit, and nothing of what it read is kept. The canary is one whose limit is too far off.
"""

import asyncio
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from leanwright.web.limits import LIMITS
from leanwright.web.pages import incoming
from leanwright.workbench import desk
from tests.faults.promises import TrialRun
from tests.faults.test_slow_clients import TARGETS, THINKS_S, WITHIN_S, share, work, worked
from tests.web.conftest import opened, running
from tests.web.wire import Browser

USERS = 10
LIMIT_S = 1
"""How long a worker of these tests may compute; it may take twice as long in all [s]."""
ENDED_WITHIN_S = 5.0
WORKER = """
import faulthandler, os, signal, sys, time
from dataclasses import replace
from pathlib import Path
from leanwright.web import worker
from leanwright.web.limits import LIMITS
from leanwright.workbench import desk_reading

folder, cpu_s = Path(sys.argv[1]), int(sys.argv[2])

def memory():
    taken = []
    while True:
        taken.append(bytearray(1 << 24))

def loop():
    while True:
        pass

def wait():
    time.sleep(1000)

def broken():
    faulthandler._sigsegv()

def killed():
    os.kill(os.getpid(), signal.SIGKILL)

def half():
    (folder / worker.OUTCOME).write_bytes(b"{")
    os._exit(0)

def read_file(place, *, name, **more):
    (folder / worker.READINGS).write_bytes(b"half of it")
    globals()[name.removesuffix(".csv")]()

desk_reading.read_file = read_file
worker.main(folder, replace(LIMITS, worker_cpu_s=cpu_s))
"""
"""A worker that does what the name of its recording says, instead of reading it."""
KINDS = ("memory", "loop", "wait", "broken", "killed", "half")
TOLD = ("needs more memory", "more time or memory", "Reading it failed here")
"""What the page of an import says whose worker was ended or failed."""


@contextmanager
def looking(browsers: list[Browser], told: list[tuple[int, float]]) -> Iterator[None]:
    """People who look at pages for as long as this lasts; how each was answered is told at the end."""
    over = threading.Event()

    def look(browser: Browser) -> None:
        while not over.is_set():
            work(browser, time.monotonic() + THINKS_S, lambda *answer: told.append(answer))

    lookers = [threading.Thread(target=look, args=(one,)) for one in browsers]
    for looker in lookers:
        looker.start()
    try:
        yield
    finally:
        over.set()
        for looker in lookers:
            looker.join()


@pytest.fixture
def _bad_worker(monkeypatch: pytest.MonkeyPatch) -> None:
    start = asyncio.create_subprocess_exec

    async def started(program: str, *arguments: str, **more: Any) -> asyncio.subprocess.Process:
        assert arguments[:3] == ("-I", "-m", "leanwright.web.worker")
        return await start(program, "-I", "-c", WORKER, arguments[3], str(LIMIT_S), **more)

    monkeypatch.setattr(asyncio, "create_subprocess_exec", started)
    monkeypatch.setattr(incoming, "ANSWER_WITHIN_S", 0.1)


def brought(browser: Browser, kind: str, flight: bytes, within_s: float) -> tuple[str, float]:
    """Bring a recording: what its page says in the end, or after so much time, and how long it took [s]."""
    begun = time.monotonic()
    where = browser.go(browser.drop((f"{kind}.csv", flight)))
    while "/stop" in (page := browser.get(where).text) and time.monotonic() - begun < within_s:
        time.sleep(0.05)
    return page, time.monotonic() - begun


@pytest.mark.promise("I4")
@pytest.mark.timeout(4500)
@pytest.mark.usefixtures("_bad_worker")
def test_whatever_the_worker_of_an_import_does_others_are_answered(
    tmp_path: Path, flight: bytes, trial_run: TrialRun
) -> None:
    kinds = KINDS * -(-trial_run.trials // len(KINDS))
    answers: list[tuple[int, float]] = []
    slowest_s = 0.0
    with running(tmp_path, replace(LIMITS, worker_s=2.0 * LIMIT_S)) as served:
        importer, *browsers = [opened(served) for _ in range(1 + USERS)]
        worked(
            browsers[:1], THINKS_S * len(TARGETS)
        )  # what a page needs is loaded when it is first asked for
        with looking(browsers, answers):
            for kind in kinds:
                said, took_s = brought(importer, kind, flight, 2.0 * LIMIT_S + 2.0 * ENDED_WITHIN_S)
                assert any(words in said for words in TOLD), kind
                slowest_s = max(slowest_s, took_s)
        assert desk.everything(served.house.desk) == ()
    assert {status for status, _ in answers} == {200}
    assert slowest_s <= 2.0 * LIMIT_S + ENDED_WITHIN_S
    within_s = share([took_s for _, took_s in answers], 0.95)
    assert within_s <= WITHIN_S
    trial_run.measured(
        f"0 of {len(answers):,} answers to {USERS} others refused, 95 % of them within {within_s:.2f} s; "
        f"each worker ended within {slowest_s:.1f} s, nothing of it was kept",
        len(kinds),
    )


@pytest.mark.promise("I4")
@pytest.mark.usefixtures("_bad_worker")
def test_canary_a_worker_whose_limit_is_far_off_is_not_ended(tmp_path: Path, flight: bytes) -> None:
    with running(tmp_path) as served:
        said, _ = brought(opened(served), "wait", flight, 2.0 * LIMIT_S)
    assert "/stop" in said
