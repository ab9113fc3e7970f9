"""What columns mean: names, units rows, values together. The truth is what each text was written to say."""

import io
from collections.abc import Callable, Sequence

import numpy as np
import pytest

from leanwright.recordings.read import read_recording
from leanwright.recordings.recording import Channel, Recording

ROWS = 40


def read(
    names: str, *cells: Callable[[int], object], units: str = "", corrections: Sequence[str] = ()
) -> Recording:
    """A recording of a clock and of columns that are made row by row."""
    lines = [f"Time (s),{names}", *([f",{units}"] if units else [])]
    lines += [",".join([str(row), *(str(cell(row)) for cell in cells)]) for row in range(ROWS)]
    return read_recording(io.BytesIO("\n".join([*lines, ""]).encode()), corrections=corrections)


def meanings(recording: Recording) -> list[tuple[str, int | None, str | None, str | None]]:
    """Quantity, cylinder, unit and its origin of every channel but the clock."""
    return [(c.quantity, c.cylinder, c.unit, c.unit_from) for c in recording.channels[1:]]


def channel(recording: Recording, place: int) -> Channel:
    """A channel, the clock not counted."""
    return recording.channels[place + 1]


def messages(recording: Recording, code: str) -> list[str]:
    """What was said under a code."""
    return [finding.message for finding in recording.findings if finding.code == code]


def near(middle: float, digits: int = 0) -> Callable[[int], str]:
    """Cells near a value, written with so many decimals."""
    return lambda row: f"{middle + (row % 7) * 10.0**-digits:.{digits}f}"


# Values of an engine in cruise, by the units that they are written in (common practice). None: two units fit.
BY_VALUES: dict[str, tuple[str, float, str | None]] = {
    "EGT, US": ("EGT1", 1420, "degF"),
    "EGT, metric": ("EGT1", 770, "degC"),
    "EGT between the ranges": ("EGT1", 930, None),
    "CHT, US": ("CHT1", 345, "degF"),
    "CHT, metric": ("CHT1", 174, "degC"),
    "CHT between the ranges": ("CHT1", 242, None),
    "flow, US": ("FF", 12.3, "gal/h"),
    "flow that may be anything": ("FF", 46, None),
    "speed": ("Tach", 2400, "rpm"),
    "manifold pressure, US": ("MAP", 23.1, "inHg"),
    "manifold pressure, hPa": ("MAP", 780, "hPa"),
    "manifold pressure, kPa": ("MAP", 78, "kPa"),
    "manifold pressure, bar": ("MAP", 0.78, "bar"),
    "oil temperature, US": ("Oil T", 190, "degF"),
    "oil temperature, metric": ("Oil T", 88, "degC"),
    "oil pressure, US": ("Oil P", 62, "psi"),
    "oil pressure, bar": ("Oil P", 4.3, "bar"),
    "outside air that may be either": ("OAT", 15, None),
    "outside air that is too warm for Celsius": ("OAT", 60, "degF"),
    "altitude above 5000": ("ALT", 6500, "ft"),
    "altitude that may be either": ("ALT", 2000, None),
    "voltage": ("voltage", 28.1, "V"),
    "airspeed": ("IAS", 140, None),
}


@pytest.mark.parametrize("case", BY_VALUES)
def test_a_unit_that_nobody_states_is_told_by_the_values_and_said(case: str) -> None:
    name, middle, unit = BY_VALUES[case]
    recording = read(name, near(middle, 2 if middle < 5 else 0))
    found = channel(recording, 0)
    assert found.unit == unit
    if unit is None:
        assert (found.unit_from, found.values) == (None, None)
        assert len(messages(recording, "unit-unknown")) == 1
    else:
        assert found.unit_from == "values"
        shown = {"degF": "°F", "degC": "°C"}.get(unit, unit)
        told = f"No unit is stated for {name!r}; by the values it is {shown}"
        if name != "FF":
            assert messages(recording, "unit-by-values") == [f"{told}."]
        else:
            assert messages(recording, "flow-unit-by-values") == [
                f'{told}, and every flow follows from that. State it to be sure: --column "FF=fuel_flow:{unit}".'
            ]


def test_columns_of_a_kind_are_told_together() -> None:
    recording = read("EGT1,EGT2,EGT3", near(930), near(1250), near(1300))
    assert meanings(recording) == [("egt", n, "degF", "values") for n in (1, 2, 3)]


