"""Offsets from several sweeps, some of which lack cylinders."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leanwright.analysis.offset import Offsets, centred_basis, combined_offsets, stack
from leanwright.analysis.peak import CylinderPeak, Peaks
from tests.analysis.made_peaks import made_peaks, made_sweep, random_covariance

PATTERN = np.array([0.02, -0.01, 0.005, -0.015])
NO_SIGNAL = {number: CylinderPeak(number, "no-signal") for number in range(1, 5)}


def flows(*means: float) -> list[list[float]]:
    """Flows of the pattern at one mean flow a sweep [gal/h]."""
    return [(mean * np.exp(PATTERN)).tolist() for mean in means]


def combined(*peaks: Peaks) -> Offsets:
    result = combined_offsets(stack(peaks))
    assert result is not None
    return result


@pytest.mark.parametrize("count", [0, 1, 2, 6])
def test_the_centred_basis_is_orthonormal_and_sums_to_nothing(count: int) -> None:
    basis = centred_basis(count)
    assert basis.shape == (count, max(count - 1, 0))
    np.testing.assert_allclose(basis.T @ basis, np.eye(basis.shape[1]), atol=1e-14)
    np.testing.assert_allclose(basis.sum(axis=0), 0.0, atol=1e-14)


def test_sweeps_at_different_powers_give_one_pattern_and_the_geometric_mean_flow() -> None:
    result = combined(made_peaks(flows(10.0, 12.0)))
    np.testing.assert_allclose(result.offset, PATTERN, atol=1e-12)
    assert np.exp(result.log_mean_flow) == pytest.approx(np.sqrt(120.0))
    assert np.exp([result.levels[0], result.levels[1]]) == pytest.approx([10.0, 12.0])


def test_one_sweep_keeps_its_own_flows_and_covariance() -> None:
    covariance = random_covariance(2, 4)
    result = combined(made_peaks(flows(12.0), covariance=covariance))
    centre = np.eye(4) - 0.25
    np.testing.assert_allclose(result.offset + result.log_mean_flow, np.log(flows(12.0)[0]))
    np.testing.assert_allclose(result.covariance[:-1, :-1], centre @ covariance @ centre, atol=1e-16)
    assert result.covariance[-1, -1] == pytest.approx(covariance.mean())


def test_a_sweep_that_lacks_a_cylinder_does_not_shift_the_others() -> None:
    # Averaging each sweep's own centred offsets would move every cylinder by a third of the missing one's offset.
    result = combined(made_peaks(flows(12.0, 10.0, 11.0), absent={(1, 1): NO_SIGNAL[1]}))
    np.testing.assert_allclose(result.offset, PATTERN, atol=1e-12)
    assert np.exp(result.log_mean_flow) == pytest.approx((12.0 * 10.0 * 11.0) ** (1 / 3))


def test_a_cylinder_seen_in_fewer_sweeps_is_less_certain() -> None:
    result = combined(
        made_peaks(flows(12.0, 10.0, 11.0), absent={(1, 1): NO_SIGNAL[1], (2, 1): NO_SIGNAL[1]})
    )
    u = np.sqrt(np.diag(result.covariance)[:-1])
    assert u[0] > 1.4 * u[1]
    np.testing.assert_allclose(u[1:], u[1])


@given(st.integers(0, 10_000), st.integers(1, 4))
def test_offsets_and_mean_are_unbiased_with_the_covariance_stated(seed: int, sweeps: int) -> None:
    # Linear and exact: the weights reproduce any pattern and any levels, and carry the covariance.
    generator = np.random.default_rng(seed)
    pattern = generator.normal(0.0, 0.02, 4)
    pattern -= pattern.mean()
    levels = generator.normal(2.4, 0.1, sweeps)
    covariance = random_covariance(seed, 4 * sweeps)
    result = combined(made_peaks(np.exp(levels[:, None] + pattern), covariance=covariance))
    np.testing.assert_allclose(result.offset, pattern, atol=1e-9)
    assert result.log_mean_flow == pytest.approx(levels.mean())
    np.testing.assert_allclose(
        result.covariance, result.weights @ covariance @ result.weights.T, rtol=1e-6, atol=1e-15
    )
    np.testing.assert_allclose(sum(result.parts.values()), result.covariance, atol=1e-15)


def test_recordings_are_independent_of_one_another() -> None:
    one = made_peaks(flows(12.0), covariance=random_covariance(3, 4))
    stacked = stack([one, one])
    np.testing.assert_array_equal(stacked.covariance[:4, 4:], 0.0)
    np.testing.assert_array_equal(stacked.sweep, [0, 0, 0, 0, 1, 1, 1, 1])
    single, double = combined(one), combined(one, one)
    np.testing.assert_allclose(double.covariance, single.covariance / 2.0, atol=1e-16)


def test_lags_that_leaning_and_enriching_share_cancel() -> None:
    # The lag moves each cylinder one way while leaning and the other way while enriching.
    lag = np.diag(np.array([1.0, 2.0, 0.5, 1.5]) ** 2) * 0.004**2
    covariance = 0.001**2 * np.eye(8) + np.kron([[1.0, -1.0], [-1.0, 1.0]], lag)
    sweeps = [made_sweep("leaning"), made_sweep("enriching")]
    u = np.sqrt(
        np.diag(combined(made_peaks(flows(12.0, 12.0), sweeps=sweeps, covariance=covariance)).covariance)
    )
    np.testing.assert_allclose(u[:-1], np.sqrt(0.001**2 / 2.0 * 0.75))


def test_a_part_that_one_recording_does_not_know_counts_as_nothing_there() -> None:
    one = made_peaks(flows(12.0))
    other = Peaks(one.sweeps, one.index, one.log_flow, one.covariance, {"quantisation": one.covariance})
    parts = combined(one, other).parts
    assert {source: round(part.trace() / 1e-6, 6) for source, part in parts.items()} == {
        "reading-noise": pytest.approx(0.25 * (3.0 + 0.25) / 4.0, abs=1e-5),
        "lag": pytest.approx(0.75 * (3.0 + 0.25) / 4.0, abs=1e-5),
        "quantisation": pytest.approx((3.0 + 0.25) / 4.0, abs=1e-5),
    }


def test_disagreeing_sweeps_enlarge_the_covariance_by_a_part_of_their_own() -> None:
    first, second = PATTERN, -PATTERN
    result = combined(made_peaks(np.exp(2.5 + np.array([first, second]))))
    assert result.probability < 1e-6
    # Independent values of variance v: misfit = sum(d^2) / (2 v), so v + tau^2 = sum(d^2) / (2 * 3).
    found = float(np.sum((first - second) ** 2)) / 6.0 - 0.001**2
    assert result.between_variance == pytest.approx(found, rel=1e-6)
    # Student's t with three degrees of freedom has three times the variance.
    expected = (0.001**2 + 3.0 * found) / 2.0 * (np.eye(4) - 0.25)
    np.testing.assert_allclose(result.covariance[:-1, :-1], expected, rtol=1e-6)
    np.testing.assert_allclose(sum(result.parts.values()), result.covariance, atol=1e-15)


def test_two_sweeps_of_two_cylinders_that_disagree_count_three_times_the_variance_found() -> None:
    result = combined(made_peaks([[12.0, 12.5], [12.5, 12.0]]))
    assert result.degrees_of_freedom == 1
    between = result.parts["between-sweeps"][0, 0]
    assert between == pytest.approx(3.0 * result.between_variance / 4.0)


def test_scatter_within_what_chance_does_counts_as_found() -> None:
    result = combined(made_peaks(np.exp(2.5 + np.array([[0.0, 0.0, 0.0], [0.0015, -0.0015, 0.0015]]))))
    assert 0.05 < result.probability < 0.4
    assert result.parts["between-sweeps"][0, 0] == pytest.approx(result.between_variance / 2.0 * 2.0 / 3.0)


def test_sweeps_that_share_no_cylinder_are_not_mixed() -> None:
    absent = {(0, number): NO_SIGNAL[number] for number in (1,)} | {
        (1, number): NO_SIGNAL[number] for number in (2, 3, 4)
    }
    result = combined(made_peaks(flows(12.0, 12.0), absent=absent))
    assert result.cylinders == (2, 3, 4)
    assert set(result.levels) == {0}


def test_groups_that_a_third_sweep_joins_are_one() -> None:
    absent = {
        (0, 3): NO_SIGNAL[3], (0, 4): NO_SIGNAL[4],
        (1, 1): NO_SIGNAL[1], (1, 2): NO_SIGNAL[2],
        (2, 1): NO_SIGNAL[1], (2, 4): NO_SIGNAL[4],
    }  # fmt: skip
    result = combined(made_peaks(flows(12.0, 12.0, 12.0), absent=absent))
    assert result.cylinders == (1, 2, 3, 4)
    np.testing.assert_allclose(result.offset, PATTERN, atol=1e-12)


def test_of_two_groups_of_a_size_the_one_with_the_lowest_number_is_taken() -> None:
    absent = {(0, 1): NO_SIGNAL[1], (0, 2): NO_SIGNAL[2], (1, 3): NO_SIGNAL[3], (1, 4): NO_SIGNAL[4]}
    assert combined(made_peaks(flows(12.0, 12.0), absent=absent)).cylinders == (1, 2)


def test_sweeps_not_used_and_values_not_finite_are_left_out() -> None:
    peaks = made_peaks(flows(12.0, 11.0), sweeps=[made_sweep(), made_sweep(used=False)])
    broken = peaks.log_flow.copy()
    broken[0] = np.nan
    result = combined(Peaks(peaks.sweeps, peaks.index, broken, peaks.covariance, peaks.parts))
    assert result.cylinders == (2, 3, 4)
    assert set(result.levels) == {0}


def test_a_choice_of_sweeps_is_combined_by_itself() -> None:
    stacked = stack([made_peaks([flows(12.0)[0], [11.0] * 4])])
    result = combined_offsets(stacked, [1])
    assert result is not None
    np.testing.assert_allclose(result.offset, 0.0, atol=1e-12)
    assert result.weights.shape == (5, 8)


def test_nothing_to_combine_is_nothing() -> None:
    assert combined_offsets(stack([])) is None


def test_power_that_nobody_recorded_widens_what_is_far_from_the_mean() -> None:
    known = combined(made_peaks(flows(12.0, 12.0)))
    unseen = made_sweep(pressure=None, speed=None)
    unknown = combined(made_peaks(flows(12.0, 12.0), sweeps=(unseen, unseen)))
    np.testing.assert_allclose(unknown.offset, known.offset, atol=1e-15)
    added = unknown.covariance - known.covariance
    # One factor on all offsets, that more sweeps do not shrink, and nothing on their mean.
    np.testing.assert_allclose(added[:-1, :-1], 0.08**2 * np.outer(PATTERN, PATTERN), atol=1e-15)
    np.testing.assert_allclose(added[-1], 0.0, atol=1e-15)
    np.testing.assert_allclose(unknown.parts["unknown-power"], added, atol=1e-15)


def test_a_sweep_with_known_power_takes_its_share_of_the_doubt_away() -> None:
    unseen = made_sweep(speed=None)
    half = combined(made_peaks(flows(12.0, 12.0), sweeps=(unseen, made_sweep())))
    np.testing.assert_allclose(
        half.parts["unknown-power"][:-1, :-1], 0.04**2 * np.outer(PATTERN, PATTERN), atol=1e-9
    )


def test_a_speed_without_a_pressure_leaves_a_small_doubt() -> None:
    without = made_sweep(pressure=None)
    result = combined(made_peaks(flows(12.0, 12.0), sweeps=(without, without)))
    np.testing.assert_allclose(
        result.parts["unknown-power"][:-1, :-1], 0.025**2 * np.outer(PATTERN, PATTERN), atol=1e-15
    )
