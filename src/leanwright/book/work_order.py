"""The order in which entries count: that of the work, and nothing before what it builds on."""

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


def in_order(items: "list[Item]") -> "list[Item]":
    """Entries by the date of their work, then by their number.

    A worksheet entered from paper may be dated before its job was: it counts from the job's date on, not as if the job
    had never begun.
    """
    counts_from: dict[Key, date] = {}
    placed: list[tuple[date, int, Item]] = []
    for item in sorted(items, key=attrgetter("sequence")):
        key = _builds_on(item)
        day = max(item.day, counts_from.get(key, item.day)) if key is not None else item.day
        if item.kind == "job":
            counts_from["job", item.body.id] = day
        elif item.kind in _BUILT_UPON:
            counts_from["entry", item.latest] = counts_from["entry", item.sequence] = day
        placed.append((day, item.sequence, item))
    placed.sort(key=lambda one: one[:2])
    return [item for _, _, item in placed]


def _builds_on(item: "Item") -> Key | None:
    """What an entry builds on: a job by its name, or another entry by its number."""
    if item.kind in _OF_A_JOB:
        return "job", item.body.job
    field = _OF_AN_ENTRY.get(item.kind)
    return ("entry", getattr(item.body, field)) if field is not None else None
