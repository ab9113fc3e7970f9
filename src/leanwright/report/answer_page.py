"""Plan, comparison and causes as self-contained pages: sentence, what to do, figure, tables, what else is to be said."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from leanwright.analysis.chosen import Chosen
from leanwright.analysis.explained import Explained
from leanwright.analysis.measured import Measured
from leanwright.analysis.proved import Proved
from leanwright.report import page
from leanwright.report.beside import Compared, of_comparison, of_plan
from leanwright.report.captions import engine_words
from leanwright.report.causes_text import adding_up, cause_table
from leanwright.report.choice_cards import ChoiceCard, choice_cards
from leanwright.report.compare_text import cylinder_table as compared_cylinders
from leanwright.report.figures.glyph import place_glyph
from leanwright.report.figures.ladder_beside import compared_ladder, planned_ladder
from leanwright.report.figures.share import share_bar
from leanwright.report.figures.signs import mark
from leanwright.report.frame import framed
from leanwright.report.main_part import Door, MainPart, doors_in
from leanwright.report.numbers import NO_BREAK
from leanwright.report.plan_text import choice_table, order_words, recommended
from leanwright.report.plan_text import cylinder_table as planned_cylinders
from leanwright.report.templating import environment, own_drawing
from leanwright.report.units import System
from leanwright.report.words import Voice, say, say_all
from leanwright.report.words.catalogue import load

_WIDTHS = (1040.0, 700.0, 328.0)
"""A wide screen, a middling one and a phone [px]."""


@dataclass(frozen=True, slots=True)
class Part:
    """One table; ``left`` columns are set to the left. What stands in no row of a column is left out."""

    heading: str
    head: Sequence[str]
    rows: Sequence[Sequence[str]]
    left: int = 1
    note: str = ""
    prose: int = 0
    """So many columns at the end hold sentences, which may be broken."""
    drawn: Sequence[tuple[Markup, Markup]] = ()
    """What is drawn in each row before its first cell, and before its second."""


@dataclass(frozen=True, slots=True)
class AnswerTexts:
    """Everything on such a page, finished; ``figures`` are for a wide screen, a middling one and a phone, or none."""

    title: str
    said: Sequence[str]
    figures: tuple[str, ...]
    caption: str
    parts: Sequence[Part]
    notes: Sequence[str]
    caution: str


def plan_texts(chosen: Chosen, voice: Voice) -> AnswerTexts:
    """Word and draw a plan."""
    approval = () if chosen.approval is None else (chosen.approval.said,)
    said = say_all((*chosen.plan.reasons, *chosen.notes, *approval), voice)
    first = len(chosen.plan.reasons)
    order = [order_words(chosen.order, voice)] if chosen.order else []
    return AnswerTexts(
        said[0],
        said[1:first],
        drawn_plan(chosen, voice, said[0]),
        voice.label("ladder-planned-caption"),
        filled(
            Part(voice.label("plan-choices"), *choice_table(chosen, voice), 2, recommended(chosen, voice)),
            Part(voice.label("plan-each"), *planned_cylinders(chosen, voice), 2),
        ),
        [*order, *said[first:]],
        voice.label("plan-caution"),
    )


def drawn_plan(chosen: Chosen, voice: Voice, label: str) -> tuple[str, ...]:
    """Where the chosen change is likely to bring each cylinder, drawn for each width; none where nothing is chosen."""
    profile, shown = chosen.measured.profile, of_plan(chosen, voice.units)
    if shown is None:
        return ()
    return tuple(planned_ladder(shown, profile, voice, width=width, label=label) for width in _WIDTHS)


def compare_texts(proved: Proved, voice: Voice) -> AnswerTexts:
    """Word and draw a comparison."""
    said = say_all((*proved.comparison.reasons, *proved.notes), voice)
    profile, shown = proved.before.profile, of_comparison(proved, voice.units)

    def draw(compared: Compared, width: float) -> str:
        ident = f"ladder-{width:.0f}"
        return compared_ladder(compared, profile, voice, width=width, label=said[0], ident=ident)

    return AnswerTexts(
        said[0],
        said[1:],
        () if shown is None else tuple(draw(shown, width) for width in _WIDTHS),
        voice.label(f"ladder-compared-caption{'-plain' if shown is None or not shown.predicted else ''}"),
        filled(Part(voice.label("plan-each"), *compared_cylinders(proved, voice))),
        [],
        voice.label("caution"),
    )


def causes_texts(explained: Explained, voice: Voice) -> AnswerTexts:
    """Word the causes."""
    found = explained.causes
    said = say_all((*(found.headline if found else ()), *explained.reasons), voice)
    settle = [say(found.settle, voice)] if found is not None and found.settle is not None else []
    notes = say_all((*(found.notes if found else ()), *explained.notes), voice)
    parts = []
    if found:
        drawn = [
            (_places(one.cylinders, voice), own_drawing(share_bar(one.probability))) for one in found.causes
        ]
        note = adding_up(found, voice)
        heading = voice.label("causes-heading")
        parts = filled(Part(heading, *cause_table(found, voice), 4, note, prose=3, drawn=drawn))
    return AnswerTexts(said[0], [*said[1:], *settle], (), "", parts, notes, voice.label("caution"))


def _places(cylinders: Sequence[int], voice: Voice) -> Markup:
    """The place of each cylinder in little."""
    if voice.profile is None:
        return Markup()
    return Markup().join(own_drawing(place_glyph(voice.profile, number)) for number in cylinders)


def filled(*parts: Part) -> list[Part]:
    """Those with rows, each without the columns in which nothing stands."""
    return [_without_empty(part) for part in parts if part.rows]


def _without_empty(part: Part) -> Part:
    kept = [column for column in range(len(part.head)) if any(row[column] for row in part.rows)]
    return Part(
        part.heading,
        [part.head[column] for column in kept],
        [[row[column] for column in kept] for row in part.rows],
        sum(column < part.left for column in kept),
        part.note,
        sum(column >= len(part.head) - part.prose for column in kept),
        part.drawn,
    )


def plan_page(chosen: Chosen, *, units: System = "us", language: str = "en") -> str:
    """A plan as one page. The same plan always gives the same bytes."""
    voice = Voice(load(language), units, chosen.measured.profile)
    return _page(plan_texts(chosen, voice), chosen.measured, voice)


def compare_page(proved: Proved, *, units: System = "us", language: str = "en") -> str:
    """A comparison as one page. The same comparison always gives the same bytes."""
    voice = Voice(load(language), units, proved.before.profile)
    return _page(compare_texts(proved, voice), proved.after, voice)


def causes_page(explained: Explained, *, units: System = "us", language: str = "en") -> str:
    """Causes as one page. The same causes always give the same bytes."""
    voice = Voice(load(language), units, explained.now.profile)
    return _page(causes_texts(explained, voice), explained.now, voice)


def plan_main(
    chosen: Chosen, *, units: System = "us", language: str = "en", doors: Sequence[Door] = ()
) -> MainPart:
    """A plan without a frame."""
    voice = Voice(load(language), units, chosen.measured.profile)
    return main_of(plan_texts(chosen, voice), chosen.measured, voice, doors, choice_cards(chosen, voice))


def compare_main(
    proved: Proved, *, units: System = "us", language: str = "en", doors: Sequence[Door] = ()
) -> MainPart:
    """A comparison without a frame."""
    voice = Voice(load(language), units, proved.before.profile)
    return main_of(compare_texts(proved, voice), proved.after, voice, doors)


def causes_main(
    explained: Explained, *, units: System = "us", language: str = "en", doors: Sequence[Door] = ()
) -> MainPart:
    """Causes without a frame."""
    voice = Voice(load(language), units, explained.now.profile)
    return main_of(causes_texts(explained, voice), explained.now, voice, doors)


def main_of(
    texts: AnswerTexts,
    measured: Measured | None,
    voice: Voice,
    doors: Sequence[Door] = (),
    cards: Sequence[ChoiceCard] = (),
    *,
    headless: bool = False,
    heading: str = "",
) -> MainPart:
    """Such a page without a frame.

    ``headless`` leaves the sentences to whoever puts it somewhere; ``heading`` names the label above a figure that is no ladder.
    """
    content = _content(texts, measured, voice, doors) | {"cards": cards, "headless": headless}
    if heading:
        content["label"] = _headed(voice, heading)
    body = environment().get_template("answer_main.html.j2").render(content)
    title = texts.title.replace(NO_BREAK, " ")
    return MainPart(title, Markup(body), content["engine"], content["invented"])  # noqa: S704  escaped there


def _content(
    texts: AnswerTexts, measured: Measured | None, voice: Voice, doors: Sequence[Door] = ()
) -> dict[str, Any]:
    return {
        "label": voice.label,
        "mark": own_drawing(mark()),
        "engine": "" if measured is None else engine_words(measured, voice),
        "invented": "" if measured is None else page.says_invented(measured, voice),
        "texts": texts,
        "figures": tuple(map(own_drawing, texts.figures)),
        "foot": ", ".join(one.recording.sha256 for one in measured.results) if measured else "",
        "doors": doors_in(doors, voice),
        "cards": (),
        "headless": False,
    }


def page_of(texts: AnswerTexts, heading: str, voice: Voice) -> str:
    """A page that is about no single engine; ``heading`` names the label above its figure."""
    content = _content(texts, None, voice) | {"label": _headed(voice, heading)}
    body = environment().get_template("answer.html.j2").render(content)
    return framed(body, texts.title, voice.catalogue.language)


def _headed(voice: Voice, heading: str) -> Callable[..., str]:
    def label(name: str, /, **values: object) -> str:
        return voice.label(heading if name == "ladder-heading" else name, **values)

    return label


def _page(texts: AnswerTexts, measured: Measured, voice: Voice) -> str:
    body = environment().get_template("answer.html.j2").render(_content(texts, measured, voice))
    return framed(body, texts.title, voice.catalogue.language)
