"""Which column tells the time. The truth is the sequence of times that each text was made from."""

import io
from datetime import datetime

import numpy as np
import pytest

from leanwright.recordings.clock import stated_interval
from leanwright.recordings.read import read_recording
from leanwright.recordings.recording import Recording


def read(head: str, *rows: str, **arguments: float) -> Recording:
    """Rows of a clock and two probes."""
    lines = [f"{head},EGT1 (degF),EGT2 (degF)", *(f"{row},14{n:02d},1390" for n, row in enumerate(rows))]
    return read_recording(io.BytesIO("\n".join([*lines, ""]).encode()), **arguments)  # type: ignore[arg-type]  # keyword by keyword


def codes(recording: Recording) -> set[str]:
    """Codes of what was found."""
    return {finding.code for finding in recording.findings}


CLOCKS: dict[str, tuple[str, tuple[str, ...], list[float]]] = {
    "ISO 8601": (
        "Timestamp",
        ("2031-05-17T10:00:00Z", "2031-05-17T10:00:01Z", "2031-05-17T10:00:03Z"),
        [0, 1, 3],
    ),
    "ISO 8601 over midnight": ("Time", ("2031-12-31T23:59:59.5", "2032-01-01T00:00:00.0"), [0, 0.5]),
    "two columns, ISO": ("Date,Time", ("2031-05-17,23:59:59", "2031-05-18,00:00:00"), [0, 1]),
    "two columns, month first": ("Date,Time", ("05/17/2031,10:00:00", "05/17/2031,10:00:02"), [0, 2]),
    "two columns, day first": ("Time,Date", ("10:00:00,17/05/31", "10:00:02,17/05/31"), [0, 2]),
    "twelve hours": ("Time", ("11:59:59 AM", "12:00:00 PM", "12:00:01 PM", "1:00:00 PM"), [0, 1, 2, 3601]),
    "twelve hours over midnight": ("Time", ("11:59:59 PM", "12:00:00 AM"), [0, 1]),
    "clock over midnight": ("UTC", ("23:59:58", "23:59:59", "00:00:00"), [0, 1, 2]),
    "elapsed seconds": ("Elapsed (s)", ("0.0", "0.2", "0.4"), [0, 0.2, 0.4]),
    "elapsed minutes": ("Elapsed (min)", ("0", "0.1", "0.2"), [0, 6, 12]),
    "elapsed milliseconds": ("Time (ms)", ("1000", "1200", "1400"), [0, 0.2, 0.4]),
    "milliseconds without a unit": ("Time", ("0", "200", "400", "600"), [0, 0.2, 0.4, 0.6]),
    "minutes and seconds": ("Time", ("59:59", "60:00", "60:01"), [0, 1, 2]),
    "hours, minutes, seconds": ("Time", ("0:59:59", "1:00:00", "1:00:01"), [0, 1, 2]),
    "seconds since 1970": ("Time", ("1937642400", "1937642401", "1937642403"), [0, 1, 3]),
    "milliseconds since 1970": ("Time", ("1937642400000", "1937642400200"), [0, 0.2]),
    "microseconds since 1970": ("Time", ("1937642400000000", "1937642400200000"), [0, 0.2]),
    "seconds since 1970, fractions": ("Epoch", ("1937642400.0", "1937642400.2"), [0, 0.2]),
    "an unknown word for time": ("Uhrzeit", ("10:00:00", "10:00:01"), [0, 1]),
    "the finer of two": ("Time,Elapsed (s)", ("10:00:00,0.0", "10:00:00,0.5", "10:00:01,1.0"), [0, 0.5, 1.0]),
    "the fuller of two": ("UTC,Elapsed (s)", (",0", ",1", "10:00:02,2"), [0, 1, 2]),
    "six digits": ("Date,UTC", ("20310517,095959", "20310517,100000", "20310517,100001"), [0, 1, 2]),
    "days as a spreadsheet counts": (
        "Time",
        ("48015.4166666667", "48015.4166782407", "48015.4166898148"),
        [0, 1, 2],
    ),
    "parts of a day": ("Time", ("0.4166666667", "0.4166782407", "0.4166898148"), [0, 1, 2]),
    "irregular": ("Time (s)", ("0", "0.9", "2.3", "2.3", "9"), [0, 0.9, 2.3, 2.3, 9]),
}


