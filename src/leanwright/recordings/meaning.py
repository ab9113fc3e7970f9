"""Columns → channels: the name says what a column may be, the units row helps, and the values must consent."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.findings import Finding
from leanwright.quantities import QUANTITIES
from leanwright.recordings import letters
from leanwright.recordings.clock import Clock
from leanwright.recordings.column import Column
from leanwright.recordings.consent import confirm
from leanwright.recordings.corrections import Correction
from leanwright.recordings.doubt import doubt_units
from leanwright.recordings.draft import Draft, is_measured, listed, make_draft, without_doubles
from leanwright.recordings.label import Label
from leanwright.recordings.plausible import convert_array, fitting_units, impossible, is_mark
from leanwright.recordings.recording import Channel, UnitFrom
from leanwright.recordings.step import smallest_step
from leanwright.recordings.twins import without_twins
from leanwright.recordings.units import with_units
from leanwright.recordings.wiring import assign, engine_not_said
from leanwright.told import Told

Floats = NDArray[np.float64]

FEWEST_STRANGE: Final = 2
"""So many columns of numbers that are not understood may be the ones that are needed."""
MASS_UNITS: Final = frozenset({"lb/h", "kg/h", "lb", "kg"})


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
    findings += letters.told([column.name for column in columns], labels)
    drafts = [
        make_draft(
            place,
            column,
            labels[place],
            wires.get(place),
            units_row[place] if units_row else "",
            corrections.get(place),
        )
        for place, column in enumerate(columns)
    ]
    names = Counter(column.name for column in columns)
    drafts = [
        replace(draft, named_alone=names[draft.column.name] == 1 and '"' not in draft.column.name)
        for draft in drafts
    ]
    findings += _engine_not_said([drafts[place] for place in engine_not_said(labels, fixed)], labels)
    drafts = without_doubles(drafts, findings)
    drafts, told = with_units(drafts)
    drafts = [confirm(draft, drafts, findings) for draft in drafts]
    findings += [finding for place, finding in told if drafts[place].quantity != "unknown"]
    findings += doubt_units(drafts)
    drafts = without_twins(drafts, findings)
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


def _engine_not_said(drafts: Sequence[Draft], labels: Sequence[Label]) -> list[Finding]:
    """What to do with columns that may be of either engine; those without a reading matter to nobody."""
    unsaid = [draft for draft in drafts if draft.column.filled]
    if not unsaid:
        return []
    first = unsaid[0]
    message = Told(
        "This recording is of several engines, and nothing says of which these columns are: {names}. They are used for "
        'none. Say whose each is, for example --column "{header}={quantity}:1".',
        names=listed([draft.column.name for draft in unsaid], in_quotes=True),
        header=first.column.name if first.named_alone else f"#{first.place + 1}",
        quantity=labels[first.place].quantity,
    )
    return [Finding("warning", "engine-not-said", message)]


def _tell_strangers(
    drafts: Sequence[Draft], labels: Sequence[Label], clock_places: Sequence[int], findings: list[Finding]
) -> None:
    names = [
        d.column.name or f"#{d.place + 1}"
        for d in drafts
        if d.quantity == "unknown"
        and d.place not in clock_places
        and d.column.filled
        and not d.by_user
        and labels[d.place].quantity is None
    ]
    needed = {draft.quantity for draft in drafts} & {"egt", "cht", "fuel_flow"}
    numbers = [d for d in drafts if d.column.name in names and d.column.first_kind == "number"]
    if not needed and len(numbers) >= FEWEST_STRANGE:
        numbered = [d for d in numbers if any(map(str.isdecimal, d.column.name))]
        hot = [d for d in numbered if _egt_unit(d, labels[d.place]) is not None]
        example = (hot or numbered or numbers[-1:])[0]
        unit = _egt_unit(example, labels[example.place]) or "degF"
        findings.append(
            Finding(
                "warning",
                "names-not-understood",
                Told(
                    "None of the names is one of an EGT, a CHT or the fuel flow in a language that is read "
                    'here. Say which columns they are, for example --column "{name}=egt:1:{unit}", and keep '
                    "it with --remember.",
                    name=example.column.name,
                    unit=unit,
                ),
            )
        )
    if names:
        findings.append(
            Finding(
                "note",
                "columns-not-understood",
                Told(
                    "Not understood and left aside: {names}. Say what they are with --column if they matter.",
                    names=listed(names),
                ),
            )
        )


def _egt_unit(draft: Draft, label: Label) -> str | None:
    """The unit in which a column could be an EGT: the one that its name states, else the one that its values fit."""
    fits = fitting_units("egt", draft.rest)
    if label.unit is not None:
        return label.unit if label.unit in fits else None
    return fits[0] if fits else None


def _with_clock(draft: Draft, clock: Clock) -> Draft:
    """A column that the time was read from is a time, whatever its name."""
    if draft.place not in clock.places or draft.quantity == "date":
        return draft
    unit_from: UnitFrom | None = draft.unit_from
    if clock.unit is not None and draft.unit is None:
        unit_from = "values"
    return replace(draft, quantity="time", unit=draft.unit or clock.unit, unit_from=unit_from)


def _channel(draft: Draft, findings: list[Finding]) -> Channel:
    """The finished channel, its values in the inside unit and read-only."""
    quantity = draft.quantity
    inside = QUANTITIES[quantity].unit
    values: Floats | None = None
    if quantity not in {"text", "date"} and (
        quantity in {"unknown", "summary", "time"} or draft.unit is not None
    ):
        values = _measured(draft, findings) if is_measured(draft) else draft.column.values
        if quantity == "time" and (draft.unit is None or not np.isfinite(values).any()):
            values = None
        elif inside is not None and draft.unit is not None and np.isfinite(values).any():
            values = convert_array(values, draft.unit, inside)
            if is_measured(draft):
                values = _possible(draft, values, findings)
    resolution = None if values is None or quantity == "unknown" else smallest_step(values)
    as_written = draft.column.values if values is None and is_measured(draft) else None
    for array in (values, as_written):
        if array is not None:
            array.flags.writeable = False
    if is_measured(draft):
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
        as_written,
    )


def _measured(draft: Draft, findings: list[Finding]) -> Floats:
    """A column's values with the numbers that stand for "missing" taken out."""
    values = draft.column.values
    marks = [] if draft.rest is values else sorted(set(values[np.isfinite(values) & np.isnan(draft.rest)]))
    meant = [m for m in marks if is_mark(float(m), draft.rest, QUANTITIES[draft.quantity], draft.unit)]
    if not meant:
        return values
    which = np.isin(values, meant)
    findings.append(
        Finding(
            "note",
            "numbers-for-missing",
            Told(
                "In {name!r} {names} stands for a missing value ({cells} cells).",
                name=draft.column.name,
                names=listed([f"{m:g}" for m in meant]),
                cells=int(which.sum()),
            ),
            cylinder=draft.wire.cylinder,
        )
    )
    return np.where(which, np.nan, values)


def _possible(draft: Draft, values: Floats, findings: list[Finding]) -> Floats:
    """A column's values [inside unit] without the few that the quantity cannot have.

    Where many are out of reason the column, or its unit, is doubted instead.
    """
    which = impossible(values, QUANTITIES[draft.quantity])
    if which is None:
        return values
    written = draft.column.values[which]
    findings.append(
        Finding(
            "warning",
            "impossible-readings",
            Told(
                "In {name!r} {cells} cells hold what cannot be, such as {worst}; they are left out. Look at the probe and its wiring.",
                name=draft.column.name,
                cells=int(which.sum()),
                worst=f"{written[np.argmax(np.abs(written))]:g}",
            ),
            cylinder=draft.wire.cylinder,
        )
    )
    return np.where(which, np.nan, values)


def _tell_cells(draft: Draft, findings: list[Finding]) -> None:
    column = draft.column
    if column.words:
        findings.append(
            Finding(
                "note",
                "words-for-missing",
                Told(
                    "In {name!r} {names} stands for a missing value ({cells} cells).",
                    name=column.name,
                    names=listed(column.words, in_quotes=True),
                    cells=column.word_count,
                ),
                cylinder=draft.wire.cylinder,
            )
        )
