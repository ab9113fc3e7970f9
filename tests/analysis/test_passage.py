"""A sweep made ready for the fit: means, grid, and tables of what the probes see."""

from dataclasses import replace

import numpy as np
import pytest

from leanwright.analysis.excerpt import Excerpt
from leanwright.analysis.passage import LAG_RANGE_S, LEFT_OUT, MEANS, Passage, averages, lag_weights, passage
from leanwright.analysis.probe_lag import BLOCK, Lag
from tests.analysis.peak_scene import Flown


@pytest.fixture(scope="module")
def part() -> Excerpt:
    return Flown().excerpts()[0]


@pytest.fixture(scope="module")
def one(part: Excerpt) -> Passage:
    return passage(part, part.egt_f)


def test_averages_of_a_straight_signal_are_its_means() -> None:
    random = np.random.default_rng(1)
    time = np.sort(random.uniform(1.0, 29.0, 40))
    grid = np.arange(0.0, 30.5, 0.5)
    blocks = np.arange(40) // 3
    matrix = averages(time, grid, blocks)
    np.testing.assert_allclose(matrix.sum(1), 1.0)
    expected = [np.mean(5.0 - 0.3 * time[blocks == k]) for k in range(blocks[-1] + 1)]
    np.testing.assert_allclose(matrix @ (5.0 - 0.3 * grid), expected)


def test_rows_are_thinned_to_means_over_the_same_times(part: Excerpt, one: Passage) -> None:
    size = -(-part.time_s.size // MEANS)
    blocks = np.arange(part.time_s.size) // size
    expected = [part.egt_f[:, blocks == k].mean(1) for k in range(blocks[-1] + 1)]
    np.testing.assert_allclose(one.egt_f + one.level_f[:, None], np.transpose(expected))
    np.testing.assert_allclose(one.time_s, [part.time_s[blocks == k].mean() for k in range(blocks[-1] + 1)])
    assert one.used.all()


def test_the_grid_is_even_and_reaches_beyond_the_rows(part: Excerpt, one: Passage) -> None:
    assert np.ptp(np.diff(one.grid_s)) == pytest.approx(0.0, abs=1e-9)
    assert one.grid_s[0] < part.time_s[0]
    assert one.grid_s[-1] >= part.time_s[-1]
    assert one.grid_s.size % BLOCK == 0


def test_more_rows_behind_a_mean_make_it_more_certain(one: Passage) -> None:
    fast = Flown(interval_s=0.2).excerpts()[0]
    many = passage(fast, fast.egt_f)
    assert float(np.median(many.variance)) < float(np.median(one.variance))
    assert np.all(one.step_variance <= one.variance)


@pytest.mark.parametrize("lag_s", [0.4, 1.0, 2.3, 5.0, 11.0, 19.0])
def test_interpolated_responses_are_those_of_the_lag(part: Excerpt, one: Passage, lag_s: float) -> None:
    blocks = np.arange(part.time_s.size) // -(-part.time_s.size // MEANS)
    sample = averages(part.time_s, one.grid_s, blocks)
    lag = Lag(np.array([lag_s]), float(one.grid_s[1] - one.grid_s[0]), one.grid_s.size)
    weights, _ = lag_weights(np.log([lag_s]))
    found = (weights @ one.lag_table).reshape(sample.shape)
    signal = np.sin(one.grid_s / 7.0) * 100.0
    np.testing.assert_allclose(found @ signal, sample @ lag(signal[None, None])[0, 0], atol=0.03)


def test_weights_change_with_the_lag_as_their_derivatives_say() -> None:
    log_lag = np.log([0.5, 2.0, 7.0, 15.0])
    h = 1e-6
    difference = (lag_weights(log_lag + h)[0] - lag_weights(log_lag - h)[0]) / (2.0 * h)
    np.testing.assert_allclose(lag_weights(log_lag)[1], difference, atol=1e-6)


def test_lags_beyond_the_table_are_taken_as_its_ends() -> None:
    ends, far = np.log(np.array(LAG_RANGE_S)), np.array([-1.0, 1.0])
    np.testing.assert_allclose(lag_weights(ends + far)[0], lag_weights(ends - 1e-9 * far)[0], atol=1e-3)


def test_a_cylinder_without_readings_counts_for_nothing(part: Excerpt) -> None:
    egt = part.egt_f.copy()
    egt[2] = np.nan
    egt[4, :20] = np.nan
    found = passage(part, egt)
    assert not found.used[2].any()
    assert found.used[[0, 1, 3, 5]].all()
    assert 0 < found.used[4].sum() < found.used.shape[1]
    assert np.all(found.egt_f[~found.used] == 0.0)
    assert np.all(found.variance[~found.used] == LEFT_OUT)


def test_a_mean_that_lacks_a_row_is_still_the_mean_over_the_same_times(part: Excerpt) -> None:
    ramp = np.tile(1400.0 + 2.0 * part.time_s, (part.egt_f.shape[0], 1))
    gaps = ramp.copy()
    gaps[1, 1::11] = np.nan
    whole, lacking = passage(part, ramp), passage(part, gaps)
    assert lacking.used[1].any()
    at = lacking.used[1]
    shown = (lacking.egt_f + lacking.level_f[:, None])[1, at]
    np.testing.assert_allclose(shown, (whole.egt_f + whole.level_f[:, None])[1, at])


def test_rows_without_flow_are_bridged_by_those_that_have_one(part: Excerpt, one: Passage) -> None:
    flow = part.flow_gph.copy()
    flow[::5] = np.nan
    found = passage(replace(part, flow_gph=flow), part.egt_f)
    inside = (one.grid_s > part.start_s + 5.0) & (one.grid_s < part.end_s - 5.0)
    assert np.abs(found.path.log_flow - one.path.log_flow)[inside].max() < 0.01


def test_common_noise_and_drift_are_seen_with_the_variance_of_one(one: Passage) -> None:
    """The latents' squared responses sum to the variance of noise of unit size behind the lag: at most one."""
    weights, _ = lag_weights(np.log([0.4]))
    seen = (weights @ one.common_table).reshape(-1, one.time_s.size)
    total = (seen**2).sum(0)
    assert total.max() < 2.02
    assert total.min() > 0.5
