"""Columns → channels: the name says what a column may be, the units row helps, and the values must consent."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.findings import Finding
from leanwright.quantities import QUANTITIES, UNITS
from leanwright.recordings.clock import Clock
from leanwright.recordings.column import Column
from leanwright.recordings.corrections import Correction
from leanwright.recordings.label import Label, read_label, read_unit
from leanwright.recordings.plausible import (
    convert_array,
    fitting_flow_units,
    fitting_units,
    high_value,
    is_confirmed,
    is_mark,
    without_sentinels,
)
from leanwright.recordings.recording import Channel, UnitFrom
from leanwright.recordings.vocabulary import ROW_NUMBER, squash, vocabulary
from leanwright.recordings.wiring import FEWEST_CYLINDERS, Wire, assign

Floats = NDArray[np.float64]

MASS_UNITS: Final = frozenset({"lb/h", "kg/h", "lb", "kg"})
LISTED_NAMES: Final = 12
BETWEEN_SHARE: Final = 0.95


@dataclass(frozen=True, slots=True)
class _Draft:
    """What is held of one column so far."""

    place: int
    column: Column
    quantity: str
    wire: Wire
    unit: str | None = None
    unit_from: UnitFrom | None = None
    strange_unit: str | None = None
    by_user: bool = False
    weak: bool = False


def label_columns(
    names: Sequence[str], units_row: Sequence[str] | None, corrections: Mapping[int, Correction]
) -> tuple[Label, ...]:
    """What each column's name says, with the help of the units row; the user's word goes first."""
    return tuple(
        _label(name, units_row[place] if units_row else "", corrections.get(place))
        for place, name in enumerate(names)
    )


def _label(name: str, unit_cell: str, correction: Correction | None) -> Label:
    label = read_label(name)
    if label.unit is None and read_unit(unit_cell) is not None:
        # "Oil" is a quantity only with its unit, and "tach" is another one in hours.
        helped = read_label(f"{name} [{unit_cell.strip('[]() ')}]")
        label = replace(helped, unit=None) if helped.quantity is not None else label
    if correction is None:
        return label
    same = label.quantity == correction.quantity
    return Label(
        correction.quantity,
        correction.cylinder if correction.cylinder is not None or not same else label.number,
        label.engine,
        label.side,
        correction.unit or label.unit,
        time_form=label.time_form,
    )


def understand(
    columns: Sequence[Column],
    labels: Sequence[Label],
    units_row: Sequence[str] | None,
    corrections: Mapping[int, Correction],
    clock: Clock,
) -> tuple[tuple[Channel, ...], list[Finding]]:
    """Give every column its meaning, unit and values."""
    fixed = {place: labels[place].number for place, correction in corrections.items()}
    wires, findings = assign(labels, fixed)
    drafts = [
        _draft(
            place,
            column,
            labels[place],
            wires.get(place),
            units_row[place] if units_row else "",
            corrections.get(place),
        )
        for place, column in enumerate(columns)
    ]
    drafts = _without_doubles(drafts, findings)
    drafts = _with_units(drafts, findings)
    drafts = [_confirmed(draft, drafts, findings) for draft in drafts]
    _tell_strangers(drafts, labels, clock.places, findings)
    drafts = [_with_clock(draft, clock) for draft in drafts]
    channels = tuple(_channel(draft, findings) for draft in drafts)
    if any(channel.unit in MASS_UNITS for channel in channels):
        findings.append(
            Finding(
                "note",
                "density-assumed",
                "Fuel in pounds or kilograms is converted with 6.01 lb to a US gallon, the density of Avgas at 15 °C.",
            )
        )
    return channels, findings


def _draft(
    place: int,
    column: Column,
    label: Label,
    wire: Wire | None,
    unit_cell: str,
    correction: Correction | None,
) -> _Draft:
    """What name, units row and user say of a column."""
    quantity = label.quantity or "unknown"
    if label.several:
        quantity = "summary"
    numbers = int(np.isfinite(column.values).sum())
    if wire is None or quantity in {"unknown", ROW_NUMBER}:
        texts = column.word_count + len(column.garbled)
        is_text = texts > numbers or (column.texts is not None and not numbers and column.filled > 0)
        quantity = "text" if is_text and correction is None else "unknown"
        wire = Wire()
    elif not numbers and column.word_count and not QUANTITIES[quantity].per_cylinder and correction is None:
        quantity = quantity if quantity in {"time", "date"} else "text"
    draft = _Draft(place, column, quantity, wire, by_user=correction is not None, weak=label.weak)
    if correction is not None and correction.unit is not None:
        return replace(draft, unit=correction.unit, unit_from="user")
    if label.unit is not None:
        return replace(draft, unit=label.unit, unit_from="header")
    if read_unit(unit_cell) is not None:
        return replace(draft, unit=read_unit(unit_cell), unit_from="units-row")
    strange = label.strange_unit or (unit_cell if squash(unit_cell) in vocabulary().unknown_units else None)
    return replace(draft, strange_unit=strange)


def _is_measured(draft: _Draft) -> bool:
    """Whether a column holds a quantity whose values are numbers with a unit."""
    return (
        QUANTITIES[draft.quantity].dimension not in {"text", "any", "time"}
        or draft.quantity == "engine_hours"
    )


def _without_doubles(drafts: Sequence[_Draft], findings: list[Finding]) -> list[_Draft]:
    """Of two columns that claim to be the same probe the user's, or the fuller one, is believed."""
    claims: dict[tuple[str, int, int], list[_Draft]] = {}
    for draft in drafts:
        if QUANTITIES[draft.quantity].per_cylinder and draft.wire.cylinder is not None:
            claims.setdefault((draft.quantity, draft.wire.cylinder, draft.wire.engine), []).append(draft)
    dropped: set[int] = set()
    for (quantity, cylinder, _), claimants in claims.items():
        best = max(
            claimants, key=lambda draft: (draft.by_user, not draft.weak, draft.column.filled, -draft.place)
        )
        for draft in claimants:
            if draft is not best:
                dropped.add(draft.place)
                findings.append(
                    Finding(
                        "warning",
                        "double-column",
                        f"{best.column.name!r} and {draft.column.name!r} both read as {quantity.upper()} of cylinder "
                        f"{cylinder}; the first is used. Correct it with --column if that is wrong.",
                        cylinder=cylinder,
                    )
                )
    return [_stranger(draft) if draft.place in dropped else draft for draft in drafts]


