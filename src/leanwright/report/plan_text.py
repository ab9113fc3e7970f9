"""A plan in a terminal: what to do first, then the choices, then what is done at each cylinder."""

from collections.abc import Sequence

from leanwright.analysis.balance import CylinderBalance
from leanwright.analysis.chosen import Chosen, OrderRow
from leanwright.analysis.planned import Choice, PlannedCylinder
from leanwright.report import cells
from leanwright.report.cleaning import clean
from leanwright.report.numbers import chance, plain, with_uncertainty
from leanwright.report.text_blocks import Writer, table, wrapped, writer
from leanwright.report.units import System, sign_of
from leanwright.report.words import Voice, say_all
from leanwright.report.words.catalogue import load

_MOST_CHOICES = 8


def plan_text(chosen: Chosen, *, units: System = "us", language: str = "en", ascii_only: bool = False) -> str:
    """The whole plan as text, without a line end."""
    voice = Voice(load(language), units, chosen.measured.profile)
    write = writer(ascii_only=ascii_only)
    approval = () if chosen.approval is None else (chosen.approval.said,)
    said = say_all((*chosen.plan.reasons, *chosen.notes, *approval), voice)
    first = len(chosen.plan.reasons)
    blocks = [
        wrapped(said[:1], write),
        wrapped(said[1:first], write),
        _choices(chosen, voice, write),
        _cylinders(chosen, voice, write),
        wrapped([order_words(chosen.order, voice)], write) if chosen.order else [],
        [line for sentence in said[first:] for line in wrapped([sentence], write)],
        wrapped([voice.label("plan-caution")], write),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _choices(chosen: Chosen, voice: Voice, write: Writer) -> list[str]:
    """A row a choice, and in words which one is recommended."""
    head, rows = choice_table(chosen, voice)
    if not rows:
        return []
    # The sum of the choice that is recommended stands in the sentence too.
    lines = table(head, rows, write, left=2, spare=4, drop_empty=True)
    return lines + wrapped([recommended(chosen, voice)], write)


def recommended(chosen: Chosen, voice: Voice) -> str:
    """Which choice is recommended, in words; empty if none is."""
    plan = chosen.plan
    if plan.action != "change" or plan.chosen is None:
        return ""
    return voice.label("plan-recommended", choice=_name(plan.chosen, voice))


def choice_table(chosen: Chosen, voice: Voice) -> tuple[list[str], list[list[str]]]:
    """Head and a row a choice; no rows where there is nothing to choose."""
    plan = chosen.plan
    if len(plan.choices) < 2:
        return [], []
    head = [
        voice.label("plan-choice"),
        voice.label("plan-in"),
        voice.label("plan-chance"),
        voice.label("plan-spread", unit=sign_of("gph", voice.units)),
        voice.label("plan-total"),
        voice.label("plan-leanest"),
        voice.label("plan-hours"),
    ]
    rows = [
        [
            _name(one, voice),
            ", ".join(str(number) for number in one.changed),
            _chance(one.probability_within_goal, voice),
            cells.uncertain(one.predicted_spread_gph, one.u_predicted_spread_gph, "gph", voice),
            plain(one.total_flow_change_percent, 1, voice.marks, signed=True),
            plain(one.leanest_at_full_power_change_percent, 1, voice.marks, signed=True),
            _hours(one, voice),
        ]
        for one in plan.choices[:_MOST_CHOICES]
    ]
    return head, rows


def _name(choice: Choice, voice: Voice) -> str:
    if choice.kind == "change":
        return voice.label("plan-changes", changes=choice.changes)
    return voice.label("plan-leave" if choice.kind == "leave" else "plan-exchange")


def _chance(probability: float, voice: Voice) -> str:
    beyond, percent = chance(probability, voice.marks)
    return voice.catalogue.form(beyond).format(percent=percent) if beyond else percent


def _hours(choice: Choice, voice: Voice) -> str:
    if choice.payback is None or choice.payback.hours is None or not choice.changes:
        return ""
    return plain(choice.payback.hours, 0, voice.marks)


def _cylinders(chosen: Chosen, voice: Voice, write: Writer) -> list[str]:
    head, rows = cylinder_table(chosen, voice)
    return table(head, rows, write, left=2, drop_empty=True) if rows else []


def cylinder_table(chosen: Chosen, voice: Voice) -> tuple[list[str], list[list[str]]]:
    """Head and a row a cylinder, the leanest now first: what it gets and where that is likely to bring it."""
    best = chosen.plan.chosen
    if best is None or chosen.plan.action != "change":
        return [], []
    now = {one.cylinder: one for one in chosen.measured.balance.cylinders}
    ordered = sorted(best.cylinders, key=lambda one: -(now[one.cylinder].offset_percent or 0.0))
    head = [
        voice.label(name)
        for name in ("cylinder", "plan-nozzle", "plan-offset-now", "plan-flow-factor", "plan-offset-then")
    ]
    rows = [_cylinder(one, now[one.cylinder], voice) for one in ordered]
    return head, rows


def _cylinder(one: PlannedCylinder, now: CylinderBalance, voice: Voice) -> list[str]:
    return [
        f"{one.cylinder} {voice.place(one.cylinder)}".rstrip(),
        _nozzle(one, voice),
        _percent(now.offset_percent, now.u_offset_percent, voice),
        "" if one.origin == "keep" else plain(one.flow_factor, 3, voice.marks),
        _percent(one.predicted_offset_percent, one.u_predicted_offset_percent, voice),
    ]


def _nozzle(one: PlannedCylinder, voice: Voice) -> str:
    if one.origin == "keep":
        return voice.label("plan-stays")
    if one.origin == "exchange":
        return voice.label("plan-from", cylinder=one.from_cylinder)
    if one.nozzle is None:
        return ""
    return voice.label("plan-on-shelf", nozzle=one.nozzle) if one.origin == "shelf" else clean(one.nozzle, 24)


def _percent(value: float | None, u: float | None, voice: Voice) -> str:
    return "" if value is None else with_uncertainty(value, u, voice.marks, signed=True)


def order_words(order: Sequence[OrderRow], voice: Voice) -> str:
    """What is to be ordered, in a sentence."""
    rows = [
        voice.label(
            "plan-order-row" if row.marking else "plan-order-factor",
            quantity=row.quantity,
            nozzle=row.marking or "",
            factor=plain(row.flow_factor, 3, voice.marks),
            cylinders=", ".join(str(number) for number in row.cylinders),
        )
        for row in order
    ]
    return voice.label("plan-order", rows="; ".join(rows))
