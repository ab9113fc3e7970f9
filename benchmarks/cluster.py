"""What a cluster costs beside the work itself: a survey on a real scheduler with two worker processes.

``python -m benchmarks.cluster`` makes recordings (invented), measures the processor time of the work on them in this process, then
surveys the same folder on a scheduler with two workers on this machine and adds up the processor time of client, scheduler and workers.
What those take at rest is measured too: on a machine with other work the same run takes longer by the clock, and so more of it.
A first survey of another folder loads what has to be loaded. ``--recordings`` takes more or fewer.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from benchmarks.archive import make_folder
from benchmarks.survey import ROWS
from leanwright.survey.run import CHUNK_BYTES
from leanwright.survey.task import Task, run_chunk
from leanwright.workbench.survey import read_rows, survey_folder

IDLE_S: Final = 8.0
TICKS: Final = os.sysconf("SC_CLK_TCK")


@contextmanager
def cluster(folder: Path) -> Iterator[tuple[str, list[int]]]:
    """A scheduler and two workers: its address, and the numbers of their processes."""
    told = folder / "scheduler.json"
    program = [sys.executable, "-m"]
    running = [
        subprocess.Popen(
            [*program, "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard",
             "--scheduler-file", str(told)], stderr=subprocess.DEVNULL,
        )
    ]  # fmt: skip
    try:
        while not told.exists():
            time.sleep(0.1)
        running += [
            subprocess.Popen(
                [*program, "distributed.cli.dask_worker", "--scheduler-file", str(told), "--nthreads", "1", "--no-nanny",
                 "--no-dashboard", "--local-directory", str(folder)], stderr=subprocess.DEVNULL,
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


def main() -> None:
    """Print the figures."""
    asked = argparse.ArgumentParser(description="A survey on a cluster against the work itself.")
    asked.add_argument("--recordings", type=int, default=120)
    wanted = asked.parse_args()
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        for folder, recordings in (("recordings", wanted.recordings), ("first", 16)):
            (place / folder).mkdir()
            make_folder(place / folder, recordings, ROWS)
        files = sorted((place / "recordings").iterdir())
        tasks = [Task(str(file), file.name, "") for file in files]
        run_chunk(read_rows, tasks[:2])
        began = time.process_time()
        run_chunk(read_rows, tasks)
        work = time.process_time() - began
        with cluster(place) as (address, processes):
            survey_folder(place / "first", cluster=address, kept_in=place / "kept")
            began, clock = processor_time_s(processes), time.monotonic()
            time.sleep(IDLE_S)
            idle = (processor_time_s(processes) - began) / (time.monotonic() - clock)
            began, clock = processor_time_s(processes), time.monotonic()
            survey_folder(place / "recordings", cluster=address, kept_in=place / "kept")
            spent, clock = processor_time_s(processes) - began, time.monotonic() - clock
            size = sum(file.stat().st_size for file in files)
    lot = 1000.0 * work * CHUNK_BYTES / size
    print(f"{wanted.recordings} recordings: the work {work:.2f} s of processor time, in lots of {lot:.0f} ms")
    print(f"on a cluster, client and scheduler included: {spent:.2f} s in {clock:.1f} s by the clock")
    print(
        f"at rest scheduler and workers take {100.0 * idle:.1f} % of a core, {idle * clock:.2f} s in that time"
    )
    print(
        f"overhead {100.0 * (spent / work - 1.0):.1f} % of the work; without what is taken at rest "
        f"{100.0 * ((spent - idle * clock) / work - 1.0):.1f} %"
    )


if __name__ == "__main__":
    main()
