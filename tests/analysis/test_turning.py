"""Turning points and tops against a library's search for peaks."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import find_peaks

from leanwright.analysis.turning import tops, turning_points

SIGNALS = st.lists(st.integers(-400, 400), min_size=3, max_size=80, unique=True)
"""Of two tops of exactly one height the library takes both, however shallow the hollow between them."""


@given(SIGNALS, st.integers(1, 200))
def test_tops_are_the_peaks_of_the_library_that_stand_out_as_much(signal: list[int], least: int) -> None:
    """scipy.signal.find_peaks with the same prominence."""
    values = np.array(signal, dtype=float)
    rows, _ = find_peaks(values, prominence=least + 0.5)
    assert [top.row for top in tops(values, least + 0.5)] == rows.tolist()


def test_a_lone_bump_has_the_library_s_height_and_half_width() -> None:
    values = np.exp(-0.5 * ((np.arange(60) - 30.0) / 5.0) ** 2)
    rows, shape = find_peaks(values, prominence=0.2, width=0.0, rel_height=0.5)
    (top,) = tops(values, 0.2)
    assert (top.row, top.left, top.right, top.height) == pytest.approx(
        (rows[0], shape["left_ips"][0], shape["right_ips"][0], shape["prominences"][0])
    )


@given(SIGNALS, st.integers(1, 200))
def test_a_signal_turned_over_turns_at_the_same_rows(signal: list[int], least: int) -> None:
    upside_down = [-value for value in signal]
    assert turning_points(signal, least) == turning_points(upside_down, least)


def test_too_short_a_signal_has_no_top() -> None:
    assert tops(np.array([1.0, 2.0]), 0.1) == []