@pytest.mark.parametrize("name", CLOCKS)
def test_times_are_read_in_every_form(name: str) -> None:
    head, rows, seconds = CLOCKS[name]
    recording = read(head, *rows)
    np.testing.assert_allclose(recording.time_s, seconds, rtol=0, atol=1e-5)
    assert recording.rows_skipped == 0


@pytest.mark.parametrize(
    ("head", "row", "start"),
    [
        ("Date,Time", "2031-05-17,10:00:00", datetime.fromisoformat("2031-05-17T10:00:00")),
        ("Date,Time", "05/17/2031,10:00:00", datetime.fromisoformat("2031-05-17T10:00:00")),
        ("Timestamp", "17.05.2031 10:00:00", datetime.fromisoformat("2031-05-17T10:00:00")),
        ("Time", "1937642400", datetime.fromisoformat("2031-05-27T10:00:00")),
        ("Date,Time", "03/04/2031,10:00:00", None),
        ("Time", "10:00:00", None),
        ("Date (dd/mm/yyyy),Time", "03/04/2031,10:00:00", datetime.fromisoformat("2031-04-03T10:00:00")),
    ],
)  # fmt: skip
def test_the_start_is_known_where_the_date_is(head: str, row: str, start: datetime | None) -> None:
    recording = read(head, row, row)
    assert recording.started_at == start
    assert ("date-order-unknown" in codes(recording)) == (start is None and "," in head)


def test_the_columns_that_tell_the_time_are_channels_of_time() -> None:
    recording = read("Date,Time,Elapsed", "2031-05-17,10:00:00,0", "2031-05-17,10:00:01,1")
    found = [(c.quantity, c.unit, c.unit_from) for c in recording.channels[:3]]
    assert found == [("date", None, None), ("time", None, None), ("time", None, None)]
    recording = read("Elapsed", "0", "1", "2")
    elapsed = recording.channels[0]
    assert (elapsed.quantity, elapsed.unit, elapsed.unit_from) == ("time", "s", "values")
    assert elapsed.values is not None
    assert elapsed.values.tolist() == [0, 1, 2]
    assert "time-unit-by-values" in codes(recording)


def test_the_unit_of_a_count_may_stand_in_the_row_of_units() -> None:
    text = b"Elapsed,EGT1,EGT2\nmin,degF,degF\n0,1400,1390\n1,1401,1390\n2,1402,1390\n"
    recording = read_recording(io.BytesIO(text))
    assert recording.time_s.tolist() == [0, 60, 120]
    assert (recording.channels[0].unit, recording.channels[0].unit_from) == ("min", "units-row")


def test_a_row_number_counts_with_the_stated_interval() -> None:
    lines = [
        "# Recording interval: 0.5 s",
        "Row,EGT1 (degF),EGT2 (degF)",
        "1,1400,1390",
        "2,1401,1390",
        "5,1402,1390",
        "",
    ]
    recording = read_recording(io.BytesIO("\n".join(lines).encode()))
    assert recording.time_s.tolist() == [0, 0.5, 2.0]
    assert recording.channels[0].quantity == "time"


def test_without_a_clock_lines_count_with_the_interval_skipped_ones_too() -> None:
    lines = ["EGT1 (degF),EGT2 (degF)", "1400,1390", "1401", "1402,1390", ""]
    recording = read_recording(io.BytesIO("\n".join(lines).encode()), row_interval_s=2.0)
    assert recording.time_s.tolist() == [0, 4.0]
    assert "time-from-interval" in codes(recording)


def test_a_time_that_is_text_in_most_rows_is_told_with_the_cell_that_is_none() -> None:
    lines = ["Time,EGT1 (degF),EGT2 (degF)", "9:30:00,1400,1390", *["late,1401,1390"] * 3, ""]
    stated = read_recording(io.BytesIO("\n".join(lines).encode()), row_interval_s=2.0)
    assert stated.time_s.tolist() == [0, 2.0, 4.0, 6.0]
    assert [(one.severity, one.message) for one in stated.findings if one.code == "time-from-interval"] == [
        (
            "warning",
            (
                "'Time' is named as the time, but too few of its cells can be read as one, as 'late' cannot; the time "
                "is the number of the line times the stated interval."
            ),
        )
    ]
    without = read_recording(io.BytesIO("\n".join(lines).encode()))
    assert ["'late'" in one.message for one in without.findings if one.code == "no-time"] == [True]


