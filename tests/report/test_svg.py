"""Drawings are well-formed, escaped and without style or script, whatever text comes in."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leanwright.report.figures.svg import figure, group, number, ornament, text
from tests.report.drawings import SVG, parse

HOSTILE = ["<script>alert(1)</script>", '"onload="x', "a & b < c", "\u202eabc\x00\x1b[31m", "]]>", "\ud800"]


@pytest.mark.parametrize("words", HOSTILE)
def test_text_from_outside_stays_text(words: str) -> None:
    drawn = figure(10, 10, [group([text("t-note", 0, 0, words)], title=words)], label=words)
    root = parse(drawn)
    assert [one.tag for one in root.iter()] == [f"{SVG}svg", f"{SVG}g", f"{SVG}title", f"{SVG}text"]
    assert not re.search(r"[\x00-\x08\x0b-\x1f\u202a-\u202e\u2066-\u2069]", drawn)


@given(st.text(st.characters(codec=None)))
def test_any_text_gives_a_well_formed_drawing(words: str) -> None:
    parse(figure(10, 10, [text("t-note", 0, 0, words, haloed=True)], label=words, described_by="x"))


def test_a_figure_is_an_image_with_words_and_its_table() -> None:
    root = parse(figure(20, 10, [], label="It shows.", described_by="table", form="ladder"))
    assert dict(root.attrib) == {
        "viewBox": "0 0 20 10",
        "width": "20",
        "height": "10",
        "font-family": root.get("font-family"),
        "class": "ladder",
        "role": "img",
        "aria-label": "It shows.",
        "aria-describedby": "table",
    }


def test_an_ornament_is_passed_over_by_screen_readers() -> None:
    assert parse(ornament(20, 10, [])).get("aria-hidden") == "true"


@given(st.floats(-1e4, 1e4))
def test_a_coordinate_is_short_and_near(value: float) -> None:
    assert abs(float(number(value)) - value) <= 0.0050001
    assert len(number(value)) <= 9
