"""Names and clocks that panels and people do write: what each means was written by hand."""

import io
from datetime import datetime

import pytest

from leanwright.recordings.label import Label, read_label
from leanwright.recordings.read import read_recording
from leanwright.recordings.recording import Recording

NAMES: dict[str, Label] = {
    "fuel_flow_lb_per_h": Label("fuel_flow", unit="lb/h"),
    "fuel flow L per h": Label("fuel_flow", unit="L/h"),
    "FF kg per h": Label("fuel_flow", unit="kg/h"),
    "EGT cyl. n°1 (°F)": Label("egt", 1, unit="degF"),
    "CHT nº 4 [°C]": Label("cht", 4, unit="degC"),
    "Consommation (L/h)": Label("fuel_flow", unit="L/h"),
    "PA (inHg)": Label("manifold_pressure", unit="inHg"),
    "Verbrauch (US gal/h)": Label("fuel_flow", unit="gal/h"),
    "MDR (inHg)": Label("manifold_pressure", unit="inHg"),
    "n (U/min)": Label("engine_speed", unit="rpm"),
    "EGTL1": Label("egt", 1, side="left"),
    "EGTR3": Label("egt", 3, side="right"),
    "CHTR6 (°F)": Label("cht", 6, side="right", unit="degF"),
}


@pytest.mark.parametrize("name", NAMES)
def test_a_usual_name_is_read(name: str) -> None:
    assert read_label(name) == NAMES[name]


@pytest.mark.parametrize("name", ["PA", "MDR", "n", "PA (ft)", "Verbrauch (L)"])
def test_a_short_name_without_its_unit_is_not_guessed(name: str) -> None:
    assert read_label(name).quantity is None


def read(names: str, *rows: str) -> Recording:
    lines = [f"{names},EGT1 (F),EGT2 (F)", *(f"{row},1400,1390" for row in rows)]
    return read_recording(io.BytesIO("\n".join([*lines, ""]).encode()))


@pytest.mark.parametrize(
    "rows",
    [
        ("09.59.58", "09.59.59", "10.00.00"),
        ("09h59m58s", "09h59m59s", "10h00m00s"),
        ("9 h 59 min 58", "9 h 59 min 59", "10 h 00 min 00"),
    ],
)
def test_a_clock_with_dots_or_letters_is_read(rows: tuple[str, ...]) -> None:
    recording = read("Time", *rows)
    assert recording.time_s.tolist() == [0.0, 1.0, 2.0]
    assert "no-time" not in {finding.code for finding in recording.findings}


def test_a_dotted_clock_keeps_its_date() -> None:
    recording = read("Datum,Zeit", "17.05.31,09.15.00", "17.05.31,09.15.01")
    assert recording.started_at == datetime(2031, 5, 17, 9, 15)  # noqa: DTZ001 - a panel's clock knows no zone


@pytest.mark.parametrize(
    "names", ["Year,Month,Day,Hour,Minute,Second", "Jahr,Monat,Tag,Stunde,Minute,Sekunde", "année,mois,jour,heure,minute,seconde"]
)  # fmt: skip
def test_a_column_for_each_part_of_date_and_time_is_a_clock(names: str) -> None:
    recording = read(names, "2031,5,17,23,59,59", "2031,5,18,0,0,0", "2031,5,18,0,0,1")
    assert recording.time_s.tolist() == [0.0, 1.0, 2.0]
    assert recording.started_at == datetime(2031, 5, 17, 23, 59, 59)  # noqa: DTZ001 - a panel's clock knows no zone
    assert [c.quantity for c in recording.channels if c.quantity not in {"time", "date"}] == ["egt", "egt"]


def test_parts_of_a_clock_without_a_date_go_on_past_midnight() -> None:
    recording = read("Hour,Minute,Second", "23,59,59", "0,0,0", "0,0,1.5")
    assert recording.time_s.tolist() == [0.0, 1.0, 2.5]


def test_parts_that_are_no_time_are_none() -> None:
    recording = read("Hour,Minute,Second", "1412,99,75", "1412,99,76")
    assert "no-time" in {finding.code for finding in recording.findings}


def test_a_column_named_as_the_time_that_cannot_be_read_is_shown_with_a_cell() -> None:
    recording = read("Ora", "quarter past", "half past")
    assert [finding.message for finding in recording.findings if finding.code == "no-time"] == [
        (
            "'Ora' is named as the time, but its cells, as 'quarter past', cannot be read as one; rows are taken as 1 s apart. "
            "State the time between rows with --interval."
        )
    ]