def test_a_unit_stated_for_one_column_settles_it_for_its_neighbours() -> None:
    recording = read("EGT1 (degC),EGT2", near(930), near(930))
    assert meanings(recording) == [("egt", 1, "degC", "header"), ("egt", 2, "degC", "values")]


def test_what_the_engine_draws_in_air_settles_the_unit_of_the_flow() -> None:
    names = "FF,RPM,MAP,EGT1,EGT2,EGT3,EGT4,EGT5,EGT6"
    others = [near(2500), near(25.0, 1), *[near(1400)] * 6]
    assert channel(read(names, near(30, 1), *others), 0).unit is None
    assert channel(read(names, near(14, 1), *others), 0).unit == "gal/h"
    cold = [near(200), near(25.0, 1), *[near(1400)] * 6]
    assert channel(read(names, near(12, 1), *cold), 0).unit == "gal/h"


def test_the_row_of_units_goes_before_a_unit_that_is_only_part_of_a_name() -> None:
    recording = read("RPM,Volts,EGT1 (F)", near(2400), near(28), near(1400), units="1/min,V,degF")
    assert [meaning[2:] for meaning in meanings(recording)] == [
        ("rpm", "units-row"),
        ("V", "units-row"),
        ("degF", "header"),
    ]
    assert meanings(read("RPM", near(2400)))[0][2:] == ("rpm", "header")


def test_the_row_of_units_is_used_and_helps_to_read_names() -> None:
    recording = read(
        "EGT1,Oil,Oil,Tach,Fuel",
        near(1400),
        near(190),
        near(60),
        near(900.0, 1),
        near(12, 1),
        units="degF,degF,psi,h,gal/h",
    )
    assert meanings(recording) == [
        ("egt", 1, "degF", "units-row"),
        ("oil_temperature", None, "degF", "units-row"),
        ("oil_pressure", None, "psi", "units-row"),
        ("engine_hours", None, "h", "units-row"),
        ("fuel_flow", None, "gal/h", "units-row"),
    ]


def test_a_unit_of_another_thing_refutes_a_name() -> None:
    recording = read("EGT1,MAP", near(1400), near(23), units="V,degF")
    assert meanings(recording)[0][0] == "unknown"
    assert meanings(recording)[1][0] == "unknown"
    assert [message[:30] for message in messages(recording, "unit-contradicts")] == [
        "'EGT1' reads as egt, but V mea",
        "'MAP' reads as manifold_pressu",
    ]


def test_a_unit_that_is_not_converted_leaves_the_column_without_values() -> None:
    recording = read("GS (m/s),Fuel flow", near(60), near(12), units="m/s,imp gal/h")
    assert [(c.quantity, c.unit, c.values) for c in recording.channels[1:]] == [
        ("ground_speed", None, None),
        ("fuel_flow", None, None),
    ]
    assert len(messages(recording, "unit-not-converted")) == 2


def test_a_column_called_egt_that_holds_volts_is_no_egt() -> None:
    for names in ("EGT", "EGT (degF)", "EGT1"):
        recording = read(names, near(12.1, 1))
        assert meanings(recording)[0][0] == "unknown"
        assert len(messages(recording, "meaning-refuted")) == 1


def test_a_probe_that_is_dead_stays_an_egt_but_finer_numbers_do_not() -> None:
    dead = read("EGT1 (F),EGT2 (F),EGT3 (F)", near(1400), near(1410), lambda _: 61)
    assert meanings(dead)[2] == ("egt", 3, "degF", "header")
    assert len(messages(dead, "values-implausible")) == 1
    volts = read("EGT1 (F),EGT2 (F),EGT3 (F)", near(1400), near(1410), near(12.1, 1))
    assert meanings(volts)[2][0] == "unknown"


def test_speeds_and_flows_that_cannot_be_are_refuted() -> None:
    recording = read("RPM,FF (gal/h),MAP (inHg)", near(14), near(1400), near(900))
    assert [meaning[0] for meaning in meanings(recording)] == ["unknown"] * 3


