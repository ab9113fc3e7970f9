"""Every line below the header is accounted for. The input stands beside each expectation."""

import io

import numpy as np
import pytest

from leanwright.recordings.last_cell import is_whole
from leanwright.recordings.read import read_recording
from leanwright.recordings.recording import Recording

HEADER = "Time (s),EGT1 (degF),EGT2 (degF),FF (gal/h)"


def read(*lines: str, end: str = "\n") -> Recording:
    """Lines as a file."""
    return read_recording(io.BytesIO("\n".join([*lines, ""]).removesuffix("\n" if not end else "").encode()))


def skipped(recording: Recording) -> dict[int | None, str]:
    """Reason by line."""
    return {
        finding.line: finding.message.partition(": ")[2]
        for finding in recording.findings
        if finding.code == "line-skipped"
    }


def test_lines_are_counted_with_metadata_blank_lines_and_all() -> None:
    recording = read("# an invented panel, #5", "", HEADER, "", "0,1400,1390,12.1", "   ", "1,1401,1391,12.0")
    assert recording.lines.tolist() == [5, 7]
    assert recording.metadata == ("an invented panel, #5",)
    assert recording.rows_skipped == 0


def test_marked_lines_under_the_header_are_metadata_too() -> None:
    recording = read(
        "# a panel", HEADER, "# units as named", "// and so on", "0,1400,1390,12.1", "1,1401,1391,12.0"
    )
    assert (recording.lines.tolist(), recording.rows_skipped) == ([5, 6], 0)


def test_each_kind_of_bad_line_has_its_reason() -> None:
    recording = read(
        HEADER, "0,1400,1390,12.1", "1,1401,1391", "2,1402,1392,12.1,7", '3,"1403,1393,12.1', '4,"1"4,1393,12.1', "5,14\0,1395,12.1", ",,,", "junk", "7,1407,1397,12.0",
    )  # fmt: skip
    assert skipped(recording) == {
        3: "it has 3 cells, not 4.",
        4: "it has 5 cells, not 4.",
        5: "a quote in it is not closed, or stands inside a cell.",
        6: "a quote in it is not closed, or stands inside a cell.",
        7: "it holds NUL bytes, as a broken card leaves them.",
        8: "its time cannot be read.",
        9: "it has 1 cell, not 4.",
    }
    assert recording.lines.tolist() == [2, 10]
    assert (recording.rows_kept, recording.rows_skipped) == (2, 7)


def test_bytes_that_are_no_characters_cost_their_line() -> None:
    data = f"# °\n{HEADER}\n0,1400,1390,12.1\n1,14?01,1391,12.0\n2,1402,1392,12.0\n".encode().replace(
        b"?", b"\xff"
    )
    recording = read_recording(io.BytesIO(data))
    assert skipped(recording) == {4: "it holds bytes that are no characters."}


def test_cells_beyond_the_last_name_must_be_empty() -> None:
    recording = read("Time (s),EGT1 (degF),EGT2 (degF),", "0,1400,1390,", "1,1401,1391,7", "2,1402,1392,")
    assert skipped(recording) == {3: "it has a cell beyond the last column."}


def test_a_damaged_row_that_goes_beyond_the_header_does_not_refute_it() -> None:
    recording = read(HEADER, "0,1400,1390,12.1,", "1,1401,1391,12.0,7", "2,1402,1392,12.0,")
    assert skipped(recording) == {3: "it has a cell beyond the last column."}


def test_columns_without_a_name_that_hold_something_are_kept_as_unknown() -> None:
    recording = read("Time (s),EGT1 (degF),,EGT2 (degF),", "0,1400,1,1390,7", "1,1401,2,1391,7")
    assert [(c.column, c.quantity) for c in recording.channels] == [
        ("Time (s)", "time"), ("EGT1 (degF)", "egt"), ("", "unknown"), ("EGT2 (degF)", "egt"), ("", "unknown"),
    ]  # fmt: skip


def test_lines_above_a_repeated_header_belong_to_it() -> None:
    recording = read(
        "# panel on", "Serial: 1", HEADER, "0,1400,1390,12.1", "1,1401,1391,12.0", "# panel on", "Serial: 2", "", HEADER, "0,1402,1392,12.0", "1,1403,1393,12.0",
    )  # fmt: skip
    assert recording.lines.tolist() == [4, 5, 10, 11]
    assert (recording.rows_skipped, recording.power_up_rows) == (0, (0, 2))


