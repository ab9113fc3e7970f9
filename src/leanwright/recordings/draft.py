"""What is held of a column while its meaning is being told."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.findings import Finding
from leanwright.quantities import QUANTITIES
from leanwright.recordings.column import Column
from leanwright.recordings.corrections import Correction
from leanwright.recordings.label import Label, read_label, read_unit
from leanwright.recordings.letters import number_letters
from leanwright.recordings.plausible import without_sentinels
from leanwright.recordings.recording import UnitFrom
from leanwright.recordings.vocabulary import ROW_NUMBER, squash, vocabulary
from leanwright.recordings.wiring import Wire
from leanwright.told import Told, quoted

Floats = NDArray[np.float64]

LISTED_NAMES: Final = 12


@dataclass(frozen=True, slots=True)
class Draft:
    """What is held of one column so far."""

    place: int
    column: Column
    rest: Floats
    """The column's numbers without those that may be marks for "missing"."""
    quantity: str
    wire: Wire
    unit: str | None = None
    unit_from: UnitFrom | None = None
    strange_unit: str | None = None
    by_user: bool = False
    weak: bool = False
    named_alone: bool = True
    """Whether its name can be typed, and no other column bears it."""


def label_columns(
    names: Sequence[str], units_row: Sequence[str] | None, corrections: Mapping[int, Correction]
) -> tuple[Label, ...]:
    """What each column's name says, with the help of the units row; the user's word goes first."""
    labels = [
        _label(name, units_row[place] if units_row else "", corrections.get(place))
        for place, name in enumerate(names)
    ]
    return tuple(number_letters(names, labels, corrections))


def _label(name: str, unit_cell: str, correction: Correction | None) -> Label:
    label = read_label(name)
    if (label.unit is None or label.unit_implied) and read_unit(unit_cell) is not None:
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


def make_draft(
    place: int,
    column: Column,
    label: Label,
    wire: Wire | None,
    unit_cell: str,
    correction: Correction | None,
) -> Draft:
    """What name, units row and user say of a column."""
    quantity = label.quantity or "unknown"
    if label.several:
        quantity = "summary"
    numbers = int(np.count_nonzero(np.isfinite(column.values)))
    if wire is None or quantity in {"unknown", ROW_NUMBER}:
        texts = column.word_count + column.garbled_count
        no_number = not numbers and (
            column.first_kind == "text" or (column.texts is not None and column.filled > 0)
        )
        is_text = texts > numbers or no_number
        quantity = "text" if is_text and correction is None else "unknown"
        wire = Wire()
    elif not numbers and column.word_count and not QUANTITIES[quantity].per_cylinder and correction is None:
        quantity = quantity if quantity in {"time", "date"} else "text"
    draft = Draft(
        place,
        column,
        without_sentinels(column.values),
        quantity,
        wire,
        by_user=correction is not None,
        weak=label.weak,
    )
    if correction is not None and correction.unit is not None:
        return replace(draft, unit=correction.unit, unit_from="user")
    if read_unit(unit_cell) is not None and (label.unit is None or label.unit_implied):
        return replace(draft, unit=read_unit(unit_cell), unit_from="units-row")
    if label.unit is not None:
        return replace(draft, unit=label.unit, unit_from="header")
    if column.cell_unit is not None:
        return replace(draft, unit=column.cell_unit, unit_from="values")
    strange = label.strange_unit or (unit_cell if squash(unit_cell) in vocabulary().unknown_units else None)
    return replace(draft, strange_unit=strange)


def is_measured(draft: Draft) -> bool:
    """Whether a column holds a quantity whose values are numbers with a unit."""
    return (
        QUANTITIES[draft.quantity].dimension not in {"text", "any", "time"}
        or draft.quantity == "engine_hours"
    )


def without_doubles(drafts: Sequence[Draft], findings: list[Finding]) -> list[Draft]:
    """Of two columns that claim to be the same probe the user's, or the fuller one, is believed."""
    claims: dict[tuple[str, int, int], list[Draft]] = {}
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
                findings.append(_double(best, draft, quantity, cylinder))
    return [stranger(draft) if draft.place in dropped else draft for draft in drafts]


def _double(best: Draft, other: Draft, quantity: str, cylinder: int) -> Finding:
    names = [
        Told("{name!r}", name=d.column.name)
        if d.named_alone
        else Told("#{place} {name!r}", place=d.place + 1, name=d.column.name)
        for d in (best, other)
    ]
    header = other.column.name if other.named_alone else f"#{other.place + 1}"
    message = Told(
        "{used} and {other} both read as {upper} of cylinder {cylinder}; the first is used. "
        'If the second is another cylinder, say which: --column "{header}={quantity}:N".',
        used=names[0],
        other=names[1],
        upper=quantity.upper(),
        cylinder=cylinder,
        header=header,
        quantity=quantity,
    )
    return Finding("warning", "double-column", message, cylinder=cylinder)


def stranger(draft: Draft) -> Draft:
    """The column as one that is not understood."""
    return replace(
        draft, quantity="unknown", wire=Wire(), unit=None, unit_from=None, strange_unit=None, weak=False
    )


def group_of(drafts: Sequence[Draft], draft: Draft) -> list[Draft]:
    """The columns of the same quantity and engine, which share what can be told from values."""
    return [d for d in drafts if d.quantity == draft.quantity and d.wire.engine == draft.wire.engine]


def listed(names: Sequence[str], *, in_quotes: bool = False) -> str:
    """Names one after the other; of very many the first ones and how many more there are."""
    first = names[:LISTED_NAMES]
    shown = quoted(first) if in_quotes else ", ".join(first)
    more = len(names) - LISTED_NAMES
    return Told("{names} and {more} more", names=shown, more=more) if more > 0 else shown