def test_an_engine_that_stands_still_is_believed() -> None:
    recording = read("RPM,FF (gal/h),EGT1 (F)", lambda _: 0, lambda _: 0, lambda _: 0)
    assert [meaning[0] for meaning in meanings(recording)] == ["engine_speed", "fuel_flow", "egt"]


def test_single_letters_are_believed_in_company_and_with_fitting_values() -> None:
    recording = read("E1,E2,C1,C2,OT,OP", near(1400), near(1390), near(350), near(345), near(190), near(60))
    assert [meaning[:2] for meaning in meanings(recording)] == [
        ("egt", 1), ("egt", 2), ("cht", 1), ("cht", 2), ("oil_temperature", None), ("oil_pressure", None),
    ]  # fmt: skip
    assert meanings(read("E1,C1", near(1400), near(350)))[0][0] == "unknown"
    assert meanings(read("E1,E2", near(3), near(4)))[0][0] == "unknown"


def test_figures_over_several_cylinders_are_summaries() -> None:
    names = "EGT1 (F),EGT2 (F),EGT max (F),EGT spread,hottest CHT,EGT (F)"
    recording = read(names, near(1400), near(1450), near(1450), near(50), near(350), near(1425))
    assert meanings(recording)[2:] == [
        ("summary", None, "degF", "header"), ("summary", None, None, None), ("summary", None, None, None),
        ("summary", None, "degF", "header"),
    ]  # fmt: skip
    assert channel(recording, 3).values is not None


def test_a_column_without_a_number_that_leaves_the_range_of_its_neighbours_is_not_understood() -> None:
    recording = read("EGT1 (F),EGT2 (F),EGT (F)", near(1400), near(1450), near(1600))
    assert meanings(recording)[2][0] == "unknown"


def test_one_probe_without_a_number_is_an_egt_without_a_cylinder() -> None:
    assert meanings(read("EGT (F),CHT (F)", near(1400), near(350))) == [
        ("egt", None, "degF", "header"),
        ("cht", None, "degF", "header"),
    ]


def test_numbers_from_nought_are_moved_by_quantity() -> None:
    recording = read("EGT0 (F),EGT1 (F),CHT1 (F),CHT2 (F)", near(1400), near(1390), near(350), near(345))
    assert [meaning[:2] for meaning in meanings(recording)] == [
        ("egt", 1),
        ("egt", 2),
        ("cht", 1),
        ("cht", 2),
    ]


def test_of_two_columns_for_one_probe_the_fuller_is_used_and_it_is_said() -> None:
    recording = read("EGT1 (F),Exhaust temp 1 (F)", lambda row: "" if row % 2 else 1400, near(1400))
    assert [meaning[0] for meaning in meanings(recording)] == ["unknown", "egt"]
    assert messages(recording, "double-column")[0].startswith(
        "'Exhaust temp 1 (F)' and 'EGT1 (F)' both read as EGT of cylinder 1"
    )


def test_strange_names_and_text_are_left_aside_and_named() -> None:
    recording = read(
        "EGT1 (F),Carb temp (F),Fix,Phase,Row,Pump",
        near(1400),
        near(40),
        lambda _: "3D",
        lambda r: "ab"[r % 2],
        lambda row: row,
        lambda _: "OFF",
    )
    assert [meaning[0] for meaning in meanings(recording)] == [
        "egt",
        "unknown",
        "text",
        "text",
        "unknown",
        "text",
    ]
    assert messages(recording, "columns-not-understood") == [
        "Not understood and left aside: Carb temp (F). Say what they are with --column if they matter."
    ]
    assert channel(recording, 1).values is not None


def test_words_in_a_column_of_power_make_it_text_but_a_probe_that_only_fails_stays_a_probe() -> None:
    recording = read(
        "Power,EGT1 (F),EGT2 (F)",
        lambda row: "climb" if row < 9 else "cruise",
        near(1400),
        lambda _: "broken",
    )
    assert [meaning[0] for meaning in meanings(recording)] == ["text", "egt", "egt"]
    values = channel(recording, 2).values
    assert values is not None
    assert np.isnan(values).all()
    assert messages(recording, "words-for-missing") == [
        "In 'EGT2 (F)' 'broken' stands for a missing value (40 cells)."
    ]


