"""Text from outside is harmless to look at."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leanwright.report.cleaning import ascii_only, clean


@given(st.text(st.characters(codec=None)))
def test_no_control_or_format_character_is_left(text: str) -> None:
    assert [c for c in clean(text) if unicodedata.category(c)[0] == "C"] == []


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("EGT 1", "EGT 1"),
        ("a\tb\r\nc", "a b c"),
        ("\u202egnp.exe", "gnp.exe"),
        ("\ud800x", "x"),
        ("<b>&</b>", "<b>&</b>"),
    ],
)
def test_what_is_shown(text: str, shown: str) -> None:
    assert clean(text) == shown


def test_long_text_is_cut_with_a_mark() -> None:
    assert clean("x" * 1000, 10) == "x" * 9 + "…"


@given(st.text())
def test_ascii_is_ascii(text: str) -> None:
    assert ascii_only(text).isascii()


def test_ascii_keeps_what_can_be_kept() -> None:
    assert ascii_only("±0.1 −2 °F · Łódź é…") == "+-0.1 -2 F . ?odz e..."
