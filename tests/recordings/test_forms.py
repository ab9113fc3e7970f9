"""However the known table is written down, the same comes back: rows, times, channels, bit for bit."""

import io

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from leanwright.recordings.read import read_recording
from leanwright.recordings.recording import Recording
from tests.recordings.rendering import METRIC, US, Form, Source, inside, make_table, seconds_of, write
from tests.recordings.strategies import forms, tables


def assert_is_the_table(
    recording: Recording, table: list[Source], form: Form, row_lines: tuple[int, ...]
) -> None:
    """The recording holds the table: the truth is the table that was written."""
    rows = len(table[0].cells)
    assert (recording.rows_kept, recording.rows_skipped) == (rows, 0)
    assert recording.lines.tolist() == list(row_lines)
    np.testing.assert_allclose(recording.time_s, seconds_of(form, rows), rtol=0, atol=2e-6)
    for source in table:
        channels = [
            c for c in recording.channels if (c.quantity, c.cylinder) == (source.quantity, source.cylinder)
        ]
        assert len(channels) == 1, f"{source.quantity} {source.cylinder}"
        channel = channels[0]
        if form.units == "none" and channel.unit is None:
            assert channel.values is None
            continue
        assert channel.unit == source.unit
        assert channel.unit_from == {"header": "header", "row": "units-row", "none": "values"}[form.units]
        np.testing.assert_array_equal(channel.values, inside(source), strict=True)


@settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck))
@given(form=forms(), table=tables(st.sampled_from((1, 2, 9, 60))))
def test_any_form_gives_the_table_back(form: Form, table: list[Source]) -> None:
    written = write(table, form)
    recording = read_recording(io.BytesIO(written.data), name="flight")
    assert_is_the_table(recording, table, form, written.row_lines)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize(
    ("delimiter", "decimal"), [(",", "."), (";", ","), (";", "."), ("\t", ","), ("|", ".")]
)
def test_every_delimiter_in_every_encoding(delimiter: str, decimal: str, encoding: str) -> None:
    form = Form(delimiter=delimiter, decimal=decimal, encoding=encoding, unit_style=1)
    table = make_table(30, 6, 1)
    written = write(table, form)
    assert_is_the_table(read_recording(io.BytesIO(written.data)), table, form, written.row_lines)


@pytest.mark.parametrize("units", [US, METRIC])
@pytest.mark.parametrize("style", range(8))
def test_every_style_of_names(style: int, units: dict[str, str]) -> None:
    form = Form(name_style=style)
    table = make_table(30, 6, 2, units)
    written = write(table, form)
    assert_is_the_table(read_recording(io.BytesIO(written.data)), table, form, written.row_lines)


def test_numbers_counted_from_zero_are_moved_up_by_one() -> None:
    form = Form(from_zero=True, name_style=4)
    table = make_table(5, 6, 3)
    written = write(table, form)
    assert "egt_0 (degF)" in written.names
    assert_is_the_table(read_recording(io.BytesIO(written.data)), table, form, written.row_lines)


def test_a_header_in_mid_file_is_passed_over() -> None:
    form = Form(repeat_header_every=7, units="row", metadata=("# an invented panel",))
    table = make_table(20, 4, 4)
    written = write(table, form)
    recording = read_recording(io.BytesIO(written.data))
    assert_is_the_table(recording, table, form, written.row_lines)
    assert recording.power_up_rows == (0,)
    assert recording.metadata == ("an invented panel",)


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(form=forms(whole_end=False), table=tables(st.sampled_from((3, 9, 30))))
def test_a_last_line_without_line_end_is_kept_whole_or_counted_as_cut(
    form: Form, table: list[Source]
) -> None:
    written = write(table, form)
    recording = read_recording(io.BytesIO(written.data), name="flight")
    rows = len(table[0].cells)
    assert recording.rows_kept + recording.rows_skipped == rows
    assert recording.lines.tolist() == list(written.row_lines[: recording.rows_kept])
    assert recording.rows_kept >= rows - 1


def test_the_quick_way_and_the_careful_ways_give_the_same_bit_for_bit() -> None:
    table = make_table(3000, 6, 5)
    plain = write(table, Form(text_column=True))
    quoted = write(table, Form(text_column=True, quote="all"))
    lines = list(plain.lines)
    for place in range(40, len(lines), 40):
        lines[place] += "\n\0,damaged"
    damaged = "\n".join([*lines, ""]).encode()
    one, two, three = (read_recording(io.BytesIO(data)) for data in (plain.data, quoted.data, damaged))
    assert three.rows_skipped == len(range(40, len(lines), 40))
    for first, second, third in zip(one.channels, two.channels, three.channels, strict=True):
        if first.values is not None and second.values is not None and third.values is not None:
            assert first.values.tobytes() == second.values.tobytes() == third.values.tobytes()
    assert one.time_s.tobytes() == two.time_s.tobytes() == three.time_s.tobytes()
