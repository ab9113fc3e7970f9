"""What if: where nozzles put by hand would bring each cylinder, and what could be put where."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from leanwright.analysis.chosen import Chosen
from leanwright.analysis.planned import Place, Trial
from leanwright.findings import Statement
from leanwright.report.answer_page import AnswerTexts, Part, drawn_plan, filled, main_of
from leanwright.report.cleaning import clean
from leanwright.report.figures.glyph import place_glyph
from leanwright.report.main_part import MainPart
from leanwright.report.numbers import plain
from leanwright.report.plan_text import choice_table, cylinder_table, order_words
from leanwright.report.templating import own_drawing
from leanwright.report.units import System
from leanwright.report.words import Voice, say, say_all
from leanwright.report.words.catalogue import load


@dataclass(frozen=True, slots=True)
class Pick:
    """One thing that could be put into a cylinder, in words; ``allowed`` is whether its rule lets it go there."""

    name: str
    words: str
    allowed: bool


@dataclass(frozen=True, slots=True)
class Spot:
    """One cylinder of a trial: where it lies, what could be put there, and why what was asked for was refused."""

    cylinder: int
    place: str
    glyph: Markup
    picks: tuple[Pick, ...]
    refused: str


@dataclass(frozen=True, slots=True)
class TrialMain:
    """What a trial comes to: its sentences, the first one first, and the rest without a frame."""

    said: tuple[str, ...]
    part: MainPart


def trial_main(chosen: Chosen, *, units: System = "us", language: str = "en") -> TrialMain:
    """Word and draw a trial."""
    voice = Voice(load(language), units, chosen.measured.profile)
    said = say_all(chosen.plan.reasons, voice)
    texts = AnswerTexts(
        said[0],
        said[1:],
        drawn_plan(chosen, voice, said[0]),
        voice.label("ladder-tried-caption"),
        filled(
            Part(voice.label("plan-choices"), *choice_table(chosen, voice), 2),
            Part(voice.label("plan-each"), *cylinder_table(chosen, voice), 2),
        ),
        [order_words(chosen.order, voice)] if chosen.order else [],
        voice.label("plan-caution"),
    )
    return TrialMain(tuple(said), main_of(texts, chosen.measured, voice, headless=True))


def spots(trial: Trial, chosen: Chosen, *, units: System = "us", language: str = "en") -> tuple[Spot, ...]:
    """Every cylinder of a trial, the leanest now first, as on the ladder."""
    voice = Voice(load(language), units, chosen.measured.profile)
    now = {one.cylinder: one.offset_percent or 0.0 for one in chosen.measured.balance.cylinders}
    return tuple(
        _spot(number, trial.places[number], trial.refused, voice)
        for number in sorted(trial.places, key=lambda number: -now[number])
    )


def _spot(number: int, places: Sequence[Place], refused: Mapping[int, Statement], voice: Voice) -> Spot:
    why = refused.get(number)
    return Spot(
        number,
        voice.place(number),
        own_drawing(place_glyph(voice.profile, number))
        if voice.profile and voice.profile.places
        else Markup(""),
        tuple(Pick(one.name, _words(one, voice), one.allowed) for one in places),
        say(why, voice) if why is not None else "",
    )


def _words(one: Place, voice: Voice) -> str:
    if one.origin == "keep":
        stays = voice.label("plan-stays")
        return stays if one.marking is None else f"{stays} ({clean(one.marking, 24)})"
    factor = f"× {plain(one.flow_factor, 3, voice.marks)}" if one.allowed else ""
    if one.origin == "exchange":
        return f"{voice.label('plan-from', cylinder=one.from_cylinder)}, {factor}"
    if one.marking is None:
        return factor
    marking = clean(one.marking, 24)
    named = voice.label("plan-on-shelf", nozzle=marking) if one.origin == "shelf" else marking
    return f"{named}, {factor}" if factor else named
