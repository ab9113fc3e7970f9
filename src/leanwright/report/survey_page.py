"""A survey as one self-contained page: how the spreads are distributed over the engines, and each engine, worst first."""

from leanwright.report.answer_page import AnswerTexts, Part, page_of
from leanwright.report.cleaning import clean
from leanwright.report.figures.svg import figure, line, rect, text
from leanwright.report.survey_document import Surveyed
from leanwright.report.survey_text import copies, engine_table, spread_counts, survey_sentences
from leanwright.report.units import System, sign_of
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load

_WIDTHS = (1040.0, 700.0, 328.0)
_BAND, _LEFT = 30.0, 110.0


def survey_page(surveyed: Surveyed, *, units: System = "us", language: str = "en") -> str:
    """The whole page. The same survey always gives the same bytes."""
    voice = Voice(load(language), units)
    return page_of(survey_texts(surveyed, voice), "spread-heading", voice)


def survey_texts(surveyed: Surveyed, voice: Voice) -> AnswerTexts:
    """How the spreads are distributed, and each engine."""
    title, *said = survey_sentences(surveyed, voice)
    caption = voice.label("spread", unit=sign_of("gph", voice.units))
    several = sum(one.spread_gph is not None for one in surveyed.engines) > 1
    return AnswerTexts(
        title,
        said,
        tuple(_drawn(surveyed, voice, width, f"{caption}: {title}") for width in _WIDTHS) if several else (),
        f"{caption}: {voice.label('survey-engines')}",
        [Part(_heading(voice), *engine_table(surveyed.engines, voice), 1)] if surveyed.engines else [],
        [*copies(surveyed.rows, voice), *_unreadable(surveyed, voice)],
        voice.label("caution"),
    )


def _unreadable(surveyed: Surveyed, voice: Voice) -> list[str]:
    """A line for each file that was not read, with its reason."""
    return [
        f"{voice.label('survey-unreadable')} {clean(name, 60)}. {clean(voice.told(reason), 300)}"
        for name, reason in surveyed.unreadable
    ]


def _heading(voice: Voice) -> str:
    name = voice.label("survey-engines")
    return name[:1].upper() + name[1:]


def _drawn(surveyed: Surveyed, voice: Voice, width: float, label: str) -> str:
    """A bar a range of the spread, as long as engines lie in it."""
    rows = spread_counts(surveyed.engines, voice)
    longest = max(count for _range, count in rows)
    marks = [line("rail-thin", _LEFT, 4.0, _LEFT, _BAND * len(rows))]
    for place, (between, count) in enumerate(rows):
        middle = _BAND * (place + 0.5)
        marks.append(text("t-words", _LEFT - 8.0, middle + 5.0, between, "end"))
        if count:
            long = (width - _LEFT - 50.0) * count / longest
            marks.append(rect("arrow", _LEFT, middle - 9.0, long, 18.0))
            marks.append(text("t-words", _LEFT + long + 8.0, middle + 5.0, str(count)))
    return figure(width, _BAND * len(rows) + 6.0, marks, label=label)
