"""Units that nobody states: what is told of each column, whole, and what settles them.

Levels of an engine are common practice; how much fuel the air needs is by the displacement that cylinders have.
"""

import pytest

from leanwright.recordings.recording import Recording
from leanwright.recordings.units import sign
from tests.recordings.test_meaning import channel, near, read

FLOW = near(25, 1)
AIR = (near(2500), near(25.0, 1))
EGT = near(1400)


def told(recording: Recording) -> list[tuple[str, str, str, int | None]]:
    """Everything that is said of units."""
    return [
        (one.severity, one.code, str(one.message), one.cylinder)
        for one in recording.findings
        if "unit" in one.code
    ]


def flown(quantity: str, cylinders: int) -> Recording:
    """A flow of 25 in a unit that nobody states: in most of a panel's units it may be, by its values alone."""
    names = ",".join(f"{quantity}{number}" for number in range(1, cylinders + 1))
    level = {"EGT": EGT, "CHT": near(350)}[quantity]
    return read(f"FF,RPM,MAP,{names}", FLOW, *AIR, *[level] * cylinders)


@pytest.mark.parametrize(
    ("quantity", "cylinders", "unit"),
    [("EGT", 4, "kg/h"), ("EGT", 6, "kg/h"), ("CHT", 4, "kg/h"), ("EGT", 3, None)],
)
def test_the_air_of_four_cylinders_and_more_settles_the_unit_of_a_flow(
    quantity: str, cylinders: int, unit: str | None
) -> None:
    assert channel(flown(quantity, cylinders), 0).unit == unit


def test_a_probe_that_names_no_cylinder_is_none_of_four() -> None:
    recording = read("FF,RPM,MAP,EGT1,EGT2,EGT3,CHT", FLOW, *AIR, *[EGT] * 3, near(350))
    assert channel(recording, 0).unit is None


def test_the_air_is_told_in_any_unit_of_pressure() -> None:
    recording = read("FF,RPM,MAP (hPa),EGT1,EGT2,EGT3,EGT4", FLOW, near(2500), near(846), *[EGT] * 4)
    assert channel(recording, 0).unit == "kg/h"


def test_of_two_flows_the_air_tells_nothing() -> None:
    recording = read("FF,FF2,RPM,MAP,EGT1,EGT2,EGT3,EGT4", FLOW, FLOW, *AIR, *[EGT] * 4)
    assert [channel(recording, place).unit for place in (0, 1)] == [None, None]


def test_units_that_the_values_settle_are_said_and_that_of_a_flow_is_warned_of() -> None:
    by_values = "No unit is stated for {}; by the values it is {}."
    assert told(flown("EGT", 4)) == [
        ("note", "unit-by-values", by_values.format("'EGT1', 'EGT2', 'EGT3', 'EGT4'", "°F"), None),
        ("note", "unit-by-values", by_values.format("'MAP'", "inHg"), None),
        (
            "warning",
            "flow-unit-by-values",
            (
                "No unit is stated for 'FF'; by the values it is kg/h, and every flow follows from that. "
                'State it to be sure: --column "FF=fuel_flow:kg/h".'
            ),
            None,
        ),
    ]


def test_units_that_the_values_leave_open_are_a_note_or_a_warning_where_the_answer_rests_on_them() -> None:
    without = "without it there are no values. State it"
    altitude = (
        f"No unit is stated for 'ALT', and ft and m fit values from 2000 to 2006; {without}: "
        '--column "ALT=altitude:ft" or --column "ALT=altitude:m".'
    )
    probe = (
        "No unit is stated for 'EGT3', and in no unit do values from 60 to 66 suit what this engine can show here; "
        f'{without}: --column "EGT3=egt:3:degF".'
    )
    assert told(read("EGT1 (F),EGT2 (F),EGT3,ALT", EGT, EGT, near(60), near(2000))) == [
        ("note", "unit-unknown", altitude, None),
        ("warning", "unit-unknown", probe, None),
    ]


def test_a_unit_that_is_not_converted_is_told_with_the_cylinder_and_what_to_type() -> None:
    assert told(read("CHT1,CHT2,CHT3,OAT", *[near(350)] * 3, near(60), units="F,F,degR,")) == [
        ("note", "unit-by-values", "No unit is stated for 'OAT'; by the values it is °F.", None),
        (
            "warning",
            "unit-not-converted",
            (
                "The unit 'degR' of 'CHT3' is not one that is converted here; the column is left without values. "
                'Where it is rather another, state it: --column "CHT3=cht:3:degF".'
            ),
            3,
        ),
    ]


def test_a_unit_of_a_neighbour_counts_where_the_values_allow_it_or_there_are_none() -> None:
    empty = read("EGT1 (degC),EGT2", near(700), lambda _row: "")
    assert [one.unit for one in empty.channels[1:]] == ["degC", "degC"]
    allowed, other = (read("FF (L/h),FF2", near(40), near(level, 1)) for level in (30, 22))
    assert (channel(allowed, 1).unit, channel(other, 1).unit) == ("L/h", None)


@pytest.mark.parametrize(
    ("beside", "pounds"),
    [("OAT (C),EGT1 (F)", True), ("EGT1 (F),CHT1 (C)", False), ("EGT1 (C),CHT1 (F)", False)],
)
def test_pounds_are_no_unit_of_a_flow_beside_a_probe_in_celsius(beside: str, *, pounds: bool) -> None:
    levels = {"OAT (C)": 15, "EGT1 (F)": 1400, "EGT1 (C)": 750, "CHT1 (C)": 180, "CHT1 (F)": 350}
    recording = read(f"FF,{beside}", near(42), *(near(levels[name]) for name in beside.split(",")))
    (open_one,) = [message for _, code, message, _ in told(recording) if code == "unit-unknown"]
    assert ("FF=fuel_flow:lb/h" in open_one) is pounds


def test_only_degrees_of_temperature_have_a_sign() -> None:
    assert [sign(unit) for unit in ("degF", "degC", "deg", "rpm")] == ["°F", "°C", "deg", "rpm"]
