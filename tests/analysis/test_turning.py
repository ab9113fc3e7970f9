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


@given(st.integers(0, 100_000), st.booleans())
def test_tops_of_a_long_signal_are_as_high_and_wide_as_the_library_s(
    seed: int,
    wanders: bool,  # noqa: FBT001  the strategies go by place
) -> None:
    """scipy.signal.find_peaks; values that are all different, since of equal tops it takes each."""
    draws = np.random.default_rng(seed).standard_normal(500)
    values = np.cumsum(draws) if wanders else draws
    rows, shape = find_peaks(values, prominence=1.5, width=0.0, rel_height=0.5)
    found = tops(values, 1.5)
    assert [top.row for top in found] == rows.tolist()
    assert [top.height for top in found] == pytest.approx(shape["prominences"].tolist())
    assert [top.left for top in found] == pytest.approx(shape["left_ips"].tolist())
    assert [top.right for top in found] == pytest.approx(shape["right_ips"].tolist())


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


STEPS = st.lists(st.integers(-9, 9), min_size=1, max_size=60)
"""Small whole numbers: flat stretches and tops of one height come often."""


@given(STEPS, st.integers(0, 12))
def test_the_quick_way_turns_where_a_walk_from_row_to_row_does(signal: list[int], least: int) -> None:
    assert turning_points(signal, least + 0.5) == walked(signal, least + 0.5)


@given(st.integers(0, 100_000), st.integers(0, 60), st.booleans())
def test_a_long_signal_turns_where_a_walk_from_row_to_row_does(
    seed: int,
    least: int,
    wanders: bool,  # noqa: FBT001  the strategies go by place
) -> None:
    steps = np.random.default_rng(seed).integers(-9, 10, 700)
    signal: list[int] = (np.cumsum(steps) if wanders else steps).tolist()
    assert turning_points(signal, least + 0.5) == walked(signal, least + 0.5)


def walked(signal: list[int], least: float) -> list[int]:
    """The definition: a turn is the farthest row on a way that is left by more than the least."""
    pivots, way, high, low = [0], 0, 0, 0
    for row, value in enumerate(signal):
        high = row if value > signal[high] else high
        low = row if value < signal[low] else low
        if way >= 0 and signal[high] - value > least:
            pivots += [high] if way > 0 or high > 0 else []
            way, high, low = -1, row, row
        elif way <= 0 and value - signal[low] > least:
            pivots += [low] if way < 0 or low > 0 else []
            way, high, low = 1, row, row
    return [*pivots, high if way > 0 else low if way < 0 else len(signal) - 1]


def test_too_short_a_signal_has_no_top() -> None:
    assert tops(np.array([1.0, 2.0]), 0.1) == []
