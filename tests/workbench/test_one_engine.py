"""Recordings that cannot be of one engine."""

from dataclasses import replace

import numpy as np
import pytest

from leanwright.analysis.balance import balance
from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.analysis.peak import Peaks
from leanwright.engine.profile import unplaced
from leanwright.findings import Statement
from leanwright.recordings.recording import Recording
from leanwright.workbench.explain import Given, explain
from leanwright.workbench.one_engine import measured_apart
from leanwright.workbench.prove import prove
from tests.analysis.made_peaks import made_peaks, made_sweep, random_covariance

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


def exchanged(percent: float) -> np.ndarray:
    return np.array([percent, -percent, 0.0, 0.0, 0.0, 0.0]) / 100.0


@pytest.mark.parametrize("percent", [1.0, 1.2, 2.4])
def test_two_nozzles_exchanged_between_two_recordings_are_another_state(percent: float) -> None:
    said = measured_apart([result("a", exchanged(percent)), result("b", exchanged(-percent))])
    assert said is not None
    assert said.code == "mixed-engines-measured"
    assert said.values["cylinder"] in {1, 2}
    assert abs(float(str(said.values["difference_percent"]))) == pytest.approx(2.0 * percent)


def test_two_cylinders_mended_between_two_recordings_are_another_state() -> None:
    uneven = np.array([0.023, 0.0, 0.0, 0.0, -0.023, 0.0])
    said = measured_apart([result("a", uneven), result("b", 0.1 * uneven)])
    assert said is not None
    assert said.code == "mixed-engines-measured"


def test_nozzles_exchanged_are_found_at_a_power_that_both_were_flown_at() -> None:
    def two_powers(name: str, offsets: np.ndarray) -> RecordingResult:
        flows = np.array([12.0, 12.0, 9.0, 9.0])[:, None] * np.exp(np.vstack([offsets] * 4))
        sweeps = [made_sweep(pressure=pressure) for pressure in (22.0, 22.0, 17.0, 17.0)]
        return replace(result(name, offsets), peaks=made_peaks(flows, sweeps=sweeps))

    said = measured_apart([two_powers("a", exchanged(2.4)), two_powers("b", exchanged(-2.4))])
    assert said is not None
    assert said.code == "mixed-engines-measured"


def test_however_far_one_cylinder_moves_alone_the_others_are_not_refused() -> None:
    for percent in (2.0, 6.0, 15.0):
        alone = PATTERN + np.array([0.0, 0.0, 0.0, percent / 100.0, 0.0, 0.0])
        said = measured_apart([result("a", PATTERN), result("b", alone)])
        assert said is not None
        assert (said.code, said.values["cylinder"]) == ("recordings-differ", 4)


def test_a_cylinder_with_one_bad_sweep_refuses_nothing() -> None:
    good = result("a", PATTERN)
    flows = 12.0 * np.exp(np.vstack([PATTERN, PATTERN]))
    flows[1, 2] *= 1.08
    said = measured_apart([good, replace(result("b", PATTERN), peaks=made_peaks(flows))])
    assert said is None or said.code == "recordings-differ"


def test_recordings_of_one_engine_agree_forty_times_out_of_forty() -> None:
    generator = np.random.default_rng(3)
    said = []
    for seed in range(40):
        offsets = generator.normal(0.0, 0.02, 6)
        covariance = random_covariance(seed, 12, u=0.002)
        pair = []
        for name in ("a", "b"):
            values = generator.multivariate_normal(np.tile(np.log(12.0) + offsets, 2), covariance)
            peaks = made_peaks(np.exp(values.reshape(2, 6)), covariance=covariance)
            pair.append(replace(result(name, offsets), peaks=peaks))
        said.append(measured_apart(pair))
    assert said == [None] * 40


def test_recordings_that_are_not_of_one_state_are_neither_explained_nor_compared() -> None:
    why = Statement("mixed-engines-measured", {"first": "a", "second": "b"})
    mixed = Measured((), replace(balance([]), reasons=(why,)), unplaced(0), 1)
    assert explain(mixed, None, Given()).reasons == (why,)
    assert explain(replace(mixed, balance=balance([])), mixed, Given()).reasons == (why,)
    assert prove(mixed, mixed).comparison.reasons == (why,)