def _stranger(draft: _Draft) -> _Draft:
    """The column as one that is not understood."""
    return replace(
        draft, quantity="unknown", wire=Wire(), unit=None, unit_from=None, strange_unit=None, weak=False
    )


def _without_marks(draft: _Draft) -> Floats:
    return without_sentinels(draft.column.values)[0]


def _group(drafts: Sequence[_Draft], draft: _Draft) -> list[_Draft]:
    """The columns of the same quantity and engine, which share what can be told from values."""
    return [d for d in drafts if d.quantity == draft.quantity and d.wire.engine == draft.wire.engine]


def _with_units(drafts: list[_Draft], findings: list[Finding]) -> list[_Draft]:
    """Tell units that nobody stated from the values of all columns of a kind together."""
    order = sorted(
        {(d.quantity, d.wire.engine) for d in drafts if _is_measured(d)},
        key=lambda key: (key[0] == "fuel_flow", key),
    )
    for quantity, engine in order:
        group = [d for d in drafts if (d.quantity, d.wire.engine) == (quantity, engine)]
        open_ones = [d for d in group if d.unit is None and d.strange_unit is None]
        if not open_ones:
            continue
        values = np.concatenate([_without_marks(d) for d in open_ones])
        fits: tuple[str, ...] = ()
        if not np.isfinite(values).any():
            unit = _stated(group)
        else:
            fits = (
                _flow_units(values, len(open_ones), drafts, engine)
                if quantity == "fuel_flow"
                else fitting_units(quantity, values)
            )
            stated = _stated(group)
            unit = fits[0] if len(fits) == 1 else (stated if stated in fits else None)
            findings.append(_unit_finding([d.column.name for d in open_ones], unit, fits, values))
        if unit is not None:
            places = {d.place for d in open_ones}
            drafts = [replace(d, unit=unit, unit_from="values") if d.place in places else d for d in drafts]
    return drafts


