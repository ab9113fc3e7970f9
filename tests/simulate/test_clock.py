"""How times are written: as a clock shows them."""

from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leanwright.simulate.clock import FORMS, moment_of

BEGAN = datetime(2031, 12, 31, 23, 59, 0)  # noqa: DTZ001  a panel's clock knows no zone


@pytest.mark.parametrize(
    ("form", "shown"),
    [
        ("iso", ("2032-01-01T00:00:00",)),
        ("iso-two", ("2032-01-01", "00:00:00")),
        ("month-first", ("01/01/2032", "12:00:00 AM")),
        ("clock", ("00:00:00",)),
        ("minutes", ("01:00",)),
        ("hours", ("0:01:00",)),
    ],
)
def test_a_time_that_is_rounded_up_to_a_minute_is_the_next_minute_of_the_next_day(
    form: str, shown: tuple[str, ...]
) -> None:
    assert FORMS[form].write(moment_of(BEGAN, 59.6), 59.6, 0, 0) == shown


@given(st.sampled_from(sorted(FORMS)), st.integers(0, 10_000_000), st.integers(0, 3))
def test_no_clock_shows_sixty_seconds(form: str, milliseconds: int, decimals: int) -> None:
    """ISO 8601-1:2019 (from memory): seconds from 00 to 59, and 60 in a leap second alone."""
    elapsed_s = milliseconds / 1000.0
    fields = FORMS[form].write(moment_of(BEGAN, elapsed_s), elapsed_s, 0, decimals)
    assert not any(":60" in field for field in fields)
