"""Stated units that the values refute are told, with what to type; what is plausible is left in peace.

Levels of a six-cylinder engine in cruise and climb are common practice.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leanwright.recordings.plausible import fits_unit, fitting_units
from tests.recordings.test_meaning import channel, messages, near, read

CYLINDERS = ",".join(f"EGT{n} (F)" for n in range(1, 7))
POWER = [near(2350), near(22.0, 1)]


def warned(flow: float, unit: str, egt: float, egt_unit: str = "F") -> list[str]:
    names = CYLINDERS.replace("(F)", f"({egt_unit})") + f",FF ({unit}),RPM,MAP (inHg)"
    return messages(read(names, *[near(egt + n) for n in range(6)], near(flow, 1), *POWER), "unit-doubtful")


@pytest.mark.parametrize(
    ("flow", "unit", "egt", "egt_unit"),
    [(12.5, "gph", 1420, "F"), (47, "L/h", 770, "C"), (75, "lb/h", 1420, "F"), (34, "kg/h", 770, "C"), (12.5, "gph", 770, "C"),
     (22, "gph", 1250, "F")],
)  # fmt: skip
def test_what_an_engine_reads_is_not_doubted(flow: float, unit: str, egt: float, egt_unit: str) -> None:
    assert warned(flow, unit, egt, egt_unit) == []


def test_litres_and_celsius_under_a_header_of_gallons_and_fahrenheit_are_told_and_not_converted() -> None:
    egt, flow = warned(47, "gph", 770)
    assert egt == (
        "'EGT1 (F)' to 'EGT6 (F)': stated in °F, but values up to 780 are not those of a running engine in it; °C would "
        'fit. Nothing is converted. If so, type --column "EGT1 (F)=egt:1:degC", and so on.'
    )
    assert "stated in gal/h" in flow
    assert '--column "FF (gph)=fuel_flow:L/h"' in flow
    assert "lb/h" not in flow
    recording = read(f"{CYLINDERS},FF (gph),RPM,MAP (inHg)", *[near(770)] * 6, near(47, 1), *POWER)
    assert (channel(recording, 6).unit, channel(recording, 0).unit) == ("gal/h", "degF")


def test_gallons_under_a_header_of_litres_are_told() -> None:
    (flow,) = warned(12.5, "L/h", 1420)
    assert '--column "FF (L/h)=fuel_flow:gal/h"' in flow


def test_fahrenheit_under_a_header_of_celsius_is_told() -> None:
    recording = read(CYLINDERS.replace("(F)", "(C)"), *[near(1420)] * 6)
    told = messages(recording, "unit-doubtful") + messages(recording, "meaning-refuted")
    assert told
    assert "°F" in told[0] or "degF" in told[0]


def test_an_engine_that_only_idles_is_not_doubted() -> None:
    recording = read(
        f"{CYLINDERS},FF (gph),RPM,MAP (inHg)", *[near(850)] * 6, near(1.5, 1), near(800), near(11.0, 1)
    )
    assert messages(recording, "unit-doubtful") == []


def test_what_the_user_says_is_not_doubted() -> None:
    recording = read(
        CYLINDERS, *[near(770)] * 6, corrections=[f"EGT{n} (F)=egt:{n}:degF" for n in range(1, 7)]
    )
    assert messages(recording, "unit-doubtful") == []


def test_beside_celsius_a_flow_is_not_taken_for_pounds() -> None:
    names = "EGT1,EGT2,EGT3,EGT4,FF,RPM,MAP"
    recording = read(names, *[near(770)] * 4, near(75, 1), *POWER)
    assert channel(recording, 4).unit != "lb/h"
    assert '--column "FF=fuel_flow:L/h"' in messages(recording, "unit-unknown")[0]


@given(
    st.sampled_from((1700.0, 400.0, 60.0, 20.0)).flatmap(
        lambda top: st.lists(st.floats(0.0, 1.3 * top) | st.just(np.nan), max_size=80)
    ),
    st.sampled_from(("egt", "cht", "fuel_flow", "manifold_pressure")),
    st.sampled_from(("degF", "degC", "gal/h", "L/h", "inHg", "kPa")),
)
def test_a_unit_fits_by_counting_as_it_does_by_the_value_that_most_stay_below(
    values: list[float], quantity: str, unit: str
) -> None:
    table = np.array(values, dtype=np.float64)
    assert fits_unit(quantity, table, unit) == (unit in fitting_units(quantity, table))


def test_a_flow_that_fits_the_air_drawn_in_no_unit_is_told() -> None:
    names = f"{CYLINDERS},FF (gph),RPM,MAP (inHg)"
    tenth, whole = (read(names, *[near(1420)] * 6, near(flow, 1), *POWER) for flow in (1.2, 12.0))
    (told,) = messages(tenth, "flow-doubtful")
    assert told.startswith("'FF (gph)' is 0.")
    assert "no other unit makes it fit" in told
    assert messages(whole, "flow-doubtful") == []
