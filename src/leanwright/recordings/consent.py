"""Whether the values of a column consent to the meaning that its name claims."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.findings import Finding
from leanwright.quantities import QUANTITIES, UNITS
from leanwright.recordings.draft import Draft, group_of, is_measured, stranger
from leanwright.recordings.plausible import fitting_units, high_value, is_confirmed
from leanwright.recordings.step import smallest_step
from leanwright.recordings.units import typed
from leanwright.told import Told, joined

Floats = NDArray[np.float64]

BETWEEN_SHARE: Final = 0.95


def confirm(draft: Draft, drafts: Sequence[Draft], findings: list[Finding]) -> Draft:
    """The column with its meaning, if the values consent; else as one that is not understood."""
    if not is_measured(draft):
        return draft
    quantity = QUANTITIES[draft.quantity]
    if draft.unit is not None and UNITS[draft.unit].dimension != quantity.dimension:
        findings.append(
            Finding(
                "warning",
                "unit-contradicts",
                Told(
                    "{name!r} reads as {quantity}, but {unit} measures something else; it is left aside.",
                    name=draft.column.name,
                    quantity=draft.quantity,
                    unit=draft.unit,
                ),
            )
        )
        return stranger(draft)
    group = group_of(drafts, draft)
    own = draft.rest
    strange = not is_confirmed(quantity, own, draft.unit)
    if draft.weak and not (
        fitting_units(draft.quantity, np.concatenate([d.rest for d in group]))
        and (len(group) > 1 or draft.unit_from not in {None, "values"})
    ):
        strange = True
    if not strange:
        return _summary_if_between(draft, group)
    others = [d for d in group if d is not draft and is_confirmed(quantity, d.rest, d.unit)]
    name = draft.quantity.upper() if quantity.per_cylinder else draft.quantity.replace("_", " ")
    shown = {"name": draft.column.name, "high": high_value(own) or 0.0, "quantity": name}
    if draft.by_user or (others and not _is_finer(own, others)):
        told = (
            Told(
                "{name!r} has values up to {high:g}, which is not what {quantity} looks like; it is kept, since you "
                "said so.",
                **shown,
            )
            if draft.by_user
            else Told(
                "{name!r} has values up to {high:g}, which is not what {quantity} looks like; it is kept, since the "
                "other {quantity} columns look right.",
                **shown,
            )
        )
        findings.append(Finding("warning", "values-implausible", told, cylinder=draft.wire.cylinder))
        return draft
    likely = [unit for unit in fitting_units(draft.quantity, own) if unit != draft.unit]
    hint = (
        Told("If it is, type {typed}.", typed=typed(draft, likely))
        if likely
        else Told("Use --column if it is.")
    )
    refuted = (
        Told(
            "{name!r} has values up to {high:g}, which is not what {quantity} looks like; it is left aside.",
            **shown,
        )
        if draft.unit is None
        else Told(
            "{name!r} has values up to {high:g}, which is not what {quantity} looks like in {unit}; it is left aside.",
            **shown,
            unit=draft.unit,
        )
    )
    findings.append(Finding("warning", "meaning-refuted", joined([refuted, hint])))
    return stranger(draft)


def _is_finer(values: Floats, others: Sequence[Draft]) -> bool:
    """Whether a column is written with finer steps than its neighbours: another kind of sensor."""
    steps = [step for d in others if (step := smallest_step(d.rest)) is not None]
    own = smallest_step(values)
    return own is not None and bool(steps) and own < 0.5 * min(steps)


def _summary_if_between(draft: Draft, group: Sequence[Draft]) -> Draft:
    """A column without a number beside numbered ones is a figure over them, if it never leaves their range."""
    numbered = [d for d in group if d.wire.cylinder is not None and d.unit == draft.unit]
    if (
        not QUANTITIES[draft.quantity].per_cylinder
        or draft.wire.cylinder is not None
        or len(numbered) < 2
        or draft.by_user
    ):
        return draft
    table = np.stack([d.rest for d in numbered])
    low, high = np.fmin.reduce(table), np.fmax.reduce(table)
    own = draft.rest
    known = np.isfinite(own) & np.isfinite(low)
    inside = (own >= low - 1.0) & (own <= high + 1.0)
    if known.any() and float(np.mean(inside[known])) >= BETWEEN_SHARE:
        return replace(draft, quantity="summary")
    return stranger(draft)
