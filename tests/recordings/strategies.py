"""Random ways to write the known table down."""

from typing import get_args

from hypothesis import strategies as st

from tests.recordings.rendering import ENCODINGS, METRIC, US, Form, Quote, Source, TimeForm, make_table

METADATA = (
    (),
    ("# flight 7", "# serial: 123"),
    ("Aircraft: invented", "Serial: 4711, rev 3", "Notes, a, b, c"),
    ("Owner;nobody", "Version;1,2", ""),
)
MISSING = (("",), ("---", "N/A", ""), ("-",), ("NaN",), ("OPEN", ""), ("--.-", "null"))


@st.composite
def forms(draw: st.DrawFn, *, whole_end: bool = True, packed: bool = True) -> Form:
    """A form of writing, any of those that the reader promises to understand."""
    delimiter = draw(st.sampled_from((",", ";", "\t", "|")))
    quotes: tuple[Quote, ...] = ("none", "all", "names")
    quote = draw(st.sampled_from(quotes))
    return Form(
        delimiter=delimiter,
        decimal=draw(st.sampled_from((".", ","))) if delimiter != "," or quote == "all" else ".",
        time=draw(st.sampled_from(get_args(TimeForm))),
        units=draw(st.sampled_from(("header", "row", "none"))),
        name_style=draw(st.integers(0, 7)),
        unit_style=draw(st.integers(0, 3)),
        metadata=draw(st.sampled_from(METADATA)),
        quote=quote,
        pad=draw(st.sampled_from(("", " ", "  "))),
        trailing=draw(st.booleans()),
        missing=draw(st.sampled_from(MISSING)),
        encoding=draw(st.sampled_from(ENCODINGS)),
        line_ends=draw(st.sampled_from((("\n",), ("\r\n",), ("\r",), ("\n", "\r\n")))),
        final_end=whole_end or draw(st.booleans()),
        packing=draw(st.sampled_from(("plain", "gzip", "zip"))) if packed else "plain",
        from_zero=draw(st.booleans()),
        order=tuple(draw(st.permutations(range(8)))),
        text_column=draw(st.booleans()),
        repeat_header_every=draw(st.sampled_from((0, 0, 7))),
        interval_s=draw(st.sampled_from((0.2, 0.5, 1.0, 6.0))),
    )


@st.composite
def tables(draw: st.DrawFn, rows: st.SearchStrategy[int]) -> list[Source]:
    """The known table of an invented engine, in US or metric units."""
    return make_table(
        draw(rows),
        draw(st.sampled_from((4, 6))),
        draw(st.integers(0, 10_000)),
        draw(st.sampled_from((US, METRIC))),
        draw(st.sampled_from((0.0, 0.02, 0.2))),
    )
