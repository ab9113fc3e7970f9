"""Dates and clocks, against Python's own datetime and the examples of ISO 8601 as datetime documents them."""

from datetime import date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leanwright.recordings.dates import read_clock_times, read_dates, split_date_times

DAYS = st.dates(date(1990, 1, 1), date(2068, 12, 31))


@pytest.mark.parametrize(
    "form", ["%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%Y%m%d", "%d-%b-%Y", "%d %b %Y", "%b %d, %Y", "%B %d %Y"]
)
@settings(deadline=None)
@given(day=DAYS)
def test_a_date_written_in_one_way_only_is_read_as_datetime_wrote_it(form: str, day: date) -> None:
    days = read_dates([day.strftime(form)], None)
    assert days is not None
    assert days.days.tolist() == [day.toordinal()]
    assert not days.ambiguous


@pytest.mark.parametrize("separator", ["/", "-"])
@pytest.mark.parametrize("year", ["%Y", "%y"])
@pytest.mark.parametrize("order", ["month-first", "day-first"])
@settings(deadline=None)
@given(day=DAYS)
def test_day_and_month_are_told_apart_by_the_data_or_said_to_be_open(
    order: str, year: str, separator: str, day: date
) -> None:
    parts = ("%m", "%d", year) if order == "month-first" else ("%d", "%m", year)
    days = read_dates([day.strftime(separator.join(parts))], None)
    assert days is not None
    if day.day > 12 or day.day == day.month:
        assert (days.days.tolist(), days.ambiguous) == ([day.toordinal()], False)
    else:
        assert days.ambiguous


@settings(deadline=None)
@given(day=DAYS)
def test_a_header_that_states_the_order_settles_it(day: date) -> None:
    for form, written in (("dd/mm/yyyy", "%d/%m/%Y"), ("mm/dd/yyyy", "%m/%d/%Y")):
        days = read_dates([day.strftime(written)], form)
        assert days is not None
        assert (days.days.tolist(), days.ambiguous) == ([day.toordinal()], False)


def test_dots_mean_the_day_first() -> None:
    days = read_dates(["03.04.2031", "03.04.2031."], None)
    assert days is not None
    assert days.days.tolist() == [date(2031, 4, 3).toordinal()] * 2
    assert (days.order, days.ambiguous) == ("day-first", False)


def test_a_flight_over_midnight_tells_the_order_by_days_that_follow_one_another() -> None:
    days = read_dates(["03/04/2031", "04/04/2031"], None)
    assert days is not None
    assert (days.order, days.ambiguous) == ("day-first", False)
    days = read_dates(["04/03/2031", "04/04/2031"], None)
    assert days is not None
    assert (days.order, days.ambiguous) == ("month-first", False)


def test_cells_without_a_date_are_none_and_a_column_of_other_things_is_no_date() -> None:
    days = read_dates(["2031-05-17", "", "---", "2031-05-99", "2031-05-18"], None)
    assert days is not None
    assert np.isnan(days.days).tolist() == [False, True, True, True, False]
    assert read_dates(["climb", "cruise"], None) is None
    assert read_dates(["", "-"], None) is None


@settings(deadline=None)
@given(moment=st.datetimes(datetime(2000, 1, 1), datetime(2060, 1, 1)))  # noqa: DTZ001  clocks without a zone
@pytest.mark.parametrize(
    "form", ["%H:%M:%S", "%I:%M:%S %p", "%I:%M:%S%p", "%H:%M:%S.%f", "%I:%M:%S.%f %p", "%H:%M:%SZ"]
)
def test_a_clock_is_read_as_datetime_wrote_it(form: str, moment: datetime) -> None:
    if "%f" not in form:
        moment = moment.replace(microsecond=0)
    seconds = read_clock_times([moment.strftime(form)])
    assert seconds is not None
    midnight = moment.replace(hour=0, minute=0, second=0, microsecond=0)
    assert seconds[0] == pytest.approx((moment - midnight).total_seconds(), abs=1e-9)


# Midnight, noon and a zone, as the documentation of datetime.fromisoformat shows ISO 8601.
@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("12:00:00 AM", 0), ("12:00:01 a.m.", 1), ("12:00:00 PM", 43_200), ("1:00:00 pm", 46_800), ("11:59:59 PM", 86_399),
        ("04:23:01+04:00", 4 * 3600 + 23 * 60 + 1 - 4 * 3600), ("04:23:01-0130", 4 * 3600 + 23 * 60 + 1 + 5400),
        ("12:30:05,25", 45_005.25), ("100:00:00", 360_000), ("-0:00:10", -10), ("1:02:03 UTC", 3723),
    ],
)  # fmt: skip
def test_clocks_in_other_forms(text: str, seconds: float) -> None:
    found = read_clock_times([text])
    assert found is not None
    assert found.tolist() == [seconds]


@pytest.mark.parametrize(
    "text", ["13:00:00 PM", "0:00:00 AM", "12:75:00", "12:00:75", "12-00-00", "12:00:00 XM", "noon"]
)
def test_what_is_no_time_of_day_is_none(text: str) -> None:
    found = read_clock_times(["12:00:00", text, "12:00:02"])
    assert found is not None
    assert np.isnan(found).tolist() == [False, True, False]


def test_two_part_times_are_told_apart_by_how_often_they_change() -> None:
    each_second = [f"{second // 60:02d}:{second % 60:02d}" for second in range(3590, 3700)]
    assert read_clock_times(each_second) == pytest.approx(np.arange(3590, 3700))
    clock = [(datetime(2031, 1, 1, 9, 58) + timedelta(seconds=s)).strftime("%H:%M") for s in range(300)]  # noqa: DTZ001  a clock without a zone
    found = read_clock_times(clock)
    assert found is not None
    assert sorted(set(found.tolist())) == [35_880, 35_940, 36_000, 36_060, 36_120]
    assert read_clock_times(["12:30"], hours_and_minutes=True) == pytest.approx([45_000])
    assert read_clock_times(["12:30"], hours_and_minutes=False) == pytest.approx([750])
    assert read_clock_times(["12:30.5", "12:30.7"]) == pytest.approx([750.5, 750.7])


def test_a_column_without_clocks_is_none() -> None:
    assert read_clock_times(["climb", "cruise", "12:00"]) is None
    assert read_clock_times(["", ""]) is None
    assert split_date_times(["12:00:00", "12:00:01"]) is None
    assert split_date_times(["2031-05-17 12:00", "climb", "x", "y"]) is None


def test_date_and_clock_in_one_cell_are_parted() -> None:
    cells = [
        "2031-05-17T12:00:00Z",
        "2031-05-17 12:00:00",
        "05/17/2031 1:00:00 PM",
        "May 17, 2031, 12:00:00",
        "---",
    ]
    assert split_date_times(cells) == (
        ["2031-05-17", "2031-05-17", "05/17/2031", "May 17, 2031", ""],
        ["12:00:00Z", "12:00:00", "1:00:00 PM", "12:00:00", ""],
    )
