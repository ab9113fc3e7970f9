"""The same work on a real scheduler with two real workers, each a process of its own."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import distributed
import pytest

from benchmarks.cluster import LOOPBACK
from leanwright.errors import UnreachableClusterError
from leanwright.survey.cluster import run_on_cluster
from leanwright.survey.journal import Journal
from leanwright.survey.run import survey
from leanwright.survey.task import Outcome, Task
from tests.structure.sources import ROOT
from tests.survey.pieces_of_work import lengths

pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::ResourceWarning")


@dataclass
class Cluster:
    address: str
    workers: list[subprocess.Popen[bytes]]


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    place = tmp_path / "scheduler.json"
    variables = {**os.environ, "PYTHONPATH": str(ROOT)}
    common = [sys.executable, "-m", "distributed.cli"]
    scheduler = subprocess.Popen(
        [*common[:2], "distributed.cli.dask_scheduler", *LOOPBACK, "--port", "0", "--scheduler-file", str(place)],
        env=variables, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    workers = []
    try:
        for _ in range(100):
            if place.exists():
                break
            time.sleep(0.1)
        workers = [
            subprocess.Popen(
                [*common[:2], "distributed.cli.dask_worker", "--scheduler-file", str(place), "--nthreads", "1",
                 "--no-nanny", *LOOPBACK, "--name", str(number), "--local-directory", str(tmp_path)],
                env=variables, stderr=subprocess.DEVNULL,
            )
            for number in range(2)
        ]  # fmt: skip
        address = json.loads(place.read_text())["address"]
        _wait_for_workers(address, 2)
        yield Cluster(address, workers)
    finally:
        for process in [*workers, scheduler]:
            process.kill()
            process.wait()


def _wait_for_workers(address: str, count: int) -> None:
    library: Any = distributed
    with library.Client(address, set_as_default=False) as client:
        client.wait_for_workers(count, timeout=60)


def folder_of(tmp_path: Path, texts: list[str]) -> Path:
    made = tmp_path / "recordings"
    made.mkdir()
    for number, text in enumerate(texts):
        (made / f"{number:02d}").write_text(text)
    return made


def test_a_cluster_gives_the_same_as_this_machine(cluster: Cluster, tmp_path: Path) -> None:
    folder = folder_of(tmp_path, ["a", "bb", "empty", "fault", "ccc"])
    with Journal(tmp_path / "kept", "one") as kept:
        done = survey(folder, lengths, lambda w, c: run_on_cluster(w, c, cluster.address), kept)
    assert [one.rows[0]["length"] if one.rows else one.reason for one in done.outcomes] == [
        1, 2, "It is empty: 0 bytes. Copy it again.",
        "The program failed on it (ZeroDivisionError: planted); please report this.", 3,
    ]  # fmt: skip


def test_a_worker_killed_in_mid_run_costs_nothing_but_time(cluster: Cluster, tmp_path: Path) -> None:
    folder = folder_of(tmp_path, ["slow"] * 12)
    tasks = [[Task(str(place), place.name, "")] for place in sorted(folder.iterdir())]
    done: list[Outcome] = []
    for number, part in enumerate(run_on_cluster(lengths, tasks, cluster.address)):
        done += part
        if number == 1:
            cluster.workers[0].send_signal(signal.SIGKILL)
    assert sorted(one.name for one in done if one.reason is None) == [task.name for (task,) in tasks]


def test_a_cluster_that_is_not_there_is_one_sentence() -> None:
    with pytest.raises(UnreachableClusterError, match="no scheduler answers"):
        list(run_on_cluster(lengths, [], "tcp://127.0.0.1:9", patience_s=1.0))
    with pytest.raises(UnreachableClusterError, match="no scheduler answers"):
        list(run_on_cluster(lengths, [], "not an address", patience_s=1.0))