def test_a_row_cut_by_the_power_counts_though_a_header_follows() -> None:
    recording = read(
        "Serial: 1",
        HEADER,
        "0,1400,1390,12.1",
        "1,14",
        "Serial: 1",
        HEADER,
        "0,1402,1392,12.0",
        "1,1403,1393,12.0",
    )
    assert skipped(recording) == {4: "it has 2 cells, not 4."}
    assert (recording.rows_kept, recording.rows_skipped) == (3, 1)


def test_a_remark_between_rows_counts_as_a_skipped_line() -> None:
    recording = read(HEADER, "0,1400,1390,12.1", "# a remark", "1,1401,1391,12.0", "# the last remark")
    assert skipped(recording) == {3: "it is a remark, not a row.", 5: "it is a remark, not a row."}


def test_units_under_a_repeated_header_belong_to_it() -> None:
    recording = read(
        "Time,EGT1,EGT2",
        "s,degF,degF",
        "0,1400,1390",
        "1,1401,1391",
        "Time,EGT1,EGT2",
        "s,degF,degF",
        "2,1402,1392",
    )
    assert (recording.rows_kept, recording.rows_skipped) == (3, 0)


def test_rows_below_another_header_are_never_read_with_the_first_ones_names() -> None:
    other = "Clock,EGT2 (degF),EGT1 (degF),FF (gal/h)"
    recording = read(HEADER, "0,1400,1390,12.1", other, "1,1390,1400,12.0", HEADER, "2,1402,1392,12.0")
    assert recording.lines.tolist() == [2, 6]
    assert skipped(recording) == {
        3: "it is a header unlike the first.",
        4: "it stands below another header (line 3).",
    }


def test_another_header_is_seen_in_a_long_regular_file() -> None:
    rows = [f"{second},14{second % 100:02d},1390,12.1" for second in range(9000)]
    rows.insert(5000, "Seconds,EGT2 (degF),EGT1 (degF),FF (gal/h)")
    recording = read(HEADER, *rows)
    assert (recording.rows_kept, recording.rows_skipped) == (5000, 4001)


def test_a_late_header_is_found() -> None:
    remarks = [f"Note {n}: nothing, really" for n in range(150)]
    recording = read(*remarks, HEADER, *[f"{second},1400,1390,12.1" for second in range(50)])
    assert recording.rows_kept == 50
    assert len(recording.metadata) == 150


@pytest.mark.parametrize(
    "lines",
    [
        ["Serial;4711", "Owner;nobody", "Zeit;Abgas", "0;1400", "1;1401"],
        ["Owner;nobody;;", "Serial;4711;;", "Zeit;Abgas;Phase;Ort", "0;1400;a;b", "1;1401;a;b", "2;1401;c;d"],
        ["Zeit;Abgas;Phase;Ort;Wer", "0;1400;a;b;x", "1;1401;a;b;x", "Zeit;Abgas;Phase;Ort;Wer", "2;1401;c;d;y"],
        ["Zeit;Abgas", "s;degC", "0;740", "1;741"],
    ],
)  # fmt: skip
def test_a_header_in_a_strange_language_is_found_by_the_numbers_below_it(lines: list[str]) -> None:
    recording = read(*lines)
    assert [channel.column for channel in recording.channels][:2] == ["Zeit", "Abgas"]
    assert recording.rows_skipped == 0
    assert recording.rows_kept >= 2


def test_commas_as_decimal_marks_or_between_thousands_go_by_the_whole_column() -> None:
    recording = read(
        "Time (s),RPM,FF (gal/h),Oil P (psi),MAP (inHg)",
        '0,"2,400","12,5","1,25",23.1', '1,"2,410","12,25","1,250",23.2', '2,990,"12",3.5,"2,3.1"',
    )  # fmt: skip
    values = {channel.quantity: channel.values for channel in recording.channels}
    np.testing.assert_array_equal(values["fuel_flow"], [12.5, 12.25, 12.0])
    np.testing.assert_array_equal(values["manifold_pressure"], [23.1, 23.2, np.nan])
    assert {finding.code for finding in recording.findings} >= {"cell-unreadable"}


