"""Power is steady when only drift and a fixed pitch's slowing explain it."""

import numpy as np
import pytest

from leanwright.analysis.steadiness import block_means, power_remainder

TIME = np.arange(0.0, 120.0)
FLOW = np.log(np.linspace(14.0, 10.0, 120))
STILL = np.zeros(120)


def test_constant_power_leaves_nothing() -> None:
    assert np.abs(power_remainder(TIME, STILL + 3.1, STILL + 7.7, FLOW)).max() < 1e-6


def test_a_steady_drift_of_pressure_leaves_nothing() -> None:
    assert np.ptp(power_remainder(TIME, 0.0002 * TIME, STILL, FLOW)) < 1e-5


def test_the_slowing_of_a_fixed_pitch_leaves_nothing() -> None:
    lean = np.clip(np.log(12.0) - FLOW, 0.0, None)
    assert np.ptp(power_remainder(TIME, STILL, -0.9 * lean**2, FLOW)) < 0.001


@pytest.mark.parametrize("size", [-0.05, 0.03])
def test_a_step_of_pressure_is_left_whole(size: float) -> None:
    step = np.where(TIME > 60.0, size, 0.0)
    assert np.ptp(power_remainder(TIME, step, STILL, FLOW)) > 0.7 * abs(size)


def test_a_step_of_speed_cannot_hide_behind_the_mixture_whole() -> None:
    step = np.where(TIME > 60.0, 0.04, 0.0)
    assert np.ptp(power_remainder(TIME, STILL, step, FLOW)) > 0.015


def test_a_few_rows_are_not_fitted_away() -> None:
    time = np.arange(0.0, 30.0, 6.0)
    speed = np.array([0.0, 0.0, 0.05, 0.0, 0.0])
    assert np.ptp(power_remainder(time, 0.0 * time, speed, np.log(np.linspace(14.0, 10.0, 5)))) > 0.015


def test_flow_that_stands_still_is_no_obstacle() -> None:
    assert np.abs(power_remainder(TIME, STILL, STILL, STILL + 2.5)).max() < 1e-6


def test_means_over_blocks_take_a_short_end_into_the_last_block() -> None:
    values = np.arange(24.0)
    assert block_means(np.arange(24.0), values, 10.0).tolist() == [4.5, 16.5]


def test_one_block_where_time_is_shorter() -> None:
    assert block_means(np.array([0.0, 1.0]), np.array([1.0, 3.0]), 10.0).tolist() == [2.0]
