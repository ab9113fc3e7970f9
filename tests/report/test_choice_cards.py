"""Choices side by side say what the table says, on one axis, and one of them is recommended."""

from leanwright.report.answer_page import plan_main
from leanwright.report.choice_cards import choice_cards
from leanwright.report.plan_text import choice_table
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from tests.report import examples
from tests.report.test_answer_page import chosen


def test_each_choice_says_what_the_table_says() -> None:
    plan = chosen()
    voice = Voice(load("en"), "us", plan.measured.profile)
    cards = choice_cards(plan, voice)
    _, rows = choice_table(plan, voice)
    assert [card.chance for card in cards] == [row[2] for row in rows]
    assert [card.recommended for card in cards] == [False, True]
    assert all(value in row for card, row in zip(cards, rows, strict=True) for _, value in card.rows)
    assert all(card.figure.count("<circle") >= 6 for card in cards)


def test_where_nothing_can_be_chosen_nothing_stands_beside() -> None:
    from dataclasses import replace

    plan = chosen()
    nothing = replace(plan, measured=examples.nothing())
    assert choice_cards(nothing, Voice(load("en"), "us", None)) == ()


def test_the_middle_of_the_page_holds_them_in_every_language() -> None:
    for language in ("en", "de", "fr", "es", "it", "pt"):
        assert '<ul class="cards">' in plan_main(chosen(), language=language).body
