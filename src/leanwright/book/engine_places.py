"""Where the cylinders of an engine lie, as its entry tells; what an entry may say of it."""

from dataclasses import replace
from typing import Final

from leanwright.book.kinds import hangar
from leanwright.engine.nozzle_set import ROW_NAMES
from leanwright.engine.profile import EngineProfile, Row, by_rows, opposed, unplaced
from leanwright.errors import RefusedEntryError
from leanwright.told import Told

_PAIRED: Final = frozenset({"opposed", "vee"})
"""Layouts whose cylinders lie in rows with a left and a right side."""


def profile(body: hangar.Engine) -> EngineProfile:
    """The places of an engine's cylinders, as far as its entry tells them."""
    if body.rows:
        found = by_rows(_rows(body), body.firing_order)
        # To be counted from an end is said of opposed engines, whose one bank lies a little further aft.
        return found if body.layout == "opposed" else replace(found, numbering=None)
    if body.layout != "opposed" or body.numbering is None:
        return unplaced(body.cylinders, body.firing_order)
    return opposed(body.cylinders, body.numbering, body.firing_order or None)


def place_words(engine: hangar.Engine, cylinder: int) -> str:
    """Where a cylinder lies, in words: "middle right"; empty where the entry does not tell."""
    places = profile(engine).places
    here = places.get(cylinder)
    if here is None:
        return ""
    names = ROW_NAMES.get(1 + max(place.row for place in places.values()))
    row = names[here.row] if names else Told("row {number}", number=here.row + 1)
    return Told("{row} {bank}", row=row, bank=Told("left") if here.bank == "left" else Told("right"))


def check_engine(body: hangar.Engine) -> None:
    """An engine's cylinders, rows and firing order agree with each other."""
    if body.layout == "opposed" and body.cylinders % 2 and not body.rows:
        raise RefusedEntryError(
            "odd-opposed",
            Told("An opposed engine has no {cylinders} cylinders", cylinders=body.cylinders),
            'Write "layout": "radial" or "in-line", name the rows, or correct the number.',
        )
    if body.firing_order and sorted(body.firing_order) != list(range(1, body.cylinders + 1)):
        raise RefusedEntryError(
            "firing-order",
            Told(
                "The firing order {firing_order} does not name each of 1 to {cylinders} once",
                firing_order="-".join(map(str, body.firing_order)),
                cylinders=body.cylinders,
            ),
            "Copy it from the engine's manual, with the numbering that belongs to it.",
        )
    if body.rows:
        _check_rows(body)


def _check_rows(body: hangar.Engine) -> None:
    mend = "Name the rows from the front, with the number of the cylinder on each side."
    if body.layout not in _PAIRED:
        raise RefusedEntryError(
            "rows-of-a-layout",
            Told("An engine whose layout is {layout} has no rows with two sides", layout=body.layout),
            "Leave the rows out.",
        )
    try:
        found = by_rows(_rows(body), body.firing_order)
    except ValueError as error:
        raise RefusedEntryError("rows", Told("The rows do not fit: {error}", error=error), mend) from error
    if found.cylinders != body.cylinders:
        raise RefusedEntryError(
            "rows",
            Told(
                "The rows name {cylinders} cylinders; the engine has {cylinders_2}",
                cylinders=found.cylinders,
                cylinders_2=body.cylinders,
            ),
            mend,
        )
    if body.numbering is not None and body.numbering != found.numbering:
        raise RefusedEntryError(
            "rows-against-numbering",
            Told(
                "The cylinders are said to be counted {numbering}, but by the rows cylinder 1 does not "
                "lie there",
                numbering=body.numbering,
            ),
            "Leave the numbering out, or correct the rows.",
        )


def _rows(body: hangar.Engine) -> tuple[Row, ...]:
    return tuple((row.left, row.right) for row in body.rows)
