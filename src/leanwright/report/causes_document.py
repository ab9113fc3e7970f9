"""Causes as one JSON document: the same numbers and sentences that the terminal shows."""

from collections.abc import Sequence
from typing import Any

from leanwright.analysis.causes import WeighedCause
from leanwright.analysis.explained import Explained
from leanwright.findings import Statement
from leanwright.report.plan_document import cause_named, number, spaced
from leanwright.report.units import System
from leanwright.report.words import Voice, say, say_all
from leanwright.report.words.catalogue import load


def causes_document(explained: Explained, *, units: System = "us", language: str = "en") -> dict[str, Any]:
    """The ``leanwright/causes/1`` document. Only its sentences depend on ``units`` and ``language``."""
    voice = Voice(load(language), units, explained.now.profile)
    found = explained.causes
    bottle = explained.bottle
    return {
        "format": "leanwright/causes/1",
        "causes": [_cause(one, voice) for one in found.causes] if found else [],
        "undecided_between": list(found.undecided_between) if found else [],
        "would_settle_it": spaced(say(found.settle, voice)) if found and found.settle else None,
        "tests": [
            {
                "test": one.name,
                "cost": number(one.cost),
                "information_bits": number(one.information_bits),
                "expected_cost": number(one.expected_cost),
            }
            for one in (found.tests if found else ())
        ],
        "bottle_test": None
        if bottle is None
        else [
            {"cylinder": cylinder, "fuel_share": number(share), "u_fuel_share_percent": number(u)}
            for cylinder, share, u in zip(
                bottle.cylinders, bottle.shares.tolist(), bottle.u_percent.tolist(), strict=True
            )
        ],
        "reasons": _sentences((*(found.headline if found else ()), *explained.reasons), voice),
        "notes": _sentences((*(found.notes if found else ()), *explained.notes), voice),
    }


def _cause(one: WeighedCause, voice: Voice) -> dict[str, Any]:
    return {
        **cause_named(one),
        "new_probability": number(one.new_probability),
        "for": _sentences(one.speaks_for, voice),
        "against": _sentences(one.against, voice),
    }


def _sentences(statements: Sequence[Statement], voice: Voice) -> list[str]:
    return [spaced(one) for one in say_all(statements, voice)]
