"""Medians and quantiles against those of numpy."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from leanwright.analysis.middle import middle, quantile

VALUES = arrays(np.float64, st.integers(1, 60), elements=st.floats(-1e6, 1e6))


@given(VALUES)
def test_the_median_is_numpy_s(values: np.ndarray) -> None:
    assert middle(values) == float(np.median(values))


@given(VALUES, st.floats(0.0, 1.0))
def test_a_quantile_is_numpy_s_to_the_last_bit(values: np.ndarray, share: float) -> None:
    assert quantile(values, share) == float(np.quantile(values, share))
