"""Files that are odd in a way of their own: read as a careful person would, or refused line by line with a reason."""

import io

import numpy as np
import pytest

from leanwright.recordings.read import read_recording
from leanwright.recordings.recording import LineRun, Recording


def read(*lines: str, **arguments: object) -> Recording:
    """A recording of these lines."""
    return read_recording(io.BytesIO("\n".join([*lines, ""]).encode()), name="f", **arguments)  # type: ignore[arg-type]  # passed on as given


def meanings(recording: Recording) -> list[tuple[str, int | None]]:
    """Quantity and cylinder of each channel."""
    return [(channel.quantity, channel.cylinder) for channel in recording.channels]


def told(recording: Recording) -> list[tuple[str, int | None]]:
    """Code and line of what was found, but for guesses of units."""
    return [(f.code, f.line) for f in recording.findings if not f.code.startswith("unit-")]


def test_the_second_of_two_tables_is_told_in_one_sentence_and_none_of_its_lines_is_lost() -> None:
    recording = read(
        "Time (s),EGT1 (degF),EGT2 (degF),FF (gal/h)",
        *(f"{s},1400,1390,12.1" for s in range(20)),
        "",
        "Time (s),ALT (ft),IAS (kt),OAT (degC)",
        *(f"{s},6500,150,5" for s in range(30)),
    )
    assert (recording.rows_kept, recording.rows_skipped) == (20, 31)
    assert told(recording) == [("other-table", 24), ("line-skipped", 23)]
    assert "30 lines from 24 to 53 are skipped" in recording.findings[0].message
    assert recording.line_runs[-1] == LineRun(23, 53, "skipped")


@pytest.mark.parametrize(
    "head",
    [
        ("Time (s),EGT,EGT,CHT,CHT,Fuel", ",1,2,1,2,flow"),
        ("Time (s),EGT,,CHT,,Fuel", ",#1,#2,#1,#2,flow"),
        (",Cyl 1,Cyl 2,Cyl 1,Cyl 2,Fuel", "Time (s),EGT,EGT,CHT,CHT,flow"),
        ("Time,EGT,EGT,CHT,CHT,Fuel", ",1,2,1,2,flow", "s,degF,degF,degF,degF,gal/h"),
    ],
)
def test_a_header_of_two_lines_is_joined(head: tuple[str, ...]) -> None:
    rows = [f"{s},1400,1390,345,340,12.1" for s in range(10)]
    recording = read(
        "# invented", *head, *rows, *head, *(f"{s},1400,1390,345,340,12.1" for s in range(10, 20))
    )
    assert meanings(recording) == [
        ("time", None), ("egt", 1), ("egt", 2), ("cht", 1), ("cht", 2), ("fuel_flow", None),
    ]  # fmt: skip
    assert (recording.rows_kept, recording.rows_skipped) == (20, 0)
    assert recording.time_s.tolist() == list(range(20))
    assert recording.line_runs[1] == LineRun(2, 3, "header")
    assert recording.metadata == ("invented",)


def test_a_second_line_of_names_that_is_wider_than_the_rows_is_none_of_the_header() -> None:
    recording = read("EGT,,CHT,,,,", "1,2,1,2,,,3", *["1400,1390,300,310"] * 5)
    assert meanings(recording) == [("egt", None), ("unknown", None), ("cht", None), ("unknown", None)]
    assert (recording.rows_kept, recording.rows_skipped) == (5, 1)
    assert ("line-skipped", 2) in told(recording)


def test_rows_of_which_no_column_is_kept_as_numbers_are_read() -> None:
    recording = read("Time,EG.95", "7,11.8.95", "8,11.81311.")
    assert meanings(recording) == [("time", None), ("unknown", None)]
    assert recording.time_s.tolist() == [0, 1]


def test_a_row_of_small_numbers_is_no_second_line_of_a_header() -> None:
    recording = read(
        "Time (s),EGT (degF),CHT (degF),FF (gal/h)", "0,1,2,3", *(f"{s},1400,345,12.1" for s in range(1, 9))
    )
    assert recording.rows_kept == 9
    assert recording.channels[1].column == "EGT (degF)"


def test_a_header_of_many_names_with_line_breaks_runs_over_many_lines() -> None:
    egt = ",".join(f'"EGT\n{n}\n(degF)"' for n in range(1, 7))
    recording = read(
        f'Time,{egt},"Fuel\nflow\n(gal/h)"',
        *(f"10:00:{s:02d},{','.join(['1400'] * 6)},12.{s}" for s in range(30)),
    )
    assert [(c.quantity, c.cylinder, c.unit) for c in recording.channels[1:]] == [
        *(("egt", n, "degF") for n in range(1, 7)),
        ("fuel_flow", None, "gal/h"),
    ]
    assert recording.lines[0] == 16