# Numbers that stand for "no value": the mark, whether it is one here, and the column's other values.
@pytest.mark.parametrize(
    ("name", "others", "mark", "is_mark"),
    [
        ("EGT1 (F)", 1400, 9999, True), ("EGT1 (F)", 1400, -999, True), ("EGT1 (F)", 996, 999, False),
        ("CHT1 (F)", 350, 999, True), ("ALT (ft)", 9995, 9999, False), ("ALT (ft)", 2000, 9999, True),
        ("ALT (ft)", 2000, -9999, True), ("FF (gal/h)", 12, 99.9, True), ("RPM", 2400, 9999, True), ("RPM", 2400, 32767, True),
        ("OAT (C)", 15, -99, True), ("Lat", 48, -999, True), ("FF (L/h)", 99, 99.9, False),
    ],
)  # fmt: skip
def test_numbers_that_stand_for_missing_are_taken_out_and_said(
    name: str,
    others: float,
    mark: float,
    is_mark: bool,  # noqa: FBT001  the table reads so
) -> None:
    recording = read(name, lambda row: mark if row == 7 else near(others, 1 if others == 99 else 0)(row))
    values = channel(recording, 0).values
    assert values is not None
    assert bool(np.isnan(values[7])) is is_mark
    assert np.isfinite(np.delete(values, 7)).all()
    assert len(messages(recording, "numbers-for-missing")) == is_mark


def test_fuel_by_weight_is_converted_with_a_density_that_is_said() -> None:
    recording = read("FF (lb/h)", lambda _: 60.1)
    values = recording.values("fuel_flow")
    assert values is not None
    assert values[0] == pytest.approx(10.0)
    assert len(messages(recording, "density-assumed")) == 1


def test_resolution_is_the_smallest_step_in_the_inside_unit() -> None:
    recording = read("EGT1 (C),FF (gal/h),MAP (inHg)", near(760), near(12, 1), lambda _: 23.1)
    assert [c.resolution for c in recording.channels[1:]] == [pytest.approx(1.8), pytest.approx(0.1), None]


# Two engines.
TWIN = "{}1 (F),{}2 (F),{}3 (F),{}4 (F)"


@pytest.mark.parametrize(
    ("one", "two"),
    [("L EGT", "R EGT"), ("E1 EGT", "E2 EGT"), ("Eng 1 EGT ", "Eng 2 EGT "), ("Left EGT", "Right EGT")],
)
def test_columns_of_two_engines_are_told_apart(one: str, two: str) -> None:
    names = ",".join(f"{engine}{number} (F)" for engine in (one, two) for number in (1, 2, 3, 4))
    recording = read(
        f"{names},FF1 (gal/h),FF2 (gal/h),RPM L,RPM R,ALT (ft)",
        *[near(1400)] * 8,
        near(12),
        near(13),
        near(2300),
        near(2400),
        near(6500),
    )
    assert [(c.quantity, c.cylinder, c.engine) for c in recording.channels[1:]] == [
        *[("egt", number, 1) for number in (1, 2, 3, 4)],
        *[("egt", number, 2) for number in (1, 2, 3, 4)],
        ("fuel_flow", None, 1), ("fuel_flow", None, 2), ("engine_speed", None, 1), ("engine_speed", None, 2), ("altitude", None, 1),
    ]  # fmt: skip


def twin(extra: str, *columns: Callable[[int], str], corrections: Sequence[str] = ()) -> Recording:
    names = ",".join(f"E{engine} EGT{number} (F)" for engine in (1, 2) for number in (1, 2, 3, 4))
    return read(f"{names},{extra}", *[near(1400)] * 8, *columns, corrections=corrections)


def test_a_reading_of_one_engine_that_bears_no_engine_s_mark_is_used_for_none_until_somebody_says() -> None:
    names = "FF1 (gal/h),FF2 (gal/h),RPM,MAP (inHg),OAT (F)"
    columns = (near(12), near(13), near(2300), near(24), near(60))
    recording = twin(names, *columns)
    assert [(c.quantity, c.engine) for c in recording.channels[9:]] == [
        ("fuel_flow", 1), ("fuel_flow", 2), ("unknown", 1), ("unknown", 1), ("outside_air_temperature", 1),
    ]  # fmt: skip
    assert messages(recording, "engine-not-said") == [
        (
            "This recording is of several engines, and nothing says of which these columns are: 'RPM', 'MAP (inHg)'. They "
            'are used for none. Say whose each is, for example --column "RPM=engine_speed:1".'
        )
    ]
    said = twin(names, *columns, corrections=["RPM=engine_speed:2", "MAP (inHg)=manifold_pressure:1"])
    assert [(c.quantity, c.cylinder, c.engine) for c in said.channels[11:13]] == [
        ("engine_speed", None, 2), ("manifold_pressure", None, 1),
    ]  # fmt: skip
    assert messages(said, "engine-not-said") == []


