"""How to lean this engine, as one JSON document."""

import math
from typing import Any, Protocol, runtime_checkable

from leanwright.analysis.flight_card import Limits
from leanwright.analysis.leaning import Guide
from leanwright.analysis.measured import Measured
from leanwright.findings import Statement
from leanwright.report.words import Voice, say_all
from leanwright.report.words.catalogue import load


@runtime_checkable
class Advice(Protocol):
    """What is shown of a leaning guide."""

    @property
    def measured(self) -> Measured:
        """The engine as it is."""

    @property
    def guide(self) -> Guide | None:
        """The guide, if there is one."""

    @property
    def limits(self) -> Limits | None:
        """As the owner typed them."""

    @property
    def unchecked(self) -> tuple[str, ...]:
        """Limits that cannot be held against the guide."""

    @property
    def saving_per_year(self) -> float | None:
        """In the owner's own money."""

    @property
    def fuel_price(self) -> float | None:
        """By the US gallon."""

    @property
    def hours_per_year(self) -> float | None:
        """Flown leaned [h]."""

    @property
    def notes(self) -> tuple[Statement, ...]:
        """What is to be said of what it rests on."""


def leaning_document(advice: Advice, *, language: str = "en") -> dict[str, Any]:
    """The ``leanwright/leaning/1`` document."""
    guide, limits = advice.guide, advice.limits
    document: dict[str, Any] = {
        "format": "leanwright/leaning/1",
        "limits": None
        if limits is None
        else {
            "document": limits.document,
            "revision": limits.revision,
            "limits": [
                {"what": one.what, "unit": one.unit, "most": one.most, "least": one.least}
                for one in limits.limits
            ],
            "not_checked": list(advice.unchecked),
        },
        "fuel_price_per_gallon": advice.fuel_price,
        "hours_per_year": advice.hours_per_year,
        "notes": say_all(advice.notes, Voice(load(language))),
        "saving_per_year": advice.saving_per_year,
    }
    if guide is None:
        return {**document, "power": None, "cylinders": [], "flows": []}
    return {
        **document,
        "power": {
            "manifold_pressure_inhg": guide.power.manifold_pressure_inhg,
            "engine_speed_rpm": guide.power.engine_speed_rpm,
            "outside_air_temperature_f": guide.power.outside_f,
        },
        "cylinders": [
            {
                "cylinder": number,
                "fuel_flow_at_peak_gph": flow,
                "u_fuel_flow_at_peak_gph": guide.u_peaks_gph[number],
            }
            for number, flow in sorted(guide.peaks_gph.items())
        ],
        "leanest": guide.leanest,
        "richest": guide.richest,
        "leanest_flown_gph": _number(guide.leanest_flown_gph),
        "rough_at_gph": guide.rough_at_gph,
        "saving_gph": guide.saving_gph,
        "u_saving_gph": guide.u_saving_gph,
        "saving_against": guide.compared_with,
        "flows": [
            {
                "fuel_flow_gph": row.flow_gph,
                "within": row.within,
                "cylinders": [
                    {
                        "cylinder": place.cylinder,
                        "from_peak_gph": place.from_peak_gph,
                        "from_peak_percent": place.from_peak_percent,
                        "below_peak_df": place.below_peak_df,
                    }
                    for place in row.places
                ],
            }
            for row in guide.rows
        ],
    }


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
