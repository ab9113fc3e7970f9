"""How to lean this engine now, without a frame: sentences, and a row a total flow with a column a cylinder."""

from leanwright.report.answer_page import AnswerTexts, Part, main_of
from leanwright.report.leaning_document import Advice
from leanwright.report.leaning_text import OUTSIDE, guide_table, limit_words, sentences
from leanwright.report.main_part import MainPart
from leanwright.report.units import System
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load


def leaning_main(advice: Advice, *, units: System = "us", language: str = "en") -> MainPart:
    """The guide, or that none can be given."""
    voice = Voice(load(language), units, advice.measured.profile)
    caution = f"{voice.label('leaning-caution')} {voice.label('caution')}"
    if advice.guide is None:
        texts = AnswerTexts(voice.label("leaning-none"), (), (), "", (), (), caution)
        return main_of(texts, advice.measured, voice)
    said = sentences(advice, advice.guide, voice)
    head, rows = guide_table(advice.guide, voice)
    head[-1] = OUTSIDE  # an empty head is none for a screen reader; the key below tells what the sign means
    notes = [voice.label("leaning-key"), *limit_words(advice, voice)]
    texts = AnswerTexts(
        said[0], said[1:], (), "", [Part(voice.label("plan-each"), head, rows)], notes, caution
    )
    return main_of(texts, advice.measured, voice)
