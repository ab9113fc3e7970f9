"""Whether sweeps of two kinds tell the same offsets."""

import numpy as np
import pytest

from leanwright.analysis.agreement import Difference, beyond_one_cylinder, difference, powers
from leanwright.analysis.offset import combined_offsets, stack
from leanwright.analysis.peak import CylinderPeak, Peaks
from tests.analysis.made_peaks import made_peaks, made_sweep, random_covariance

PATTERN = np.array([0.02, -0.01, 0.005, -0.015])


def test_a_changed_cylinder_is_found_with_its_difference() -> None:
    leaner = PATTERN + np.array([0.0, 0.0, 0.01, 0.0])
    found = difference(stack([made_peaks(np.exp(2.5 + np.array([leaner, PATTERN])))]), [0], [1])
    assert found is not None
    assert found.cylinder == 3
    assert found.difference_percent == pytest.approx(0.75)  # against the mean of the four, which moved too
    assert found.u_difference_percent == pytest.approx(0.1 * np.sqrt(2.0 * 0.75))
    assert found.probability < 1e-6


def test_scatter_within_the_uncertainty_is_uniformly_probable() -> None:
    generator = np.random.default_rng(1)
    covariance = random_covariance(1, 8)
    chances = []
    for values in generator.multivariate_normal(np.tile(2.5 + PATTERN, 2), covariance, 400):
        peaks = made_peaks(np.exp(values.reshape(2, 4)), covariance=covariance)
        found = difference(stack([peaks]), [0], [1])
        assert found is not None
        chances.append(found.probability)
    assert np.mean(np.array(chances) < 0.25) == pytest.approx(0.25, abs=0.07)
    assert np.mean(chances) == pytest.approx(0.5, abs=0.05)


def test_scatter_from_sweep_to_sweep_does_not_pass_for_a_difference() -> None:
    generator = np.random.default_rng(2)
    rare = 0
    for _ in range(100):
        values = 2.5 + PATTERN + generator.normal(0.0, 0.005, (6, 4))  # five times what is stated
        found = difference(stack([made_peaks(np.exp(values))]), [0, 1, 2], [3, 4, 5])
        assert found is not None
        rare += found.probability < 0.01
    assert rare <= 6


def test_groups_are_compared_over_the_cylinders_they_share() -> None:
    absent = {(0, 4): CylinderPeak(4, "no-signal"), (1, 1): CylinderPeak(1, "no-signal")}
    found = difference(
        stack([made_peaks(np.exp(2.5 + np.array([PATTERN, PATTERN])), absent=absent)]), [0], [1]
    )
    assert found is not None
    assert found.difference_percent == pytest.approx(0.0, abs=1e-9)
    assert found.probability == pytest.approx(1.0)


def test_one_common_cylinder_tells_nothing() -> None:
    absent = {(0, 1): CylinderPeak(1, "no-signal"), (1, 2): CylinderPeak(2, "no-signal")}
    stacked = stack([made_peaks([[12.0, 12.1, 12.2], [12.0, 12.1, 12.2]], absent=absent)])
    assert difference(stacked, [0], [1]) is None


def test_an_empty_group_tells_nothing() -> None:
    stacked = stack([made_peaks([[12.0, 12.1]])])
    assert difference(stacked, [0], []) is None
    assert difference(stacked, [], [0]) is None


def beyond(peaks: Peaks) -> Difference | None:
    """What is left between two sweeps without the cylinder that explains most of it."""
    stacked = stack([peaks])
    return beyond_one_cylinder(stacked, combined_offsets(stacked, [0]), combined_offsets(stacked, [1]))


def test_one_changed_cylinder_leaves_no_difference_once_it_is_taken_away() -> None:
    moved = PATTERN + np.array([0.0, 0.0, 0.05, 0.0])
    left = beyond(made_peaks(np.exp(2.5 + np.array([moved, PATTERN]))))
    assert left is not None
    assert left.difference_percent == pytest.approx(0.0, abs=1e-9)
    assert left.probability == pytest.approx(1.0)


def test_two_changed_cylinders_leave_the_difference_of_one_of_them() -> None:
    moved = PATTERN + np.array([0.0, 0.02, -0.03, 0.0])
    left = beyond(made_peaks(np.exp(2.5 + np.array([moved, PATTERN]))))
    assert left is not None
    assert left.cylinder == 2
    assert left.difference_percent == pytest.approx(
        2.0 * 2.0 / 3.0
    )  # against the mean of three, which moved too
    assert left.probability < 1e-6


def test_of_two_cylinders_nobody_can_tell_which_moved() -> None:
    assert beyond(made_peaks([[12.0, 12.1], [12.4, 11.8]])) is None


def test_sweeps_are_grouped_by_manifold_pressure() -> None:
    sweeps = [made_sweep(pressure=pressure) for pressure in (24.0, 18.2, None, 24.9, 18.0, 21.0)]
    assert powers(sweeps) == ((4, 1), (5,), (0, 3))


def test_no_sweeps_make_no_groups() -> None:
    assert powers([]) == ()
