"""Long channels made short keep their extremes, and what is looked at is what is sent."""

import numpy as np
import pytest

from leanwright.report.figures.spark import spark
from leanwright.report.series import stretch, thinned


def test_the_lowest_and_the_highest_of_all_are_kept() -> None:
    rng = np.random.default_rng(7)
    time_s = np.arange(72_000) / 5.0
    values = rng.normal(12.0, 1.0, time_s.size)
    values[4321], values[60_000] = 99.0, -99.0
    made = thinned(time_s, [(values, "gph")], 0.0, float(time_s[-1]), 1200)
    assert made.shape[0] == 3
    assert made.shape[1] <= 1201
    assert (made[1].min(), made[2].max()) == (-99.0, 99.0)
    assert (made[1] <= made[2]).all()
    assert (np.diff(made[0]) > 0.0).all()


def test_short_stretches_are_sent_row_by_row() -> None:
    time_s = np.arange(100.0)
    values = time_s * 2.0
    made = thinned(time_s, [(values, "rpm")], 10.0, 20.0, 1200)
    np.testing.assert_array_equal(made[1], made[2])
    np.testing.assert_array_equal(made[1], 2.0 * made[0])
    assert made[0][0] <= 10.0
    assert made[0][-1] >= 20.0


def test_missing_values_stay_missing_and_units_are_the_reader_s() -> None:
    time_s = np.arange(10.0)
    values = np.full(10, np.nan)
    values[4] = 212.0
    made = thinned(time_s, [(values, "f")], 0.0, 9.0, 3, "metric")
    assert np.isnan(made[1]).sum() == made.shape[1] - 1
    np.testing.assert_allclose(np.nanmax(made[2]), 100.0, rtol=1e-12)


def test_nothing_gives_nothing() -> None:
    assert thinned(np.empty(0), [(np.empty(0), "f")], 0.0, 1.0, 10).shape == (3, 0)


def test_a_course_in_little_is_an_image_with_a_label() -> None:
    drawn = spark(np.arange(50.0), np.sin(np.arange(50.0)), label='EGT "1": from <low> to high')
    assert 'role="img"' in drawn
    assert "&lt;low&gt;" in drawn
    assert " style=" not in drawn
    assert "<path" in spark(np.arange(3.0), np.full(3, np.nan), label="nothing")


def test_a_stretch_is_summed_up_from_every_row() -> None:
    time_s = np.arange(0.0, 601.0)
    ramp = 12.0 - time_s / 60.0  # gal/h: one less every minute
    found = stretch(time_s, ramp, "gph", 60.0, 180.0)
    assert found is not None
    assert (found.at_start, found.at_end, found.rows) == (11.0, 9.0, 121)
    assert found.difference == -2.0
    assert found.per_minute == pytest.approx(-1.0)
    assert (found.lowest, found.highest) == (9.0, 11.0)
    assert found.mean == pytest.approx(10.0)
    # Of n equally spaced values the variance is (n + 1) n step² / 12 (sum of squares of the first integers).
    assert found.deviation == pytest.approx((122.0 * 121.0 / 12.0) ** 0.5 / 60.0)


def test_a_stretch_leaves_out_what_is_missing_and_speaks_the_readers_unit() -> None:
    time_s = np.arange(5.0)
    found = stretch(time_s, np.array([np.nan, 32.0, np.nan, 50.0, np.nan]), "f", 0.0, 4.0, "metric")
    assert found is not None
    assert (found.at_start, found.at_end, found.rows) == pytest.approx((0.0, 10.0, 2))
    assert found.per_minute == pytest.approx(10.0 / (2.0 / 60.0))
    assert stretch(time_s, np.full(5, np.nan), "f", 0.0, 4.0) is None
    assert stretch(time_s, np.zeros(5), "f", 2.2, 2.8) is None
