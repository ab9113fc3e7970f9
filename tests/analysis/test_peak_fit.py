"""The joint fit against dense algebra with every unknown written out, and against the truth."""

import numpy as np
import pytest
from numpy.typing import NDArray

from leanwright.analysis.peak_budget import budget
from leanwright.analysis.peak_curve import drawn, left_over
from leanwright.analysis.peak_fit import Fit, fit, starting_point
from leanwright.analysis.peak_joint import Ready
from leanwright.analysis.peak_model import determinant_slope
from leanwright.analysis.peak_place import places_of
from leanwright.analysis.peak_start import start
from tests.analysis.peak_scene import PAIR, QUICK, Flown

Floats = NDArray[np.float64]

SMALL_PAIR = Flown(
    times_s=PAIR.times_s,
    flows_gph=PAIR.flows_gph,
    sweeps_s=PAIR.sweeps_s,
    peaks_gph=QUICK.peaks_gph,
    lags_s=QUICK.lags_s,
    interval_s=2.0,
)


def fitted(ready: tuple[Ready, ...], rounds: int = 2) -> Fit:
    starts = [start(one.part, one.passage, one.egt_f) for one in ready]
    position = np.array([one.position for one in starts])
    passages = [one.passage for one in ready]
    return fit(
        passages,
        position,
        starting_point(passages, position, np.array([s.top_f for s in starts])),
        rounds=rounds,
    )


@pytest.fixture(scope="module", params=[QUICK, SMALL_PAIR], ids=["one sweep", "a pair"])
def case(request: pytest.FixtureRequest) -> tuple[tuple[Ready, ...], Fit]:
    ready = request.param.ready()
    return ready, fitted(ready)


def dense(found: Fit) -> tuple[Floats, Floats, Floats]:
    """Derivatives by all unknowns, by all latents, and residuals, of all sweeps together."""
    data = [one.linear.residual.size for one in found.reduced]
    latents = [one.linear.shared.shape[0] for one in found.reduced]
    jacobian = np.zeros((found.layout.size, sum(data)))
    shared = np.zeros((sum(latents), sum(data)))
    row, column = 0, 0
    for s, one in enumerate(found.reduced):
        columns = slice(column, column + data[s])
        jacobian[found.layout.local(s), columns] = one.linear.jacobian
        shared[row : row + latents[s], columns] = one.linear.shared
        row, column = row + latents[s], column + data[s]
    return jacobian, shared, np.concatenate([one.linear.residual for one in found.reduced])


def test_the_covariance_is_that_of_all_unknowns_and_latents_written_out(
    case: tuple[tuple[Ready, ...], Fit],
) -> None:
    found = case[1]
    jacobian, shared, _ = dense(found)
    both = np.concatenate((jacobian, shared))
    information = both @ both.T
    size = found.layout.size
    information[:size, :size] += found.prior.precision
    information[size:, size:] += np.eye(shared.shape[0])
    np.testing.assert_allclose(
        found.covariance, np.linalg.inv(information)[:size, :size], rtol=1e-5, atol=1e-9
    )


def test_the_fit_lies_where_posterior_and_determinant_together_are_highest(
    case: tuple[tuple[Ready, ...], Fit],
) -> None:
    ready, found = case
    jacobian, shared, residual = dense(found)
    marginal = np.linalg.inv(np.eye(residual.size) + shared.T @ shared)
    right = jacobian @ marginal @ residual
    right += found.prior.precision @ (found.prior.mean - found.point.unknowns + found.last_step)
    for s, (one, reduced) in enumerate(zip(ready, found.reduced, strict=True)):
        slope = determinant_slope(
            one.passage, reduced.whitener, reduced.linear, reduced.of_path(), found.state(s)
        )
        right[found.layout.local(s)] += slope
    away = (found.covariance @ right - found.last_step) / np.sqrt(np.diag(found.covariance))
    assert float(np.abs(away).max()) < 0.1


def test_chi_square_is_that_of_the_marginal_covariance(case: tuple[tuple[Ready, ...], Fit]) -> None:
    found = case[1]
    for s, one in enumerate(found.reduced):
        left = one.linear.residual - found.last_step[found.layout.local(s)] @ one.linear.jacobian
        total = np.eye(left.size) + one.linear.shared.T @ one.linear.shared
        assert found.chi_square[s] == pytest.approx(float(left @ np.linalg.solve(total, left)), rel=1e-5)


def test_latents_are_their_best_values_given_the_unknowns(case: tuple[tuple[Ready, ...], Fit]) -> None:
    found = case[1]
    for s, one in enumerate(found.reduced):
        shared = one.linear.shared
        left = one.linear.residual - found.last_step[found.layout.local(s)] @ one.linear.jacobian
        expected = np.linalg.solve(np.eye(shared.shape[0]) + shared @ shared.T, shared @ left)
        np.testing.assert_allclose(found.latents[s], expected, atol=1e-6)


