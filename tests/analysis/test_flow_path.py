"""The path of the flow against a dense Gaussian process and against paths that are known."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import multivariate_normal

from leanwright.analysis import flow_path as module
from leanwright.analysis.flow_path import FlowPath, flow_path, reading_sigma
from leanwright.analysis.passage import averages
from leanwright.analysis.probe_lag import BLOCK, Lag
from tests.analysis.peak_scene import lagged

Floats = NDArray[np.float64]


def test_the_scatter_of_white_readings_is_found_in_spite_of_a_sweep() -> None:
    reading = np.linspace(2.6, 2.3, 2000) + np.random.default_rng(1).normal(0.0, 0.004, 2000)
    assert reading_sigma(reading, 0.001) == pytest.approx(0.004, rel=0.1)


def test_readings_that_stand_still_scatter_by_what_their_steps_hide() -> None:
    """A step s hides s/sqrt(12) when the error is even, twice its variance when neighbours err alike."""
    assert reading_sigma(np.full(50, 2.5), 0.01) == pytest.approx(0.01 / np.sqrt(6.0))
    assert reading_sigma(np.full(2, 2.5), 0.01) == pytest.approx(0.01 / np.sqrt(6.0))
    assert reading_sigma(np.full(2, 2.5), 0.0) > 0.0


def test_a_lever_that_moves_in_steps_does_not_pass_for_scatter() -> None:
    steps = 2.6 - 0.02 * np.floor(np.arange(160) / 4.0) * (np.arange(160) > 60)
    reading = steps + np.random.default_rng(2).normal(0.0, 0.003, 160)
    assert 0.003 < reading_sigma(reading, 0.001) < 0.0055


SMALL: Floats = np.arange(4.0 * BLOCK) * 0.5


def small_sample(every: int = 3) -> tuple[Floats, Floats]:
    time = np.asarray(SMALL[6:-1:every], dtype=np.float64)
    return time, averages(time, SMALL, np.arange(time.size))


def dense(grid: Floats, sample: Floats, sudden: Floats, wander: float, bend: float) -> tuple[Floats, Floats]:
    """Prior covariance of the path written out increment by increment, and what the readings see of it."""
    h = grid[1] - grid[0]
    n = grid.size
    steps = np.tril(np.ones((n, n)))[:, 1:]
    ramps = np.array([[h * max(m - k + 1, 0) for k in range(1, n)] for m in range(n)])
    away = grid - 0.5 * (grid[0] + grid[-1])
    prior = module.U_LEVEL**2 + module.U_RATE**2 * np.outer(away, away)
    prior = prior + steps @ np.diag(wander**2 * h + sudden[1:]) @ steps.T + bend**2 * h * ramps @ ramps.T
    lag = Lag(np.array([module.READING_LAG_S]), h, n)
    seen = sample @ np.stack([lag(row[None, None])[0, 0] for row in np.eye(n)], axis=1)
    return prior, seen


def test_path_and_uncertainty_are_those_of_the_dense_gaussian_process(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    wander, bend = 0.004, 2e-4
    monkeypatch.setattr(module, "_sizes", lambda *_: (wander / module.WANDER_FACTOR, bend))
    random = np.random.default_rng(6)
    _, sample = small_sample()
    variance = np.asarray(random.uniform(1e-6, 9e-6, sample.shape[0]))
    sudden: Floats = np.where(np.arange(SMALL.size) == 30, 0.01, 0.0)
    monkeypatch.setattr(module, "_jumping", lambda *_: wander**2 * 0.5 + sudden)
    reading = np.asarray(2.5 + 0.1 * random.normal(size=sample.shape[0]))
    found = flow_path(SMALL, sample, reading, variance, SMALL.size, 0.3, 1.5)
    prior, seen = dense(SMALL, sample, sudden, wander, bend)
    gain = np.linalg.solve(seen @ prior @ seen.T + np.diag(variance), seen @ prior)
    offset = reading.mean()
    np.testing.assert_allclose(found.log_flow, offset + (reading - offset) @ gain, atol=1e-7)
    posterior = prior - (prior @ seen.T) @ gain
    expected = posterior + module._mixture(SMALL)
    shape = np.eye(SMALL.size) - 1.0 / SMALL.size  # see the next test for the level
    both = shape @ np.stack((found.directions.T @ found.directions, expected)) @ shape
    np.testing.assert_allclose(both[0], both[1], atol=1e-8)
    np.testing.assert_allclose(found.rate, np.gradient(found.log_flow, 0.5))
    assert found.step_share == pytest.approx(0.3)


def test_the_level_of_the_path_is_as_uncertain_as_the_dense_gaussian_process_says(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    wander = 0.004
    monkeypatch.setattr(module, "_sizes", lambda *_: (wander / module.WANDER_FACTOR, 1e-6))
    monkeypatch.setattr(module, "JUMP_PASSES", 0)
    _, sample = small_sample()
    variance, nothing = np.full(sample.shape[0], 4e-6), np.zeros(SMALL.size)
    found = flow_path(SMALL, sample, np.full(sample.shape[0], 2.5), variance, SMALL.size, 0.3, 1.5)
    prior, seen = dense(SMALL, sample, nothing, wander, 1e-6)
    posterior = prior - prior @ seen.T @ np.linalg.solve(
        seen @ prior @ seen.T + np.diag(variance), seen @ prior
    )
    level = float((found.directions.T @ found.directions - module._mixture(SMALL)).mean())
    assert level == pytest.approx(float(posterior.mean()), rel=1e-3)


def test_the_sizes_of_the_walk_are_more_likely_than_their_neighbours() -> None:
    random = np.random.default_rng(7)
    _, sample = small_sample(2)
    variance = np.full(sample.shape[0], 4e-6)
    nothing = np.zeros(SMALL.size)
    prior, seen = dense(SMALL, sample, nothing, 0.003, 1e-4)
    reading = np.linalg.cholesky(
        seen @ (prior - module.U_LEVEL**2) @ seen.T + np.diag(variance)
    ) @ random.normal(size=sample.shape[0])

    def parts(wander: float, bend: float) -> Floats:
        one, _ = dense(SMALL, sample, nothing, wander, bend)
        return np.asarray(seen @ one @ seen.T)

    fixed = parts(0.0, 0.0) + np.diag(variance)
    walk, turn = parts(1.0, 0.0) - parts(0.0, 0.0), parts(0.0, 1.0) - parts(0.0, 0.0)
    wander, bend = module._sizes(fixed, walk, turn, reading)

    def likelihood(i: int, j: int) -> float:
        total = fixed + module.WANDER[i] ** 2 * walk + module.TURN[j] ** 2 * turn
        return float(multivariate_normal(cov=total).logpdf(reading))

    i, j = int(np.flatnonzero(wander == module.WANDER)[0]), int(np.flatnonzero(bend == module.TURN)[0])
    best = likelihood(i, j)
    assert best >= max(likelihood(k, j) for k in range(module.WANDER.size)) - 1e-6
    assert best >= max(likelihood(i, k) for k in range(module.TURN.size)) - 1e-6


def path_of(true: Floats, noise: float, seed: int = 8) -> FlowPath:
    """Path told from readings once a second that lag by a second; the grid is finer."""
    random = np.random.default_rng(seed)
    shown = lagged(true, 1.0, 0.5)
    time = np.asarray(SMALL_LONG[10:-1:2], dtype=np.float64)
    sample = averages(time, SMALL_LONG, np.arange(time.size))
    reading = sample @ shown + random.normal(0.0, noise, time.size)
    sigma = reading_sigma(reading, noise)
    return flow_path(SMALL_LONG, sample, reading, np.full(time.size, sigma**2), 40, 0.0, 1.0)


SMALL_LONG: Floats = np.arange(18.0 * BLOCK) * 0.5


def test_an_even_sweep_is_followed_without_the_readings_lag() -> None:
    true = np.interp(SMALL_LONG, [0.0, 30.0, 120.0], [2.64, 2.64, 2.34])
    found = path_of(true, 1e-4)
    middle = (SMALL_LONG > 40.0) & (SMALL_LONG < 110.0)
    error = (found.log_flow - true)[middle]
    assert abs(float(error.mean())) < 3e-4  # a second of lag would make 3.3e-3
    assert np.abs(error).max() < 3e-3
    assert float(found.rate[middle].mean()) == pytest.approx(-0.3 / 90.0, rel=0.02)


@pytest.mark.parametrize("noise", [0.001, 0.005])
def test_the_path_is_as_far_off_as_its_directions_say(noise: float) -> None:
    true = np.interp(SMALL_LONG, [0.0, 30.0, 75.0, 80.0, 120.0], [2.64, 2.64, 2.5, 2.5, 2.34])
    squares = []
    for seed in range(6):
        found = path_of(true, noise, seed)
        middle = (SMALL_LONG > 35.0) & (SMALL_LONG < 115.0)
        variance = (found.directions**2).sum(0)
        squares.append(((found.log_flow - true) ** 2)[middle].mean() / variance[middle].mean())
    assert 0.03 < float(np.mean(squares)) < 1.5


def test_a_jump_of_the_lever_is_followed_at_once() -> None:
    true = np.where(SMALL_LONG > 70.0, 2.4, 2.6)
    found = path_of(true, 0.001)
    away = (np.abs(SMALL_LONG - 70.0) > 3.0) & (SMALL_LONG > 12.0) & (SMALL_LONG < 130.0)
    assert np.abs((found.log_flow - true)[away]).max() < 0.01
    variance = (found.directions**2).sum(0)
    near = np.abs(SMALL_LONG - 70.0) <= 1.0
    assert variance[near].max() > 25.0 * np.median(variance)
    assert np.median(variance) < 0.002**2


def test_readings_that_jump_wildly_leave_a_path_with_its_uncertainty() -> None:
    """A flow that reads a billion billion once: variances of nought come out of rounding a little below it."""
    _, sample = small_sample(2)
    reading = np.full(sample.shape[0], 2.5)
    reading[sample.shape[0] // 2] = 60.0
    found = flow_path(SMALL, sample, reading, np.full(sample.shape[0], 1e-6), 4, 0.3, 1.0)
    assert np.isfinite(found.log_flow).all()
    assert np.isfinite(found.directions).all()
