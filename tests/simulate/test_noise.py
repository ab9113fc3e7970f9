"""Lags against the arithmetic of first-order systems; noise against the moments it is drawn for."""

from itertools import pairwise

import numpy as np
import pytest

from leanwright.simulate import noise

STEP = 0.01


@pytest.mark.parametrize(
    ("lags", "percent"), [(1.0, 63.212), (2.0, 86.466), (3.0, 95.021), (5.0, 99.326)], ids=str
)
def test_a_step_is_answered_by_one_minus_exp_of_minus_t_over_lag(lags: float, percent: float) -> None:
    """1 - exp(-t/tau), the answer of every first-order system."""
    lag_s = 3.0
    signal = np.ones(2000)
    reading = noise.first_order_lag(signal, STEP, lag_s, start=0.0)
    assert 100.0 * reading[round(lags * lag_s / STEP)] == pytest.approx(percent, abs=1e-3)


def test_a_steady_ramp_is_shown_late_by_the_lag() -> None:
    t = np.arange(0.0, 60.0, STEP)
    reading = noise.first_order_lag(2.0 * t, STEP, 4.0)
    assert reading[-1] == pytest.approx(2.0 * (t[-1] - 4.0), abs=1e-4)


@pytest.mark.parametrize(("before", "after", "delay"), [(1.4, 2.0, 0.531), (2.0, 1.4, 0.887)])
def test_a_tent_top_is_shown_late_by_lag_times_ln_of_one_plus_the_slope_ratio(
    before: float, after: float, delay: float
) -> None:
    """Derived: the reading turns where it meets the input, tau ln(1 + a/b) after the top."""
    lag_s, t = 2.0, np.arange(-40.0, 10.0, 0.002)
    reading = noise.first_order_lag(np.where(t < 0.0, before * t, -after * t), 0.002, lag_s)
    assert t[np.argmax(reading)] == pytest.approx(lag_s * np.log(1.0 + before / after), abs=0.004)
    assert t[np.argmax(reading)] / lag_s == pytest.approx(delay, abs=0.002)


def test_a_lag_much_shorter_than_the_step_leaves_the_signal_alone() -> None:
    signal = np.array([0.0, 1.0, -2.0, 5.0])
    assert noise.first_order_lag(signal, 1000.0, 0.001).tolist() == signal.tolist()


def test_the_recursion_in_blocks_is_the_plain_recursion() -> None:
    rng = np.random.default_rng(3)
    signal = rng.standard_normal(9000)
    decay = np.exp(-0.1 / 0.7)
    late = 1.0 - (1.0 - decay) * 7.0
    expected = [signal[0]]
    for before, now in pairwise(signal):
        expected.append(decay * expected[-1] + ((1.0 - decay) - late) * before + late * now)
    assert np.allclose(noise.first_order_lag(signal, 0.1, 0.7), expected, rtol=0.0, atol=1e-10)


def test_correlated_noise_has_unit_variance_and_the_correlation_asked_for() -> None:
    x = noise.correlated(np.random.default_rng(5), 400_000, 0.1, 2.0)
    assert x.std() == pytest.approx(1.0, abs=0.03)
    assert np.corrcoef(x[:-20], x[20:])[0, 1] == pytest.approx(np.exp(-1.0), abs=0.03)


def test_gusts_and_hunting_have_unit_variance() -> None:
    rng = np.random.default_rng(6)
    assert noise.gust(rng, 400_000, 0.1, 5.0).std() == pytest.approx(1.0, abs=0.05)
    assert noise.hunting(rng, 400_000, 0.1, 40.0).std() == pytest.approx(1.0, abs=0.05)
