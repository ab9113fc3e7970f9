"""The card of the next flight: one page on either paper, in every language, with the caution once."""

from pathlib import Path

import pytest

from leanwright.analysis.flight_card import Limit, Limits, flight_card
from leanwright.report.card_page import card_page
from leanwright.report.card_text import card_text
from leanwright.report.sheets.balance import Paper
from leanwright.report.sheets.card import card_pdf
from leanwright.report.words.catalogue import LANGUAGES
from tests.report.paper import pages_of

LIMITS = Limits("Manual (invented)", "4", (Limit("CHT", "°F", most=420), Limit("height", "ft", least=3000.5)))
HOSTILE = '<script>#panic("x") *b* $x$ @ref'


def spaced(text: str) -> str:
    return " ".join(text.replace("\u00a0", " ").split())


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_longest_card_is_one_page_in_every_language(paper: Paper, language: str, tmp_path: Path) -> None:
    longest = flight_card(None, 0.001)
    assert len(longest.sweeps) == 8
    for limits in (LIMITS, None):
        sheet = card_pdf(longest, limits=limits, language=language, paper=paper)
        assert len(pages_of(sheet, tmp_path)) == 1


def test_the_same_card_gives_the_same_bytes() -> None:
    card = flight_card(None)
    assert card_pdf(card) == card_pdf(card)
    assert card_page(card) == card_page(card)


def test_the_caution_and_each_limit_stand_once_on_sheet_page_and_terminal(tmp_path: Path) -> None:
    card = flight_card(None)
    shown = [
        pages_of(card_pdf(card, limits=LIMITS), tmp_path)[0],
        card_page(card, limits=LIMITS),
        card_text(card, limits=LIMITS),
    ]
    for text in map(spaced, shown):
        assert text.count("win over this card") == 1
        assert "at most 420 °F" in text
        assert "at least 3000.5 ft" in text
        assert "Manual (invented) 4" in text


def test_what_the_owner_typed_is_text_and_never_markup(tmp_path: Path) -> None:
    limits = Limits(HOSTILE, "", (Limit(HOSTILE, "°F", most=1),))
    card = flight_card(None)
    assert "panic" in pages_of(card_pdf(card, limits=limits), tmp_path)[0]
    assert "<script>" not in card_page(card, limits=limits)


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_terminal_has_room_for_it(language: str) -> None:
    text = card_text(flight_card(None), language=language, ascii_only=True)
    assert text.isascii()
    assert max(map(len, text.splitlines())) <= 80


def test_a_goal_that_cannot_be_met_is_said() -> None:
    assert "That is more than the ± 0.001 gal/h wanted" in spaced(card_text(flight_card(None, 0.001)))
