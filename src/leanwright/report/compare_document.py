"""A comparison as one JSON document: the same numbers and sentences that the terminal shows."""

from typing import Any

from leanwright.analysis.compare import CylinderChange
from leanwright.analysis.proved import Proved
from leanwright.report.document import balance_document
from leanwright.report.plan_document import number, response_document, spaced
from leanwright.report.units import System
from leanwright.report.words import Voice, say_all
from leanwright.report.words.catalogue import load


def compare_document(proved: Proved, *, units: System = "us", language: str = "en") -> dict[str, Any]:
    """The ``leanwright/compare/1`` document. Only its sentences depend on ``units`` and ``language``."""
    found = proved.comparison
    voice = Voice(load(language), units, proved.before.profile)
    return {
        "format": "leanwright/compare/1",
        "before": balance_document(proved.before, units=units, language=language),
        "after": balance_document(proved.after, units=units, language=language),
        "change_spread_gph": number(found.change_spread_gph),
        "u_change_spread_gph": number(found.u_change_spread_gph),
        "probability_better": number(found.probability_better),
        "cylinders": [_cylinder(one) for one in found.cylinders],
        "predicted_spread_gph": number(found.prediction.spread_gph if found.prediction else None),
        "u_predicted_spread_gph": number(found.prediction.u_spread_gph if found.prediction else None),
        "response": None if found.response is None else response_document(found.response),
        "reasons": [spaced(one) for one in say_all((*found.reasons, *proved.notes), voice)],
    }


def _cylinder(one: CylinderChange) -> dict[str, Any]:
    return {
        "cylinder": one.cylinder,
        "offset_change_percent": number(one.offset_change_percent),
        "u_offset_change_percent": number(one.u_offset_change_percent),
        "predicted_offset_percent": number(one.predicted_offset_percent),
        "u_predicted_offset_percent": number(one.u_predicted_offset_percent),
        "missed_gph": number(one.missed_gph),
        "u_missed_gph": number(one.u_missed_gph),
    }
