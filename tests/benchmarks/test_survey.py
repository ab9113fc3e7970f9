"""The benchmark of a survey runs, on a handful of short recordings."""

import re
import sys

import pytest

from benchmarks import survey


def test_a_handful_of_recordings_is_surveyed_and_paired(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", ["survey", "--recordings", "3", "--rows", "900", "--no-growth"])
    survey.main()
    said = capsys.readouterr().out
    assert re.match(r"3 recordings, \d MB; bare parse by .+ s of processor time\nsurvey: \d", said), said
    largest = re.search(r"largest process (\d+) MB", said)
    assert (
        largest is not None
    )  # how large it is counts outside these tests: a child is told its parent's size too