def test_without_a_clock_and_an_interval_a_second_a_row_is_taken_and_called_an_error() -> None:
    recording = read_recording(io.BytesIO(b"EGT1 (degF),EGT2 (degF)\n1400,1390\n1401,1390\n"))
    assert recording.time_s.tolist() == [0, 1]
    assert [finding.severity for finding in recording.findings if finding.code == "no-time"] == ["error"]


@pytest.mark.parametrize(
    ("head", "clocks", "steps", "told"),
    [
        ("Date,UTC", ("23:58", "23:59"), 60, True), ("Date,Elapsed", ("00:00", "00:01"), 1, False),
        ("Date,Laufzeit", ("00:00", "00:01"), 1, False), ("Date,Time (mm:ss)", ("10:00", "10:01"), 1, False),
        ("Date,Time (hh:mm)", ("10:00", "10:01"), 60, False), ("Date,Time", ("23:59", "24:00"), 1, False),
        ("Date,Time", ("10:00.0", "10:00.5"), 0.5, False), ("Date,Time", ("10:00", "10:00", "10:00", "10:01"), 0, False),
    ],
)  # fmt: skip
def test_two_parts_beside_a_date_are_hours_and_minutes_unless_something_says_no(
    head: str, clocks: tuple[str, ...], steps: float, *, told: bool
) -> None:
    recording = read(head, *(f"2031-05-17,{clock}" for clock in clocks))
    assert recording.time_s[1] == steps
    assert ("hours-by-date" in codes(recording)) == told


def test_a_date_and_a_clock_of_two_parts_in_one_cell_are_hours_and_minutes() -> None:
    recording = read("Time", "5/17/2031 9:30", "5/17/2031 9:31")
    assert recording.time_s.tolist() == [0, 60]
    assert "hours-by-date" not in codes(recording)


def test_a_date_alone_is_no_clock() -> None:
    recording = read("Date", "2031-05-17", "2031-05-17")
    assert "no-time" in codes(recording)
    assert recording.channels[0].quantity == "date"


@pytest.mark.parametrize("clock", ["12:75:80", "13:00:00 PM"])
def test_dates_with_clocks_that_cannot_be_are_told_as_no_time(clock: str) -> None:
    for recording in (
        read("Time", *[f"2031-05-17 {clock}"] * 3), read("Date,Time", *[f"2031-05-17,{clock}"] * 3),
    ):  # fmt: skip
        (found,) = (finding for finding in recording.findings if finding.code == "no-time")
        assert clock in found.message
        assert recording.time_s.tolist() == [0, 1, 2]
        assert recording.started_at is None


def test_dates_that_are_missing_for_many_rows_are_left_aside() -> None:
    recording = read("Date,Time", ",23:59:59", "2031-05-18,00:00:00", "2031-05-18,00:00:01")
    assert recording.time_s.tolist() == [0, 1, 2]
    assert recording.started_at is None


@pytest.mark.parametrize(
    ("line", "interval"),
    [
        ("Recording interval: 1 s", 1.0), ("# Interval = 0.5 sec", 0.5), ("Sample interval (s): 2", 2.0),
        ("Interval;1,5;s", 1.5), ("Logging interval 200 ms", 0.2), ("Sample rate: 5 Hz", 0.2), ("Rate,4", 0.25),
        ("Sampling frequency: 2 Hz", 0.5), ("Interval: 2 Hz", 0.5), ("Step: 1 min", 60.0), ("Data rate 4 samples", 0.25),
        ("Interval: 0 s", None), ("Interval: 3 kg", None), ("Rate: 3 kg", None), ("Serial: 4711", None), ("Interval", None),
        ("2031-05-17", None), ("", None),
    ],
)  # fmt: skip
def test_an_interval_is_read_from_the_lines_above_the_header(line: str, interval: float | None) -> None:
    assert stated_interval([line]) == (interval if interval is None else pytest.approx(interval))
