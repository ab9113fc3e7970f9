"""Where the tops lie, and how they move with the unknowns."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from leanwright.analysis.peak_fit import Fit, fit, starting_point
from leanwright.analysis.peak_joint import Ready
from leanwright.analysis.peak_model import curve_of
from leanwright.analysis.peak_place import Swept, places_of, swept
from leanwright.analysis.peak_start import start
from leanwright.analysis.unknowns import POSITION
from tests.analysis.peak_scene import QUICK

Floats = NDArray[np.float64]


@pytest.fixture(scope="module")
def one() -> Ready:
    return QUICK.ready()[0]


@pytest.fixture(scope="module")
def found(one: Ready) -> Fit:
    first = start(one.part, one.passage, one.egt_f)
    position = first.position[None]
    return fit([one.passage], position, starting_point([one.passage], position, first.top_f[None]))


def test_the_peak_is_where_the_fitted_curve_is_highest(found: Fit) -> None:
    state = found.state(0)
    for i, position in enumerate(places_of(found).position[0]):
        best = minimize_scalar(
            lambda x, i=i: -float(curve_of(state, x - state.own[POSITION][:, None]).value[i, 0]),
            bounds=(position - 0.1, position + 0.1),
            method="bounded",
            options={"xatol": 1e-9},
        )
        assert position == pytest.approx(best.x, abs=1e-6)


def test_derivatives_of_the_positions_are_those_of_differences(found: Fit) -> None:
    gradient = np.zeros((found.layout.cylinders, found.layout.size))
    gradient[:, : found.layout.each] = places_of(found).gradient[0]
    sizes = np.where(np.abs(found.point.unknowns) > 10.0, 1e-2, 1e-5)
    for place, h in enumerate(sizes):
        step = h * np.eye(found.layout.size)[place]
        ends = [
            places_of(
                replace(found, point=replace(found.point, unknowns=found.point.unknowns + side * step))
            ).position
            for side in (1.0, -1.0)
        ]
        difference = (ends[0] - ends[1]).ravel() / (2.0 * h)
        np.testing.assert_allclose(gradient[:, place], difference, rtol=1e-3, atol=1e-8)


def test_the_flows_swept_are_those_between_the_ends_of_the_lever(one: Ready, found: Fit) -> None:
    range_ = swept(one.part, one.passage, found.state(0))
    assert np.exp([range_.low, range_.high]) == pytest.approx([10.4, 14.0], rel=0.01)


def test_power_at_a_crossing_is_the_power_that_the_sweep_had_there() -> None:
    path = np.linspace(2.6, 2.3, 61)
    range_ = Swept(2.3, 2.6, path, 0.2 * path)
    assert range_.power_at(2.45) == pytest.approx(0.49, abs=1e-3)
    assert range_.power_at(2.0) == pytest.approx(0.46, abs=2e-3)