def test_what_bears_no_mark_beside_the_second_engine_s_is_the_first_engine_s() -> None:
    recording = twin("RPM,RPM 2,FF (gal/h),FF 2 (gal/h)", near(2300), near(2400), near(12), near(13))
    assert [(c.quantity, c.engine) for c in recording.channels[9:]] == [
        ("engine_speed", 1), ("engine_speed", 2), ("fuel_flow", 1), ("fuel_flow", 2),
    ]  # fmt: skip
    assert messages(recording, "engine-not-said") == []


def test_a_flow_without_a_mark_beside_the_flows_of_both_engines_is_taken_for_neither() -> None:
    recording = twin("FF (gal/h),FF 1 (gal/h),FF 2 (gal/h)", near(25), near(12), near(13))
    assert [(c.quantity, c.engine) for c in recording.channels[9:]] == [
        ("unknown", 1), ("fuel_flow", 1), ("fuel_flow", 2),
    ]  # fmt: skip
    flow = recording.values("fuel_flow", None, 1)
    assert flow is not None
    assert flow.min() == pytest.approx(12)
    assert len(messages(recording, "engine-not-said")) == 1


def test_a_numbered_column_that_the_user_names_stays_with_its_engine() -> None:
    recording = twin(
        "RPM 1,RPM 2", near(2300), near(2400), corrections=["RPM 2=engine_speed", "RPM 1=engine_speed"]
    )
    assert [(c.quantity, c.cylinder, c.engine) for c in recording.channels[9:]] == [
        ("engine_speed", None, 1), ("engine_speed", None, 2),
    ]  # fmt: skip


def test_marks_of_one_engine_only_are_no_second_engine() -> None:
    recording = read(
        "E1 EGT1 (F),E1 EGT2 (F),Fuel P L (psi),RPM 1,Volts 2",
        near(1400),
        near(1390),
        near(25),
        near(2400),
        near(28),
    )
    assert {c.engine for c in recording.channels} == {1}


def test_sides_that_count_to_two_each_are_banks_and_the_user_is_asked() -> None:
    recording = read("EGT L1 (F),EGT L2 (F),EGT R1 (F),EGT R2 (F)", *[near(1400)] * 4)
    assert [meaning[0] for meaning in meanings(recording)] == ["unknown"] * 4
    assert len(messages(recording, "numbers-by-side")) == 1


def test_two_engines_without_probes_by_engine_are_told_by_two_of_their_quantities() -> None:
    recording = read(
        "RPM 1,RPM 2,FF 1 (gal/h),FF 2 (gal/h),ALT (ft)",
        near(2400),
        near(2380),
        near(12),
        near(12.5, 1),
        near(6500),
    )
    assert [c.engine for c in recording.channels[1:]] == [1, 2, 1, 2, 1]


def test_three_engines_in_one_recording_are_kept_apart() -> None:
    names = ",".join(f"E{engine} EGT{number} (F)" for engine in (1, 2, 3) for number in (1, 2, 3, 4))
    recording = read(f"{names},FF1 (gal/h),FF2 (gal/h),FF3 (gal/h)", *[near(1400)] * 12, *[near(12, 1)] * 3)
    assert [(c.quantity, c.cylinder, c.engine) for c in recording.channels[1:]] == [
        *[("egt", number, engine) for engine in (1, 2, 3) for number in (1, 2, 3, 4)],
        *[("fuel_flow", None, engine) for engine in (1, 2, 3)],
    ]
    assert recording.engines() == (1, 2, 3)
    assert recording.cylinders(3) == (1, 2, 3, 4)


def test_an_engine_beyond_the_fourth_is_left_aside() -> None:
    names = ",".join(f"E{engine} EGT{number} (F)" for engine in (1, 2, 5) for number in (1, 2, 3, 4))
    recording = read(names, *[near(1400)] * 12)
    assert [meaning[0] for meaning in meanings(recording)[8:]] == ["unknown"] * 4


