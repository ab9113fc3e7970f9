"""The benchmark of a folder of recordings runs, on a handful of short ones."""

import re
import sys

import pytest

from benchmarks import archive


def test_a_handful_of_recordings_is_read_measured_and_paired(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", ["archive", "--recordings", "3", "--rows", "900"])
    archive.main()
    said = capsys.readouterr().out
    found = re.match(
        r"3 recordings, (\d\.\d) MB, \d+ sweeps, processor time: bare parse by \S+.* reading \d", said
    )
    assert found is not None, said
    assert float(found[1]) > 0.4
