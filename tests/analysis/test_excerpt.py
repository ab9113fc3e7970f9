"""Rows of one sweep: what is taken, what is left, and times of stamped rows."""

from dataclasses import replace

import numpy as np
import pytest

from leanwright.analysis.excerpt import even_times, excerpt
from leanwright.recordings.recording import Recording
from tests.analysis.peak_scene import Flown, changed, cut, sweep, values_of, with_values, without

SWEEP = sweep(100.0, 220.0)
FLOWN = Flown(times_s=(0.0, 100.0, 220.0, 320.0), flows_gph=(14.0, 14.0, 10.4, 10.4))


@pytest.fixture(scope="module")
def made() -> Recording:
    return FLOWN.recording()


def test_rows_of_the_sweep_and_of_the_stretches_beside_it_are_taken_as_they_are(made: Recording) -> None:
    part = cut(made, SWEEP)
    assert part.time_s[part.inside][[0, -1]] == pytest.approx([100.0, 220.0])
    assert part.time_s[0] < 100.0
    assert part.time_s[-1] > 220.0
    rows = np.isin(made.time_s, part.time_s)
    np.testing.assert_array_equal(part.flow_gph, values_of(made, "fuel_flow")[rows])
    np.testing.assert_array_equal(part.egt_f[3], values_of(made, "egt", 4)[rows])
    assert part.cylinders == (1, 2, 3, 4, 5, 6)
    assert (part.start_s, part.end_s, part.direction) == (100.0, 220.0, "leaning")
    assert part.flow_step_gph == pytest.approx(0.1)
    np.testing.assert_allclose(part.egt_step_f, 1.0)


def test_missing_readings_stay_missing_and_a_flow_of_nought_is_none(made: Recording) -> None:
    flow, egt = values_of(made, "fuel_flow"), values_of(made, "egt", 2)
    flow[150], egt[160:163] = 0.0, np.nan
    part = cut(with_values(with_values(made, flow, "fuel_flow"), egt, "egt", 2), SWEEP)
    assert part.time_s[np.isnan(part.flow_gph)].tolist() == [150.0]
    assert part.time_s[np.isnan(part.egt_f[1])].tolist() == [160.0, 161.0, 162.0]


@pytest.mark.parametrize("missing", ["fuel_flow", "egt"])
def test_without_flow_or_egt_there_is_nothing(made: Recording, missing: str) -> None:
    assert excerpt(without(made, missing), SWEEP) is None


def test_a_channel_without_numbers_is_none(made: Recording) -> None:
    assert excerpt(changed(made, "fuel_flow", values=None), SWEEP) is None
    assert cut(changed(made, "egt", 3, values=None), SWEEP).cylinders == (1, 2, 4, 5, 6)


def test_a_sweep_between_two_rows_has_no_rows(made: Recording) -> None:
    assert excerpt(made, sweep(120.2, 120.4)) is None


@pytest.mark.parametrize(
    ("missing", "left"), [("manifold_pressure", "engine_speed"), ("engine_speed", "manifold_pressure")]
)
def test_power_follows_the_channel_that_is_there(made: Recording, missing: str, left: str) -> None:
    values = values_of(made, left)
    values[150] *= 1.01
    moved = with_values(made, values, left)
    for recording in (without(moved, missing), with_values(moved, np.full(made.rows_kept, np.nan), missing)):
        part = cut(recording, SWEEP)
        rows = np.isin(part.time_s, [149.0, 150.0])
        np.testing.assert_allclose(part.log_power[rows], [0.0, np.log(1.01)], atol=1e-12)


def test_power_is_unknown_without_both_its_channels(made: Recording) -> None:
    part = cut(without(without(made, "manifold_pressure"), "engine_speed"), SWEEP)
    assert not part.log_power.any()


