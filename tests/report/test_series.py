"""Long channels made short keep their extremes, and what is looked at is what is sent."""

import numpy as np

from leanwright.report.figures.spark import spark
from leanwright.report.series import thinned


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
