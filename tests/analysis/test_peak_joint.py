"""Sweeps of one recording fitted together, and what is left out on the way."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from leanwright.analysis.passage import LEFT_OUT
from leanwright.analysis.peak_joint import Joint, joint, ready
from tests.analysis.peak_scene import PAIR, Flown

Floats = NDArray[np.float64]


@pytest.fixture(scope="module")
def pair() -> Joint:
    return joint(PAIR.ready())


def test_positions_come_sweep_by_sweep_and_share_their_lags(pair: Joint) -> None:
    assert pair.places.position.shape == (2, 6)
    assert pair.covariance.shape == (12, 12)
    np.testing.assert_array_equal(pair.found.state(0).log_lag, pair.found.state(1).log_lag)


def test_sweeps_that_are_described_well_are_not_enlarged(pair: Joint) -> None:
    np.testing.assert_allclose(pair.enlarged, 1.0, atol=0.15)
    np.testing.assert_allclose(sum(pair.parts.values()), pair.covariance, rtol=1e-6, atol=1e-12)
    assert not pair.odd.any()


def test_two_sweeps_make_lags_more_certain_than_one(pair: Joint) -> None:
    one = joint(PAIR.ready()[:1])
    u = [np.diag(each.found.covariance)[each.found.layout.lag] for each in (pair, one)]
    assert np.all(u[0] < u[1])


def bent(bump: Floats) -> Joint:
    """One sweep with something added to the EGT of cylinder 3."""
    part = Flown().excerpts()[0]
    egt = part.egt_f.copy()
    egt[2] += bump
    return joint([ready(replace(part, egt_f=egt))])


@pytest.fixture(scope="module")
def time_s() -> Floats:
    return Flown().excerpts()[0].time_s


@pytest.mark.parametrize(
    ("at_s", "size_f"),
    [
        (120.0, -70.0),
        (125.0, 70.0),
        (120.0, 70.0),
    ],
)
def test_a_mean_far_off_while_the_others_are_not_is_left_out(
    time_s: Floats, at_s: float, size_f: float
) -> None:
    found = bent(np.where(np.abs(time_s - at_s) < 3.0, size_f, 0.0))
    one = found.ready[0].passage
    near = np.abs(one.time_s - at_s) < 4.0
    assert one.variance[2, near].max() == LEFT_OUT
    assert one.used[[0, 1, 3, 4, 5]].all()
    if found.odd[0, 2]:  # rather than a wrong peak: what is left does not look like one top
        return
    assert one.used[2].sum() >= 0.8 * one.used.shape[1]
    assert np.exp(found.places.position[0, 2]) == pytest.approx(12.0, rel=0.006)


def test_a_cylinder_that_no_curve_with_one_top_describes_is_odd_and_spoils_no_other(time_s: Floats) -> None:
    found = bent(30.0 * np.sin(time_s / 4.0))
    assert found.odd.tolist() == [[False, False, True, False, False, False]]
    assert not found.ready[0].passage.used[2].any()
    others = np.delete(np.exp(found.places.position[0]), 2)
    np.testing.assert_allclose(others, np.delete(Flown().peaks_gph, 2), rtol=0.006)


def test_silent_and_intermittent_probes_are_left_out_before_the_fit(time_s: Floats) -> None:
    part = Flown().excerpts()[0]
    egt = part.egt_f.copy()
    egt[0] = np.nan
    egt[4, (time_s > 80.0) & (time_s < 120.0)] = np.nan
    one = ready(replace(part, egt_f=egt))
    assert one.passage.used.any(1).tolist() == [False, True, True, True, False, True]
    assert np.isfinite(one.egt_f[4]).any()
