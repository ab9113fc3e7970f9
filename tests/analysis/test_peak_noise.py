"""Sizes and covariances of what the readings scatter by."""

import numpy as np
import pytest

from leanwright.analysis import peak_noise as module
from leanwright.analysis.passage import Passage
from leanwright.analysis.peak_noise import NoiseLevel, own_covariance, own_level, shared_level, whiteners
from tests.analysis.peak_scene import QUICK

LOG_LAG = np.log([1.0, 2.5, 6.0])


@pytest.fixture(scope="module")
def passage() -> Passage:
    return QUICK.ready()[0].passage


def test_whitened_noise_is_white(passage: Passage) -> None:
    level = NoiseLevel(5.0, 3.0, 1.7)
    apart = np.abs(passage.time_s[:, None] - passage.time_s)
    for i, (whitener, own) in enumerate(
        zip(whiteners(passage, level, LOG_LAG), own_covariance(passage, LOG_LAG), strict=True)
    ):
        total = module.SLOW_F**2 * np.exp(-apart / module.SLOW_TIME_S)
        total += (module.GAIN * 5.0) ** 2 * np.exp(-apart / module.GAIN_TIME_S)
        total += 1.7**2 * own + np.diag(passage.variance[i])
        np.testing.assert_allclose(whitener @ total @ whitener.T, np.eye(apart.shape[0]), atol=1e-8)


def test_a_slower_probe_shows_less_of_its_own_noise(passage: Passage) -> None:
    sizes = own_covariance(passage, LOG_LAG)[:, 0, 0]
    assert sizes[0] > sizes[1] > sizes[2]


@pytest.mark.parametrize("true_f", [1.0, 3.0])
def test_the_size_of_own_noise_is_found_from_noise_of_that_size(passage: Passage, true_f: float) -> None:
    random = np.random.default_rng(11)
    level = NoiseLevel()
    whitener = whiteners(passage, level, LOG_LAG)
    found = []
    for _ in range(40):
        truth = np.linalg.inv(whiteners(passage, NoiseLevel(own_f=true_f), LOG_LAG))
        noise = truth @ random.normal(size=(*passage.egt_f.shape, 1))
        left = (whitener @ noise)[:, :, 0]
        # The estimate is exact where the size was right; otherwise it moves towards the truth.
        found.append(own_level(passage, level, LOG_LAG, whitener, left, 1.0))
    mean = float(np.mean(found))
    assert abs(mean - true_f) < abs(level.own_f - true_f) + 0.05
    assert np.sign(mean - level.own_f) == np.sign(true_f - level.own_f)


def test_residuals_of_the_size_expected_leave_the_own_level_as_it_is(passage: Passage) -> None:
    random = np.random.default_rng(12)
    level = NoiseLevel(own_f=2.0)
    whitener = whiteners(passage, level, LOG_LAG)
    found = [
        own_level(passage, level, LOG_LAG, whitener, random.normal(size=passage.egt_f.shape), 1.0)
        for _ in range(100)
    ]
    assert float(np.mean(found)) == pytest.approx(2.0, rel=0.03)


def test_perfect_readings_have_the_smallest_own_level(passage: Passage) -> None:
    whitener = whiteners(passage, NoiseLevel(), LOG_LAG)
    nothing = np.zeros(passage.egt_f.shape)
    assert own_level(passage, NoiseLevel(), LOG_LAG, whitener, nothing, 1.0) == module.OWN_RANGE_F[0]


LIMITS = (0.1, 50.0)


def test_latents_that_the_data_do_not_tell_leave_what_was_expected() -> None:
    assert shared_level(3.0, 3.0, np.zeros(30), np.zeros(30), LIMITS) == pytest.approx(3.0)


def test_many_latents_that_the_data_tell_give_their_own_size() -> None:
    latent = np.random.default_rng(13).normal(0.0, 2.0, 5000)
    assert shared_level(3.0, 4.0, latent, np.ones(5000), LIMITS) == pytest.approx(8.0, rel=0.03)


def test_a_shared_size_keeps_its_limits() -> None:
    assert shared_level(3.0, 3.0, np.full(500, 90.0), np.ones(500), LIMITS) == LIMITS[1]
    assert shared_level(3.0, 3.0, np.zeros(90000), np.ones(90000), LIMITS) == LIMITS[0]
