"""The posterior of the spread."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.stats import cauchy, norm

from leanwright.analysis import spread
from leanwright.analysis.spread import posterior, spread_budget
from tests.analysis.made_peaks import random_covariance

Floats = NDArray[np.float64]


def covariance(cylinders: int, u: float, u_mean: float = 0.0, seed: int | None = None) -> Floats:
    """Of centred offsets with independent errors (or any, from a seed), and of the mean flow."""
    centre = np.eye(cylinders) - 1.0 / cylinders
    own = u**2 * np.eye(cylinders) if seed is None else random_covariance(seed, cylinders, u)
    whole = np.zeros((cylinders + 1, cylinders + 1))
    whole[:-1, :-1] = centre @ own @ centre
    whole[-1, -1] = u_mean**2
    return whole


def centred(*offsets: float) -> Floats:
    values: Floats = np.array(offsets)
    values -= values.mean()
    return values


def test_offsets_known_exactly_give_their_spread_exactly() -> None:
    offset = centred(0.02, 0.0, -0.01)
    drawn = posterior(offset, np.log(12.0), np.zeros((4, 4)))
    expected = 12.0 * (np.exp(offset.max()) - np.exp(offset.min()))
    assert drawn.spread() == pytest.approx(expected, abs=1e-4)


def test_the_posterior_of_two_cylinders_agrees_with_numerical_integration() -> None:
    # By an independent route: the difference d of two offsets is normal with variance 2 scale^2 under the prior.
    u, estimate = 0.01, 0.015
    drawn = posterior(np.array([estimate, -estimate]) / 2.0, 0.0, covariance(2, u))
    difference = drawn.offset[0] - drawn.offset[1]

    def of_scale(scale: float) -> tuple[float, float]:
        """Evidence and chance of |d| < 0.01 together with the data."""
        evidence = float(norm.pdf(estimate, scale=np.sqrt(2.0 * (scale**2 + u**2))))
        shrunk = scale**2 / (scale**2 + u**2)
        width = np.sqrt(2.0 * shrunk) * u
        chance = float(
            norm.cdf((0.01 - shrunk * estimate) / width) - norm.cdf((-0.01 - shrunk * estimate) / width)
        )
        return evidence, evidence * chance

    prior = cauchy(scale=spread._WIDE)
    even = spread._EVEN * of_scale(1e-9)[0]

    def integrated(part: int) -> float:
        whole = quad(lambda scale: 2.0 * prior.pdf(scale) * of_scale(scale)[part], 0.0, 0.5, limit=200)[0]
        return float((1.0 - spread._EVEN) * whole + even)

    expected = integrated(1) / integrated(0)
    assert np.mean(np.abs(difference) < 0.01) == pytest.approx(expected, abs=0.002)


def test_the_posterior_of_four_cylinders_agrees_with_weighted_draws_from_the_prior() -> None:
    generator = np.random.default_rng(4)
    u, offset = 0.01, centred(0.02, 0.005, -0.004, -0.015)
    count = 1_000_000
    scale = np.abs(spread._WIDE * generator.standard_cauchy(count))
    scale[generator.uniform(size=count) < spread._EVEN] = 0.0
    scale = scale[scale < 0.5]
    truth = scale * generator.normal(size=(4, scale.size))
    truth -= truth.mean(axis=0)
    weight = np.exp(-0.5 * np.sum((truth - offset[:, None]) ** 2, axis=0) / u**2)
    weight /= weight.sum()
    expected = 12.0 * (np.exp(truth.max(axis=0)) - np.exp(truth.min(axis=0)))
    drawn = posterior(offset, np.log(12.0), covariance(4, u)).spread()
    assert drawn.mean() == pytest.approx(float(weight @ expected), abs=0.003)
    assert np.mean(drawn <= 0.5) == pytest.approx(float(weight @ (expected <= 0.5)), abs=0.01)


@pytest.mark.parametrize("cylinders", [3, 4, 6, 9])
def test_chances_are_right_to_a_thousandth(cylinders: int, monkeypatch: pytest.MonkeyPatch) -> None:
    offset = centred(*np.random.default_rng(cylinders).normal(0.0, 0.01, cylinders))
    given_covariance = covariance(cylinders, 0.003, 0.003, seed=cylinders)
    evenly = posterior(offset, np.log(12.0), given_covariance).spread()
    generator = np.random.default_rng(1)
    uniform, normal = generator.uniform(size=1_000_000), generator.normal(size=(cylinders, 1_000_000))
    monkeypatch.setattr(spread, "_points", lambda *_: (uniform, normal[-1], normal[:-1]))
    at_random = posterior(offset, np.log(12.0), given_covariance).spread()
    goals = np.quantile(at_random, [0.05, 0.5, 0.95])
    chances = [float(np.mean(evenly <= goal)) for goal in goals]
    assert chances == pytest.approx([0.05, 0.5, 0.95], abs=0.002)
    assert evenly.mean() == pytest.approx(at_random.mean(), rel=1e-3)


def test_noise_alone_does_not_pass_for_a_spread() -> None:
    # Raw, six equal cylinders with 0.1 % each lie 2.53 x 0.1 % x 12 gal/h = 0.030 gal/h apart on average.
    generator = np.random.default_rng(5)
    means = [
        posterior(centred(*generator.normal(0.0, 0.001, 6)), np.log(12.0), covariance(6, 0.001))
        .spread()
        .mean()
        for _ in range(50)
    ]
    assert np.mean(means) < 0.02


def test_a_clear_spread_is_hardly_shrunk() -> None:
    offset = centred(0.03, 0.01, 0.0, -0.005, -0.015, -0.02)
    drawn = posterior(offset, np.log(12.0), covariance(6, 0.001)).spread()
    raw = 12.0 * (np.exp(offset.max()) - np.exp(offset.min()))
    assert drawn.mean() == pytest.approx(raw, abs=0.005)
    assert drawn.std() == pytest.approx(12.0 * 0.001 * np.sqrt(2.0), rel=0.05)


def test_the_more_uncertain_the_offsets_the_smaller_and_wider_the_posterior() -> None:
    offset = centred(0.01, 0.004, -0.002, -0.012)
    drawn = [posterior(offset, np.log(12.0), covariance(4, u)).spread() for u in (0.001, 0.004, 0.016)]
    means, widths = [one.mean() for one in drawn], [one.std() for one in drawn]
    assert means[0] > means[1]
    assert widths == sorted(widths)


@given(st.integers(0, 1000))
def test_the_order_of_the_cylinders_does_not_matter(seed: int) -> None:
    generator = np.random.default_rng(seed)
    offset = centred(*generator.normal(0.0, 0.01, 5))
    whole = covariance(5, 0.002, 0.003, seed=seed)
    order = generator.permutation(5)
    with_mean = np.append(order, 5)
    one = posterior(offset, np.log(12.0), whole).spread()
    other = posterior(offset[order], np.log(12.0), whole[np.ix_(with_mean, with_mean)]).spread()
    assert one.mean() == pytest.approx(other.mean(), rel=2e-3, abs=1e-4)


def test_lean_and_rich_are_alike_up_to_the_curvature_of_the_logarithm() -> None:
    offset = centred(0.02, 0.001, -0.004, -0.005)
    lean = posterior(offset, 0.0, covariance(4, 0.002))
    rich = posterior(-offset, 0.0, covariance(4, 0.002))
    assert np.ptp(lean.offset, axis=0).mean() == pytest.approx(np.ptp(rich.offset, axis=0).mean(), rel=1e-3)


def test_the_uncertainty_of_the_mean_flow_widens_the_spread_in_proportion() -> None:
    offset = centred(0.04, 0.0, -0.04)
    drawn = posterior(offset, np.log(12.0), covariance(3, 1e-6, u_mean=0.01)).spread()
    assert drawn.std() / drawn.mean() == pytest.approx(0.01, rel=0.02)


def test_a_mean_flow_that_errs_with_an_offset_is_drawn_with_it() -> None:
    whole = covariance(2, 0.004)
    whole[-1, -1] = 0.004**2 / 2.0
    whole[:2, -1] = whole[-1, :2] = np.array([0.5, -0.5]) * 0.004**2  # wholly correlated
    drawn = posterior(np.array([0.02, -0.02]), 0.0, whole)
    correlation = np.corrcoef(drawn.offset[0], np.log(drawn.mean_flow))[0, 1]
    assert correlation == pytest.approx(1.0, abs=1e-6)


def test_one_cylinder_has_no_spread() -> None:
    drawn = posterior(np.zeros(1), np.log(12.0), covariance(1, 0.001, 0.003))
    np.testing.assert_array_equal(drawn.spread(), 0.0)
    assert drawn.mean_flow.mean() == pytest.approx(12.0, rel=1e-4)


def test_equal_estimates_known_alike_have_a_posterior() -> None:
    drawn = posterior(np.zeros(3), np.log(12.0), covariance(3, 0.001))
    assert np.isfinite(drawn.spread()).all()
    assert drawn.extremes.sum() == pytest.approx(1.0)


def test_a_range_is_stretched_to_hold_what_is_known_of_others() -> None:
    offset = centred(0.01, -0.01)
    drawn = posterior(offset, 0.0, covariance(2, 1e-7))
    stretched = drawn.spread(low=-0.03, high=0.04)
    assert stretched == pytest.approx(np.exp(0.04) - np.exp(-0.03), abs=1e-6)
    assert drawn.spread(low=-0.005, high=0.005) == pytest.approx(drawn.spread())
    assert np.isinf(drawn.spread(high=np.inf)).all()


def test_the_chance_of_being_leanest_is_shared_by_those_that_might_be() -> None:
    drawn = posterior(centred(0.02, 0.02, -0.04), np.log(12.0), covariance(3, 0.002))
    leanest, richest = drawn.extremes.sum(axis=1), drawn.extremes.sum(axis=0)
    assert leanest == pytest.approx([0.5, 0.5, 0.0], abs=0.01)
    assert richest == pytest.approx([0.0, 0.0, 1.0])


def test_the_budget_splits_the_variance_of_the_two_that_matter() -> None:
    # The leanest is uncertain by its lag, the richest by its reading; the middle one, most uncertain, is not asked.
    lag = np.diag([0.002**2, 0.0, 0.0, 0.0])
    reading = np.diag([0.0, 0.001**2, 0.0, 0.0])
    between = np.diag([0.0, 0.0, 0.004**2, 0.0])
    drawn = posterior(np.array([0.05, -0.05, 0.0]), np.log(12.0), lag + reading + between)
    budget = dict(spread_budget(drawn, {"reading-noise": reading, "lag": lag, "between-sweeps": between}))
    ratio = np.exp(0.2)  # the flows weigh their offsets
    assert budget["between-sweeps"] == 0.0
    assert budget["lag"] / budget["reading-noise"] == pytest.approx(4.0 * ratio, rel=0.01)
    assert sum(budget.values()) == pytest.approx(1.0)
    assert next(iter(budget)) == "lag"


def test_the_mean_flow_has_its_place_in_the_budget() -> None:
    offsets = covariance(2, 0.001)
    mean = np.diag([0.0, 0.0, 0.01**2])
    drawn = posterior(np.array([0.05, -0.05]), np.log(12.0), offsets + mean)
    budget = dict(spread_budget(drawn, {"lag": offsets, "shared-disturbance": mean}))
    # d(spread) = spread x u(mean) against flow x sqrt(2) x u(offset)
    expected = (2.0 * np.sinh(0.05) * 0.01) ** 2 / (2.0 * 0.001**2 * np.cosh(0.05) ** 2)
    assert budget["shared-disturbance"] / budget["lag"] == pytest.approx(expected, rel=0.02)


def test_without_any_variance_there_is_no_budget() -> None:
    drawn = posterior(np.array([0.05, -0.05]), np.log(12.0), np.zeros((3, 3)))
    assert spread_budget(drawn, {}) == ()
    assert spread_budget(drawn, {"lag": np.zeros((3, 3))}) == ()


def test_points_fill_every_axis_evenly() -> None:
    uniform, of_mean, normal = spread._points(6, spread.DRAWS)
    assert normal.shape == (5, uniform.size)
    for numbers in (norm.ppf(uniform), of_mean, *normal):
        assert numbers.mean() == pytest.approx(0.0, abs=2e-3)
        assert numbers.std() == pytest.approx(1.0, abs=2e-3)
    assert np.abs(np.corrcoef(normal) - np.eye(5)).max() < 5e-3


@pytest.mark.parametrize("direction", [[0.0, 0.0], [2.0, 0.0], [0.0, 3.0], [-1.0, 0.5]])
def test_the_first_axis_is_turned_into_the_direction(direction: list[float]) -> None:
    turned = spread._turned(np.array(direction))
    np.testing.assert_allclose(turned @ turned.T, np.eye(2), atol=1e-14)
    length = float(np.linalg.norm(direction))
    np.testing.assert_allclose(turned[:, 0] * length, direction if length else 0.0, atol=1e-14)
