"""The normal equations in blocks against the same matrix written out."""

import numpy as np
import pytest
from numpy.typing import NDArray

from leanwright.analysis.peak_equations import Equations
from leanwright.analysis.unknowns import Layout, prior

Floats = NDArray[np.float64]


def told(layout: Layout, seed: int = 3) -> list[Floats]:
    """What each sweep tells: some matrix that is not negative."""
    rng = np.random.default_rng(seed)
    rows = rng.normal(size=(layout.sweeps, layout.each + layout.cylinders + 1, 20))
    return [one @ one.T for one in rows]


def written_out(layout: Layout, parts: list[Floats]) -> Floats:
    matrix = prior(layout, np.zeros((layout.sweeps, layout.cylinders)), 0.1).precision.copy()
    for s, part in enumerate(parts):
        matrix[np.ix_(layout.local(s), layout.local(s))] += part
    return matrix


@pytest.fixture(params=[1, 2, 5], ids=["one sweep", "two sweeps", "five sweeps"])
def case(request: pytest.FixtureRequest) -> tuple[Layout, Equations, Floats]:
    layout = Layout(request.param, 3)
    parts = told(layout)
    known = prior(layout, np.zeros((layout.sweeps, layout.cylinders)), 0.1)
    return layout, Equations.of(known, parts), written_out(layout, parts)


def test_a_solution_is_that_of_the_whole_matrix(case: tuple[Layout, Equations, Floats]) -> None:
    layout, equations, matrix = case
    right = np.random.default_rng(5).normal(size=layout.size)
    np.testing.assert_allclose(equations.solve(right), np.linalg.solve(matrix, right), rtol=1e-7, atol=1e-12)


def test_the_inverse_is_that_of_the_whole_matrix(case: tuple[Layout, Equations, Floats]) -> None:
    _, equations, matrix = case
    np.testing.assert_allclose(equations.inverse() @ matrix, np.eye(len(matrix)), atol=1e-7)


def test_the_determinant_is_that_of_the_whole_matrix(case: tuple[Layout, Equations, Floats]) -> None:
    _, equations, matrix = case
    assert equations.log_determinant == pytest.approx(float(np.linalg.slogdet(matrix)[1]), rel=1e-9)


def test_with_lags_known_their_rows_and_columns_are_gone(case: tuple[Layout, Equations, Floats]) -> None:
    layout, equations, matrix = case
    own = slice(0, layout.sweeps * layout.each)
    np.testing.assert_allclose(
        equations.with_lags_known().inverse(), np.linalg.inv(matrix[own, own]), rtol=1e-6, atol=1e-10
    )


def test_the_prior_pulls_as_its_precision_says() -> None:
    layout = Layout(3, 4)
    known = prior(layout, np.full((3, 4), 2.5), 0.1)
    values = known.mean + np.random.default_rng(7).normal(size=layout.size)
    expected = known.precision @ (known.mean - values)
    np.testing.assert_allclose(known.pull(values), expected, rtol=1e-9, atol=1e-9)
    assert known.log_determinant == pytest.approx(float(np.linalg.slogdet(known.precision)[1]), rel=1e-12)
