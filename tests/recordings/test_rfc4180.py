"""Quoting, against the examples of RFC 4180, section 2, and the reader for delimited text of Python's library."""

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leanwright.recordings.quoting import QuotingError, split_cells, split_columns
from leanwright.recordings.read import read_recording

# RFC 4180, section 2, examples 5, 6 and 7: text and the fields that it holds.
EXAMPLES = {
    '"aaa","bbb","ccc"': ["aaa", "bbb", "ccc"],
    "zzz,yyy,xxx": ["zzz", "yyy", "xxx"],
    '"aaa","b\r\nbb","ccc"': ["aaa", "b\r\nbb", "ccc"],
    '"aaa","b""bb","ccc"': ["aaa", 'b"bb', "ccc"],
}


@pytest.mark.parametrize("text", EXAMPLES)
def test_the_examples_of_the_standard(text: str) -> None:
    assert split_cells(text, ",") == EXAMPLES[text]


@settings(deadline=None)
@given(
    cells=st.lists(
        st.text(st.characters(codec="utf-8", exclude_characters="\r\n\0"), max_size=9), min_size=2, max_size=6
    ),
    delimiter=st.sampled_from(",;\t|"),
)
def test_what_the_library_writes_is_read_back(cells: list[str], delimiter: str) -> None:
    written = io.StringIO()
    csv.writer(written, delimiter=delimiter, quoting=csv.QUOTE_ALL, lineterminator="").writerow(cells)
    assert split_cells(written.getvalue(), delimiter) == cells


def test_blanks_around_quoted_cells_are_padding() -> None:
    assert split_cells(' "a" , "b,c" ,d', ",") == ["a", "b,c", "d"]


def test_a_quote_inside_an_unquoted_cell_is_a_letter() -> None:
    assert split_cells('MAP "Hg,RPM', ",") == ['MAP "Hg', "RPM"]


@pytest.mark.parametrize("text", ['1,"2,3', '1,"2"3,4', '1,"2" 3",4'])
def test_wrong_quotes_are_told(text: str) -> None:
    with pytest.raises(QuotingError):
        split_cells(text, ",")


def test_many_lines_at_once_are_cut_like_one_by_one_or_not_at_all() -> None:
    assert split_columns(["1,2", "3,4"], ",", 2, quotes=False) == [["1", "3"], ["2", "4"]]
    assert split_columns(["1,2", "3,4,5"], ",", 2, quotes=False) is None
    assert split_columns(['"1",2', '3,"4"'], ",", 2, quotes=True) == [("1", "3"), ("2", "4")]
    assert split_columns(['"1",2', '3,"4"'], ",", 3, quotes=True) is None
    assert split_columns(['"1",2', '3,"4'], ",", 2, quotes=True) is None
    assert split_columns(['1,"2', '3",4'], ",", 2, quotes=True) is None


def test_a_quoted_cell_over_two_lines_is_one_row() -> None:
    text = 'Time (s),EGT1 (degF),Remark\n0,1400,"first\nsecond"\n1,1401,ok\n2,1402,"a\nb\nc"\n3,1403,ok\n'
    recording = read_recording(io.BytesIO(text.encode()))
    assert recording.lines.tolist() == [2, 4, 5, 8]
    assert recording.rows_skipped == 0


def test_names_over_two_lines_are_one_name() -> None:
    text = '"Time\n(s)","EGT 1\n(°F)","EGT 2\n(°F)"\n0,1400,1390\n1,1401,1391\n'
    recording = read_recording(io.BytesIO(text.encode()))
    assert [(c.column, c.unit) for c in recording.channels] == [
        ("Time (s)", "s"),
        ("EGT 1 (°F)", "degF"),
        ("EGT 2 (°F)", "degF"),
    ]
    assert recording.lines.tolist() == [5, 6]


def test_an_unclosed_quote_costs_its_own_line_only_wherever_it_stands() -> None:
    rows = [f"{second},14{second % 100:02d},ok" for second in range(30_000)]
    bad = [5, 6, 100, 14_000, 29_990, 29_999]
    for row in bad:
        rows[row] = rows[row].replace(",14", ',"14')
    text = "\n".join(["Time (s),EGT1 (degF),Remark", *rows, ""])
    recording = read_recording(io.BytesIO(text.encode()))
    assert recording.rows_skipped == len(bad)
    assert {finding.line for finding in recording.findings if finding.code == "line-skipped"} == {
        row + 2 for row in bad
    }
    assert recording.rows_kept == 30_000 - len(bad)
