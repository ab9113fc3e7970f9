"""Generalised means with a between-group variance."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leanwright.analysis.random_effects import combine
from tests.analysis.made_peaks import random_covariance


def test_a_mean_of_equally_good_values_is_their_mean() -> None:
    mean = combine(np.array([1.0, 2.0, 3.0]), np.eye(3), np.ones((3, 1)))
    assert mean.estimate == pytest.approx([2.0])
    assert mean.covariance == pytest.approx(np.array([[1.0 / 3.0]]))
    assert (mean.between_variance, mean.degrees_of_freedom) == (0.0, 2)


def test_a_misfit_below_its_degrees_of_freedom_leaves_no_between_variance() -> None:
    mean = combine(np.array([1.0, 1.1]), np.eye(2), np.ones((2, 1)))
    assert mean.misfit == pytest.approx(0.005)
    assert mean.between_variance == 0.0


def test_two_values_with_known_variances_get_the_between_variance_in_closed_form() -> None:
    # With two values Q = (x1 - x2)^2 / (v1 + v2 + 2 tau^2), so Q = 1 at tau^2 = ((x1 - x2)^2 - v1 - v2) / 2.
    mean = combine(np.array([0.0, 4.0]), np.diag([1.0, 3.0]), np.ones((2, 1)))
    assert mean.between_variance == pytest.approx((16.0 - 1.0 - 3.0) / 2.0)
    assert mean.estimate == pytest.approx([4.0 * 7.0 / 16.0])
    assert mean.probability == pytest.approx(0.0455003, abs=1e-7)  # misfit 4 with one degree: two sigma


def test_correlated_values_are_weighted_by_the_inverse_of_their_whole_covariance() -> None:
    covariance = random_covariance(1, 5, u=1.0)
    design = np.column_stack([np.ones(5), np.arange(5.0)])
    values = np.array([1.0, 1.1, 1.2, 1.3, 1.4])
    result = combine(values, covariance, design)
    inverse = np.linalg.inv(covariance)
    expected = np.linalg.inv(design.T @ inverse @ design)
    assert result.covariance == pytest.approx(expected)
    assert result.estimate == pytest.approx([1.0, 0.1])
    assert result.weights == pytest.approx(expected @ design.T @ inverse)


@given(st.integers(0, 1000), st.floats(0.1, 10.0))
def test_units_do_not_matter(seed: int, scale: float) -> None:
    generator = np.random.default_rng(seed)
    values, covariance = generator.normal(size=6), random_covariance(seed, 6, u=0.5)
    plain, scaled = (
        combine(values * factor, covariance * factor**2, np.ones((6, 1))) for factor in (1.0, scale)
    )
    assert scaled.estimate == pytest.approx(plain.estimate * scale, rel=1e-6, abs=1e-9)
    assert scaled.between_variance == pytest.approx(plain.between_variance * scale**2, rel=1e-6, abs=1e-9)
    assert scaled.misfit == pytest.approx(plain.misfit, rel=1e-6)


@given(st.integers(0, 1000))
def test_with_its_between_variance_the_misfit_equals_the_degrees_of_freedom(seed: int) -> None:
    values = np.random.default_rng(seed).normal(0.0, 3.0, 7)
    covariance = random_covariance(seed, 7, u=1.0)
    result = combine(values, covariance, np.ones((7, 1)))
    rest = values - result.estimate[0]
    total = covariance + result.between_variance * np.eye(7)
    again = float(rest @ np.linalg.solve(total, rest))
    assert again == pytest.approx(6.0) if result.between_variance > 0 else again <= 6.0 + 1e-9


def test_as_many_values_as_unknowns_leave_nothing_to_disagree() -> None:
    result = combine(np.array([1.0, 2.0]), np.eye(2), np.eye(2))
    assert (result.misfit, result.between_variance, result.degrees_of_freedom) == (0.0, 0.0, 0)
    assert result.probability == 1.0


def test_exact_values_are_combined_too() -> None:
    result = combine(np.array([1.0, 1.0, 1.0]), np.zeros((3, 3)), np.ones((3, 1)))
    assert result.estimate == pytest.approx([1.0])
    assert np.isfinite(result.covariance).all()


def test_a_design_that_does_not_determine_its_unknowns_is_refused() -> None:
    with pytest.raises(ValueError, match="3 values and 2 unknowns"):
        combine(np.zeros(3), np.eye(3), np.ones((3, 2)))
