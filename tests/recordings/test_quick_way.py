"""The quick way and the careful way of reading give the same recording, to the last bit and the last finding."""

import io
import random
import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from unittest import mock

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from leanwright.errors import LeanwrightError
from leanwright.recordings.alike import read_alike
from leanwright.recordings.dates import read_clock_times, read_dates, split_date_times
from leanwright.recordings.digits import read_digits, without_padding
from leanwright.recordings.read import read_recordings
from leanwright.recordings.regular import cut_cells
from leanwright.recordings.room import Room
from leanwright.simulate.draw import draw_spec
from leanwright.simulate.flight import simulate_flight
from leanwright.simulate.layouts import LAYOUTS, render
from tests.recordings.rendering import Form, Source, encode, write
from tests.recordings.strategies import forms, tables
from tests.recordings.test_damage import KINDS, damage

OFTEN = settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
NUMBER = re.compile(r" *-?(?:\d+(?:\.\d*)?|\.\d+) *", re.ASCII)


@contextmanager
def careful() -> Iterator[None]:
    """Nothing is read the quick way."""
    with (
        mock.patch("leanwright.recordings.rows.cut_cells", return_value=None),
        mock.patch("leanwright.recordings.clock.read_alike", return_value=None),
    ):
        yield


def all_of(data: bytes) -> list[object]:
    """Everything that reading gives, numbers as their bytes."""
    try:
        recordings = read_recordings(io.BytesIO(data), name="flight")
    except LeanwrightError as error:
        return [type(error), str(error)]
    return [
        (
            recording.time_s.tobytes(), recording.lines.tobytes(), recording.rows_skipped, recording.findings,
            recording.metadata, recording.power_up_rows, recording.layout, recording.started_at, recording.sha256,
            [
                (
                    c.column, c.quantity, c.cylinder, c.engine, c.unit, c.unit_from, c.resolution,
                    None if c.values is None else c.values.tobytes(),
                )
                for c in recording.channels
            ],
        )
        for recording in recordings
    ]  # fmt: skip


def assert_both_ways_agree(data: bytes) -> None:
    """The quick way and the careful one, on the same bytes."""
    quick = all_of(data)
    with careful():
        assert all_of(data) == quick


@pytest.mark.parametrize("name", LAYOUTS)
def test_every_layout_of_the_simulator(name: str) -> None:
    rng = np.random.Generator(np.random.PCG64(43))
    flight = simulate_flight(draw_spec(rng, sweeps=1, layout=name), 43)
    assert_both_ways_agree(render(flight, LAYOUTS[name]).data)


def test_an_ordinary_file_goes_the_quick_way() -> None:
    rng = np.random.Generator(np.random.PCG64(44))
    flight = simulate_flight(draw_spec(rng, sweeps=1, layout="comma"), 44)
    data = render(flight, LAYOUTS["comma"]).data
    with mock.patch("leanwright.recordings.rows.RowReader._add_one_by_one") as one_by_one:
        read_recordings(io.BytesIO(data))
    one_by_one.assert_not_called()


@OFTEN
@given(form=forms(whole_end=False), table=tables(st.sampled_from((9, 60))))
def test_every_form_of_writing(form: Form, table: list[Source]) -> None:
    assert_both_ways_agree(write(table, form).data)


