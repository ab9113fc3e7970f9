"""The rounded tent against the convolution it stands for, finite differences and a general optimiser."""

from dataclasses import fields

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.optimize import minimize_scalar
from scipy.stats import norm

from leanwright.analysis.mixture_curve import CurveRows, curve_rows, top

Floats = NDArray[np.float64]

RICH, LEAN, RICH_RELIEF, LEAN_RELIEF = 820.0, 1180.0, 240.0, 610.0
X = np.linspace(-0.2, 0.2, 9)


def rows(x: Floats | float = X, width: float = 0.05, shape: tuple[float, ...] = ()) -> CurveRows:
    return curve_rows(np.asarray(x), np.asarray(width), *(shape or (RICH, LEAN, RICH_RELIEF, LEAN_RELIEF)))


def tent(x: float) -> float:
    return -RICH * x + RICH_RELIEF * x * x if x > 0 else LEAN * x + LEAN_RELIEF * x * x


@pytest.mark.parametrize("width", [0.02, 0.05, 0.09])
@pytest.mark.parametrize("x", [-0.15, -0.01, 0.0, 0.03, 0.12])
def test_the_curve_is_the_tent_seen_through_a_scatter_of_mixtures(x: float, width: float) -> None:
    expected = quad(
        lambda s: tent(x + s) * norm.pdf(s, scale=width), -9 * width, 9 * width, points=[-x], limit=200
    )[0]
    assert float(rows(x, width).value) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(("of", "derivative"), [("value", "slope"), ("slope", "bend"), ("bend", "third")])
def test_derivatives_are_those_of_differences(of: str, derivative: str) -> None:
    h = 1e-6
    differences = (getattr(rows(X + h), of) - getattr(rows(X - h), of)) / (2.0 * h)
    np.testing.assert_allclose(getattr(rows(), derivative), differences, rtol=1e-5, atol=1e-2)


def test_the_curve_is_linear_in_slopes_and_reliefs_with_the_derivatives_given() -> None:
    one = rows()
    expected = -RICH * one.rich_rise - LEAN * one.lean_rise
    expected = expected + RICH_RELIEF * one.rich_relief + LEAN_RELIEF * one.lean_relief
    np.testing.assert_allclose(one.value, expected, rtol=1e-12)
    np.testing.assert_allclose(
        rows(X, 0.05, (2 * RICH, 2 * LEAN, 2 * RICH_RELIEF, 2 * LEAN_RELIEF)).value, 2 * one.value
    )


def test_wider_scatter_changes_the_curve_as_heat_spreads() -> None:
    h = 1e-6
    differences = (rows(X, 0.05 + h).value - rows(X, 0.05 - h).value) / (2.0 * h)
    np.testing.assert_allclose(0.05 * rows().bend, differences, rtol=1e-4, atol=1e-3)


def test_mirrored_slopes_give_the_mirrored_curve() -> None:
    mirrored = rows(-X, 0.05, (LEAN, RICH, LEAN_RELIEF, RICH_RELIEF))
    np.testing.assert_allclose(mirrored.value, rows().value, rtol=1e-10)
    np.testing.assert_allclose(mirrored.slope, -rows().slope, rtol=1e-10)


def test_without_scatter_the_curve_is_the_tent() -> None:
    np.testing.assert_allclose(rows(X, 1e-6).value, [tent(x) for x in X], atol=1e-3)


def found(
    width: float = 0.05, shape: tuple[float, ...] = (RICH, LEAN, RICH_RELIEF, LEAN_RELIEF)
) -> tuple[float, float]:
    one = top(np.array([width]), np.array([shape[0]]), np.array([shape[1]]), shape[2], shape[3])
    return float(one.x[0]), float(one.value[0])


SHAPES = [
    (RICH, LEAN, RICH_RELIEF, LEAN_RELIEF),
    (600.0, 1500.0, 0.0, 0.0),
    (1000.0, 900.0, 500.0, 100.0),
    (850.0, 850.0, 300.0, 300.0),
]


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("width", [0.02, 0.05, 0.08])
def test_the_top_is_where_a_general_optimiser_finds_it(shape: tuple[float, ...], width: float) -> None:
    best = minimize_scalar(
        lambda x: -float(rows(x, width, shape).value),
        bounds=(-0.1, 0.1),
        method="bounded",
        options={"xatol": 1e-9},
    )
    x, value = found(width, shape)
    assert x == pytest.approx(best.x, abs=1e-6)
    assert value == pytest.approx(-best.fun, abs=1e-6)


def test_equal_flanks_have_their_top_in_the_middle() -> None:
    assert found(0.05, (900.0, 900.0, 200.0, 200.0))[0] == pytest.approx(0.0, abs=1e-12)


def test_a_steeper_lean_flank_moves_the_top_to_the_rich_side() -> None:
    assert 0.0 < found(0.05, (800.0, 1100.0, 0.0, 0.0))[0] < found(0.05, (800.0, 1500.0, 0.0, 0.0))[0]


@pytest.mark.parametrize("place", range(5))
def test_how_the_top_moves_with_the_shape_is_that_of_differences(place: int) -> None:
    values = np.array([RICH, LEAN, RICH_RELIEF, LEAN_RELIEF, np.log(0.05)])
    step = np.zeros(5)
    step[place] = 1e-5 if place == 4 else 1e-3

    def x(shape: Floats) -> float:
        return found(float(np.exp(shape[4])), tuple(shape[:4]))[0]

    one = top(np.array([0.05]), np.array([RICH]), np.array([LEAN]), RICH_RELIEF, LEAN_RELIEF)
    names = [f.name for f in fields(one) if f.name.startswith("by_")]
    difference = (x(values + step) - x(values - step)) / (2.0 * step[place])
    assert getattr(one, names[place])[0] == pytest.approx(difference, rel=1e-4)


def test_a_shape_without_a_top_gives_finite_numbers() -> None:
    one = top(np.array([0.05]), np.array([-300.0]), np.array([100.0]), 4000.0, 4000.0)
    assert all(np.isfinite(getattr(one, f.name)).all() for f in fields(one))
