"""The benchmark of a survey runs, on a handful of short recordings."""

import re
import subprocess
import sys

from tests.structure.sources import ROOT


def test_a_handful_of_recordings_is_surveyed_and_paired() -> None:
    # In a process of its own: a child is told the size of the process that started it as its own least size.
    command = [sys.executable, "-m", "benchmarks.survey", "--recordings", "3", "--rows", "900", "--no-growth"]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT)
    said = done.stdout
    assert re.match(r"3 recordings, \d MB; bare parse by .+ s of processor time\nsurvey: \d", said), said
    largest = re.search(r"largest process (\d+) MB", said)
    assert largest is not None
    assert float(largest[1]) <= 160.0
