"""The smallest step of a column, told by counting where the numbers have few decimals, is that of the sorted column."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leanwright.recordings.step import smallest_step


def by_sorting(values: list[float]) -> float | None:
    """The plainest way."""
    different = sorted({value for value in values if np.isfinite(value)})
    steps = [b - a for a, b in itertools.pairwise(different)]
    return float(f"{min(steps):.6g}") if steps else None


@given(
    st.lists(st.integers(-30_000, 30_000) | st.none(), max_size=60),
    st.sampled_from((1, 10, 100, 1000)),
    st.sampled_from((1.0, 9.0 / 5.0)),
    st.sampled_from((0.0, 32.0, 5e6)),
)
def test_it_is_the_step_of_the_sorted_column(
    counts: list[int | None], a_unit: int, factor: float, offset: float
) -> None:
    values = [np.nan if count is None else offset + factor * (count / a_unit) for count in counts]
    found, expected = smallest_step(np.array(values, dtype=np.float64)), by_sorting(values)
    assert (found is None) == (expected is None)
    if expected is not None:
        assert found == pytest.approx(expected, rel=2e-5 if offset > 1e6 else 1e-6)


def test_a_column_without_two_different_values_has_none() -> None:
    assert smallest_step(np.array([])) is None
    assert smallest_step(np.array([np.nan, 7.5, 7.5])) is None
