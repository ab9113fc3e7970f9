"""The model of one sweep: its derivatives against finite differences."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from leanwright.analysis.passage import Passage
from leanwright.analysis.peak_model import Linear, State, determinant_slope, linearise, log_flow, state_of
from leanwright.analysis.peak_noise import NoiseLevel, whiteners
from leanwright.analysis.unknowns import CURVE, CURVE_MEAN, HEIGHT, OWN, POSITION, SCALE, SKEW, WIDTH, Layout
from tests.analysis.peak_scene import QUICK

Floats = NDArray[np.float64]

LEVEL = NoiseLevel(3.0, 4.0, 1.2)
LAYOUT = Layout(1, 3)


@pytest.fixture(scope="module")
def passage() -> Passage:
    """In double precision, so that differences are those of the model and not of rounding."""
    single = QUICK.ready()[0].passage
    path = replace(single.path, directions=single.path.directions.astype(np.float64))
    return replace(single, lag_table=single.lag_table.astype(np.float64), path=path)


@pytest.fixture(scope="module")
def unknowns() -> Floats:
    values = np.zeros(LAYOUT.size)
    values[LAYOUT.curve[0]] = CURVE_MEAN
    values[LAYOUT.own[0, POSITION]] = np.log(QUICK.peaks_gph)
    values[LAYOUT.own[0, HEIGHT]] = 60.0
    values[LAYOUT.own[0, SCALE]] = (0.1, -0.05, 0.02)
    values[LAYOUT.own[0, WIDTH]] = (0.05, 0.0, -0.1)
    values[LAYOUT.own[0, SKEW]] = (0.02, -0.03, 0.0)
    values[LAYOUT.lag] = np.log(QUICK.lags_s)
    values[-1] = 1.3
    return values


@pytest.fixture(scope="module")
def whitener(passage: Passage, unknowns: Floats) -> Floats:
    return whiteners(passage, LEVEL, unknowns[LAYOUT.lag])


def state(passage: Passage, unknowns: Floats) -> State:
    return state_of(LAYOUT, unknowns, 0, np.zeros(passage.path.directions.shape[0]))


KINDS = {
    "rich slope": (LAYOUT.curve[0, 0], 1e-2),
    "lean slope": (LAYOUT.curve[0, 1], 1e-2),
    "rich relief": (LAYOUT.curve[0, 2], 1e-2),
    "lean relief": (LAYOUT.curve[0, 3], 1e-2),
    "width of all": (LAYOUT.curve[0, 4], 1e-5),
    "position": (LAYOUT.own[0, POSITION, 1], 1e-6),
    "height": (LAYOUT.own[0, HEIGHT, 2], 1e-3),
    "scale": (LAYOUT.own[0, SCALE, 0], 1e-5),
    "width": (LAYOUT.own[0, WIDTH, 1], 1e-5),
    "skew": (LAYOUT.own[0, SKEW, 0], 1e-5),
    "lag": (LAYOUT.lag[2], 1e-5),
    "flow lag": (LAYOUT.size - 1, 1e-5),
}


@pytest.mark.parametrize("kind", KINDS)
def test_derivatives_of_the_model_are_those_of_differences(
    passage: Passage, unknowns: Floats, whitener: Floats, kind: str
) -> None:
    place, h = KINDS[kind]
    step = h * np.eye(LAYOUT.size)[place]

    def residual(values: Floats) -> Floats:
        return linearise(passage, whitener, LEVEL, state(passage, values)).residual

    difference = -(residual(unknowns + step) - residual(unknowns - step)) / (2.0 * h)
    found = linearise(passage, whitener, LEVEL, state(passage, unknowns)).jacobian[place]
    assert float(np.abs(difference).max()) > 0.0
    np.testing.assert_allclose(found, difference, atol=2e-3 * float(np.abs(difference).max()))


def test_the_path_moves_the_model_as_its_columns_say(
    passage: Passage, unknowns: Floats, whitener: Floats
) -> None:
    here = state(passage, unknowns)
    amplitudes = 1e-4 * np.random.default_rng(1).normal(size=here.path.size)
    base = linearise(passage, whitener, LEVEL, here)
    moved = linearise(passage, whitener, LEVEL, replace(here, path=amplitudes))
    # What the amplitudes do is put back, so that to first order the residual does not move.
    effect = float(np.abs(amplitudes @ base.shared[-amplitudes.size :]).max())
    assert float(np.abs(moved.residual - base.residual).max()) < 0.002 * effect


def test_a_model_that_is_the_truth_leaves_nothing(
    passage: Passage, unknowns: Floats, whitener: Floats
) -> None:
    base = linearise(passage, whitener, LEVEL, state(passage, unknowns))
    left = np.linalg.solve(whitener, base.residual.reshape(*passage.egt_f.shape, 1))[:, :, 0]
    truth = replace(passage, egt_f=passage.egt_f - left)
    again = linearise(truth, whitener, LEVEL, state(passage, unknowns))
    np.testing.assert_allclose(again.residual, 0.0, atol=1e-9)


def of_path(base: Linear, directions: int) -> Floats:
    inner = np.eye(base.latents) + base.shared @ base.shared.T
    return np.asarray(np.linalg.solve(inner, base.shared)[-directions:], dtype=np.float64)


def with_path_columns_of(base: Linear, other: Linear, directions: int) -> Floats:
    shared = base.shared.copy()
    shared[-directions:] = other.shared[-directions:]
    return shared


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "height"])
def test_the_slope_of_the_determinant_is_that_of_differences(
    passage: Passage, unknowns: Floats, whitener: Floats, kind: str
) -> None:
    place, h = KINDS[kind]
    step = h * np.eye(LAYOUT.size)[place]
    directions = passage.path.directions.shape[0]
    base = linearise(passage, whitener, LEVEL, state(passage, unknowns))
    latents = base.shared.shape[0]

    def half_logarithm(values: Floats) -> float:
        other = linearise(passage, whitener, LEVEL, state(passage, values))
        shared = with_path_columns_of(base, other, directions)
        return -0.5 * float(np.linalg.slogdet(np.eye(latents) + shared @ shared.T)[1])

    difference = (half_logarithm(unknowns + step) - half_logarithm(unknowns - step)) / (2.0 * h)
    found = determinant_slope(passage, whitener, base, of_path(base, directions), state(passage, unknowns))
    assert found.shape == (CURVE + (OWN + 1) * 3 + 1,)
    assert found[place] == pytest.approx(difference, rel=2e-3, abs=1e-4)


def test_the_height_of_a_curve_does_not_move_the_determinant(
    passage: Passage, unknowns: Floats, whitener: Floats
) -> None:
    base = linearise(passage, whitener, LEVEL, state(passage, unknowns))
    rows = of_path(base, passage.path.directions.shape[0])
    found = determinant_slope(passage, whitener, base, rows, state(passage, unknowns))
    assert not found[LAYOUT.own[0, HEIGHT]].any()


def test_the_path_at_common_power_is_the_flow_less_the_power(passage: Passage, unknowns: Floats) -> None:
    here = replace(state(passage, unknowns), flow_lag_s=1.0)
    np.testing.assert_allclose(log_flow(passage, here), passage.path.log_flow - passage.power.log_power)
    late = log_flow(passage, replace(here, flow_lag_s=2.0)) - log_flow(passage, here)
    np.testing.assert_allclose(late, passage.path.rate, atol=1e-12)


def test_tables_in_single_precision_move_no_reading_by_a_thousandth_of_its_noise(
    passage: Passage, unknowns: Floats, whitener: Floats
) -> None:
    exact = linearise(passage, whitener, LEVEL, state(passage, unknowns)).residual
    single = QUICK.ready()[0].passage
    rounded = linearise(single, whitener, LEVEL, state(passage, unknowns)).residual
    np.testing.assert_allclose(rounded, exact, atol=1e-3)
