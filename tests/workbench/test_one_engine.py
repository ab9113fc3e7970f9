"""Recordings that cannot be of one engine."""

import numpy as np

from leanwright.analysis.measured import RecordingResult
from leanwright.analysis.peak import Peaks
from leanwright.findings import Statement
from leanwright.recordings.recording import Recording
from leanwright.workbench.one_engine import measured_apart
from tests.analysis.made_peaks import made_peaks, made_sweep

PATTERN = np.array([0.03, -0.02, 0.015, -0.025, 0.02, -0.02])


def result(name: str, offsets: np.ndarray, mean: float = 12.0, pressure: float = 22.0) -> RecordingResult:
    flows = (mean * np.exp(np.vstack([offsets, offsets]))).tolist()
    peaks: Peaks = made_peaks(flows, sweeps=[made_sweep(pressure=pressure)] * 2)
    nothing = np.empty(0)
    recording = Recording(name, "", nothing, np.empty(0, dtype=np.int64), (), 0, ())
    return RecordingResult(recording, (), peaks, ())


def test_one_engine_at_two_powers_agrees_with_itself() -> None:
    assert measured_apart([result("a", PATTERN), result("b", PATTERN, 9.0)]) is None


def test_another_pattern_is_another_engine() -> None:
    said = measured_apart([result("a", PATTERN), result("b", PATTERN[::-1])])
    assert said is not None
    assert said.code == "mixed-engines-measured"
    assert (said.values["first"], said.values["second"]) == ("a", "b")


def test_one_cylinder_that_moved_is_told_and_may_have_another_reason() -> None:
    moved = PATTERN + np.array([0.0, 0.0, 0.02, 0.0, 0.0, 0.0])
    said = measured_apart([result("a", PATTERN), result("b", moved)])
    assert isinstance(said, Statement)
    assert (said.code, said.values["cylinder"]) == ("recordings-differ", 3)


def test_of_several_recordings_the_two_that_differ_most_are_named() -> None:
    said = measured_apart([result("a", PATTERN), result("b", PATTERN), result("c", -PATTERN)])
    assert said is not None
    assert said.values["second"] == "c"


def test_one_cylinder_that_differs_at_another_power_needs_no_other_engine() -> None:
    moved = PATTERN + np.array([0.0, 0.0, 0.02, 0.0, 0.0, 0.0])
    assert measured_apart([result("a", PATTERN), result("b", moved, 10.0, pressure=18.0)]) is None
    other = measured_apart([result("a", PATTERN), result("b", PATTERN[::-1], 10.0, pressure=18.0)])
    assert other is not None
    assert other.code == "mixed-engines-measured"
