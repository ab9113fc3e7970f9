"""The order in which entries count: that of the work, and nothing before what it builds on."""

from collections.abc import Iterable
from datetime import date
from operator import attrgetter
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from leanwright.book.state import Item

Key = tuple[str, str | int | None]
_OF_A_JOB: Final = frozenset(
    {
        "figure",
        "fitting-step",
        "inspection",
        "pause",
        "record",
        "removal",
        "resume",
        "torque-reading",
    }
)
_OF_AN_ENTRY: Final = {"quarantine-release": "quarantine", "signature": "record", "squawk": "closes"}
_BUILT_UPON: Final = frozenset({"quarantine", "receipt", "record", "squawk"})
_CONCERNED: Final = _OF_A_JOB | _BUILT_UPON | _OF_AN_ENTRY.keys() | {"job"}


def in_order(items: "list[Item]") -> "list[Item]":
    """Entries by the date of their work, then by their number.

    A worksheet entered from paper may be dated before its job was: it counts from the job's date on, not as if the job
    had never begun.
    """
    moved = _moved(item for item in items if item.kind in _CONCERNED)
    if moved:
        return sorted(items, key=lambda one: (moved.get(one.sequence, one.day), one.sequence))
    return sorted(items, key=attrgetter("day", "sequence"))


def _moved(items: "Iterable[Item]") -> dict[int, date]:
    """The entries that are dated before what they build on, and the date from which they count."""
    counts_from: dict[Key, date] = {}
    moved: dict[int, date] = {}
    for item in sorted(items, key=attrgetter("sequence")):
        day = max(item.day, counts_from.get(_builds_on(item), item.day))
        if day != item.day:
            moved[item.sequence] = day
        if item.kind == "job":
            counts_from["job", item.body.id] = day
        elif item.kind in _BUILT_UPON:
            counts_from["entry", item.latest] = counts_from["entry", item.sequence] = day
    return moved


def _builds_on(item: "Item") -> Key:
    """What an entry builds on: a job by its name, or another entry by its number."""
    if item.kind in _OF_A_JOB:
        return "job", item.body.job
    name = _OF_AN_ENTRY.get(item.kind)
    return "entry", getattr(item.body, name) if name else None