def _stated(group: Sequence[_Draft]) -> str | None:
    """The unit that the other columns of a kind state, if they agree."""
    stated = {d.unit for d in group if d.unit is not None}
    return stated.pop() if len(stated) == 1 else None


def _flow_units(flow: Floats, columns: int, drafts: Sequence[_Draft], engine: int) -> tuple[str, ...]:
    """Units of a fuel flow, by what the engine draws in air where that can be told."""

    def inside(quantity: str) -> Floats | None:
        for d in drafts:
            if d.quantity == quantity and d.wire.engine == engine and d.unit is not None:
                return convert_array(_without_marks(d), d.unit, QUANTITIES[quantity].unit or d.unit)
        return None

    speed, pressure = inside("engine_speed"), inside("manifold_pressure")
    cylinders = {
        d.wire.cylinder for d in drafts if d.quantity in {"egt", "cht"} and d.wire.cylinder is not None
    }
    if speed is None or pressure is None or columns != 1 or len(cylinders) < FEWEST_CYLINDERS:
        return fitting_units("fuel_flow", flow)
    return fitting_flow_units(flow, speed, pressure, len(cylinders))


def _unit_finding(names: Sequence[str], unit: str | None, fits: Sequence[str], values: Floats) -> Finding:
    shown = _listed(names)
    if unit is not None:
        return Finding(
            "note", "unit-by-values", f"No unit is stated for {shown}; by the values it is {unit}."
        )
    finite = values[np.isfinite(values)]
    span = f"values from {float(finite.min()):g} to {float(finite.max()):g}"
    why = (
        f"{' and '.join(fits)} both fit"
        if len(fits) == 2
        else (f"{', '.join(fits)} fit" if fits else "no unit fits")
    )
    return Finding(
        "warning",
        "unit-unknown",
        f"No unit is stated for {shown}, and {why} {span}. State it with --column, for example "
        f'"{names[0]}=QUANTITY:UNIT".',
    )


def _confirmed(draft: _Draft, drafts: Sequence[_Draft], findings: list[Finding]) -> _Draft:
    """The column with its meaning, if the values consent; else as one that is not understood."""
    if not _is_measured(draft):
        return draft
    quantity = QUANTITIES[draft.quantity]
    if draft.unit is not None and UNITS[draft.unit].dimension != quantity.dimension:
        findings.append(
            Finding(
                "warning",
                "unit-contradicts",
                f"{draft.column.name!r} reads as {draft.quantity}, but {draft.unit} measures something else; it is left aside.",
            )
        )
        return _stranger(draft)
    group = _group(drafts, draft)
    together = np.concatenate([_without_marks(d) for d in group])
    own = _without_marks(draft)
    strange = not is_confirmed(quantity, own, draft.unit)
    if draft.weak and not (
        fitting_units(draft.quantity, together) and (len(group) > 1 or draft.unit is not None)
    ):
        strange = True
    if not strange:
        return _summary_if_between(draft, group)
    others = [d for d in group if d is not draft and is_confirmed(quantity, _without_marks(d), d.unit)]
    told = f"{draft.column.name!r} has values up to {high_value(own) or 0.0:g}, which is not what {draft.quantity} looks like"
    if draft.by_user or (others and not _is_finer(own, others)):
        findings.append(
            Finding(
                "warning",
                "values-implausible",
                f"{told}; it is kept, since {'you said so' if draft.by_user else 'its neighbours are right'}.",
                cylinder=draft.wire.cylinder,
            )
        )
        return draft
    findings.append(
        Finding("warning", "meaning-refuted", f"{told}; it is left aside. Use --column if it is.")
    )
    return _stranger(draft)


def _is_finer(values: Floats, others: Sequence[_Draft]) -> bool:
    """Whether a column is written with finer steps than its neighbours: another kind of sensor."""
    steps = [step for d in others if (step := smallest_step(_without_marks(d))) is not None]
    own = smallest_step(values)
    return own is not None and bool(steps) and own < 0.5 * min(steps)


