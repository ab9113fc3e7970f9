"""The answer in a terminal: sentence first, every sign in its column."""

import re
from dataclasses import replace

import pytest

from leanwright.engine.profile import opposed
from leanwright.findings import Finding
from leanwright.recordings.recording import FirstRow, LineRun
from leanwright.report.ladder import Ladder, Row
from leanwright.report.text import balance_text, channels_text
from leanwright.report.text_ladder import BOLD, PLAIN, text_ladder
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from tests.report import examples

VOICE = Voice(load("en"), "us", opposed(6))
# 39 columns over 1.9 gal/h: 0.05 gal/h a column, so that columns can be counted by hand.
ROWS = (
    Row(3, "peaked", 12.8, 0.04, 0.10, 4.2, 0.4, outside="lean"),
    Row(1, "peaked", 12.25, 0.03, 0.01, 0.0, 0.1),
    Row(4, "unclear", possible=(12.05, 12.35)),
    Row(2, "no-signal"),
    Row(5, "unclear"),
    Row(6, "not-reached", bound=11.85, bound_side="below"),
)
LADDER = Ladder(ROWS, (12.0, 12.5), 0.5, (11.55, 13.45), "gal/h")


def ladder(
    *, width: int = 80, ascii_only: bool = False, bold: bool = False, of: Ladder = LADDER
) -> list[str]:
    return text_ladder(of, VOICE, width=width, ascii_only=ascii_only, bold=bold)


def test_the_ladder_as_counted_by_hand() -> None:
    assert ladder() == [
        "               rich side goal 0.5            lean side  gal/h at peak  offset",
        "3 middle right ·········┃─────────┃···├━●━┤···········  12.800 ± 0.040 +4.2 %",
        "1 rear right   ·········┃───├●┤───┃···················  12.250 ± 0.030  0.0 %",
        "4 middle left  ·········┃◇╌╌╌╌╌◇──┃···················  unclear",
        "2 rear left    ········· EGT 2 reads nothing ·········  no signal",
        "5 front right  ·········┃──── not known ··············  unclear",
        "6 front left   ···◂╌╌┃··┃─────────┃···················  below 11.85",
        "                       12.0      12.5      13.0         fuel flow, gal/h",
    ]


def test_the_ladder_in_ascii() -> None:
    assert ladder(ascii_only=True) == [
        "               rich side goal 0.5            lean side  gal/h at peak   offset",
        "3 middle right .........|---------|...[=O=]...........  12.800 +- 0.040 +4.2 %",
        "1 rear right   .........|---[O]---|...................  12.250 +- 0.030  0.0 %",
        "4 middle left  .........|?-----?--|...................  unclear",
        "2 rear left    ......... EGT 2 reads nothing .........  no signal",
        "5 front right  .........|---- not known ..............  unclear",
        "6 front left   ...<--|..|---------|...................  below 11.85",
        "                       12.0      12.5      13.0         fuel flow, gal/h",
    ]


@pytest.mark.parametrize("ascii_only", [False, True])
@pytest.mark.parametrize("width", [40, 55, 64, 79, 80, 81, 100, 120])
def test_the_ladder_fits_the_width_and_keeps_its_columns(width: int, *, ascii_only: bool) -> None:
    lines = ladder(width=width, ascii_only=ascii_only)
    assert max(map(len, lines)) <= max(width, 57)
    assert len({line.find("  unclear") for line in lines} - {-1}) == 1
    assert ("offset" in lines[0]) == (width >= 80)


def test_a_wider_terminal_widens_the_plot_only() -> None:
    narrow, wide = ladder(width=80)[1], ladder(width=100)[1]
    assert len(wide) - len(narrow) == 20
    assert wide[-22:] == narrow[-22:]


def test_a_longer_place_takes_its_columns_from_the_plot() -> None:
    eight = Voice(load("en"), "us", opposed(8))
    of = replace(LADDER, rows=(Row(3, "peaked", 12.2, 0.03, 0.1, 0.0, 0.1),))
    lines = text_ladder(of, eight, width=80, ascii_only=False, bold=False)
    assert lines[1].startswith("3 rear mid right ")
    assert len(lines[1]) == 77


