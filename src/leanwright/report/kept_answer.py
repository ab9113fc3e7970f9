"""The newest answer of an engine as its book keeps it: the sentence, and the ladder in little."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from leanwright.analysis.peak import Status
from leanwright.report.figures.ladder_small import small_ladder
from leanwright.report.ladder import LEAST_ROOM_GPH, Ladder, Row, leanest_first, rails_about, seen_range
from leanwright.report.units import System, show_difference, sign_of
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load

KEPT_DRAWINGS: Final = 512
"""More than the engines of a large workshop, in two languages."""


@dataclass(frozen=True, slots=True)
class KeptCylinder:
    """What the book keeps of one cylinder's answer [gal/h, percent]."""

    cylinder: int
    status: Status
    flow_gph: float | None
    offset_percent: float | None
    u_offset_percent: float | None


@dataclass(frozen=True, slots=True)
class KeptAnswer:
    """What the book keeps of an answer [gal/h]."""

    spread_gph: float | None
    u_spread_gph: float | None
    goal_gph: float | None
    cylinders: tuple[KeptCylinder, ...]


def kept_answer(entry: Mapping[str, Any]) -> KeptAnswer:
    """An answer from the plain data of its entry."""
    return KeptAnswer(
        _number(entry.get("spread_gph")),
        _number(entry.get("u_spread_gph")),
        _number(entry.get("goal_gph")),
        tuple(
            KeptCylinder(
                one["cylinder"],
                one["status"],
                _number(one.get("fuel_flow_at_peak_gph")),
                _number(one.get("offset_percent")),
                _number(one.get("u_offset_percent")),
            )
            for one in entry.get("cylinders") or ()
        ),
    )


def kept_sentence(answer: KeptAnswer, *, units: System = "us", language: str = "en") -> str:
    """The spread and the goal; empty where the answer has none."""
    if answer.spread_gph is None or answer.u_spread_gph is None or answer.goal_gph is None:
        return ""
    values = {
        "spread_gph": answer.spread_gph,
        "u_spread_gph": answer.u_spread_gph,
        "goal_gph": answer.goal_gph,
    }
    return Voice(load(language), units).label("kept-spread", **values)


@lru_cache(KEPT_DRAWINGS)
def kept_drawing(answer: KeptAnswer, *, label: str, units: System = "us") -> str:
    """The ladder in little, which says ``label`` to a screen reader; empty where no cylinder has a flow at peak.

    The start page draws one for each engine each time it is asked for, and an entry of the book never changes.
    """
    ladder = kept_ladder(answer, units)
    return "" if ladder is None else small_ladder(ladder, label=label)


def kept_ladder(answer: KeptAnswer, units: System = "us") -> Ladder | None:
    """Set up the ladder as :func:`leanwright.report.ladder.ladder` does, from what the book keeps.

    The mean is where the offset is 0, so each cylinder that has an offset gives it; all give the same but for rounding.
    """
    means = [
        math.log(one.flow_gph) - one.offset_percent / 100.0
        for one in answer.cylinders
        if one.flow_gph is not None and one.offset_percent is not None
    ]
    if not means or answer.goal_gph is None:
        return None
    factor = show_difference(1.0, "gph", units).value
    goal = answer.goal_gph * factor
    plain = [_row(one, factor) for one in answer.cylinders]
    flows = [row.flow for row in plain if row.flow is not None]
    rails = rails_about(math.exp(math.fsum(means) / len(means)) * factor, goal, flows)
    rows = leanest_first([row.judged(rails) for row in plain])
    ends = seen_range(rows, rails, 2.0 * goal + LEAST_ROOM_GPH * factor)
    return Ladder(tuple(rows), rails, goal, ends, sign_of("gph", units))


def _row(one: KeptCylinder, factor: float) -> Row:
    flow = None if one.flow_gph is None else one.flow_gph * factor
    half = None if flow is None or one.u_offset_percent is None else one.u_offset_percent / 50.0 * flow
    return Row(
        one.cylinder,
        one.status,
        flow,
        half_width=half,
        offset_percent=one.offset_percent,
        u_offset_percent=one.u_offset_percent,
    )


def _number(value: object) -> float | None:
    return None if value is None else float(str(value))
