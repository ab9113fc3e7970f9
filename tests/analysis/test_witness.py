"""The plain local fit."""

import numpy as np
import pytest

from leanwright.analysis.witness import local_vertex, running_mean


def test_vertex_of_an_exact_parabola_is_found_without_uncertainty() -> None:
    x = np.linspace(2.0, 3.0, 21)
    vertex, u_vertex, bend = local_vertex(x, 7.0 - 40.0 * (x - 2.4) ** 2)
    assert vertex == pytest.approx(2.4, abs=1e-12)
    assert u_vertex == pytest.approx(0.0, abs=1e-9)
    assert bend == pytest.approx(-80.0)


def test_running_mean_leaves_missing_values_out() -> None:
    means = running_mean(np.array([0.0, 1.0, 2.0, 10.0]), np.array([1.0, np.nan, 3.0, np.nan]), 4.0)
    np.testing.assert_allclose(means, [2.0, 2.0, 2.0, np.nan])
