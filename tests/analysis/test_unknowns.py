"""The vector of unknowns and what is known of it beforehand."""

import numpy as np
import pytest

from leanwright.analysis import unknowns
from leanwright.analysis.unknowns import HEIGHT, POSITION, SCALE, SKEW, WIDTH, Layout, prior

SPREAD = 0.1


@pytest.fixture
def layout() -> Layout:
    return Layout(3, 4)


def test_every_unknown_has_one_place(layout: Layout) -> None:
    places = np.concatenate((layout.curve.ravel(), layout.own.ravel(), layout.lag, [layout.size - 1]))
    assert sorted(places.tolist()) == list(range(layout.size))


def test_a_sweep_depends_on_its_own_and_on_the_lags(layout: Layout) -> None:
    for sweep in range(3):
        expected = np.concatenate(
            (layout.curve[sweep], layout.own[sweep].ravel(), layout.lag, [layout.size - 1])
        )
        assert layout.local(sweep).tolist() == expected.tolist()


def test_what_is_known_beforehand_has_the_standard_deviations_stated(layout: Layout) -> None:
    position = np.log(np.full((3, 4), 12.0))
    known = prior(layout, position, SPREAD)
    sd = np.sqrt(np.diag(np.linalg.inv(known.precision)))
    np.testing.assert_allclose(sd[layout.curve], np.tile(unknowns.CURVE_SD, (3, 1)))
    for kind, expected in (
        (SCALE, unknowns.SCALE_SD), (WIDTH, SPREAD), (SKEW, unknowns.SKEW_SD),
        (POSITION, unknowns.POSITION_SD), (HEIGHT, unknowns.HEIGHT_SD),
    ):  # fmt: skip
        np.testing.assert_allclose(sd[layout.own[:, kind]], expected)
    np.testing.assert_allclose(sd[layout.lag], unknowns.LAG_SD)
    assert sd[-1] == pytest.approx(unknowns.FLOW_LAG_SD)
    np.testing.assert_allclose(known.mean[layout.own[:, POSITION]], position)
    np.testing.assert_allclose(known.mean[layout.lag], unknowns.LAG_MEAN)


def test_sweeps_differ_by_root_two_of_the_link(layout: Layout) -> None:
    known = prior(layout, np.zeros((3, 4)), SPREAD)
    covariance = np.linalg.inv(known.precision)

    def difference(first: int, second: int) -> float:
        block = covariance[np.ix_([first, second], [first, second])]
        return float(np.sqrt(block[0, 0] + block[1, 1] - 2.0 * block[0, 1]))

    for kind, link in ((SCALE, unknowns.SCALE_LINK), (SKEW, unknowns.SKEW_LINK)):
        first, second, _ = layout.own[:, kind, 2]
        assert difference(first, second) == pytest.approx(np.sqrt(2.0) * link)
    for k in range(unknowns.CURVE):
        expected = np.sqrt(2.0) * unknowns.CURVE_LINK * unknowns.CURVE_SD[k]
        assert difference(*layout.curve[1:, k].tolist()) == pytest.approx(expected)


def test_cylinders_and_kinds_are_independent_beforehand(layout: Layout) -> None:
    covariance = np.linalg.inv(prior(layout, np.zeros((3, 4)), SPREAD).precision)
    assert covariance[layout.own[0, SCALE, 0], layout.own[0, SCALE, 1]] == pytest.approx(0.0, abs=1e-12)
    assert covariance[layout.own[0, SCALE, 0], layout.own[0, WIDTH, 0]] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("spread", [0.001, 0.02, 0.3])
def test_the_prior_is_a_distribution_for_any_spread_of_widths(layout: Layout, spread: float) -> None:
    assert np.linalg.eigvalsh(prior(layout, np.zeros((3, 4)), spread).precision).min() > 0.0