# The file's decimal mark is proven by its other columns; what the other mark means is told by the whole column.
@pytest.mark.parametrize(
    ("lines", "values"),
    [
        (["Time (s);ALT (ft);FF", "0;6,500.0;12.5", "1;12,500.5;12.5", "2;900.5;12.5"], [6500.0, 12500.5, 900.5]),
        (["Time (s);ALT (ft);FF", "0;6.500,5;12,5", "1;12.500,5;12,5", "2;900,5;12,5"], [6500.5, 12500.5, 900.5]),
        (["Time (s);ALT (ft);FF", "0;6,500;12.5", "1;6,510;12.5", "2;6,520;12.5"], [6500.0, 6510.0, 6520.0]),
        (["Time (s);ALT (ft);FF", "0;987;12,5", "1;1.024;12,5", "2;1.100;12,5"], [987.0, 1024.0, 1100.0]),
        (["Time (s);ALT (ft);FF", "0;1.234.000;12,5", "1;1.024;12,5", "2;1.100;12,5"], [1234000.0, 1024.0, 1100.0]),
        (["Time (s);ALT (ft);FF", "0;1.024;12,5", "1;1.100;12,5", "2;1.101;12,5"], [np.nan] * 3),
        (["Time (s);ALT (ft);FF", "0;48.12345;12,5", "1;48.12346;12,5", "2;48.1;12,5"], [48.12345, 48.12346, 48.1]),
        (["Time (s);ALT (ft);FF", "0;48,5;12,5", "1;48.12346;12,5", "2;48,25;12,5"], [48.5, np.nan, 48.25]),
        (["Time (s),ALT (ft),FF", '0,"6,500",12', '1,"6,510",12', "2,900,12"], [6500.0, 6510.0, 900.0]),
        (["Time (s)\tALT (ft)\tFF", "0\t6,5\t12", "1\t6,51\t12", "2\t9\t12"], [6.5, 6.51, 9.0]),
    ],
)  # fmt: skip
def test_decimal_marks_and_marks_between_thousands_are_told_apart(
    lines: list[str], values: list[float]
) -> None:
    np.testing.assert_array_equal(read(*lines).channels[1].values, values)


def test_numbers_are_pythons_own_floats_and_no_others() -> None:
    recording = read(
        HEADER, "0,1.4e3,+1390, 12.10 ", "1,1_400,1391.,.5", "2,0x57A,１３９２,12.0", "3,\u22121.5,1393,1e2"
    )
    np.testing.assert_array_equal(recording.values("egt", 1), [float("1.4e3"), np.nan, np.nan, -1.5])
    np.testing.assert_array_equal(
        recording.values("egt", 2), [float("+1390"), float("1391."), np.nan, 1393.0]
    )
    np.testing.assert_array_equal(recording.values("fuel_flow"), [float(" 12.10 "), 0.5, 12.0, 100.0])


def test_many_cells_that_are_no_numbers_are_listed_twenty_times() -> None:
    rows = [f"{second},14x{second},1390,12.1" for second in range(50)]
    recording = read(HEADER, "0,1400,1390,12.1", *rows)
    codes = [finding.code for finding in recording.findings]
    assert (codes.count("cell-unreadable"), codes.count("more-cells-unreadable")) == (20, 1)
    assert recording.rows_kept == 51


@pytest.mark.parametrize(
    ("cell", "above", "whole"),
    [
        ("14.2", ["14.1", "14.3"], True), ("14.", ["14.1", "14.3"], False), ("14", ["14.1", "14.3"], False),
        ("1451", ["1449", "1450"], True), ("145", ["1449", "1450"], False), ("1", ["1449", "1450"], False),
        ("10", ["98", "99"], False), ("100", ["98", "99"], True), ("0", ["0", "0"], True), ("-1", ["-11", "-12"], False),
        ("14.25", ["14.2", "14.25"], True), ("14.2", ["14.2", "14.25"], False), ("", [""] * 20, True), ("", ["", "1"], False),
        ("", [], False), ("14", [], False), ("14", ["---"], False), ("climb", ["climb"], True), ("clim", ["climb"], False),
        ("cruise", ["climb"], False), ("10:00:01", ["10:00:00"], True), ("10:00:0", ["10:00:00"], False),
    ],
)  # fmt: skip
def test_the_last_cell_of_a_file_without_a_line_end_is_judged_by_those_above(
    cell: str,
    above: list[str],
    whole: bool,  # noqa: FBT001  the table reads so
) -> None:
    assert is_whole(cell, above) is whole


def test_a_quoted_last_cell_or_a_closing_delimiter_shows_that_a_line_is_whole() -> None:
    assert read('"Time (s)","EGT1 (degF)"', '"0","1400"', '"1","9"', end="").rows_kept == 2
    assert read("Time (s),EGT1 (degF),", "0,1400,", "1,9,", end="").rows_kept == 2


def test_an_open_last_line_that_is_a_header_or_blank_is_no_row() -> None:
    recording = read(HEADER, "0,1400,1390,12.1", "1,1401,1391,12.1", HEADER, end="")
    assert (recording.rows_kept, recording.rows_skipped) == (2, 0)
    recording = read(HEADER, "0,1400,1390,12.1", "   ", end="")
    assert (recording.rows_kept, recording.rows_skipped) == (1, 0)
