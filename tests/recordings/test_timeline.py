"""Times that go back, repeat, leap and pause. The truth is written beside each case."""

import numpy as np
import pytest

from leanwright.recordings.timeline import Timeline, make_timeline


def timeline(seconds: list[float], headers: tuple[int, ...] = (), *, of_day: bool = False) -> Timeline:
    """The time line of rows that stand in lines 2, 3, 4, …"""
    lines = np.arange(2, 2 + len(seconds), dtype=np.int64)
    return make_timeline(np.array(seconds, dtype=np.float64), lines, headers, of_day=of_day)


def codes(found: Timeline) -> list[tuple[str, int | None]]:
    """Code and line of what was found."""
    return [(finding.code, finding.line) for finding in found.findings]


def test_times_count_from_the_first_row() -> None:
    found = timeline([100.0, 100.2, 100.4])
    assert found.time_s.tolist() == [0.0, 0.2, 0.4]
    assert (found.power_up_rows, found.findings) == ((0,), ())


def test_a_day_that_ends_goes_on() -> None:
    found = timeline([86_398, 86_399, 0, 1], of_day=True)
    assert found.time_s.tolist() == [0, 1, 2, 3]
    assert codes(found) == [("past-midnight", 4)]


def test_gaps_and_repeats_stay_and_are_said() -> None:
    found = timeline([0, 1, 1, 2, 60, 61])
    assert found.time_s.tolist() == [0, 1, 1, 2, 60, 61]
    assert codes(found) == [("gaps", 6), ("repeated-times", None)]
    assert found.findings[0].message == "The rows have one gap of 58 s, before line 6. Nothing is filled in."
    assert found.findings[1].message == "One row has the same time as the row before."


def test_a_clock_that_is_set_back_moves_all_later_rows_on() -> None:
    found = timeline([10, 11, 12, 2, 3, 4, 5, 6, 7, 8])
    assert found.time_s.tolist() == [0, 1, 2, 3, 4, 5, 6, 7, 8, 9]
    assert (
        found.findings[0].message
        == "The clock goes back 10 s at line 5; all later times are moved on by 11 s."
    )
    assert found.power_up_rows == (0,)


def test_a_few_stray_rows_take_the_time_of_the_row_before() -> None:
    found = timeline([0, 1, 2, -500, 4, 5, 6])
    assert found.time_s.tolist() == [0, 1, 2, 2, 4, 5, 6]
    assert codes(found) == [("clock-goes-back", 5), ("repeated-times", None)]
    assert timeline([0, 1, 2, -500, -400, 5, 6]).time_s.tolist() == [0, 1, 2, 2, 2, 5, 6]


def test_a_leap_ahead_for_one_row_takes_the_time_of_the_row_before() -> None:
    found = timeline([0, 1, 2, 9000, 4, 5, 6])
    assert found.time_s.tolist() == [0, 1, 2, 2, 4, 5, 6]
    assert "line 5" in found.findings[0].message


def test_a_count_that_begins_again_is_a_power_up() -> None:
    found = timeline([0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 0, 1, 2, 3, 4, 5, 6, 7])
    assert found.time_s.tolist() == list(range(19))
    assert found.power_up_rows == (0, 11)


@pytest.mark.parametrize(("next_time", "begins"), [(4.0, False), (400.0, True), (0.0, True)])
def test_a_header_begins_a_power_up_only_if_the_clock_does_not_go_on(next_time: float, begins: bool) -> None:  # noqa: FBT001  the table reads so
    found = timeline([0, 1, 2, 3, next_time, next_time + 1], headers=(4,))
    assert found.power_up_rows == ((0, 4) if begins else (0,))


def test_a_clock_that_is_earlier_below_a_header_is_of_another_day() -> None:
    found = timeline([50_000, 50_001, 30_000, 30_001], headers=(2,), of_day=True)
    assert found.time_s.tolist() == [0, 1, 66_400, 66_401]
    assert found.power_up_rows == (0, 2)


def test_a_count_of_hours_that_begins_again_below_a_header_is_no_other_day() -> None:
    found = timeline([0, 1, 2, 0, 1, 2], headers=(3,), of_day=True)
    assert found.time_s.tolist() == [0, 1, 2, 3, 4, 5]
    assert found.power_up_rows == (0, 3)


def test_a_clock_that_goes_back_very_often_is_listed_twenty_times() -> None:
    found = timeline([value for start in range(0, 3000, 100) for value in (start + 50, start)])
    listed = [code for code, _ in codes(found) if code == "clock-goes-back"]
    assert len(listed) == 20
    assert ("clock-goes-back-often", None) in codes(found)
    assert np.all(np.diff(found.time_s) >= 0)


def test_one_row_has_time_nought() -> None:
    found = timeline([1234.5])
    assert found.time_s.tolist() == [0.0]
