"""The first-order lag against exact solutions, scipy's solver and the integral it comes from."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.signal import lsim

from leanwright.analysis.probe_lag import BLOCK, Lag, lagged_noise

Floats = NDArray[np.float64]


def respond(signal: Floats, tau_s: float, step_s: float) -> Floats:
    return np.asarray(Lag(np.array([tau_s]), step_s, signal.size)(signal[None, None])[0, 0])


def test_a_step_is_63_212_percent_done_after_one_lag() -> None:
    """1 - exp(-t/tau), the step response of a first-order system (any textbook of control)."""
    step_s = 0.001
    signal = np.ones(BLOCK * 400)
    signal[0] = 0.0
    found = respond(signal, 1.0, step_s)[[1000, 2000, 3000, 5000]]
    assert found == pytest.approx([0.63212, 0.86466, 0.95021, 0.99326], abs=1e-3)


def test_a_ramp_is_followed_one_lag_behind() -> None:
    time = 0.25 * np.arange(20.0 * BLOCK)
    assert respond(3.0 * time, 2.0, 0.25)[-1] == pytest.approx(3.0 * (time[-1] - 2.0), abs=1e-9)


def test_the_top_of_a_parabola_is_late_by_the_lag() -> None:
    time = 0.02 * np.arange(200.0 * BLOCK)
    shown = respond(-((time - 40.0) ** 2), 2.5, 0.02)
    assert time[np.argmax(shown)] - 40.0 == pytest.approx(2.5, abs=0.021)


@pytest.mark.parametrize(("before", "after"), [(1.4, 2.0), (2.0, 1.4), (1.0, 1.0)])
def test_the_top_of_a_tent_is_late_by_tau_ln_1_plus_a_over_b(before: float, after: float) -> None:
    """The settled ramp a (t - tau) meets its slope at zero when exp(-t/tau) (a + b) = b."""
    tau, step_s = 3.0, 0.01
    time = step_s * np.arange(400.0 * BLOCK)
    shown = respond(np.where(time < 40.0, before * (time - 40.0), -after * (time - 40.0)), tau, step_s)
    assert time[np.argmax(shown)] - 40.0 == pytest.approx(
        tau * np.log(1.0 + before / after), abs=1.01 * step_s
    )


def test_leaning_and_enriching_over_one_tent_leave_half_tau_ln_of_the_steepness_ratio() -> None:
    """tau ln(1 + a/b) one way and tau ln(1 + b/a) the other: half their difference is tau/2 ln(a/b)."""
    tau, step_s, rich, lean = 2.0, 0.01, 1.4, 2.0
    time = step_s * np.arange(400.0 * BLOCK)
    delays = []
    for before, after in ((rich, lean), (lean, rich)):
        shown = respond(np.where(time < 40.0, before * (time - 40.0), -after * (time - 40.0)), tau, step_s)
        delays.append(time[np.argmax(shown)] - 40.0)
    assert 0.5 * (delays[1] - delays[0]) == pytest.approx(0.5 * tau * np.log(lean / rich), abs=step_s)


@pytest.mark.parametrize("tau_s", [0.1, 0.7, 2.3, 9.0, 60.0])
def test_any_signal_is_lagged_as_by_the_solver_of_scipy(tau_s: float) -> None:
    signal = np.cumsum(np.random.default_rng(3).normal(size=BLOCK * 9))
    _, expected, _ = lsim(([1.0], [tau_s, 1.0]), signal - signal[0], 0.4 * np.arange(signal.size))
    np.testing.assert_allclose(respond(signal, tau_s, 0.4), expected + signal[0], atol=1e-9)


def test_groups_and_rows_are_lagged_each_by_its_own() -> None:
    signal = np.random.default_rng(4).normal(size=(3, 2, BLOCK * 4))
    taus = np.array([0.5, 2.0, 8.0])
    together = Lag(taus, 0.5, BLOCK * 4)(signal)
    apart = [[respond(signal[i, j], tau, 0.5) for j in range(2)] for i, tau in enumerate(taus)]
    np.testing.assert_allclose(together, apart, atol=1e-12)


def test_what_is_settled_stays() -> None:
    np.testing.assert_allclose(respond(np.full(BLOCK * 3, 7.0), 2.0, 0.5), 7.0, rtol=1e-12)


def test_the_transpose_is_the_transpose() -> None:
    random = np.random.default_rng(5)
    lag = Lag(np.array([0.5, 4.0]), 0.4, BLOCK * 5)
    x, y = random.normal(size=(2, 2, 3, BLOCK * 5))
    assert np.sum(x * lag(y)) == pytest.approx(float(np.sum(lag.transposed(x) * y)), rel=1e-12)


@pytest.mark.parametrize("distance_s", [0.0, 0.5, 3.0, 12.0])
@pytest.mark.parametrize("tau_s", [0.3, 2.0, 2.0005, 6.0])
def test_lagged_noise_is_the_integral_over_both_probes_memories(distance_s: float, tau_s: float) -> None:
    noise_s = 2.0

    def memory(s: float) -> float:
        return float(np.exp(-abs(distance_s - s) / noise_s - abs(s) / tau_s) / (2.0 * tau_s))

    expected = quad(memory, -80.0, 80.0, points=sorted({0.0, distance_s}), limit=200)[0]
    assert lagged_noise(np.array(distance_s), tau_s, noise_s) == pytest.approx(expected, rel=2e-3, abs=3e-4)


def test_noise_through_hardly_any_lag_is_the_noise() -> None:
    apart = np.linspace(0.0, 10.0, 6)
    np.testing.assert_allclose(lagged_noise(apart, 1e-4, 2.0), np.exp(-apart / 2.0), atol=1e-4)


def test_a_slow_probe_shows_less_noise() -> None:
    sizes = [float(lagged_noise(np.array(0.0), tau, 2.0)) for tau in (0.5, 1.0, 2.0, 5.0, 20.0)]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[-1] == pytest.approx(
        2.0 / 22.0
    )  # n / (n + t), the variance of first-order noise behind a lag