# What the user says.
def test_the_users_word_goes_before_all() -> None:
    recording = read(
        "Temp A,Temp B,EGT1,Zorp",
        near(1400),
        near(760),
        near(930),
        near(12, 1),
        corrections=["Temp A=egt:3:degF", "temp b = EGT : 4 : °C", "EGT1=egt:degC", "Zorp=fuel_flow"],
    )
    assert meanings(recording) == [
        ("egt", 3, "degF", "user"), ("egt", 4, "degC", "user"), ("egt", 1, "degC", "user"), ("fuel_flow", None, "gal/h", "values"),
    ]  # fmt: skip


def test_the_user_is_believed_against_the_values_and_told_so() -> None:
    recording = read("EGT1", near(12.1, 1), corrections=["EGT1=egt:1:degF"])
    assert meanings(recording) == [("egt", 1, "degF", "user")]
    assert "you said so" in messages(recording, "values-implausible")[0]


def test_a_column_can_be_named_by_its_place_and_set_aside() -> None:
    recording = read("EGT1 (F),EGT1 (F)", near(1400), near(1390), corrections=["#2=unknown", "#3=egt:2"])
    assert meanings(recording) == [("unknown", None, "degF", "header"), ("egt", 2, "degF", "header")]


def test_a_corrected_double_wins() -> None:
    recording = read("EGT1 (F),Probe (F)", near(1400), near(1390), corrections=["Probe (F)=egt:1"])
    assert [meaning[0] for meaning in meanings(recording)] == ["unknown", "egt"]


def test_a_flow_in_a_unit_that_cannot_be_told_names_the_corrections_to_type() -> None:
    recording = read("EGT1 (degF),EGT2 (degF),FF", near(1400, 10), near(1390, 10), near(35, 1))
    told = messages(recording, "unit-unknown")
    assert len(told) == 1
    assert told[0].startswith(
        "No unit is stated for 'FF', and gal/h, L/h and kg/h fit values from 35 to 35.6; "
    )
    assert told[0].endswith(
        'State it: --column "FF=fuel_flow:gal/h", --column "FF=fuel_flow:L/h" or --column "FF=fuel_flow:kg/h".'
    )
    corrected = read(
        "EGT1 (degF),EGT2 (degF),FF",
        near(1400, 10),
        near(1390, 10),
        near(35, 1),
        corrections=["FF=fuel_flow:L/h"],
    )
    assert [channel.unit for channel in corrected.channels if channel.quantity == "fuel_flow"] == ["L/h"]


def test_a_name_that_stands_above_two_columns_is_corrected_by_its_place() -> None:
    recording = read("EGT1 (degF),FF,FF", near(1400, 10), near(35, 1), near(36, 1))
    assert '--column "#2=fuel_flow:' in messages(recording, "unit-unknown")[0] or (
        '--column "#3=fuel_flow:' in messages(recording, "unit-unknown")[0]
    )


@pytest.mark.parametrize(
    ("column", "cell"), [("EGT1", "65000"), ("EGT1", "-4000"), ("FF", "1e30"), ("FF", "9000")]
)
def test_a_few_readings_that_cannot_be_are_left_out_and_told(column: str, cell: str) -> None:
    rows = [{"EGT1": str(1400 + row % 7), "FF": f"{12 - row * 0.01:.2f}"} for row in range(60)]
    rows[20][column] = rows[41][column] = cell
    text = "Time,EGT1 (F),FF (gal/h)\n" + "".join(
        f"{i},{row['EGT1']},{row['FF']}\n" for i, row in enumerate(rows)
    )
    recording = read_recording(io.BytesIO(text.encode()), name="f")
    (message,) = messages(recording, "impossible-readings")
    assert message.startswith(
        f"In '{'EGT1 (F)' if column == 'EGT1' else 'FF (gal/h)'}' 2 cells hold what cannot be"
    )
    values = recording.values("egt", 1) if column == "EGT1" else recording.values("fuel_flow")
    assert values is not None
    assert np.flatnonzero(np.isnan(values)).tolist() == [20, 41]
    assert (values[np.isfinite(values)] < 1500.0).all()
