"""What a round teaches of the engine's response."""

import numpy as np
import pytest

from leanwright.analysis.response import AS_PROMISED, PRIOR_U, learned


def test_the_estimate_is_the_weighted_mean_of_data_and_prior() -> None:
    # By hand: one value 0.045 of a promised 0.05 with u 0.005 has a ratio of 0.9 with u 0.1; with the prior 1 +- 0.15
    # the mean is (0.9/0.01 + 1/0.0225) / (1/0.01 + 1/0.0225).
    found = learned(np.array([0.05]), np.array([0.045]), np.array([[25e-6]]))
    weights = 1 / 0.01, 1 / PRIOR_U**2
    assert found.factor == pytest.approx((weights[0] * 0.9 + weights[1]) / sum(weights))
    assert found.u_factor == pytest.approx(sum(weights) ** -0.5)
    assert found.rounds == 1


def test_a_second_round_builds_on_the_first() -> None:
    first = learned(np.array([0.05]), np.array([0.045]), np.array([[25e-6]]))
    second = learned(np.array([0.02]), np.array([0.019]), np.array([[25e-6]]), first)
    both = learned(np.array([0.05, 0.02]), np.array([0.045, 0.019]), 25e-6 * np.eye(2))
    assert second.factor == pytest.approx(both.factor)
    assert second.u_factor == pytest.approx(both.u_factor)
    assert second.rounds == 2


def test_without_a_change_nothing_is_learned() -> None:
    assert learned(np.zeros(4), np.array([0.01, -0.01, 0.0, 0.0]), 1e-6 * np.eye(4)) is AS_PROMISED


def test_exact_values_are_believed() -> None:
    found = learned(np.array([0.05, -0.05]), np.array([0.04, -0.04]), np.zeros((2, 2)))
    assert found.factor == pytest.approx(0.8, abs=1e-4)
    assert found.u_factor < 1e-3
