"""Every layout holds the same table: read back with the standard library, it gives the recorded values."""

import csv
import gzip
import io
import math
import zipfile
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from leanwright.errors import UnwritablePlaceError
from leanwright.simulate.draw import draw_spec
from leanwright.simulate.flight import SimulatedFlight, simulate_flight
from leanwright.simulate.layouts import LAYOUTS, Layout, render, write
from leanwright.simulate.recorder import Recorder
from leanwright.simulate.truth import STATEMENT, ChannelTruth


@pytest.fixture(scope="module")
def flight() -> SimulatedFlight:
    spec = draw_spec(np.random.default_rng(21), cylinders=4, surroundings="whole-flight")
    recorder = Recorder(interval_s=2.0, dropout_percent=0.5)
    return simulate_flight(replace(spec, recorder=recorder, earlier_power_up=True), 21)


def text_of(data: bytes, layout: Layout) -> str:
    if layout.packed == "gz":
        data = gzip.decompress(data)
    elif layout.packed == "zip":
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            (name,) = archive.namelist()
            data = archive.read(name)
    return data.decode(layout.encoding)


def rows_of(text: str, layout: Layout, headers: list[str]) -> list[list[str]]:
    """Rows of data: lines with as many fields as the header, without header, units and metadata."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=layout.delimiter)
    wide = [[cell.strip() for cell in row][: len(headers)] for row in reader if len(row) >= len(headers)]
    return [row for row in wide if row != headers and any(cell[:1].isdigit() for cell in row)]


@pytest.mark.parametrize("name", sorted(LAYOUTS))
def test_the_values_written_are_the_values_recorded(name: str, flight: SimulatedFlight) -> None:
    layout = LAYOUTS[name]
    rendered = render(flight, layout)
    headers = [channel.column for channel in rendered.channels]
    rows = rows_of(text_of(rendered.data, layout), layout, headers)
    assert len(rows) == flight.table.time_s.size - layout.cut_last_line
    for at, channel in enumerate(rendered.channels):
        if channel.quantity in {"time", "date", "summary", "text", "unknown"}:
            continue
        column = flight.table.column(channel.quantity, channel.cylinder)
        written = [
            math.nan if row[at] == layout.missing else float(row[at].replace(layout.decimal, "."))
            for row in rows
        ]
        assert np.array_equal(written, column.values[: len(rows)], equal_nan=True)
        assert channel.unit == column.unit


@pytest.mark.parametrize("name", sorted(LAYOUTS))
def test_the_header_names_every_column_once(name: str, flight: SimulatedFlight) -> None:
    layout = LAYOUTS[name]
    rendered = render(flight, layout)
    headers = [channel.column for channel in rendered.channels]
    assert len(set(headers)) == len(headers)
    lines = list(
        csv.reader(io.StringIO(text_of(rendered.data, layout), newline=""), delimiter=layout.delimiter)
    )
    assert headers in [[cell.strip() for cell in row if cell.strip()] for row in lines]
    measured = {(c.quantity, c.cylinder) for c in flight.table.columns}
    assert measured <= {(c.quantity, c.cylinder) for c in rendered.channels}


@pytest.mark.parametrize("name", sorted(LAYOUTS))
def test_the_same_flight_gives_the_same_bytes(name: str, flight: SimulatedFlight) -> None:
    assert render(flight, LAYOUTS[name]).data == render(flight, LAYOUTS[name]).data


@pytest.mark.parametrize("name", [name for name, layout in LAYOUTS.items() if layout.metadata])
def test_lines_before_the_header_say_that_the_data_are_invented(name: str, flight: SimulatedFlight) -> None:
    first = text_of(render(flight, LAYOUTS[name]).data, LAYOUTS[name]).splitlines()[0]
    assert STATEMENT in first


def test_the_corpus_covers_what_a_reader_must_cope_with() -> None:
    layouts = LAYOUTS.values()
    assert len(LAYOUTS) >= 12
    assert {layout.delimiter for layout in layouts} == {",", ";", "\t", "|"}
    assert {layout.decimal for layout in layouts} == {".", ","}
    assert {layout.units for layout in layouts} == {"row", "header", "none"}
    assert {"utf-8", "utf-8-sig", "utf-16", "latin-1"} <= {layout.encoding for layout in layouts}
    assert {layout.newline for layout in layouts} == {"\n", "\r\n"}
    assert {layout.packed for layout in layouts} == {"", "gz", "zip"}
    assert {layout.metadata for layout in layouts} == {"", "marked", "bare", "pairs"}
    assert len({layout.time for layout in layouts}) >= 10
    assert len({layout.missing for layout in layouts}) >= 6
    assert {layout.order for layout in layouts} == {"usual", "interleaved", "cylinders-backwards", "shuffled"}
    assert {layout.header_again for layout in layouts} == {"", "middle", "power-up"}
    for trait in ("quoted", "padded", "trailing_delimiter", "summaries", "text_column", "cut_last_line"):
        assert any(getattr(layout, trait) for layout in layouts)


@pytest.mark.parametrize(
    ("name", "form"),
    [
        ("comma", "%Y-%m-%dT%H:%M:%S"),
        ("abridged-words", "%Y-%m-%d %H:%M:%S"),
        ("quoted-twelve-hours", "%m/%d/%Y %I:%M:%S %p"),
        ("semicolon-decimal-comma", "%d.%m.%Y %H:%M:%S"),
        ("interleaved-time-last", "%Y-%m-%d %H:%M:%S"),
    ],
)
def test_dates_and_times_are_those_of_the_rows(name: str, form: str, flight: SimulatedFlight) -> None:
    layout, rendered = LAYOUTS[name], render(flight, LAYOUTS[name])
    headers = [channel.column for channel in rendered.channels]
    places = [i for i, channel in enumerate(rendered.channels) if channel.quantity in {"date", "time"}]
    rows = rows_of(text_of(rendered.data, layout), layout, headers)
    moments = [datetime.strptime(" ".join(row[i] for i in places), form) for row in rows]  # noqa: DTZ007 - a panel's clock knows no zone
    elapsed = [(moment - moments[0]).total_seconds() for moment in moments]
    assert moments[0] == flight.spec.began
    assert elapsed == flight.table.time_s.tolist()


@pytest.mark.parametrize(
    ("name", "first", "later"),
    [
        ("tab-words", "0", "20"),
        ("underscored-archive", "00:00", "00:20"),
        ("backwards-with-summaries", "0:00:00", "0:00:20"),
        ("from-nought-packed", "1936776600", "1936776620"),
        ("pipe-padded", "09:30:00", "09:30:20"),
        ("row-numbers", "1", "11"),
    ],
)
def test_other_forms_of_time_count_from_the_first_row(name: str, first: str, later: str) -> None:
    """1936776600 is 2031-05-17 09:30 UTC in seconds since 1970."""
    spec = replace(draw_spec(np.random.default_rng(5)), recorder=Recorder(interval_s=2.0, jitter_s=0.0))
    layout, rendered = LAYOUTS[name], render(simulate_flight(spec, 5), LAYOUTS[name])
    rows = rows_of(text_of(rendered.data, layout), layout, [c.column for c in rendered.channels])
    assert (rows[0][0], rows[10][0]) == (first, later)


def test_a_clock_goes_on_after_midnight() -> None:
    flight = simulate_flight(draw_spec(np.random.default_rng(5), surroundings="whole-flight"), 5)
    layout, rendered = LAYOUTS["over-midnight-cut"], render(flight, LAYOUTS["over-midnight-cut"])
    rows = rows_of(text_of(rendered.data, layout), layout, [c.column for c in rendered.channels])
    assert rows[0][0].startswith("23:41:07")
    assert rows[-1][0].startswith("00:")


def test_fractions_of_a_second_are_written_where_the_recorder_keeps_them() -> None:
    spec = draw_spec(np.random.default_rng(5))
    spec = replace(spec, recorder=Recorder(interval_s=0.5, stamp_step_s=0.01, jitter_s=0.01))
    flight = simulate_flight(spec, 5)
    rendered = render(flight, LAYOUTS["comma"])
    rows = rows_of(
        text_of(rendered.data, LAYOUTS["comma"]), LAYOUTS["comma"], [c.column for c in rendered.channels]
    )
    seconds = [float(row[0].rsplit(":", 1)[1]) for row in rows[:20]]
    assert seconds == pytest.approx(flight.table.time_s[:20], abs=0.0051)


def test_columns_over_all_cylinders_are_summaries_and_missing_where_one_is(flight: SimulatedFlight) -> None:
    layout = LAYOUTS["backwards-with-summaries"]
    rendered = render(flight, layout)
    assert [c.column for c in rendered.channels if c.quantity == "summary"] == [
        "Highest EGT",
        "EGT range",
        "Highest CHT",
    ]
    rows = rows_of(text_of(rendered.data, layout), layout, [c.column for c in rendered.channels])
    at = next(i for i, c in enumerate(rendered.channels) if c.column == "Highest EGT")
    egt = np.array([flight.table.column("egt", n).values for n in range(1, 5)])
    written = [float(row[at]) if row[at] else math.nan for row in rows]
    assert np.array_equal(written, np.max(egt, axis=0), equal_nan=True)


def test_without_heads_there_is_no_summary_of_heads() -> None:
    spec = replace(draw_spec(np.random.default_rng(5)), recorder=Recorder(quantities=()))
    channels = render(simulate_flight(spec, 5), LAYOUTS["abridged-words"]).channels
    assert [c.column for c in channels if c.quantity == "summary"] == ["Highest EGT [°F]", "EGT range [°F]"]


def test_the_header_stands_again_at_each_power_up_and_in_the_middle(flight: SimulatedFlight) -> None:
    text = text_of(render(flight, LAYOUTS["several-power-ups"]).data, LAYOUTS["several-power-ups"])
    assert text.count("EGT #1") == 2
    text = text_of(render(flight, LAYOUTS["interleaved-time-last"]).data, LAYOUTS["interleaved-time-last"])
    assert text.count("EGT-1,CHT-1,EGT-2") == 2


def test_cylinders_counted_from_nought_keep_their_own_numbers_in_the_truth(flight: SimulatedFlight) -> None:
    channels = render(flight, LAYOUTS["from-nought-packed"]).channels
    egt = {c.column: c.cylinder for c in channels if c.quantity == "egt"}
    assert egt == {"EGT[0] (F)": 1, "EGT[1] (F)": 2, "EGT[2] (F)": 3, "EGT[3] (F)": 4}


def test_writing_gives_the_file_and_what_its_columns_mean(flight: SimulatedFlight, tmp_path: Path) -> None:
    channels = write(flight, LAYOUTS["comma"], tmp_path / "a.csv")
    assert channels[:2] == (
        ChannelTruth("Time", "time", None, None, unit_in_file=False),
        ChannelTruth("EGT1", "egt", 1, "degF", unit_in_file=True),
    )
    assert (tmp_path / "a.csv").read_bytes() == render(flight, LAYOUTS["comma"]).data


def test_a_place_that_cannot_be_written_is_named(flight: SimulatedFlight, tmp_path: Path) -> None:
    with pytest.raises(UnwritablePlaceError, match=r"Cannot write .*nowhere.*a\.csv"):
        write(flight, LAYOUTS["comma"], tmp_path / "nowhere" / "a.csv")
