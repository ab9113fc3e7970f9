"""Power as a function of the mixture: followed where it follows, told where it was changed."""

import numpy as np
import pytest
from numpy.typing import NDArray

from leanwright.analysis.power_level import PowerLevel, power_level

Floats = NDArray[np.float64]

GRID = np.arange(0.0, 160.0, 0.5)
TIME = np.arange(0.0, 159.0)
INSIDE = (TIME >= 20.0) & (TIME <= 140.0)


def mixture(time_s: Floats) -> Floats:
    return np.asarray(np.log(np.interp(time_s, [0.0, 20.0, 140.0], [14.0, 14.0, 10.5])))


def level(log_power: Floats) -> PowerLevel:
    return power_level(GRID, mixture(GRID), TIME, log_power, INSIDE)


def noise(seed: int = 1, size: float = 5e-4) -> Floats:
    return np.random.default_rng(seed).normal(0.0, size, TIME.size)


def fixed_pitch(time_s: Floats) -> Floats:
    """Power falls away lean of a best mixture, as an engine with a fixed-pitch propeller slows down."""
    return np.asarray(-1.2 * (mixture(time_s) - np.log(13.0)) ** 2)


def test_power_that_stands_still_is_taken_as_constant() -> None:
    found = level(noise())
    assert not found.log_power.any()
    assert not found.changed


def test_power_that_follows_the_mixture_is_found() -> None:
    found = level(fixed_pitch(TIME) + noise())
    inside = (GRID >= 20.0) & (GRID <= 140.0)
    assert np.abs(found.log_power - fixed_pitch(GRID))[inside].max() < 1e-3
    assert not found.changed


def test_a_throttle_moved_in_the_middle_is_a_change_of_power() -> None:
    assert level(np.where(TIME > 80.0, 0.05, 0.0) + noise()).changed


def test_a_single_wrong_row_moves_nothing() -> None:
    plain = fixed_pitch(TIME) + noise()
    wrong = plain.copy()
    wrong[70] += 0.5
    np.testing.assert_allclose(level(wrong).log_power, level(plain).log_power, atol=1e-3)


def test_rows_without_power_are_left_out() -> None:
    gaps = fixed_pitch(TIME) + noise()
    gaps[::3] = np.nan
    whole = level(fixed_pitch(TIME) + noise())
    np.testing.assert_allclose(level(gaps).log_power, whole.log_power, atol=2e-3)


@pytest.mark.parametrize("log_power", [np.zeros(TIME.size), np.full(TIME.size, np.nan)])
def test_unknown_power_is_no_change_of_power(log_power: Floats) -> None:
    found = level(log_power)
    assert not found.log_power.any()
    assert found.remainder == 0.0


def test_power_known_only_outside_the_sweep_tells_of_no_change() -> None:
    assert level(np.where(INSIDE, np.nan, 0.001 + noise())).remainder == 0.0


def test_the_unit_of_power_does_not_matter() -> None:
    power = fixed_pitch(TIME) + noise()
    shifted = level(power + 0.3)
    np.testing.assert_allclose(shifted.log_power - 0.3, level(power).log_power, atol=1e-5)
    assert shifted.remainder == pytest.approx(level(power).remainder, abs=1e-6)
