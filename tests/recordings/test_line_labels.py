"""Every line of a file is taken for one thing, and the first cells stand beside their reading."""

import io
import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from leanwright.recordings.notes import fuel_grade, read_pairs, tank
from leanwright.recordings.read import read_recording
from leanwright.recordings.recording import LineRun, Recording
from tests.recordings.rendering import Form, Source, encode, write
from tests.recordings.strategies import forms, tables
from tests.recordings.test_damage import KINDS, damage

WHOLE = """\
# Panel: invented
# Fuel grade: unleaded 94

Time,EGT1,EGT2,Mode
s,degF,degF,
0,1400,1390,climb
1,1401,1390,"two
lines"
2,1402

3,1403,1390,cruise
# Panel: invented
Time,EGT1,EGT2,Mode
s,degF,degF,
4,1404,1390,cruise
Switched off by the pilot
"""


def read(text: str) -> Recording:
    """A recording of this text."""
    return read_recording(io.BytesIO(text.encode()), name="f")


def test_each_line_has_the_label_that_a_person_would_give_it() -> None:
    assert read(WHOLE).line_runs == (
        LineRun(1, 2, "metadata"),
        LineRun(3, 3, "blank"),
        LineRun(4, 4, "header"),
        LineRun(5, 5, "units"),
        LineRun(6, 8, "data"),
        LineRun(9, 9, "skipped"),
        LineRun(10, 10, "blank"),
        LineRun(11, 11, "data"),
        LineRun(12, 12, "metadata"),
        LineRun(13, 13, "header"),
        LineRun(14, 14, "units"),
        LineRun(15, 15, "data"),
        LineRun(16, 16, "footer"),
    )


@pytest.mark.parametrize(
    ("names", "first", "last"),
    [
        ("EGT1", "1400", "null"), ("EGT1", "1400", " n/a "), ("EGT1", "1400", '"NaN"'), ("EGT1", "1400", "---"),
        ("Mode", "climb", "climb"),
    ],
)  # fmt: skip
def test_a_last_row_that_begins_with_letters_as_rows_may_is_a_row_and_not_the_end_of_the_file(
    names: str, first: str, last: str
) -> None:
    recording = read(f"{names},EGT2\n{first},1390\n{first},1391\n{last},1390,7\n")
    assert recording.line_runs[-1] == LineRun(4, 4, "skipped")
    assert [finding.line for finding in recording.findings if finding.code == "line-skipped"] == [4]


def test_words_below_the_rows_are_the_end_of_the_file_though_rows_begin_with_words() -> None:
    recording = read("Mode,EGT2\nclimb,1390\nclimb,1391\nSwitched off by the pilot\n")
    assert recording.line_runs[-1] == LineRun(4, 4, "footer")


def test_the_first_rows_stand_there_as_they_are_written() -> None:
    rows = read("Time (s),EGT1 (degC),EGT2 (degC)\n0, 700 ,---\n1,701,702\n").first_rows
    assert [(row.line, row.cells) for row in rows] == [(2, ("0", "700", "---")), (3, ("1", "701", "702"))]


@settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck))
@given(form=forms(whole_end=False), table=tables(st.sampled_from((9, 30))), seed=st.integers(0, 1_000_000))
def test_every_line_is_labelled_once_and_rows_and_skipped_lines_are_those_counted(
    form: Form, table: list[Source], seed: int
) -> None:
    rng = random.Random(seed)  # noqa: S311  damage, not secrets
    written = write(table, form)
    lines = list(written.lines)
    data = written.data
    if form.packing == "plain":
        for row in rng.sample(range(2, len(written.row_lines)), 2):
            place = written.row_lines[row] - 1
            lines[place] = damage(lines[place], rng.choice(KINDS), form, rng)
        data = encode(lines, form)
    recording = read_recording(io.BytesIO(data), name="f")
    labels = {line: run.label for run in recording.line_runs for line in range(run.first, run.last + 1)}
    assert list(labels) == list(range(1, len(lines) + 1))
    assert [line for line, label in labels.items() if label == "data"] == recording.lines.tolist()
    assert sum(label in {"skipped", "footer"} for label in labels.values()) == recording.rows_skipped
    blank = [number for number, line in enumerate(lines, start=1) if not line.strip()]
    assert all(labels[line] in {"blank", "metadata"} for line in blank)
    headers = [line for line, label in labels.items() if label == "header"]
    assert len(headers) == lines.count(lines[headers[0] - 1])


def test_fuel_grade_and_tank_are_told_where_they_stand() -> None:
    recording = read(
        "Fuel type: unleaded 94\nTank;left\nSerial: 4711, rev 3\n" + "Time (s),EGT1 (degF)\n0,1400\n1,1400\n"
    )
    assert (recording.fuel_grade, recording.tank) == ("unleaded 94", "left")
    assert recording.notes == (("Fuel type", "unleaded 94"), ("Tank", "left"), ("Serial", "4711, rev 3"))
    assert read(WHOLE).fuel_grade == "unleaded 94"


@pytest.mark.parametrize(
    ("line", "grade"),
    [
        ("Fuel grade: 91/96", "91/96"), ("Kraftstoffsorte;MOGAS 98", "MOGAS 98"),
        ("Type de carburant : 100LL", "100LL"), ("Tipo de combustible\t100LL", "100LL"),
        ("Tipo di carburante = 100LL", "100LL"), ("Tipo de combustível|UL 91", "UL 91"),
        ("Fuel: 100LL", "100LL"), ("Fuel: 38 gal", None), ("Fuel: 40", None), ("Fuel flow: 12", None), ("Fuel", None),
    ],
)  # fmt: skip
def test_fuel_grades_in_six_languages(line: str, grade: str | None) -> None:
    assert fuel_grade(read_pairs([line])) == grade


@pytest.mark.parametrize(
    "line",
    ["Tank: left", "Tank selected: left", "Tankwahl: left", "Réservoir: left", "Depósito: left", "Serbatoio: left",
     "Tanque selecionado: left"],
)  # fmt: skip
def test_tanks_in_six_languages(line: str) -> None:
    assert tank(read_pairs([line])) == "left"
