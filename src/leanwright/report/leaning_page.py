"""How to lean this engine now: sentences, the figure, and a row a total flow with a column a cylinder."""

from leanwright.report.answer_page import AnswerTexts, Part, main_of, page_of
from leanwright.report.leaning_document import Advice
from leanwright.report.leaning_figure import leaning_figure
from leanwright.report.leaning_text import OUTSIDE, guide_table, limit_words, sentences
from leanwright.report.main_part import MainPart
from leanwright.report.units import System
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load

_WIDTHS = (1040.0, 700.0, 328.0)
HEADING = "leaning-heading"


def leaning_page(advice: Advice, *, units: System = "us", language: str = "en") -> str:
    """The guide, or that none can be given, as one self-contained page. The same advice gives the same bytes."""
    voice = Voice(load(language), units, advice.measured.profile)
    return page_of(leaning_texts(advice, voice), HEADING, voice)


def leaning_main(advice: Advice, *, units: System = "us", language: str = "en") -> MainPart:
    """The same without a frame."""
    voice = Voice(load(language), units, advice.measured.profile)
    return main_of(leaning_texts(advice, voice), advice.measured, voice, heading=HEADING)


def leaning_texts(advice: Advice, voice: Voice) -> AnswerTexts:
    """The sentences, figures and table of a guide, or that none can be given."""
    caution = f"{voice.label('leaning-caution')} {voice.label('caution')}"
    guide = advice.guide
    if guide is None:
        return AnswerTexts(voice.label("leaning-none"), (), (), "", (), (), caution)
    said = sentences(advice, guide, voice)
    head, rows = guide_table(guide, voice)
    head[-1] = OUTSIDE  # an empty head is none for a screen reader; the key below tells what the sign means
    return AnswerTexts(
        said[0],
        said[1:],
        tuple(leaning_figure(guide, voice, width=width, label=said[0]) for width in _WIDTHS),
        voice.label("leaning-caption"),
        [Part(voice.label("plan-each"), head, rows)],
        [voice.label("leaning-key"), *limit_words(advice, voice)],
        caution,
    )
