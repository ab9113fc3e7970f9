"""How to lean this engine now: its own peaks at a chosen power, inside the limits that the owner typed."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from leanwright.analysis.by_hand import said_by_hand
from leanwright.analysis.cause_signs import find_signs
from leanwright.analysis.flight_card import Limits
from leanwright.analysis.leaning import Guide, Limit, Power, guide, power_of
from leanwright.analysis.measured import Measured
from leanwright.errors import UnusablePowerError
from leanwright.findings import Statement
from leanwright.quantities import convert
from leanwright.showing import html_of
from leanwright.workbench.limit_files import read_limits

POWER: Final = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*/\s*(\d{3,5})\s*")
ROUGH_FROM: Final = 6.9
"""Log of the likelihood ratio from which a flank counts as falling away (a thousand to one; our choice)."""
FLOW_UNITS: Final = {"gal/h": "gal/h", "gph": "gal/h", "l/h": "L/h"}
HEAT_UNITS: Final = {"°f": "degF", "degf": "degF", "f": "degF", "°c": "degC", "degc": "degC", "c": "degC"}


@dataclass(frozen=True, slots=True)
class Advice:
    """What the terminal, the page and the JSON document are made from.

    ``unchecked`` are limits that cannot be held against the guide: they are shown, and are the pilot's to keep.
    """

    measured: Measured
    guide: Guide | None
    limits: Limits | None
    unchecked: tuple[str, ...]
    fuel_price: float | None = None
    hours_per_year: float | None = None
    notes: tuple[Statement, ...] = ()

    _repr_html_ = html_of

    @property
    def saving_per_year(self) -> float | None:
        """Money a year, in the owner's own; ``None`` without a price and hours."""
        if self.guide is None or self.fuel_price is None or self.hours_per_year is None:
            return None
        return self.guide.saving_gph * self.fuel_price * self.hours_per_year


def leaning(
    measured: Measured,
    *,
    power: str | None = None,
    limits: Path | None = None,
    before: Measured | None = None,
    fuel_price: float | None = None,
    hours_per_year: float | None = None,
) -> Advice:
    """Work out the guide for a power (written ``22/2350``: inHg and rpm; by default that of the last sweep)."""
    given = read_limits(limits) if limits is not None else None
    held, unchecked = _held(given)
    usual = power_of(measured)
    chosen = usual if power is None else _power(power, usual)
    return Advice(
        measured,
        guide(measured, chosen, held, _rough(measured), before),
        given,
        unchecked,
        fuel_price,
        hours_per_year,
        said_by_hand(measured, before),
    )


def _power(said: str, usual: Power) -> Power:
    found = POWER.fullmatch(said)
    if found is None:
        raise UnusablePowerError(said)
    pressure, speed = float(found[1].replace(",", ".")), float(found[2])
    if not (8.0 <= pressure <= 60.0 and 1000.0 <= speed <= 4500.0):
        raise UnusablePowerError(said)
    return Power(pressure, speed, usual.outside_f)


def _rough(measured: Measured) -> dict[int, float]:
    """Cylinders whose lean flank fell away as in a misfire: for them nothing lean of their own peak is within what runs well."""
    signs = find_signs(measured)
    return {
        number: 1.0
        for number in signs.flanks
        if signs.log_ratio.get(("ignition-weak", number), 0.0) > ROUGH_FROM
    }


def _held(limits: Limits | None) -> tuple[tuple[Limit, ...], tuple[str, ...]]:
    """Limits of flow and EGT in units that are understood; the others by their words."""
    held: list[Limit] = []
    unchecked: list[str] = []
    for one in limits.limits if limits else ():
        what, unit = one.what.casefold(), one.unit.casefold().strip()
        if ("flow" in what) and unit in FLOW_UNITS:
            held.append(Limit("fuel_flow", *_turned((one.most, one.least), FLOW_UNITS[unit], "gal/h")))
        elif "egt" in what and unit in HEAT_UNITS:
            held.append(Limit("egt", *_turned((one.most, one.least), HEAT_UNITS[unit], "degF")))
        else:
            unchecked.append(one.what)
    return tuple(held), tuple(unchecked)


def _turned(values: Sequence[float | None], unit: str, inside: str) -> list[float | None]:
    return [None if value is None else float(convert(value, unit, inside)) for value in values]
