import numpy as np
import pytest
from scipy import stats

from leanwright.analysis.trend_forecast import Forecast, Noise


def drawn(seed: int, rows: int, columns: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    design = np.column_stack([np.ones(rows), rng.standard_normal((rows, columns - 1))])
    return design, design @ rng.standard_normal(columns) + 2.0 * rng.standard_normal(rows)


def test_what_was_learned_is_the_least_squares_of_a_reference_library() -> None:
    design, values = drawn(1, 40, 4)
    forecast = Forecast(np.full(4, 1e5))
    for row, value in zip(design, values, strict=True):
        forecast.learn(row, float(value))
    assert forecast.mean == pytest.approx(np.linalg.lstsq(design, values, rcond=None)[0], abs=1e-5)
    assert forecast.covariance == pytest.approx(np.linalg.inv(design.T @ design), abs=1e-5)


def test_squares_of_recursive_residuals_sum_to_those_of_least_squares() -> None:
    # Brown, Durbin and Evans 1975, lemma 1 and 2: the recursive residuals' squares sum to the residual sum of squares.
    design, values = drawn(2, 60, 3)
    forecast = Forecast(np.full(3, 1e5))
    total = 0.0
    for place, (row, value) in enumerate(zip(design, values, strict=True)):
        expected, variance = forecast.expected(row)
        if place >= 3:
            total += (value - expected) ** 2 / variance
        forecast.learn(row, float(value))
    assert total == pytest.approx(np.linalg.lstsq(design, values, rcond=None)[1][0], rel=1e-6)


def test_standardised_errors_of_a_sound_engine_are_standard_normal() -> None:
    design, values = drawn(3, 2000, 3)
    forecast, noise = Forecast(np.full(3, 1e3)), Noise.beforehand(2.0, 2.0)
    seen = []
    for row, value in zip(design, values, strict=True):
        expected, variance = forecast.expected(row)
        seen.append(noise.standardised(value - expected, variance))
        forecast.learn(row, float(value))
        if forecast.learned > 3:
            noise.learn(value - expected, variance)
    assert stats.kstest(seen[3:], "norm").pvalue > 0.01
    assert abs(np.corrcoef(seen[3:-1], seen[4:])[0, 1]) < 0.06


def test_a_reading_of_little_worth_moves_the_forecast_little() -> None:
    sure, doubtful = Forecast(np.ones(1)), Forecast(np.ones(1))
    sure.learn(np.ones(1), 1.0)
    doubtful.learn(np.ones(1), 1.0, noise=9.0)
    assert (sure.mean[0], doubtful.mean[0]) == (pytest.approx(0.5), pytest.approx(0.1))


def test_conditions_never_met_are_expected_with_more_doubt() -> None:
    forecast = Forecast(np.array([10.0, 10.0]))
    for at in (-0.1, 0.0, 0.1) * 5:
        forecast.learn(np.array([1.0, at]), at)
    assert forecast.expected(np.array([1.0, 5.0]))[1] > 4.0 * forecast.expected(np.array([1.0, 0.0]))[1]
