"""Round ticks, and positions that follow the values."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leanwright.report.scale import Scale, ticks, time_ticks


@given(st.floats(-1e3, 1e3), st.floats(1e-2, 1e4))
def test_ticks_are_one_two_or_five_apart_and_on_the_axis(low: float, room: float) -> None:
    values, decimals = ticks(low, low + room)
    assert 3 <= len(values) <= 11
    assert low - 1e-6 * room <= values[0]
    assert values[-1] <= low + room + 1e-6 * room
    step = values[1] - values[0]
    mantissa = step / 10.0 ** math.floor(math.log10(step) + 1e-9)
    assert min(abs(mantissa - round_one) for round_one in (1.0, 2.0, 5.0)) < 1e-6
    assert all(math.isclose(value, round(value, decimals), abs_tol=1e-9) for value in values)


@given(st.floats(0.0, 1.0))
def test_a_scale_is_linear(share: float) -> None:
    scale = Scale(11.0, 13.0, 172.0, 572.0)
    assert math.isclose(scale(11.0 + 2.0 * share), 172.0 + 400.0 * share)


@pytest.mark.parametrize("length", [1.0, 600.0, 5760.0, 40_000.0])
def test_time_ticks_start_at_zero_and_stay_inside(length: float) -> None:
    found = time_ticks(length)
    assert found[0] == 0.0
    assert found[-1] <= length
    assert len(found) <= 14