def test_the_dot_wins_over_the_interval_and_the_interval_over_the_rail() -> None:
    of = replace(LADDER, rows=(Row(1, "peaked", 12.0, 0.03, 0.5, 0.0, 0.1),))
    # From 11.5 (cut at the edge, column 0) over the dot at 12.0 (column 9) to 12.5 (column 19, where the rail was).
    assert ladder(of=of)[1][15:54] == "├━━━━━━━━●━━━━━━━━━┤···················"


def test_a_bound_from_below_points_to_the_lean_side() -> None:
    of = replace(LADDER, rows=(Row(1, "not-reached", bound=13.4, bound_side="above"),), ends=(11.55, 13.45))
    row = ladder(of=of)[1]
    assert "┃╌╌▸" in row
    assert "above 13.40" in row


def test_rows_outside_the_rails_are_bold_where_that_is_allowed() -> None:
    lines = ladder(bold=True)
    assert lines[1].startswith(BOLD)
    assert lines[1].endswith(PLAIN)
    assert not any(BOLD in line for line in [*lines[:1], *lines[2:]])
    assert not any("\x1b" in line for line in ladder())


@pytest.mark.parametrize(
    "example",
    [examples.uneven_six, examples.even_four, examples.odd_six, examples.eight, examples.nothing],
    ids=lambda e: e.__name__,
)
@pytest.mark.parametrize("ascii_only", [False, True])
def test_the_sentence_comes_first_and_lines_are_short(example: examples.Example, *, ascii_only: bool) -> None:
    text = balance_text(example(), ascii_only=ascii_only)
    assert re.match(r"(Even|Uneven|Cannot tell)( yet)?\. ", text)
    assert "\u00a0" not in text
    assert "\x00" not in text
    assert not ascii_only or text.isascii()
    prose = text.split("\n\n")[0].splitlines()
    assert max(map(len, prose)) <= 78
    assert max(len(line) for line in text.splitlines()) <= 80


def test_the_parts_stand_in_order() -> None:
    text = balance_text(examples.uneven_six())
    parts = [
        "Uneven.",
        "Find the cause",
        "rich side",
        "cylinder ",
        "It rests on",
        "sweep ",
        "Left out",
        "invented-flight.csv",
        "This measures",
    ]
    positions = [text.index(part) for part in parts]
    assert positions == sorted(positions)


def test_the_caution_stands_once() -> None:
    assert balance_text(examples.uneven_six()).count("approves nothing") == 1


def test_invented_data_say_so() -> None:
    assert "All data invented" in balance_text(examples.uneven_six())
    real = examples.measured(examples.SIX, examples.uneven_six().balance, metadata=())
    assert "invented." not in balance_text(real)


def test_a_recording_without_a_sweep_says_why_and_what_to_do() -> None:
    lines = balance_text(examples.nothing()).splitlines()
    assert lines[:3] == [
        "Cannot tell. No sweep in this recording can be used.",
        "Fuel flow never changed by more than 0.9 gal/h in steady flight.",
        "Fly a sweep: level, steady power, the lever moved slowly through every peak.",
    ]


def test_only_the_longest_stretches_left_out_are_listed() -> None:
    measured = examples.uneven_six()
    result = measured.results[0]
    short = [replace(result.sweeps[-1], start_s=4300.0 + 60 * n, end_s=4310.0 + 60 * n) for n in range(3)]
    many = replace(measured, results=(replace(result, sweeps=(*result.sweeps, *short)),))
    text = balance_text(many)
    assert text.count("Left out") == 3
    assert "Left out 1:06:00 to 1:08:10" in text
    assert "One shorter stretch was left out too" in text
    more = replace(
        measured,
        results=(
            replace(result, sweeps=(*result.sweeps, *short, replace(short[0], start_s=4500.0, end_s=4505.0))),
        ),
    )
    assert "2 shorter stretches were left out too" in balance_text(more)


def test_several_recordings_name_where_a_stretch_lies() -> None:
    measured = examples.uneven_six()
    both = replace(measured, results=(measured.results[0], examples.odd_six().results[0]))
    assert "(invented-flight.csv)" in balance_text(both)


def test_findings_that_are_more_than_notes_are_told() -> None:
    text = balance_text(examples.uneven_six())
    assert "warning: Temp A: degF or degC?" in text
    assert "cut off" not in text


