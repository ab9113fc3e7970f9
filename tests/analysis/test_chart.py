"""Run lengths of control charts against published tables."""

import numpy as np
import pytest

from leanwright.analysis.chart import (
    Design,
    cusum,
    cusum_run_length,
    design_for,
    ewma,
    ewma_run_length,
    onset,
)


@pytest.mark.parametrize(
    ("shift", "limit_4", "limit_5"),
    # Montgomery and Runger, Applied Statistics and Probability for Engineers, table 16-9 (allowance 1/2, two sides).
    [
        (0.0, 168, 465), (0.25, 74.2, 139), (0.5, 26.6, 38.0), (0.75, 13.3, 17.0), (1.0, 8.38, 10.4), (1.5, 4.75, 5.75),
        (2.0, 3.34, 4.01), (2.5, 2.62, 3.11), (3.0, 2.19, 2.57), (4.0, 1.71, 2.01),
    ],
)  # fmt: skip
def test_run_lengths_of_two_sided_sums_are_the_published_ones(
    shift: float, limit_4: float, limit_5: float
) -> None:
    assert cusum_run_length(Design(0.5, 4.0), shift, two_sided=True) == pytest.approx(limit_4, rel=0.005)
    assert cusum_run_length(Design(0.5, 5.0), shift, two_sided=True) == pytest.approx(limit_5, rel=0.005)


def test_one_side_runs_twice_as_long_as_two() -> None:
    # NIST/SEMATECH e-Handbook 6.3.2.3.1: 336 and 930 belong to one side; quoting them for two is wrong by two.
    assert cusum_run_length(Design(0.5, 4.0), two_sided=False) == pytest.approx(336, rel=0.005)
    assert cusum_run_length(Design(0.5, 5.0), two_sided=False) == pytest.approx(930, rel=0.005)
    assert cusum_run_length(Design(0.5, 4.0), 1.0, two_sided=False) == pytest.approx(8.38, rel=0.005)


@pytest.mark.parametrize(
    ("allowance", "limit", "published"),
    # Hawkins' pairs for about 370, two sides (from memory).
    [(0.25, 8.01, 370.3), (0.5, 4.77, 368.5), (0.75, 3.34, 370.6), (1.0, 2.52, 372.8)],
)
def test_pairs_of_allowance_and_limit_run_about_370(allowance: float, limit: float, published: float) -> None:
    assert cusum_run_length(Design(allowance, limit), two_sided=True, states=400) == pytest.approx(
        published, abs=1.0
    )


def test_a_sum_without_memory_is_a_chart_with_fixed_limits() -> None:
    # 1 / (1 - 0.9973002) = 370.398: with an allowance of 3 and a limit near 0 only one value counts (Shewhart).
    assert cusum_run_length(Design(3.0, 1e-6), two_sided=True) == pytest.approx(370.398, rel=1e-3)


@pytest.mark.parametrize(
    ("weight", "limit"), [(0.40, 3.054), (0.25, 2.998), (0.20, 2.962), (0.10, 2.814), (0.05, 2.615)]
)
def test_designs_of_weighted_means_run_about_500(weight: float, limit: float) -> None:
    # Lucas and Saccucci (from memory).
    assert ewma_run_length(weight, limit) == pytest.approx(500, rel=0.01)


@pytest.mark.parametrize(
    ("shift", "at_02", "at_01"),
    [(0.25, 150.2, 106.3), (0.5, 41.8, 31.3), (1.0, 10.5, 10.3), (2.0, 3.7, 4.4), (3.0, 2.4, 2.9)],
)
def test_weighted_means_find_a_shift_as_fast_as_published(shift: float, at_02: float, at_01: float) -> None:
    assert ewma_run_length(0.2, 2.962, shift) == pytest.approx(at_02, abs=0.06)
    assert ewma_run_length(0.1, 2.814, shift) == pytest.approx(at_01, abs=0.06)


def test_clipping_makes_a_chart_run_longer_in_vain_and_asks_for_two_values() -> None:
    plain, clipped = Design(1.25, 4.0), Design(1.25, 4.0, 4.0)
    assert cusum_run_length(clipped, two_sided=False) > cusum_run_length(plain, two_sided=False)
    assert cusum([50.0], clipped).first_alarm(4.0) is None
    assert cusum([50.0, 50.0], clipped).first_alarm(4.0) == (1, 1)


def test_a_clipped_chart_alarms_in_simulation_as_often_as_the_chain_says() -> None:
    design = Design(1.0, 2.0, 2.2)
    values = np.random.default_rng(5).standard_normal(200_000)
    alarms = height = 0.0
    for value in np.minimum(values, design.cap):
        height = max(0.0, height + value - design.allowance)
        if height > design.limit:
            alarms, height = alarms + 1, 0.0
    assert values.size / alarms == pytest.approx(cusum_run_length(design, two_sided=False), rel=0.06)


def test_a_design_reaches_the_run_length_that_was_asked_for() -> None:
    for cap in (np.inf, 4.0):
        design = design_for(1.25, 380_000.0, cap)
        assert cusum_run_length(design, two_sided=False) == pytest.approx(380_000.0, rel=0.02)


def test_missing_values_leave_the_sums_as_they_are() -> None:
    sums = cusum([2.0, np.nan, 2.0], Design(0.5, 4.0))
    assert sums.upper.tolist() == [1.5, 1.5, 3.0]
    assert ewma([1.0, np.nan], 0.5).tolist()[1] == ewma([1.0], 0.5).tolist()[0]


def test_the_two_sides_mirror_each_other() -> None:
    values = np.random.default_rng(1).standard_normal(40)
    one, other = cusum(values.tolist(), Design(0.5, 4.0)), cusum((-values).tolist(), Design(0.5, 4.0))
    assert one.upper == pytest.approx(other.lower)
    assert one.lower == pytest.approx(other.upper)


def test_a_step_is_dated_to_its_first_value() -> None:
    values = [0.2, -0.5, np.nan, 0.1, 3.0, np.nan, 2.5]
    assert onset(values, 6) == 4
