"""Clocks without seconds. The truth is the row's own time, cut down to the minute as a spreadsheet shows it."""

import io

import numpy as np
import pytest

from leanwright.recordings.read import read_recording
from leanwright.recordings.recording import Recording
from leanwright.recordings.stamps import spread_stamps


def saved_again(seconds: np.ndarray, **arguments: float) -> Recording:
    """A recording whose clock was cut down to hours and minutes."""
    rows = [f"{int(s) // 3600}:{int(s) // 60 % 60:02d},14{int(s) % 60:02d},1390" for s in seconds]
    text = "\n".join(["Time,EGT1 (degF),EGT2 (degF)", *rows, ""])
    return read_recording(io.BytesIO(text.encode()), name="again.csv", **arguments)  # type: ignore[arg-type]  # keyword by keyword


def codes(recording: Recording) -> list[str]:
    """Codes of what was found."""
    return [finding.code for finding in recording.findings]


@pytest.mark.parametrize("interval", [0.5, 1.0, 2.0, 6.0])
def test_rows_of_a_minute_are_spread_evenly_and_that_is_said(interval: float) -> None:
    seconds = 36_000 + 25 + np.arange(0, 600, interval)
    recording = saved_again(seconds)
    np.testing.assert_allclose(recording.time_s, seconds - seconds[0], rtol=0, atol=1.01 * interval)
    np.testing.assert_allclose(np.diff(recording.time_s), interval, rtol=0, atol=1e-6)
    assert codes(recording) == ["stamps-spread"]
    assert recording.findings[0].severity == "warning"
    assert f"{60 / interval:g} rows share a minute" in recording.findings[0].message


def test_an_interval_that_does_not_fill_the_minute_is_never_more_than_two_rows_wrong() -> None:
    seconds = 36_000 + np.arange(0, 3600, 1.013)
    recording = saved_again(seconds)
    np.testing.assert_allclose(recording.time_s, seconds - seconds[0], rtol=0, atol=2.1)


def test_a_stated_interval_is_heeded() -> None:
    seconds = 36_000 + np.arange(0, 50, 1.0)
    recording = saved_again(seconds, row_interval_s=1.0)
    assert recording.time_s.tolist() == np.arange(0, 50).tolist()
    assert codes(recording) == ["stamps-spread"]
    assert recording.interval_s == 1.0


def test_a_stated_interval_that_contradicts_the_clock_is_a_finding() -> None:
    recording = saved_again(36_000 + np.arange(0, 600, 1.0), row_interval_s=6.0)
    assert codes(recording) == ["interval-contradicts-clock"]
    assert np.all(np.diff(recording.time_s) > 0)


def test_a_pause_stays_a_pause() -> None:
    seconds = np.concatenate([36_000 + np.arange(0, 600, 2.0), 43_200 + np.arange(0, 600, 2.0)])
    recording = saved_again(seconds)
    np.testing.assert_allclose(recording.time_s, seconds - seconds[0], rtol=0, atol=2.01)


def test_midnight_is_passed() -> None:
    seconds = (86_100 + np.arange(0, 600, 2.0)) % 86_400
    recording = saved_again(seconds)
    np.testing.assert_allclose(recording.time_s, np.arange(0, 600, 2.0), rtol=0, atol=1e-6)


def test_uneven_minutes_are_left_alone_and_ask_for_the_interval() -> None:
    rng = np.random.default_rng(3)
    seconds = 36_000 + np.cumsum(rng.choice([0.5, 8.0, 20.0], 300))
    recording = saved_again(seconds)
    assert "clock-without-seconds" in codes(recording)
    assert np.all(recording.time_s % 60 == 0)


def test_a_row_a_minute_is_an_ordinary_clock() -> None:
    minutes = np.arange(0, 3600, 60.0)
    same, told = spread_stamps(minutes, None)
    assert same is minutes
    assert told == ()
