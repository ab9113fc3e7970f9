"""Values in the reader's unit: a level with its offset, a difference without it (BIPM, SI Brochure, 2.3.4 and table 8)."""

import pytest

from leanwright.report.units import Shown, System, ending, show, show_difference


@pytest.mark.parametrize(
    ("key", "unit"),
    [("egt_f", "f"), ("u_egt_df", "df"), ("f", None), ("cylinder", None), ("engine_speed_hz", None)],
)
def test_a_key_names_its_unit_behind_its_last_line(key: str, unit: str | None) -> None:
    assert ending(key) == unit


@pytest.mark.parametrize(
    ("value", "unit", "system", "shown"),
    [
        (212.0, "f", "metric", Shown(100.0, "°C")),
        (18.0, "df", "metric", Shown(10.0, "°C")),
        (18.0, "df", "us", Shown(18.0, "°F")),
        (2500.0, "ft", "metric", Shown(2500.0, "ft")),
    ],
)
def test_a_level_is_moved_by_the_offset_and_a_difference_is_not(
    value: float, unit: str, system: System, shown: Shown
) -> None:
    made = show(value, unit, system)
    assert made.value == pytest.approx(shown.value)
    assert made.sign == shown.sign


def test_a_difference_of_two_levels_has_no_offset_and_keeps_its_sign() -> None:
    made = show_difference(9.0, "f", "metric")
    assert made.value == pytest.approx(5.0)
    assert made.sign == "°C"
