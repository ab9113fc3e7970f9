"""Dates in words, against the long form of the Unicode CLDR as Babel holds it."""

from datetime import date

import pytest
from babel.dates import format_date

from leanwright.findings import Statement
from leanwright.report.words import Voice, say
from leanwright.report.words.catalogue import LANGUAGES, load
from leanwright.report.words.dates import day_in_words, moment_in_words
from leanwright.told import Told

LOCALES = {"en": "en_GB"}
"""British English has the day before the month, as looks asks; the other languages stand for themselves."""


def spaced(text: str) -> str:
    return text.replace("\u00a0", " ")


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("month", range(1, 13))
def test_a_day_is_written_as_the_unicode_cldr_writes_it(language: str, month: int) -> None:
    day = date(2031, month, 12)
    expected = format_date(day, "long", locale=LOCALES.get(language, language))
    assert spaced(day_in_words(day, load(language))) == spaced(expected)
    assert day_in_words(day.isoformat(), load(language)) == day_in_words(day, load(language))


def test_a_moment_has_the_time_to_the_minute() -> None:
    assert spaced(moment_in_words("2031-04-12T14:32:59Z", load("de"))) == "12. April 2031, 14:32"


@pytest.mark.parametrize("text", ["", "soon", "2031-13-01", "12/4/31"])
def test_what_is_no_date_stays_as_it_is(text: str) -> None:
    assert (day_in_words(text, load("en")), moment_in_words(text, load("en"))) == (text, text)


def test_a_told_text_has_its_dates_in_words_for_a_reader_and_as_iso_in_files() -> None:
    inner = Told("Wrench {id} is out of calibration since {due}", id="TW-11", due=date(2031, 4, 30))
    outer = Told("{said} {more}", said=inner, more=3)
    assert spaced(Voice(load("en")).told(outer)) == "Wrench TW-11 is out of calibration since 30 April 2031 3"
    assert "30. April 2031" in spaced(Voice(load("de")).told(outer))
    assert str(outer) == "Wrench TW-11 is out of calibration since 2031-04-30 3"


def test_a_sentence_has_its_dates_in_words() -> None:
    values = {"date_before": "2031-05-18", "date_now": "2031-05-17"}
    assert "(18 May 2031)" in spaced(say(Statement("causes-before-later", values), Voice(load("en"))))