def _summary_if_between(draft: _Draft, group: Sequence[_Draft]) -> _Draft:
    """A column without a number beside numbered ones is a figure over them, if it never leaves their range."""
    numbered = [d for d in group if d.wire.cylinder is not None and d.unit == draft.unit]
    if (
        not QUANTITIES[draft.quantity].per_cylinder
        or draft.wire.cylinder is not None
        or len(numbered) < 2
        or draft.by_user
    ):
        return draft
    table = np.stack([_without_marks(d) for d in numbered])
    low, high = np.fmin.reduce(table), np.fmax.reduce(table)
    own = _without_marks(draft)
    known = np.isfinite(own) & np.isfinite(low)
    inside = (own >= low - 1.0) & (own <= high + 1.0)
    if known.any() and float(np.mean(inside[known])) >= BETWEEN_SHARE:
        return replace(draft, quantity="summary")
    return _stranger(draft)


def _tell_strangers(
    drafts: Sequence[_Draft], labels: Sequence[Label], clock_places: Sequence[int], findings: list[Finding]
) -> None:
    names = [
        d.column.name
        for d in drafts
        if d.quantity == "unknown"
        and d.place not in clock_places
        and d.column.filled
        and not d.by_user
        and labels[d.place].quantity is None
    ]
    if names:
        findings.append(
            Finding(
                "note",
                "columns-not-understood",
                f"Not understood and left aside: {_listed(names)}. Say what they are with --column if they matter.",
            )
        )


def _with_clock(draft: _Draft, clock: Clock) -> _Draft:
    """A column that the time was read from is a time, whatever its name."""
    if draft.place not in clock.places or draft.quantity == "date":
        return draft
    unit_from: UnitFrom | None = draft.unit_from
    if clock.unit is not None and draft.unit is None:
        unit_from = "values"
    return replace(draft, quantity="time", unit=draft.unit or clock.unit, unit_from=unit_from)


def _channel(draft: _Draft, findings: list[Finding]) -> Channel:
    """The finished channel, its values in the inside unit and read-only."""
    quantity = draft.quantity
    inside = QUANTITIES[quantity].unit
    values: Floats | None = None
    if quantity not in {"text", "date"} and (
        quantity in {"unknown", "summary", "time"} or draft.unit is not None
    ):
        values = _measured(draft, findings) if _is_measured(draft) else draft.column.values
        if quantity == "time" and (draft.unit is None or not np.isfinite(values).any()):
            values = None
        elif inside is not None and draft.unit is not None:
            values = convert_array(values, draft.unit, inside)
    resolution = None if values is None else smallest_step(values)
    if values is not None:
        values = values.copy() if values.flags.writeable and values is draft.column.values else values
        values.flags.writeable = False
    if _is_measured(draft):
        _tell_cells(draft, findings)
    return Channel(
        draft.column.name,
        quantity,
        draft.wire.cylinder,
        draft.unit,
        draft.unit_from,
        draft.wire.engine,
        values,
        resolution,
    )


def _measured(draft: _Draft, findings: list[Finding]) -> Floats:
    """A column's values with the numbers that stand for "missing" taken out."""
    values = draft.column.values
    rest, marks = without_sentinels(values)
    meant = [m for m in marks if is_mark(float(m), rest, QUANTITIES[draft.quantity], draft.unit)]
    if not meant:
        return values
    which = np.isin(values, meant)
    findings.append(
        Finding(
            "note",
            "numbers-for-missing",
            f"In {draft.column.name!r} {_listed([f'{m:g}' for m in meant])} stands for a missing value, {int(which.sum())} times.",
            cylinder=draft.wire.cylinder,
        )
    )
    return np.where(which, np.nan, values)


def _tell_cells(draft: _Draft, findings: list[Finding]) -> None:
    column = draft.column
    if column.words:
        findings.append(
            Finding(
                "note",
                "words-for-missing",
                f"In {column.name!r} {_listed([repr(w) for w in column.words])} stands for a missing value, {column.word_count} times.",
                cylinder=draft.wire.cylinder,
            )
        )


def _listed(names: Sequence[str]) -> str:
    shown = ", ".join(names[:LISTED_NAMES])
    return shown if len(names) <= LISTED_NAMES else f"{shown} and {len(names) - LISTED_NAMES} more"


def smallest_step(values: Floats) -> float | None:
    """Smallest step between different values; ``None`` with fewer than two."""
    different = np.unique(values[np.isfinite(values)])
    if different.size < 2:
        return None
    return float(f"{float(np.min(np.diff(different))):.6g}")
