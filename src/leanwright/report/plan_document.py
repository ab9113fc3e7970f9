"""A plan as one JSON document: the same numbers and sentences that the terminal shows."""

import math
from typing import Any

from leanwright.analysis.causes import WeighedCause
from leanwright.analysis.chosen import ApprovalAnswer, Chosen, OrderRow
from leanwright.analysis.payback import Payback
from leanwright.analysis.planned import Choice, PlannedCylinder
from leanwright.analysis.response import Response
from leanwright.report.numbers import NO_BREAK
from leanwright.report.units import System
from leanwright.report.words import Voice, say, say_all
from leanwright.report.words.catalogue import load


def plan_document(chosen: Chosen, *, units: System = "us", language: str = "en") -> dict[str, Any]:
    """The ``leanwright/plan/1`` document. Only its sentences depend on ``units`` and ``language``."""
    plan, balance = chosen.plan, chosen.measured.balance
    voice = Voice(load(language), units, chosen.measured.profile)
    nothing = tuple(PlannedCylinder(one.cylinder) for one in balance.cylinders)
    best = plan.chosen
    causes = chosen.explained.causes if chosen.explained else None
    return {
        "format": "leanwright/plan/1",
        "engine": chosen.measured.engine,
        "recordings": [
            {"name": one.recording.name, "sha256": one.recording.sha256} for one in chosen.measured.results
        ],
        "action": plan.action,
        "cylinders": [_cylinder(one) for one in (best.cylinders if best else nothing)],
        "predicted_spread_gph": number(best.predicted_spread_gph if best else None),
        "u_predicted_spread_gph": number(best.u_predicted_spread_gph if best else None),
        "probability_within_goal": number(best.probability_within_goal if best else None),
        "leanest_at_full_power_change_percent": number(
            best.leanest_at_full_power_change_percent if best else None
        ),
        "total_flow_change_percent": number(best.total_flow_change_percent if best else None),
        "choices": [choice_document(one) for one in plan.choices],
        "reasons": [spaced(one) for one in say_all((*plan.reasons, *chosen.notes), voice)],
        "next_flight": (
            {
                "sweeps": plan.next_flight.sweeps,
                "expected_u_spread_gph": number(plan.next_flight.expected_u_spread_gph),
            }
            if plan.next_flight
            else None
        ),
        "spread_gph": number(balance.spread_gph),
        "u_spread_gph": number(balance.u_spread_gph),
        "goal_gph": number(plan.goal_gph),
        "causes": [cause_named(one) for one in (causes.causes if causes else ())],
        "order": [_order(one) for one in chosen.order],
        "approval": _approval(chosen.approval, voice),
        "response": response_document(chosen.response),
        "currency": chosen.currency or None,
    }


def choice_document(choice: Choice) -> dict[str, Any]:
    """One choice of a plan."""
    return {
        "kind": choice.kind,
        "changes": choice.changes,
        "parts": choice.parts,
        "predicted_spread_gph": number(choice.predicted_spread_gph),
        "u_predicted_spread_gph": number(choice.u_predicted_spread_gph),
        "predicted_interval95_gph": [number(one) for one in choice.predicted_interval95_gph],
        "probability_within_goal": number(choice.probability_within_goal),
        "probability_better": number(choice.probability_better),
        "total_flow_change_percent": number(choice.total_flow_change_percent),
        "leanest_at_full_power_change_percent": number(choice.leanest_at_full_power_change_percent),
        "payback": _payback(choice.payback),
        "cylinders": [_cylinder(one) for one in choice.cylinders],
    }


def response_document(response: Response) -> dict[str, Any]:
    """The engine's response to a change."""
    return {"factor": response.factor, "u_factor": response.u_factor, "rounds": response.rounds}


def number(value: float | None) -> float | None:
    """A finite number, or null: JSON has neither NaN nor Infinity."""
    return float(value) if value is not None and math.isfinite(value) else None


def spaced(sentence: str) -> str:
    """Ordinary blanks: what may not part on a page need not be kept together in a document."""
    return sentence.replace(NO_BREAK, " ")


def _cylinder(one: PlannedCylinder) -> dict[str, Any]:
    return {
        "cylinder": one.cylinder,
        "flow_factor": one.flow_factor,
        "u_flow_percent": number(one.u_flow_percent),
        "nozzle": one.nozzle if one.origin != "keep" else None,
        "origin": one.origin,
        "from_cylinder": one.from_cylinder,
        "predicted_offset_percent": number(one.predicted_offset_percent),
        "u_predicted_offset_percent": number(one.u_predicted_offset_percent),
    }


def cause_named(one: WeighedCause) -> dict[str, Any]:
    """A cause with its place and its chance."""
    cylinders = list(one.cylinders)
    return {
        "cylinder": None if not cylinders else cylinders[0] if len(cylinders) == 1 else cylinders,
        "cause": one.cause,
        "probability": number(one.probability),
    }


def _payback(payback: Payback | None) -> dict[str, Any] | None:
    if payback is None:
        return None
    return {
        "cost": number(payback.cost),
        "saving_gph": number(payback.saving_gph),
        "saving_interval95_gph": [number(one) for one in payback.saving_interval95_gph],
        "hours": number(payback.hours),
        "hours_interval95": [number(one) for one in payback.hours_interval95],
        "saving_per_year": number(payback.saving_per_year),
    }


def _order(row: OrderRow) -> dict[str, Any]:
    return {
        "nozzle": row.marking,
        "flow_factor": row.flow_factor,
        "quantity": row.quantity,
        "cylinders": list(row.cylinders),
    }


def _approval(approval: ApprovalAnswer | None, voice: Voice) -> dict[str, Any] | None:
    if approval is None:
        return None
    return {
        "answer": approval.answer,
        "document": approval.document,
        "line": approval.line,
        "reason": spaced(say(approval.said, voice)),
    }