def test_what_was_understood_of_a_file() -> None:
    text = channels_text([examples.recording(examples.FOUR)])
    assert "Understood: 14 of 15 columns." in text
    assert re.search(r"^EGT 3 +EGT +3 +°F +header$", text, re.MULTILINE)
    assert re.search(r"^Temp A +not understood$", text, re.MULTILINE)
    assert re.search(r"^OAT +outside air temperature +°C +the values$", text, re.MULTILINE)
    assert "note: Line 5,761 is cut off" in text
    assert channels_text([examples.recording(examples.FOUR)], ascii_only=True).isascii()


def test_of_many_faults_of_one_kind_the_first_are_told_and_the_others_counted() -> None:
    faults = tuple(
        Finding("warning", "line-skipped", f"Line {line} is skipped: it has 3 cells, not 12.", line)
        for line in range(5, 155)
    )
    text = channels_text([replace(examples.recording(examples.FOUR), findings=faults)])
    assert "Line 14 is skipped" in text
    assert "Line 15 is skipped" not in text
    assert "140 more of the same kinds; --json lists them all." in text


def test_a_needed_column_that_was_not_understood_is_told() -> None:
    recording = examples.recording(examples.FOUR)
    lost = replace(
        recording,
        channels=tuple(
            replace(c, unit=None, unit_from=None, values=None) if c.column == "EGT 3" else c
            for c in recording.channels
        ),
    )
    text = " ".join(channels_text([lost]).split())
    assert "Understood: 13 of 15 columns. The answer needs a column that was not understood." in text
    assert re.search(r"EGT 3 EGT 3 not known", text)


def test_where_the_answer_lacks_a_quantity_the_others_may_be_needed() -> None:
    recording = examples.recording(examples.FOUR)
    lost = replace(
        recording,
        channels=tuple(
            replace(c, quantity="unknown", unit=None, values=None) if c.quantity == "fuel_flow" else c
            for c in recording.channels
        ),
    )
    text = " ".join(channels_text([lost]).split())
    assert "Not understood, and perhaps needed for the answer: two." in text
    assert "Not needed" not in text


def test_a_file_whose_columns_are_all_understood_says_so() -> None:
    recording = examples.recording(examples.FOUR)
    whole = replace(recording, channels=recording.channels[:-3])
    assert "Understood: all 12 columns." in channels_text([whole])


def test_hostile_names_cannot_reach_the_terminal() -> None:
    measured = examples.measured(examples.SIX, examples.uneven_six().balance, name="\x1b[31mred\u202e.csv")
    assert not re.search(r"[\x1b\u202e]", balance_text(measured))


def test_the_columns_of_a_twin_name_their_engine_and_those_of_a_single_do_not() -> None:
    single = examples.recording(examples.FOUR)
    other = tuple(replace(channel, engine=2) for channel in single.channels if channel.quantity == "egt")
    twin = replace(single, channels=(*single.channels, *other))
    head, *rows = (line for line in channels_text([twin]).splitlines() if "engine" in line or "EGT" in line)
    assert head.split()[:4] == ["column", "meaning", "cylinder", "engine"]
    assert {line[head.index("engine")] for line in rows if "EGT" in line} == {"1", "2"}
    assert not any(
        line.startswith("column") and "engine" in line for line in channels_text([single]).splitlines()
    )


def test_one_row_is_no_rows() -> None:
    recording = examples.recording(examples.FOUR)
    single = replace(recording, time_s=recording.time_s[:1])
    assert "1 row kept" in channels_text([single])


def test_the_file_beside_its_reading_is_shown_on_request() -> None:
    recording = examples.recording(examples.FOUR)
    shown = replace(
        recording,
        line_runs=(LineRun(1, 1, "header"), LineRun(2, 400, "data")),
        first_rows=(FirstRow(int(recording.lines[0]), tuple("1400" for _ in recording.channels)),),
        fuel_grade="unleaded 94",
    )
    text = channels_text([shown], lines=True)
    assert "Fuel grade: unleaded 94." in " ".join(text.split())
    assert "1                  column names" in text
    assert "2-400              rows" in text
    assert any(line.split()[:1] == ["column"] and "as written" in line for line in text.splitlines())
    assert "as written" not in channels_text([shown])
