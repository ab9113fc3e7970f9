"""Files with the newest row first: the same recording as with the oldest first, but for the line numbers."""

import io
from datetime import datetime

import numpy as np
import pytest

from leanwright.recordings.read import read_recording
from leanwright.recordings.recording import Recording
from leanwright.recordings.succession import oldest_first

ROWS = 40
TIMES = {
    "date and time": [f"2031-05-17T10:00:{s:02d}" for s in range(ROWS)],
    "clock over midnight": [f"{(86380 + s) // 3600 % 24:02d}:{(86380 + s) // 60 % 60:02d}:{(86380 + s) % 60:02d}" for s in range(ROWS)],
    "seconds": [str(s) for s in range(ROWS)],
    "milliseconds": [str(200 * s) for s in range(ROWS)],
    "hours and minutes": [f"10:{s // 4:02d}" for s in range(ROWS)],
}  # fmt: skip


def read(rows: list[str], head: str = "Time,EGT1 (degF),EGT2 (degF)") -> Recording:
    """A recording of these lines of data."""
    return read_recording(io.BytesIO("\n".join([head, *rows, ""]).encode()), name="f")


@pytest.mark.parametrize("times", TIMES.values(), ids=TIMES)
def test_a_file_with_the_newest_row_first_is_the_same_recording(times: list[str]) -> None:
    rows = [f"{time},{1400 + n},1390" for n, time in enumerate(times)]
    usual, turned = read(rows), read(rows[::-1])
    np.testing.assert_array_equal(turned.time_s, usual.time_s)
    for one, two in zip(usual.channels, turned.channels, strict=True):
        assert (one.quantity, one.unit) == (two.quantity, two.unit)
        if one.quantity != "time" and one.values is not None:
            np.testing.assert_array_equal(one.values, two.values)
    assert turned.lines.tolist() == usual.lines.tolist()[::-1]
    assert turned.started_at == usual.started_at
    more = [finding.code for finding in turned.findings]
    more.remove("newest-first")
    assert more == [finding.code for finding in usual.findings]


def test_the_start_is_that_of_the_oldest_row() -> None:
    rows = [f"{time},1400,1390" for time in TIMES["date and time"]]
    assert read(rows[::-1]).started_at == datetime(2031, 5, 17, 10)  # noqa: DTZ001  a panel's clock states no zone


def test_power_ups_are_turned_round_with_their_rows() -> None:
    first, second = ([f"{s},1400,1390" for s in range(n)] for n in (30, 20))
    usual, turned = read(first + second), read((first + second)[::-1])
    np.testing.assert_array_equal(turned.time_s, usual.time_s)
    assert turned.power_up_rows == usual.power_up_rows == (0, 30)


def test_sections_below_repeated_headers_are_judged_one_by_one() -> None:
    seconds = np.array([9.0, 8, 7, 6, 5, 4, 19, 18, 17, 16, 15, 14])
    order = oldest_first(seconds, (6,))
    assert order is not None
    assert order[0].tolist() == [5, 4, 3, 2, 1, 0, 11, 10, 9, 8, 7, 6]
    assert order[1] == (6,)
    whole = oldest_first(seconds[[*range(6, 12), *range(6)]], (6,))
    assert whole is not None
    assert whole[0].tolist() == list(range(12))[::-1]
    assert whole[1] == (6,)


def test_a_clock_that_is_set_back_now_and_then_is_no_file_written_backwards() -> None:
    assert oldest_first(np.array([0.0, 1, 2, 0, 1, 2, 0, 1, 2]), ()) is None
    assert oldest_first(np.array([3.0, 2, 1]), ()) is None
