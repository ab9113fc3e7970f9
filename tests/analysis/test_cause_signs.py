"""Signs as likelihood ratios: what speaks for a cause, what against it, and where nothing is said."""

import numpy as np
import pytest
from scipy.stats import betabinom

from leanwright.analysis.cause_signs import flank_ratio, gaps_ratio, ignition_ratio, ragged_ratio


def test_a_dead_plug_does_nothing_on_one_ignition_and_collapses_on_the_other() -> None:
    assert ignition_ratio([(-10.0, 40.0), (-550.0, 42.0)]) > 5.0


def test_a_cylinder_that_rises_with_the_others_has_two_plugs() -> None:
    assert ignition_ratio([(38.0, 40.0), (45.0, 42.0)]) < -5.0


def test_a_slow_probe_that_hardly_moves_is_no_dead_plug() -> None:
    assert ignition_ratio([(8.0, 40.0), (8.0, 42.0)]) < 0.0


def test_one_check_says_less_than_two() -> None:
    assert 0.0 < ignition_ratio([(-550.0, 42.0)]) < ignition_ratio([(-10.0, 40.0), (-550.0, 42.0)])


@pytest.mark.parametrize("share", [0.0, 0.01, 0.02])
def test_readings_that_all_probes_lack_say_nothing_of_one(share: float) -> None:
    assert gaps_ratio(share, share) == gaps_ratio(0.0, 0.0) < 0.0


def test_a_probe_silent_for_a_tenth_of_the_time_is_loose() -> None:
    assert gaps_ratio(0.1, 0.0) > 5.0


def test_one_silent_reading_of_a_dozen_says_nothing_and_fifty_of_six_hundred_say_much() -> None:
    assert abs(gaps_ratio(1 / 13, 0.0, 13)) < 0.2
    assert gaps_ratio(50 / 600, 0.0, 600) > 5.0
    assert gaps_ratio(0.0, 0.0, 13) > gaps_ratio(0.0, 0.0, 600)


@pytest.mark.parametrize(("silent", "rows"), [(0, 10), (1, 13), (3, 40), (30, 500), (40, 40)])
def test_silent_readings_are_counted_as_the_reference_library_counts_them(silent: int, rows: int) -> None:
    """Beta-binomial of scipy: any share alike against shares of 0.6 percent in the mean."""
    sound = betabinom(rows, 1.0, 1.0 / 0.006 - 1.0).logpmf(silent)
    assert gaps_ratio(silent / rows, 0.0, rows) == pytest.approx(-np.log(rows + 1.0) - sound, abs=1e-9)


def test_a_flank_that_falls_far_below_the_others_is_weak_ignition() -> None:
    ratios = [flank_ratio(excess) for excess in (0.0, 50.0, 120.0, 500.0)]
    assert ratios == sorted(ratios)
    assert ratios[0] < 0.0 < ratios[2]


def test_a_cylinder_still_warming_from_its_collapse_has_a_dead_plug_all_the_same() -> None:
    assert ignition_ratio([(-550.0, 20.0), (150.0, 20.0)]) > 2.0
    assert ignition_ratio([(150.0, 20.0), (150.0, 20.0)]) < 0.0


def test_a_ragged_top_in_two_sweeps_says_more_of_weak_ignition_than_in_one() -> None:
    assert 0.0 < ragged_ratio(1) < ragged_ratio(2) == ragged_ratio(4)
