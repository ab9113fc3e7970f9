"""Chances against a library's: the standard normal and the chi-square distribution."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import chdtrc, ndtr, ndtri

from leanwright.analysis.chance import chi_square_beyond, normal_place, normal_share


def test_the_share_below_a_place_is_the_library_s() -> None:
    z = np.linspace(-9.0, 9.0, 20_011)
    assert np.abs(normal_share(z) - ndtr(z)).max() < 1e-11


def test_the_place_of_a_share_is_the_library_s() -> None:
    share = np.concatenate([np.geomspace(1e-9, 0.5, 5_001), 1.0 - np.geomspace(1e-9, 0.5, 5_001)])
    assert np.abs(normal_place(share) - ndtri(share)).max() < 1e-7


@given(st.floats(-5.0, 5.0))
def test_there_and_back_is_the_same_place(z: float) -> None:
    assert normal_place(normal_share(np.array([z])))[0] == pytest.approx(z, abs=1e-8)


@given(st.integers(1, 300), st.floats(0.0, 1_000.0))
def test_a_chi_square_chance_is_the_library_s(freedom: int, value: float) -> None:
    assert chi_square_beyond(freedom, value) == pytest.approx(chdtrc(freedom, value), rel=1e-9, abs=1e-13)


@pytest.mark.parametrize(
    ("freedom", "value"), [(1, 3.841), (2, 5.991), (5, 11.070), (10, 18.307), (30, 43.773)]
)
def test_upper_five_percent_points_are_those_of_the_handbook_table(freedom: int, value: float) -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.4 (critical values of chi-square, 0.05)."""
    assert chi_square_beyond(freedom, value) == pytest.approx(0.05, abs=2e-5)


def test_no_degrees_of_freedom_are_refused() -> None:
    with pytest.raises(ValueError, match="0 degrees of freedom; a chi-square distribution has at least 1"):
        chi_square_beyond(0, 1.0)
