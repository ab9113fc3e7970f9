"""A header made of words that no vocabulary holds, above a row of units: the header stays the header."""

import io

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from leanwright.recordings.cells import is_missing
from leanwright.recordings.label import is_unit_cell, read_label
from leanwright.recordings.read import read_recording

UNITS = ("degF", "°C", "gal/h", "rpm", "inHg", "ft", "kt", "V", "psi", "s", "%", "m/s", "-")


def is_strange(word: str) -> bool:
    """Whether the program knows nothing about a word."""
    return read_label(word).quantity is None and not is_unit_cell(word) and not is_missing(word)


WORDS = st.text(st.characters(codec="utf-8", categories=("Lu", "Ll")), min_size=3, max_size=12).filter(
    is_strange
)


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    words=st.lists(WORDS, min_size=2, max_size=8, unique_by=str.casefold),
    units=st.lists(st.sampled_from(UNITS), min_size=8, max_size=8),
    blanks=st.sets(st.integers(0, 7), max_size=2),
    rows=st.integers(2, 30),
    delimiter=st.sampled_from((",", ";", "\t")),
    metadata=st.sampled_from(((), ("# invented",), ("Panel: invented", "Serial: 17"))),
)
def test_a_row_of_units_never_becomes_the_header_of_strange_names(
    words: list[str], units: list[str], blanks: set[int], rows: int, delimiter: str, metadata: tuple[str, ...]
) -> None:
    cells = ["" if place in blanks else unit for place, unit in enumerate(units[: len(words)])]
    if not any(cell and is_unit_cell(cell) for cell in cells):
        cells[0] = "degF"
    lines = [*metadata, delimiter.join(words), delimiter.join(cells)]
    lines += [delimiter.join(f"{100 * place + row}" for place in range(len(words))) for row in range(rows)]
    recording = read_recording(io.BytesIO("\n".join([*lines, ""]).encode()), name="f")
    assert [channel.column for channel in recording.channels] == words
    assert recording.lines.tolist() == list(range(len(metadata) + 3, len(metadata) + 3 + rows))
    assert recording.rows_skipped == 0
