"""Damaged files: every good row comes back as it was written, every bad line is counted and named. Nothing crashes."""

import io
import random

import numpy as np
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from leanwright.errors import LeanwrightError
from leanwright.recordings.read import read_recording, read_recordings
from leanwright.recordings.recording import Recording
from tests.recordings.rendering import Form, Source, Written, encode, inside, make_table, write
from tests.recordings.strategies import forms, tables

SLOW = settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck))
KINDS = (
    "drop-cell",
    "add-cell",
    "cut",
    "open-quote",
    "nul-bytes",
    "nul-line",
    "joined",
    "no-time",
    "quote-inside",
)


def assert_holds_rows(recording: Recording, table: list[Source], rows: list[int], lines: list[int]) -> None:
    """The recording holds exactly these rows of the table, which is the truth."""
    assert recording.lines.tolist() == lines
    for source in table:
        for channel in recording.channels:
            if (channel.quantity, channel.cylinder) == (
                source.quantity,
                source.cylinder,
            ) and channel.values is not None:
                np.testing.assert_array_equal(channel.values, inside(source)[rows])


def damage(line: str, kind: str, form: Form, rng: random.Random) -> str:
    """One line, spoiled in such a way that it can be no row any more."""
    cells = line.split(form.delimiter)
    place = rng.randrange(1, len(cells) - 1)
    if kind == "drop-cell":
        del cells[place]
    elif kind == "add-cell":
        cells.insert(place, "17")
    elif kind == "cut":
        cells = cells[: max(1, place)]
    elif kind == "open-quote":
        cells[place] = '"' + cells[place].strip('"')
    elif kind == "quote-inside":
        cells[place] = '"1"7'
    elif kind == "nul-bytes":
        cells[place] = "\0" * rng.randrange(1, 40)
    elif kind == "nul-line":
        return "\0" * rng.randrange(1, 600)
    elif kind == "joined":
        return line + line
    elif kind == "no-time":
        times = 2 if form.time in {"iso-two", "month-first-two", "day-first-two"} else 1
        cells[:times] = ["?"] * times
    return form.delimiter.join(cells)


@SLOW
@given(form=forms(packed=False), table=tables(st.sampled_from((12, 30))), seed=st.integers(0, 1_000_000))
def test_bad_lines_are_skipped_counted_and_named_and_all_others_kept(
    form: Form, table: list[Source], seed: int
) -> None:
    assume(form.delimiter != form.decimal)  # the lines are spoiled cell by cell, by their delimiter
    rng = random.Random(seed)  # noqa: S311  damage, not secrets
    written = write(table, form)
    kinds = [kind for kind in KINDS if kind != "no-time" or form.time not in {"none", "row-number"}]
    lines = list(written.lines)
    bad = sorted(rng.sample(range(2, len(written.row_lines)), 3))
    for row in bad:
        place = written.row_lines[row] - 1
        lines[place] = damage(lines[place], rng.choice(kinds), form, rng)
    recording = read_recording(io.BytesIO(encode(lines, form)), name="flight")
    good = [row for row in range(len(written.row_lines)) if row not in bad]
    assert_holds_rows(recording, table, good, [written.row_lines[row] for row in good])
    assert recording.rows_skipped == len(bad)
    named = {finding.line for finding in recording.findings if finding.code == "line-skipped"}
    assert named == {written.row_lines[row] for row in bad}


def row_ends(written: Written, form: Form) -> list[int]:
    """Number of bytes up to and with the line end of each row."""
    return [len(encode(list(written.lines[:line]), form)) for line in written.row_lines]


def test_a_plain_file_cut_at_every_byte() -> None:
    form = Form()
    table = make_table(4, 4, 11, missing=0.1)
    written = write(table, form)
    ends = row_ends(written, form)
    for cut in range(len(written.data)):
        whole = sum(end <= cut for end in ends)
        try:
            recording = read_recording(io.BytesIO(written.data[:cut]), name="flight")
        except LeanwrightError:
            assert whole == 0
            continue
        # A row whose line end alone is missing is whole as well.
        text_whole = sum(end - 1 <= cut for end in ends)
        assert whole <= recording.rows_kept <= text_whole
        rows = list(range(recording.rows_kept))
        assert_holds_rows(recording, table, rows, list(written.row_lines[: recording.rows_kept]))
        assert recording.rows_kept + recording.rows_skipped == whole + (cut not in ends)


@SLOW
@given(data=st.binary(max_size=600))
def test_any_bytes_are_read_or_refused_with_a_sentence(data: bytes) -> None:
    try:
        recordings = read_recordings(io.BytesIO(data), name="anything")
    except LeanwrightError as error:
        refused = str(error)
    else:
        refused = ""
        assert recordings
    assert not refused or refused.endswith(".")


@SLOW
@given(
    form=forms(),
    table=tables(st.sampled_from((2, 12))),
    seed=st.integers(0, 1_000_000),
    count=st.integers(1, 30),
)
def test_spoiled_bytes_never_crash_the_reader(form: Form, table: list[Source], seed: int, count: int) -> None:
    rng = random.Random(seed)  # noqa: S311  damage, not secrets
    data = bytearray(write(table, form).data)
    for _ in range(count):
        place = rng.randrange(len(data))
        action = rng.randrange(3)
        if action == 0:
            data[place] = rng.randrange(256)
        elif action == 1:
            del data[place : place + rng.randrange(1, 20)]
        else:
            data[place:place] = rng.randbytes(rng.randrange(1, 8))
        if not data:
            break
    try:
        recordings = read_recordings(io.BytesIO(bytes(data)), name="spoiled")
    except LeanwrightError:
        return
    for recording in recordings:
        assert recording.rows_kept > 0
        assert np.all(np.diff(recording.time_s) >= 0)
        assert len({channel.values.size for channel in recording.channels if channel.values is not None}) <= 1


NUMBERS = st.one_of(
    st.floats(allow_nan=False, allow_infinity=False).map(repr),
    st.floats(-2000, 2000).map(lambda value: f"{value:.1f}"),
    st.integers(-(10**40), 10**40).map(str),
    st.sampled_from(
        ("1e308", "-1e308", "5e-324", "1e30", "1e31", "0", "-0", "9" * 400, "0." + "0" * 400 + "1")
    ),
)


@SLOW
@given(
    rows=st.lists(st.tuples(NUMBERS, NUMBERS, NUMBERS), min_size=1, max_size=12),
    unit=st.sampled_from(("", " (degF)", " (degC)")),
)
def test_any_numbers_are_pythons_floats_or_missing_and_nothing_overflows(
    rows: list[tuple[str, str, str]], unit: str
) -> None:
    text = "\n".join([f"Time,EGT1{unit},ZZZ", *(",".join(row) for row in rows), ""])
    recording = read_recording(io.BytesIO(text.encode()))
    kept = [rows[line - 2] for line in recording.lines.tolist()]
    expected = [float(cell) if abs(float(cell)) <= 1e30 else np.nan for _, _, cell in kept]
    values = recording.channels[2].values
    if values is not None:  # a strange column that mostly holds what is no number is text
        np.testing.assert_array_equal(values, expected)
    assert np.all(np.diff(recording.time_s) >= 0)
    assert recording.rows_kept + recording.rows_skipped == len(rows)
