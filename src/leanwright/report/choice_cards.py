"""Choices side by side: each with its small ladder, its chance and what it comes to."""

from dataclasses import dataclass
from typing import Final

from markupsafe import Markup

from leanwright.analysis.chosen import Chosen
from leanwright.report.beside import of_choices
from leanwright.report.figures.ladder_small import small_plan
from leanwright.report.plan_text import choice_table
from leanwright.report.templating import own_drawing
from leanwright.report.words import Voice

MOST: Final = 4
"""Choices that stand beside each other."""


@dataclass(frozen=True, slots=True)
class ChoiceCard:
    """One choice, finished: its name, its drawing, and rows of what and how much."""

    name: str
    figure: Markup
    chance: str
    rows: tuple[tuple[str, str], ...]
    recommended: bool


def choice_cards(chosen: Chosen, voice: Voice) -> tuple[ChoiceCard, ...]:
    """The first choices, from leaving it on; the recommended one is always among them."""
    plan = chosen.plan
    head, rows = choice_table(chosen, voice)
    best = plan.chosen if plan.action == "change" else None
    picked = [number for number in range(len(rows)) if number < MOST or plan.choices[number] == best]
    if len(picked) > MOST:
        picked = [*picked[: MOST - 1], picked[-1]]
    choices = [plan.choices[number] for number in picked]
    drawn = of_choices(chosen, choices, voice.units)
    if not drawn:
        return ()
    return tuple(
        ChoiceCard(
            name=f"{rows[number][0]}{voice.colon}{rows[number][1]}" if rows[number][1] else rows[number][0],
            figure=own_drawing(small_plan(one, choice.changed, label=rows[number][0])),
            chance=rows[number][2],
            rows=tuple((head[at], rows[number][at]) for at in range(3, len(head)) if rows[number][at]),
            recommended=choice == best,
        )
        for number, choice, one in zip(picked, choices, drawn, strict=True)
    )
