"""Numbers as a person reads them."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leanwright.report.numbers import (
    NO_BREAK,
    Marks,
    chance,
    clock,
    decimals_for,
    plain,
    span,
    stripped,
    with_uncertainty,
)


def spaced(text: str) -> str:
    return text.replace(NO_BREAK, " ")


@pytest.mark.parametrize(
    ("value", "uncertainty", "shown"),
    [
        # JCGM 100:2008, 7.2.2 and 7.2.6 (values from memory): 100,021 47 g with 0,35 mg; 10,057 62 ohm with 27 mohm.
        (100.02147, 0.00035, "100.02147 ± 0.00035"),
        (10.05762, 0.027, "10.058 ± 0.027"),
        (4.2159, 0.0996, "4.22 ± 0.10"),
        (0.4783, 0.1642, "0.48 ± 0.16"),
        (1466.3, 12.4, "1,466 ± 12"),
        (-3.1204, 0.161, "−3.12 ± 0.16"),
        (0.0, 0.11, "0.00 ± 0.11"),
    ],
)
def test_two_digits_of_the_uncertainty_and_the_value_to_match(
    value: float, uncertainty: float, shown: str
) -> None:
    assert spaced(with_uncertainty(value, uncertainty)) == shown


@given(st.floats(-1e4, 1e4), st.floats(1e-4, 1e3))
def test_what_is_shown_differs_by_less_than_half_of_the_last_digit(value: float, u: float) -> None:
    number, error = spaced(with_uncertainty(value, u)).replace(",", "").replace("−", "-").split(" ± ")
    digit = 10.0 ** -decimals_for(u)
    assert abs(float(number) - value) <= digit * 0.5000001
    assert abs(float(error) - u) <= digit * 0.5000001
    assert len(error.replace(".", "").lstrip("0")) >= min(2, len(str(round(u)))) or u >= 10


def test_number_and_unit_and_both_sides_of_an_uncertainty_never_part() -> None:
    assert not re.search(r"\s(?<!\u00a0)", with_uncertainty(12.8, 0.1) + chance(0.5)[1] + span(400.0))


def test_a_value_without_uncertainty_has_two_decimals() -> None:
    assert with_uncertainty(12.3456, None) == "12.35"


@pytest.mark.parametrize("u", [0.0, -1.0, math.nan, math.inf])
def test_an_uncertainty_that_is_none_gives_three_decimals(u: float) -> None:
    assert decimals_for(u) == 3


def test_marks_of_another_language() -> None:
    assert plain(5757.25, 2, Marks(decimal=",", group=".")) == "5.757,25"
    assert stripped(0.5, 2, Marks(decimal=",", group=".")) == "0,5"


@pytest.mark.parametrize(
    ("probability", "said"),
    [
        (1.0, ("over", "99 %")),
        (0.9901, ("over", "99 %")),
        (0.99, ("", "99 %")),
        (0.95, ("", "95 %")),
        (0.9499, ("", "94.9 %")),
        (0.0501, ("", "5.1 %")),
        (0.05, ("", "5 %")),
        (0.0099, ("under", "1 %")),
        (0.0, ("under", "1 %")),
    ],
)
def test_a_chance_in_percent(probability: float, said: tuple[str, str]) -> None:
    beyond, percent = chance(probability)
    assert (beyond, spaced(percent)) == said


@given(st.floats(0.0, 1.0))
def test_a_chance_is_never_rounded_across_a_limit_that_decides(probability: float) -> None:
    beyond, text = chance(probability)
    shown = float(text.split(NO_BREAK)[0]) / 100.0
    if not beyond:
        assert (probability >= 0.95) == (shown >= 0.95)
        assert (probability <= 0.05) == (shown <= 0.05)


def test_times() -> None:
    assert [clock(t) for t in (0.0, 59.9, 3661.0)] == ["0:00:00", "0:00:59", "1:01:01"]
    assert [spaced(span(t)) for t in (0.4, 60.0, 3599.6)] == ["0 s", "1 min 0 s", "1 h 0 min"]
