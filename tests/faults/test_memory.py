"""Memory runs out (D10): one piece of work ends, nothing is damaged, and what runs beside it goes on.

The address space of a whole command is limited in steps; and inside one process a ``MemoryError`` is raised at each call in
turn, as the interpreter raises it where memory cannot be had.
"""

import asyncio
import json
import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import pytest

from leanwright.web.limits import LIMITS
from leanwright.workbench import desk
from leanwright.workbench.invent import write_first_flight
from tests.book.cluster import quick_folder
from tests.faults.promises import TrialRun
from tests.faults.test_calls import WORKS, Work, copied, judged, stuck
from tests.faults.test_same_output import FLIGHT, PROGRAM
from tests.web.conftest import opened, running
from tests.web.test_bad_imports import TOLD

ROOT = Path(__file__).resolve().parents[2]
LEAST_MB, MOST_MB, MOST_OF_WORKER_MB, ENOUGH_MB = 24, 400, 220, 1024
"""Below the least the interpreter itself does not start; with the most a work is done, with enough every one on any machine."""
SHARE_OF_COMMANDS, SHARE_OF_SERVER = 2, 5
"""A command is started twice for each of its trials, and the server once, so they take a half and a fifth of them."""
POINTS_A_TRIAL = 10
WORKER = """
import sys
from dataclasses import replace
from pathlib import Path
from leanwright.web.limits import LIMITS
from leanwright.web.worker import main
main(Path(sys.argv[1]), replace(LIMITS, worker_bytes=int(sys.argv[2]) << 20))
"""
"""The worker with a limit of its own."""


def limited(folder: Path, command: tuple[str, ...], megabytes: int) -> subprocess.CompletedProcess[str]:
    """Run a command with so much address space."""
    most = megabytes << 20
    return subprocess.run(
        [sys.executable, "-c", PROGRAM, *command],
        cwd=folder,
        # One thread of the numeric library, so that what is needed does not depend on how many cores there are.
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "XDG_CACHE_HOME": str(folder / "cache"), "XDG_DATA_HOME": str(folder / "data")},
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (most, most)),
        capture_output=True, text=True, check=False,
    )  # fmt: skip


def wrong(given: Path, work: Work, megabytes: int) -> tuple[str | None, bool]:
    """Do a work with little memory: what is wrong with what comes of it, if anything is; and whether it was done."""
    with copied(given) as name:
        folder = Path(name)
        what, finished = judged(folder, work, limited(folder, work.command, megabytes))
        if what or finished:
            return what, finished
        return stuck(folder, work, limited(folder, work.again or work.command, ENOUGH_MB)), False


@pytest.mark.promise("D10")
@pytest.mark.timeout(4500)
def test_a_command_with_too_little_memory_does_all_or_nothing(given: Path, trial_run: TrialRun) -> None:
    draw = trial_run.random("command")
    names = sorted(WORKS)
    found: dict[str, str | None] = {}
    ended = 0
    trials = trial_run.trials // SHARE_OF_COMMANDS
    for number in range(trials):
        name = names[number % len(names)]
        megabytes = draw.randint(LEAST_MB, MOST_MB)
        what, finished = wrong(given, WORKS[name], megabytes)
        found[f"{name} with {megabytes} MB"] = what
        ended += not finished
    assert {where: what for where, what in found.items() if what} == {}
    assert 0 < ended < trials, "canary: some end for want of memory, and some are done"
    trial_run.measured(
        f"commands within {LEAST_MB} to {MOST_MB} MB: 0 damaged, {ended} ended and were done again",
        trials,
    )


@pytest.mark.promise("D10")
def test_canary_without_a_limit_every_work_is_done(given: Path) -> None:
    for name, work in WORKS.items():
        assert wrong(given, work, ENOUGH_MB) == (None, True), name


def out_of_memory(what: str, folder: Path, trial_run: TrialRun, points: int) -> dict[str, int]:
    """Let memory run out at so many calls in a process of its own, where no measuring of the tests traces along."""
    seed = f"{trial_run.seed} {what}"
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults.memory", what, str(folder), seed, str(points)],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]
    found: dict[str, int] = json.loads(done.stdout)
    assert found["raised"] == found["points"] == min(points, found["calls"])
    return found


@pytest.mark.promise("D10")
@pytest.mark.timeout(4500)
def test_a_save_that_runs_out_of_memory_anywhere_is_there_once_or_not_at_all(trial_run: TrialRun) -> None:
    with tempfile.TemporaryDirectory(dir=quick_folder()) as name:
        found = out_of_memory("save", Path(name), trial_run, trial_run.trials * POINTS_A_TRIAL)
    trial_run.measured(
        f"a save that runs out of memory at {found['points']} of its {found['calls']} calls: there once, 0 damaged",
        found["points"],
    )


@pytest.mark.promise("D10")
@pytest.mark.timeout(4500)
def test_reading_that_runs_out_of_memory_anywhere_says_so_and_reads_the_next_time(
    given: Path, trial_run: TrialRun
) -> None:
    found = out_of_memory("read", given / "flights" / FLIGHT, trial_run, trial_run.trials)
    trial_run.measured(
        f"reading that runs out of memory at {found['points']} of its {found['calls']} calls: told, read the next time",
        found["points"],
    )


@pytest.mark.promise("D10")
@pytest.mark.timeout(4500)
def test_a_worker_with_too_little_memory_dies_alone_and_the_server_answers_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, trial_run: TrialRun
) -> None:
    start, megabytes = asyncio.create_subprocess_exec, LIMITS.worker_bytes >> 20

    async def started(program: str, *arguments: str, **more: Any) -> asyncio.subprocess.Process:
        assert arguments[:3] == ("-I", "-m", "leanwright.web.worker")
        return await start(program, "-I", "-c", WORKER, arguments[3], str(megabytes), **more)

    monkeypatch.setattr(asyncio, "create_subprocess_exec", started)
    flight = write_first_flight(tmp_path).read_bytes()
    draw = trial_run.random("worker")
    trials = max(2, trial_run.trials // SHARE_OF_SERVER)
    ended = 0
    for number in range(trials):
        folder = tmp_path / str(number)
        folder.mkdir()
        # The first has as much as a recording may take: the canary, which is read.
        megabytes = draw.randint(LEAST_MB, MOST_OF_WORKER_MB) if number else LIMITS.worker_bytes >> 20
        with running(folder) as served:
            browser = opened(served)
            page = browser.get(browser.go(browser.drop(("flight.csv", flight))))
            kept = desk.everything(served.house.desk)
            assert kept or any(words in page.text for words in TOLD), megabytes
            assert (page.status, browser.get("/").status) == (200, 200), megabytes
            assert kept or number, "canary: with all the memory it is read"
            ended += not kept
    assert ended
    trial_run.measured(f"workers with too little memory: {ended} died alone, the server answered on", trials)
