"""Units that nobody stated, told from the values of all columns of a kind together."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.findings import Finding
from leanwright.quantities import QUANTITIES
from leanwright.recordings.draft import Draft, is_measured, listed
from leanwright.recordings.plausible import convert_array, drawn_flow_gph, fitting_flow_units, fitting_units
from leanwright.recordings.wiring import FEWEST_CYLINDERS
from leanwright.told import Told, both, either

Floats = NDArray[np.float64]

NEEDED: Final = frozenset({"egt", "cht", "fuel_flow", "engine_speed", "manifold_pressure"})
"""Quantities that an answer rests on: a unit missing there is a warning."""


def with_units(drafts: list[Draft]) -> tuple[list[Draft], list[tuple[int, Finding]]]:
    """Tell units that nobody stated from the values of all columns of a kind together.

    Each finding comes with the place of the first column that it is about.
    """
    order = sorted(
        {(d.quantity, d.wire.engine) for d in drafts if is_measured(d)},
        key=lambda key: (key[0] == "fuel_flow", key),
    )
    findings: list[tuple[int, Finding]] = []
    for quantity, engine in order:
        group = [d for d in drafts if (d.quantity, d.wire.engine) == (quantity, engine)]
        open_ones = [d for d in group if d.unit is None and d.strange_unit is None]
        if not open_ones:
            continue
        values = np.concatenate([d.rest for d in open_ones])
        stated = _stated(group)
        unit = stated
        if np.isfinite(values).any():
            if quantity == "fuel_flow":
                fits = _flow_units(values, len(open_ones), drafts, engine)
            else:
                fits = fitting_units(quantity, values)
            unit = fits[0] if len(fits) == 1 else (stated if stated in fits else None)
            findings.append((open_ones[0].place, _unit_finding(open_ones, unit, fits, values)))
        if unit is not None:
            places = {d.place for d in open_ones}
            drafts = [replace(d, unit=unit, unit_from="values") if d.place in places else d for d in drafts]
    for d in drafts:
        if d.strange_unit is not None and is_measured(d) and d.unit is None:
            message = Told(
                "The unit {strange_unit!r} of {name!r} is not one that is converted here; the column is "
                "left without values. Where it is rather another, state it: {typed}.",
                strange_unit=d.strange_unit,
                name=d.column.name,
                typed=typed(d, ()),
            )
            findings.append(
                (d.place, Finding("warning", "unit-not-converted", message, cylinder=d.wire.cylinder))
            )
    return drafts, findings


def _stated(group: Sequence[Draft]) -> str | None:
    """The unit that the other columns of a kind state, if they agree."""
    stated = {d.unit for d in group if d.unit is not None}
    return stated.pop() if len(stated) == 1 else None


def inside(drafts: Sequence[Draft], quantity: str, engine: int) -> Floats | None:
    """The values of a quantity in the program's own unit; ``None`` where no column holds it."""
    for d in drafts:
        if d.quantity == quantity and d.wire.engine == engine and d.unit is not None:
            return convert_array(d.rest, d.unit, QUANTITIES[quantity].unit or d.unit)
    return None


def air_drawn_gph(drafts: Sequence[Draft], engine: int) -> Floats | None:
    """The fuel that the engine's air needs [gal/h]; ``None`` where that cannot be told."""
    speed, pressure = inside(drafts, "engine_speed", engine), inside(drafts, "manifold_pressure", engine)
    cylinders = {
        d.wire.cylinder for d in drafts if d.quantity in {"egt", "cht"} and d.wire.cylinder is not None
    }
    if speed is None or pressure is None or len(cylinders) < FEWEST_CYLINDERS:
        return None
    return drawn_flow_gph(speed, pressure, len(cylinders))


def sign(unit: str) -> str:
    """A unit as people write it.

    >>> sign("degF"), sign("gal/h")
    ('°F', 'gal/h')
    """
    return unit.replace("deg", "°") if unit in {"degF", "degC"} else unit


def beside_celsius(units: Sequence[str]) -> tuple[str, ...]:
    """The units of a fuel flow that a panel shows beside temperatures in degrees Celsius (common practice)."""
    return tuple(unit for unit in units if unit != "lb/h")


def _flow_units(flow: Floats, columns: int, drafts: Sequence[Draft], engine: int) -> tuple[str, ...]:
    """Units of a fuel flow, by what the engine draws in air where that can be told, and by the panel's temperatures."""
    drawn = air_drawn_gph(drafts, engine) if columns == 1 else None
    fits = fitting_units("fuel_flow", flow) if drawn is None else fitting_flow_units(flow, drawn)
    if not any(d.quantity in {"egt", "cht"} and d.unit == "degC" for d in drafts):
        return fits
    # Where the air drawn leaves pounds alone, it says nothing of this engine.
    return beside_celsius(fits) or beside_celsius(fitting_units("fuel_flow", flow))


def _unit_finding(drafts: Sequence[Draft], unit: str | None, fits: Sequence[str], values: Floats) -> Finding:
    shown = listed([d.column.name for d in drafts], in_quotes=True)
    if unit is not None and drafts[0].quantity == "fuel_flow":
        message = Told(
            "No unit is stated for {shown}; by the values it is {unit}, and every flow follows from "
            "that. State it to be sure: {typed}.",
            shown=shown,
            unit=unit,
            typed=typed(drafts[0], [unit]),
        )
        return Finding("warning", "flow-unit-by-values", message)
    if unit is not None:
        return Finding(
            "note",
            "unit-by-values",
            Told("No unit is stated for {shown}; by the values it is {sign}.", shown=shown, sign=sign(unit)),
        )
    finite = values[np.isfinite(values)]
    shown_fits = [sign(one) for one in fits]
    message = Told(
        "No unit is stated for {shown}, and {fits} fit values from {low:g} to {high:g}; without it there are no values. "
        "State it: {typed}."
        if fits
        else "No unit is stated for {shown}, and in no unit do values from {low:g} to {high:g} suit what this engine can show "
        "here; without it there are no values. State it: {typed}.",
        shown=shown,
        fits=both(shown_fits),
        low=float(finite.min()),
        high=float(finite.max()),
        typed=typed(drafts[0], fits),
    )
    return Finding("warning" if drafts[0].quantity in NEEDED else "note", "unit-unknown", message)


def typed(draft: Draft, units: Sequence[str], *, unit: bool = True) -> str:
    """What to type for a column, once for each unit that may be meant; without ``unit`` its meaning alone.

    A name that stands above several columns, or above none, is replaced by the column's place.
    """
    quantity = QUANTITIES[draft.quantity]
    header = draft.column.name if draft.named_alone else f"#{draft.place + 1}"
    number = "" if draft.wire.cylinder is None else f":{draft.wire.cylinder}"
    if not unit:
        return f'--column "{header}={draft.quantity}{number}"'
    meant = units or [quantity.unit or ""]
    return either([f'--column "{header}={draft.quantity}{number}:{one}"' for one in meant])