def test_noise_as_expected_is_described_with_a_chi_square_near_its_freedom(
    case: tuple[tuple[Ready, ...], Fit],
) -> None:
    ratio = case[1].chi_square / case[1].freedom
    assert np.all((ratio > 0.4) & (ratio < 1.7))


def test_lags_are_found_within_their_uncertainty(case: tuple[tuple[Ready, ...], Fit]) -> None:
    found = case[1]
    u = np.sqrt(np.diag(found.covariance))[found.layout.lag]
    assert np.all(np.abs(found.point.unknowns[found.layout.lag] - np.log(QUICK.lags_s)) < 4.0 * u + 0.05)


def test_positions_are_found_within_their_uncertainty(case: tuple[tuple[Ready, ...], Fit]) -> None:
    found = case[1]
    places = places_of(found)
    u = np.sqrt(np.diag(places.covariance(found.covariance))).reshape(places.position.shape)
    assert np.all(np.abs(places.position - np.log(QUICK.peaks_gph)) < 4.0 * u)


def test_the_budget_takes_the_covariance_apart_and_puts_it_together(
    case: tuple[tuple[Ready, ...], Fit],
) -> None:
    ready, found = case
    places = places_of(found)
    parts = budget([one.passage for one in ready], found, places)
    total = places.covariance(found.covariance)
    assert set(parts) == {"reading-noise", "shared-disturbance", "lag", "quantisation"}
    np.testing.assert_allclose(sum(parts.values()), total, rtol=1e-7, atol=1e-14)
    for part in parts.values():
        np.testing.assert_allclose(part, part.T, atol=1e-12)
        assert np.linalg.eigvalsh(0.5 * (part + part.T)).min() > -1e-3 * np.linalg.eigvalsh(total).max()


def test_a_coarser_reading_has_a_larger_share_of_quantisation() -> None:
    shares = []
    for step_f, step_gph in ((0.1, 0.01), (5.0, 0.1)):
        ready = Flown(
            peaks_gph=QUICK.peaks_gph,
            lags_s=QUICK.lags_s,
            interval_s=2.0,
            egt_step_f=step_f,
            flow_step_gph=step_gph,
        ).ready()
        found = fitted(ready)
        parts = budget([one.passage for one in ready], found, places_of(found))
        shares.append(float(np.trace(parts["quantisation"]) / np.trace(sum(parts.values()))))
    assert 0.0 <= shares[0] < shares[1] < 1.0


def test_what_is_left_over_is_readings_less_model_and_all_that_is_shared(
    case: tuple[tuple[Ready, ...], Fit],
) -> None:
    ready, found = case
    for s, one in enumerate(ready):
        left = left_over(one.passage, found, s)
        assert left.shape == one.passage.egt_f.shape
        assert float(np.sqrt(np.mean(left**2))) < 3.0
        assert float(np.abs(left).max()) < 12.0


def test_drawn_curves_are_nought_at_the_top_and_fall_away_on_both_sides(
    case: tuple[tuple[Ready, ...], Fit],
) -> None:
    ready, found = case
    places = places_of(found)
    for s, one in enumerate(ready):
        rows = drawn(one.part, one.passage, found, s, places)
        for i, (flow, egt, even, curve) in enumerate(rows):
            assert flow.shape == egt.shape
            assert np.all(np.diff(even) > 0.0)
            assert curve.max() == pytest.approx(0.0, abs=1.5)
            assert even[np.argmax(curve)] == pytest.approx(float(np.exp(places.position[s, i])), rel=0.01)
            assert curve[0] < -20.0
            assert curve[-1] < -20.0
            on_curve = np.interp(flow, even, curve)
            assert float(np.sqrt(np.mean((egt - on_curve) ** 2))) < 4.0


def test_one_round_leaves_the_noise_levels_as_they_were() -> None:
    found = fitted(QUICK.ready(), rounds=1)
    again = fitted(QUICK.ready(), rounds=2)
    assert found.point.levels != again.point.levels
    assert found.iterations <= again.iterations


def test_a_far_start_is_approached_in_steps_that_the_linear_model_can_bear() -> None:
    ready = QUICK.ready()
    near = fitted(ready)
    passages = [one.passage for one in ready]
    position = np.log(np.array([QUICK.peaks_gph])) + 0.04
    far = fit(passages, position, starting_point(passages, position, np.full((1, 3), 60.0)), rounds=4)
    np.testing.assert_allclose(places_of(far).position, places_of(near).position, atol=2e-3)
