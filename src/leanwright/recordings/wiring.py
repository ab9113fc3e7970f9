"""Which cylinder and which engine a column belongs to, told by all labels of a recording together."""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from leanwright.findings import Finding
from leanwright.quantities import QUANTITIES
from leanwright.recordings.label import Label
from leanwright.recordings.recording import MOST_ENGINES, OF_ENGINE

FEWEST_CYLINDERS: Final = 4
SIDES: Final = {"left": 1, "right": 2}


@dataclass(frozen=True, slots=True)
class Wire:
    """Where a channel belongs."""

    cylinder: int | None = None
    engine: int = 1


def assign(
    labels: Sequence[Label], fixed: Mapping[int, int | None]
) -> tuple[dict[int, Wire | None], list[Finding]]:
    """Cylinder and engine of every labelled column; ``None`` where its label cannot be placed.

    ``fixed`` holds the columns whose cylinder the user stated. Numbers that begin at 0 are moved up by one.
    """
    several, banks = _engines(labels)
    unclear = engine_not_said(labels, fixed)
    findings = []
    if banks:
        findings.append(
            Finding(
                "warning",
                "numbers-by-side",
                "Left and right columns count their cylinders each from 1, with too few on a side for an engine: say "
                "which cylinder each one is with --column.",
            )
        )
    wires: dict[int, Wire | None] = {}
    for place, label in enumerate(labels):
        if label.quantity is None:
            continue
        engine = _engine(label) if several and label.quantity in OF_ENGINE else 1
        per_cylinder = label.quantity in QUANTITIES and QUANTITIES[label.quantity].per_cylinder
        if place in fixed:
            wires[place] = Wire(fixed[place] if per_cylinder else None, engine or 1)
        elif place in unclear:
            wires[place] = None
        elif not per_cylinder or label.several or label.number is None:
            wires[place] = Wire(None, engine or 1)
        elif (banks and label.side is not None) or engine is None:
            wires[place] = None
        else:
            wires[place] = Wire(label.number, engine)
    moved = _from_one(labels, wires, fixed)
    if moved != wires:
        findings.append(
            Finding(
                "note",
                "numbers-from-zero",
                "The file counts its cylinders from 0; here they count from 1, so the file's cylinder 0 is cylinder 1.",
            )
        )
    return moved, findings


def engine_not_said(labels: Sequence[Label], fixed: Mapping[int, int | None]) -> list[int]:
    """Columns of one engine that do not say of which, in a recording of several.

    One that stands beside the others' alone, as "RPM" beside "RPM 2", is the first engine's.
    """
    if not _engines(labels)[0]:
        return []
    bare: dict[str, list[int]] = {}
    marked: dict[str, set[int]] = {}
    for place, label in enumerate(labels):
        if label.quantity not in OF_ENGINE or QUANTITIES[label.quantity].per_cylinder or label.several:
            continue
        if _mark(label) is None and label.number is None and place not in fixed:
            bare.setdefault(label.quantity, []).append(place)
        else:
            marked.setdefault(label.quantity, set()).add(_engine(label) or 1)
    return sorted(
        place
        for quantity, places in bare.items()
        if len(places) > 1 or 1 in marked.get(quantity, {1})
        for place in places
    )


def _mark(label: Label) -> int | None:
    """The engine that a label names."""
    if label.engine is not None:
        return label.engine
    return SIDES[label.side] if label.side is not None else None


def _engine(label: Label) -> int | None:
    """The engine of a column in a recording of several; the first one for what bears no mark."""
    mark = _mark(label)
    if mark is None and label.quantity is not None and not QUANTITIES[label.quantity].per_cylinder:
        mark = label.number
    if mark is None:
        return 1
    return mark if 1 <= mark <= MOST_ENGINES else None


def _engines(labels: Sequence[Label]) -> tuple[bool, bool]:
    """Whether the labels are of several engines, and whether their sides are rather two banks of one."""
    numbers: dict[int, set[int]] = {}
    for label in labels:
        mark = _mark(label)
        if (
            label.quantity in {"egt", "cht"}
            and label.number is not None
            and mark is not None
            and not label.several
        ):
            numbers.setdefault(mark, set()).add(label.number)
    if any(one & two for one, two in itertools.combinations(numbers.values(), 2)):
        enough = min(map(len, numbers.values())) >= FEWEST_CYLINDERS
        return enough, not enough
    single = {
        quantity: {_engine(label) for label in labels if label.quantity == quantity}
        for quantity in ("engine_speed", "fuel_flow", "manifold_pressure")
    }
    return sum(engines >= {1, 2} and None not in engines for engines in single.values()) > 1, False


def _from_one(
    labels: Sequence[Label], wires: dict[int, Wire | None], fixed: Mapping[int, int | None]
) -> dict[int, Wire | None]:
    """Move numbers that count from 0, a quantity and engine at a time."""
    from_zero = {
        (labels[place].quantity, wire.engine)
        for place, wire in wires.items()
        if wire is not None and wire.cylinder == 0 and place not in fixed
    }
    return {
        place: Wire(wire.cylinder + 1, wire.engine)
        if wire is not None
        and wire.cylinder is not None
        and place not in fixed
        and (labels[place].quantity, wire.engine) in from_zero
        else wire
        for place, wire in wires.items()
    }