def test_names_may_have_line_breaks_in_quotes() -> None:
    recording = read(
        'Time (s),"EGT 1\n(degF)","EGT 2\n(degF)","Fuel\nflow (gal/h)"',
        *(f"{s},1400,1390,12.1" for s in range(9)),
    )
    assert meanings(recording) == [("time", None), ("egt", 1), ("egt", 2), ("fuel_flow", None)]
    assert recording.channels[1].column == "EGT 1 (degF)"
    assert recording.lines.tolist() == list(range(5, 14))
    assert recording.line_runs == (LineRun(1, 4, "header"), LineRun(5, 13, "data"))


def test_of_two_columns_of_one_name_the_fuller_is_used_and_a_place_corrects_it() -> None:
    lines = [
        "Time (s),EGT1 (degF),EGT1 (degF),FF (gal/h)",
        *(f"{s},{'' if s % 2 else 1400},1390,12.1" for s in range(10)),
    ]
    recording = read(*lines)
    assert meanings(recording)[1:3] == [("unknown", None), ("egt", 1)]
    assert ("double-column", None) in told(recording)
    assert meanings(read(*lines, corrections=["#2=egt:2:degF"]))[1:3] == [("egt", 2), ("egt", 1)]


def test_rows_whose_time_is_words_are_skipped_with_their_lines() -> None:
    rows = [f"{'warming up' if s % 2 else f'10:00:{s:02d}'},1400,1390" for s in range(20)]
    recording = read("Time,EGT1 (degF),EGT2 (degF)", *rows)
    assert (recording.rows_kept, recording.rows_skipped) == (10, 10)
    assert recording.time_s.tolist() == list(range(0, 20, 2))
    assert told(recording) == [*(("line-skipped", 2 + s) for s in range(1, 20, 2)), ("many-rows-lost", 3)]


def test_a_clock_that_jumps_back_a_day_is_moved_on_and_told_once() -> None:
    stamps = [f"2031-05-18T10:00:{s:02d}" for s in range(10)] + [
        f"2031-05-17T10:00:{s:02d}" for s in range(10, 20)
    ]
    recording = read("Time,EGT1 (degF),EGT2 (degF)", *(f"{stamp},1400,1390" for stamp in stamps))
    assert recording.time_s.tolist() == list(range(20))
    assert told(recording) == [("clock-goes-back", 12)]


def test_names_in_a_language_that_is_not_spoken_ask_for_corrections() -> None:
    recording = read(
        "Czas (s),Spaliny 1,Spaliny 2,Przepływ", *(f"{s},{1400 + s},{1390 + s},12.{s}" for s in range(9))
    )
    strange = [f for f in recording.findings if f.code == "names-not-understood"]
    assert [f.severity for f in strange] == ["warning"]
    assert '--column "Spaliny 1=egt:1:degF"' in strange[0].message
    assert np.all(np.diff(recording.time_s) == 1)
    corrected = read(
        "Czas (s),Spaliny 1,Spaliny 2,Przepływ",
        *(f"{s},{1400 + s},{1390 + s},12.{s}" for s in range(9)),
        corrections=["Spaliny 1=egt:1:degF", "Spaliny 2=egt:2:degF", "Przepływ=fuel_flow:gal/h"],
    )
    assert corrected.cylinders() == (1, 2)
    assert "names-not-understood" not in [f.code for f in corrected.findings]


def test_a_column_of_which_no_cell_is_a_number_is_told() -> None:
    recording = read("Time (s),EGT1 (degF),FF (gal/h)", *(f"{s},1400,12x{s}" for s in range(20)))
    (found,) = [finding for finding in recording.findings if finding.code == "column-unreadable"]
    assert (found.severity, found.line) == ("warning", 2)
    assert found.message == (
        "None of the 20 filled cells of 'FF (gal/h)' is a number, as '12x0' in line 2; the column is left without values."
    )


def test_a_column_of_numbers_beyond_measure_is_told() -> None:
    recording = read("Time (s),EGT1 (degF),FF (gal/h)", *(f"{s},1400,{'9' * 400}" for s in range(20)))
    assert ("column-unreadable", 2) in told(recording)


def test_a_column_that_only_says_missing_is_no_fault() -> None:
    recording = read("Time (s),EGT1 (degF),FF (gal/h)", *(f"{s},1400,---" for s in range(20)))
    assert "column-unreadable" not in {code for code, _ in told(recording)}


@pytest.mark.parametrize("blank", [" ", "\u00a0", "\u202f", "'", "\u2019"])
def test_thousands_may_be_parted_by_blanks_and_apostrophes(blank: str) -> None:
    recording = read(
        "Time (s);EGT1 (degF);ALT (ft);RPM",
        *(f"{s};1{blank}400,5;12{blank}500;2{blank}35{s}" for s in range(9)),
    )
    assert [channel.values[0] for channel in recording.channels[1:] if channel.values is not None] == [
        1400.5,
        12_500.0,
        2350.0,
    ]
