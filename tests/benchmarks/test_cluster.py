"""The benchmark of a cluster runs, on a few short recordings and a real scheduler with two workers."""

import re
import subprocess
import sys

from tests.structure.sources import ROOT


def test_a_few_recordings_are_surveyed_on_a_cluster_and_their_work_told_apart() -> None:
    # In a process of its own: the workers load the work from the folder that it is started in.
    command = [
        sys.executable,
        "-m",
        "benchmarks.cluster",
        "--recordings",
        "4",
        "--rows",
        "900",
        "--rounds",
        "2",
        "--idle",
        "0.5",
    ]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT)
    found = re.match(
        r"4 recordings: the work (\d+\.\d\d) s .+\n.+\n.+\noverhead of 2 surveys (-?\d+\.\d) % \((-?\d+\.\d) to",
        done.stdout,
    )
    assert found is not None, done.stdout
    assert float(found[1]) > 0.0
    assert float(found[3]) > 0.0, "the work alone cannot take longer than the work with all that is about it"
