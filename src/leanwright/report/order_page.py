"""The list of what a plan orders, to be printed or sent."""

from collections.abc import Sequence

from leanwright.analysis.chosen import Chosen
from leanwright.report.answer_page import AnswerTexts, Part, filled, main_of
from leanwright.report.cleaning import clean
from leanwright.report.main_part import Door, MainPart
from leanwright.report.numbers import plain
from leanwright.report.plan_text import order_words
from leanwright.report.units import System
from leanwright.report.words import Voice, say
from leanwright.report.words.catalogue import load


def order_main(
    chosen: Chosen, *, units: System = "us", language: str = "en", doors: Sequence[Door] = ()
) -> MainPart:
    """A row a marking, or a flow factor where no set is named; the plan's own sentence where nothing is ordered."""
    voice = Voice(load(language), units, chosen.measured.profile)
    title = order_words(chosen.order, voice) if chosen.order else say(chosen.plan.reasons[0], voice)
    head = [voice.label(name) for name in ("plan-nozzle", "paper-quantity", "plan-flow-factor", "cylinder")]
    rows = [
        [
            clean(row.marking or "", 60),
            str(row.quantity),
            plain(row.flow_factor, 3, voice.marks),
            ", ".join(f"{number} {voice.place(number)}".rstrip() for number in row.cylinders),
        ]
        for row in chosen.order
    ]
    approval = [say(chosen.approval.said, voice)] if chosen.approval else []
    parts = filled(Part(voice.label("paper-ordered"), head, rows, 1, prose=1))
    texts = AnswerTexts(title, approval, (), "", parts, [], voice.label("plan-caution"))
    return main_of(texts, chosen.measured, voice, doors)