@OFTEN
@given(form=forms(packed=False), table=tables(st.sampled_from((12, 30))), seed=st.integers(0, 1_000_000))
def test_every_damage(form: Form, table: list[Source], seed: int) -> None:
    rng = random.Random(seed)  # noqa: S311  damage, not secrets
    written = write(table, form)
    lines = list(written.lines)
    for row in rng.sample(range(2, len(written.row_lines)), rng.randrange(4)):
        place = written.row_lines[row] - 1
        lines[place] = damage(lines[place], rng.choice(KINDS), form, rng)
    data = encode(lines, form)
    assert_both_ways_agree(data[: rng.randrange(len(data) // 2, len(data) + 1)])


CELLS = st.one_of(
    st.from_regex(NUMBER, fullmatch=True),
    st.floats(-1e7, 1e7).map(lambda value: f"{value:.3f}"),
    st.text("0123456789.-+ eE,x", max_size=10),
)


@settings(max_examples=400, deadline=None)
@given(st.lists(CELLS.filter(lambda cell: ";" not in cell and cell.isascii()), min_size=1, max_size=40))
@example(
    [
        "-0",
        "0.",
        ".5",
        "-.5",
        "00000000",
        "12345678",
        "-1234567",
        "1234567.",
        "123456789",
        ".",
        "-",
        "",
        "1..2",
        "--1",
    ]
)
def test_digits_are_the_floats_that_python_reads(cells: list[str]) -> None:
    raw = "".join(f"{cell};" for cell in cells).encode()
    text = np.frombuffer(b" " * 8 + raw, dtype=np.uint8)
    ends = np.flatnonzero(text == ord(";"))
    starts = np.concatenate([[8], ends[:-1] + 1])
    values, sound = read_digits(text, *without_padding(text, starts, ends), ".")
    for cell, value, is_number in zip(cells, values, sound, strict=True):
        is_short = len(cell.strip(" ").removeprefix("-")) <= 8
        assert bool(is_number) == (NUMBER.fullmatch(cell) is not None and is_short)
        if is_number:
            assert np.float64(cell).tobytes() == value.tobytes()


def test_a_decimal_comma_is_read_and_a_point_left_to_a_closer_look() -> None:
    cells = cut_cells(b"1,5;1.5\n-2,25;7\n", ";", 2, 100, Room())
    assert cells is not None
    values, odd = cells.numbers([0, 1], ",")
    np.testing.assert_array_equal(values, [[1.5, -2.25], [np.nan, 7.0]])
    assert odd.tolist() == [[False, False], [True, False]]


@pytest.mark.parametrize(
    "raw",
    [b'1,"2"\n', b"1,\xc2\xb0\n", b"1,\0\n", b"1,2\n1\n", b"1\n1,2,3\n", b"\n", b"1,2\n\n", b"1,99999\n"],
)
def test_what_is_not_regular_is_left_to_a_closer_look(raw: bytes) -> None:
    assert cut_cells(raw, ",", 2, 4, Room()) is None


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.datetimes(), min_size=1, max_size=30),
    st.sampled_from(("%Y-%m-%dT", "%d.%m.%Y ", "%m/%d/%Y ", "")),
    st.sampled_from(("%H:%M:%S", "%H:%M:%S.%f", "%H:%M:%S,%f", "%H:%M")),
    st.sampled_from(("", "Z", "+02:00", "-03:30", " PM")),
)  # fmt: skip
def test_stamps_that_are_alike_are_read_as_each_by_itself(
    moments: list[datetime], date: str, clock: str, zone: str
) -> None:
    texts = [moment.strftime(date) + moment.strftime(clock) + zone for moment in moments]
    stamps = read_alike(texts)
    if stamps is None:
        return
    days, clocks = (split_date_times(texts) or ([], [])) if date else ([], texts)
    slow = read_clock_times(clocks)
    assert slow is not None
    assert slow.tobytes() == stamps.seconds.tobytes()
    assert [day for day, rows in zip(stamps.dates, stamps.rows, strict=True) for _ in range(rows)] == days
    if days:
        one, other = read_dates(days, None), read_dates(stamps.dates, None)
        assert (one is None) == (other is None)


@pytest.mark.parametrize(
    "texts",
    [
        [], ["cruise"], ["10:00:00", "10:00:0"], ["10:00:00", "10:00:6x"], ["10:00:00", "10:00:60"], ["10:00:00", "10-00-01"],
        ["10:00:00.5", "10:00:00,5"], ["10:00:00.5", "10:00:00.x"], ["10:00:00Z", "10:00:00X"], ["10:00:00", "1٠:00:00"],
        ["2031-05-17T10:00:00", "2031-05-17 10:00:00"],
    ],
)  # fmt: skip
def test_stamps_that_are_not_alike_are_read_one_by_one(texts: list[str]) -> None:
    assert read_alike(texts) is None