def test_power_is_the_logarithm_of_pressure_times_speed_about_its_median(made: Recording) -> None:
    pressure = values_of(made, "manifold_pressure")
    pressure[150], pressure[151], pressure[152] = 22.4 * 1.01, np.nan, 0.0
    part = cut(with_values(made, pressure, "manifold_pressure"), SWEEP)
    rows = np.isin(part.time_s, [149.0, 150.0, 151.0, 152.0])
    np.testing.assert_allclose(part.log_power[rows], [0.0, np.log(1.01), np.nan, np.nan], atol=1e-12)


def test_a_stretch_at_another_power_is_not_taken(made: Recording) -> None:
    pressure = values_of(made, "manifold_pressure")
    pressure[(made.time_s < 90.0) | (made.time_s > 230.0)] = 18.0
    part = cut(with_values(made, pressure, "manifold_pressure"), SWEEP)
    assert part.time_s[[0, -1]].tolist() == [90.0, 230.0]


def test_rows_of_another_power_up_are_not_taken(made: Recording) -> None:
    part = cut(replace(made, power_up_rows=(0, 95, 225)), SWEEP)
    assert part.time_s[[0, -1]].tolist() == [95.0, 224.0]


def test_neighbouring_sweeps_limit_what_is_taken_but_never_the_sweep(made: Recording) -> None:
    near = excerpt(made, SWEEP, not_before_s=92.0, not_after_s=226.0)
    inside = excerpt(made, SWEEP, not_before_s=110.0, not_after_s=200.0)
    assert near is not None
    assert inside is not None
    assert near.time_s[[0, -1]].tolist() == [92.0, 226.0]
    assert inside.time_s[[0, -1]].tolist() == [100.0, 220.0]


def test_steps_that_nobody_told_are_the_smallest_differences(made: Recording) -> None:
    untold = replace(made, channels=tuple(replace(c, resolution=None) for c in made.channels))
    part = cut(untold, SWEEP)
    assert part.flow_step_gph == pytest.approx(0.1)
    np.testing.assert_allclose(part.egt_step_f, 1.0)
    stuck = changed(untold, "egt", 1, values=np.full(made.rows_kept, 700.0))
    assert cut(stuck, SWEEP).egt_step_f[0] == 0.0


def test_the_other_engine_has_its_own_channels(made: Recording) -> None:
    other = replace(made, channels=tuple(replace(c, engine=2) for c in made.channels))
    assert excerpt(other, SWEEP, 2) is not None
    assert excerpt(other, SWEEP, 1) is None


@pytest.mark.parametrize("interval_s", [0.25, 0.5, 3.0])
def test_an_even_clock_cut_to_whole_seconds_is_found_again(interval_s: float) -> None:
    """Rows wander about the turn of a second; cut to seconds, the stamps are one apart more or less."""
    random = np.random.default_rng(2)
    true = interval_s * np.arange(80) + 0.5
    stamped = np.floor(true + random.uniform(-0.2, 0.2, true.size) * min(interval_s, 1.0))
    even = even_times(np.maximum.accumulate(stamped))
    np.testing.assert_allclose(np.diff(even), interval_s, rtol=0.02)
    assert np.abs(even - even.mean() - (true - true.mean())).max() < 0.6


def test_rows_every_two_seconds_near_the_turn_of_a_second_are_found_again() -> None:
    true = 2.0 * np.arange(80)
    stamped = np.floor(true + np.where(np.arange(80) % 9 == 4, 0.02, -0.02))
    np.testing.assert_allclose(np.diff(even_times(stamped)), 2.0, rtol=0.02)


@pytest.mark.parametrize(
    "times",
    [
        np.arange(20.0),
        np.arange(5.0) * 2.0,
        np.arange(40.0) * 0.5,
        np.arange(40.0) * 3.0,
        np.concatenate((np.arange(0.0, 40.0, 2.0), np.arange(47.0, 80.0, 2.0))),
        np.floor(np.arange(40) ** 1.5 / 8.0),
    ],
    ids=["each second", "few", "half seconds told", "even", "a pause", "uneven"],
)
def test_times_that_need_no_mending_are_left_alone(times: np.ndarray) -> None:
    np.testing.assert_array_equal(even_times(times), times)
