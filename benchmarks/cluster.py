"""What a cluster costs beside the work itself: a survey on a real scheduler with two worker processes.

``python -m benchmarks.cluster`` makes recordings (invented) and surveys them on a scheduler with two workers on this machine. Each
file's work tells its own processor time; what client, scheduler and workers took in the same run beside it is the overhead: all
of it is measured at the same time, so that a busy machine slows both alike. What the three processes take at rest in that time
is told apart: it goes by the clock, not by the work. A first survey loads what has to be loaded. ``--recordings`` and ``--rows`` take
more or fewer, ``--rounds`` how often the folder is surveyed, each time with a journal of its own.
"""

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from benchmarks.archive import make_folder
from benchmarks.survey import ROWS
from leanwright.survey.run import CHUNK_BYTES
from leanwright.survey.task import file_digest
from leanwright.workbench.survey import read_rows, work_through

IDLE_S: Final = 8.0
TICKS: Final = os.sysconf("SC_CLK_TCK")
HERE: Final = Path(__file__).resolve().parents[1]
LOOPBACK: Final = ("--host", "127.0.0.1", "--no-dashboard", "--dashboard-address", "127.0.0.1:0")
"""Without a dashboard the library's programs still answer at its address, which is that of every network unless it is named."""


@dataclass(frozen=True, slots=True)
class Round:
    """Processor time of one survey: the work, and all that client, scheduler and workers took [s]."""

    work_s: float
    spent_s: float
    clock_s: float


def timed_rows(place: str, name: str) -> list[dict[str, Any]]:
    """The work on one file as a survey does it, with the processor time that it took, its digest included [s]."""
    began = time.thread_time()
    file_digest(Path(place))
    digest_s = time.thread_time() - began
    rows = read_rows(place, name)
    # The survey has taken the digest once already, before it asked for this work: that is no overhead either.
    rows[0]["spent_s"] = time.thread_time() - began + digest_s
    return rows


@contextmanager
def cluster(folder: Path) -> Iterator[tuple[str, list[int]]]:
    """A scheduler and two workers: its address, and the numbers of their processes."""
    told = folder / "scheduler.json"
    program = [sys.executable, "-m"]
    variables = {**os.environ, "PYTHONPATH": os.pathsep.join([str(HERE), os.environ.get("PYTHONPATH", "")])}
    running = [
        subprocess.Popen(
            [*program, "distributed.cli.dask_scheduler", *LOOPBACK, "--port", "0",
             "--scheduler-file", str(told)], stderr=subprocess.DEVNULL, env=variables,
        )
    ]  # fmt: skip
    try:
        while not told.exists():
            time.sleep(0.1)
        running += [
            subprocess.Popen(
                [*program, "distributed.cli.dask_worker", "--scheduler-file", str(told), "--nthreads", "1", "--no-nanny",
                 *LOOPBACK, "--local-directory", str(folder)], stderr=subprocess.DEVNULL, env=variables,
            )
            for _ in range(2)
        ]  # fmt: skip
        time.sleep(5.0)
        yield json.loads(told.read_text())["address"], [process.pid for process in running]
    finally:
        for process in running:
            process.kill()
            process.wait()


def processor_time_s(processes: list[int]) -> float:
    """Processor time of this process and of others that still run [s]."""
    fields = [Path(f"/proc/{one}/stat").read_text().rpartition(")")[2].split() for one in processes]
    return time.process_time() + sum(int(one[11]) + int(one[12]) for one in fields) / TICKS


def one_round(folder: Path, kept: Path, address: str, processes: list[int]) -> Round:
    """Survey a folder on the cluster."""
    began, clock = processor_time_s(processes), time.monotonic()
    done = work_through(folder, timed_rows, "cluster", cluster=address, kept_in=kept)
    spent, clock = processor_time_s(processes) - began, time.monotonic() - clock
    return Round(sum(outcome.rows[0]["spent_s"] for outcome in done.outcomes), spent, clock)


def at_rest(processes: list[int], seconds: float) -> float:
    """Share of a core that scheduler and workers take without work [1]."""
    began, clock = processor_time_s(processes), time.monotonic()
    time.sleep(seconds)
    return (processor_time_s(processes) - began) / (time.monotonic() - clock)


def main() -> None:
    """Print the figures."""
    asked = argparse.ArgumentParser(description="A survey on a cluster against the work itself.")
    asked.add_argument("--recordings", type=int, default=120)
    asked.add_argument("--rows", type=int, default=ROWS)
    asked.add_argument("--rounds", type=int, default=5)
    asked.add_argument("--idle", type=float, default=IDLE_S)
    wanted = asked.parse_args()
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        for folder, recordings in (("recordings", wanted.recordings), ("first", min(wanted.recordings, 16))):
            (place / folder).mkdir()
            make_folder(place / folder, recordings, wanted.rows)
        size = sum(file.stat().st_size for file in (place / "recordings").iterdir())
        with cluster(place) as (address, processes):
            one_round(place / "first", place / "kept-first", address, processes)
            idle = at_rest(processes, wanted.idle)
            rounds = [
                one_round(place / "recordings", place / f"kept-{number}", address, processes)
                for number in range(wanted.rounds)
            ]
    work = statistics.median(one.work_s for one in rounds)
    lot = 1000.0 * work * min(CHUNK_BYTES / size, 1.0)
    over = [100.0 * (one.spent_s / one.work_s - 1.0) for one in rounds]
    own = [100.0 * ((one.spent_s - idle * one.clock_s) / one.work_s - 1.0) for one in rounds]
    print(f"{wanted.recordings} recordings: the work {work:.2f} s of processor time, in lots of {lot:.0f} ms")
    print(f"by the clock {statistics.median(one.clock_s for one in rounds):.1f} s")
    print(f"at rest scheduler and workers take {100.0 * idle:.1f} % of a core")
    print(
        f"overhead of {len(rounds)} surveys {_told(over)} of the work; without what is taken at rest {_told(own)}"
    )


def _told(percents: list[float]) -> str:
    return f"{statistics.median(percents):.1f} % ({min(percents):.1f} to {max(percents):.1f})"


if __name__ == "__main__":
    main()
