"""Logs of instruments that this project never saw, from an open package (``instrument_logs/README.md``)."""

from pathlib import Path

import numpy as np
import pytest

from leanwright.recordings.read import read_recording

FOLDER = Path(__file__).parent / "instrument_logs"


def test_an_hourly_log_with_a_line_of_metadata_is_read_with_its_header_its_rows_and_its_hours() -> None:
    recording = read_recording(FOLDER / "hourly.csv")
    assert recording.metadata == ('723170,"GREENSBORO PIEDMONT TRIAD INT",NC,-5.0,36.100,-79.950,273',)
    assert [channel.column for channel in recording.channels[:3]] == [
        "Date (MM/DD/YYYY)",
        "Time (HH:MM)",
        "ETR (W/m^2)",
    ]
    assert (recording.rows_kept, recording.rows_skipped) == (48, 0)
    assert recording.lines.tolist() == list(range(3, 51))
    # One row an hour, from 01:00 to 24:00 of two days.
    np.testing.assert_allclose(recording.time_s, 3600.0 * np.arange(48))


def test_a_log_with_remarks_before_its_header_is_read_row_by_row() -> None:
    recording = read_recording(FOLDER / "remarked.csv")
    assert [channel.column for channel in recording.channels] == ["Time (UTC)", "GHI", "Clear or not"]
    assert recording.metadata[0] == "latitude:35.04"
    assert (recording.rows_kept, recording.rows_skipped) == (30, 0)


def test_a_log_of_every_minute_is_read_with_its_header_and_rows() -> None:
    recording = read_recording(FOLDER / "minutes.txt")
    assert [channel.column for channel in recording.channels[:3]] == [
        "DATE (MM/DD/YYYY)",
        "MST",
        "Global PSP [W/m^2]",
    ]
    assert (recording.rows_kept, recording.rows_skipped) == (199, 0)
    assert recording.metadata == ()


@pytest.mark.parametrize("name", ["minutes.txt", "remarked.csv"])
def test_a_row_every_minute_is_a_minute_apart(name: str) -> None:
    recording = read_recording(FOLDER / name)
    np.testing.assert_allclose(np.diff(recording.time_s), 60.0)
