"""What has to go back, and everything that falls due as a calendar (RFC 5545)."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import asdict
from datetime import UTC, timedelta
from pathlib import Path
from typing import Any, Final

import icalendar
import msgspec

from leanwright.book import chain
from leanwright.book.due import Due, due
from leanwright.book.kinds.parts import Parcel
from leanwright.book.ledger import Ledger, Written
from leanwright.book.state import State, parcel_of
from leanwright.errors import RefusedEntryError
from leanwright.told import Told
from leanwright.workbench import records, standing
from leanwright.workbench.records import NOTHING_SAID, Said
from leanwright.workbench.writing import write_whole

_WARNING: Final = timedelta(days=7)


def to_send(state: State, order: str | None = None) -> list[Parcel]:
    """The parcels that have not been credited yet."""
    parcels = [parcel_of(history) for history in state.parcels.values()]
    return [one for one in parcels if one.state != "credited" and (order is None or one.order == order)]


def parcel_list(book: Ledger, parcel: str) -> dict[str, Any]:
    """What the return list of a parcel shows, as plain data; raises for a parcel that is not in the book."""
    state = book.state()
    history = state.parcels.get(parcel)
    if not history:
        raise RefusedEntryError(
            "no-such-parcel",
            Told("There is no parcel {parcel!r} in the book", parcel=parcel),
            "Enter it first.",
        )
    stands = parcel_of(history)
    return {
        "format": "leanwright/returns/1",
        "head": chain.short(book.head()),
        "entry": history[-1].latest,
        **msgspec.to_builtins(stands),
    }


def old_parts(book: Ledger, job: str) -> list[dict[str, Any]]:
    """The nozzles that a job took out, for their tags and for the parcel: marking, cylinder, tag, entry."""
    found = book.state().jobs[job].removed
    return [
        {
            "cylinder": cylinder,
            "marking": item.body.marking,
            "serial": item.body.serial,
            "tag": item.body.tag,
            "entry": item.latest,
        }
        for cylinder, item in sorted(found.items())
    ]


def parcels(book: Ledger) -> list[dict[str, Any]]:
    """Every parcel as it stands, the newest first, as plain data with every field."""
    found = []
    for history in reversed(book.state().parcels.values()):
        stands = parcel_of(history)
        items = [msgspec.structs.asdict(one) for one in stands.items]
        plain = standing.plain(msgspec.structs.asdict(stands))
        found.append(plain | {"items": items, "entry": history[-1].latest})
    return found


def loose_parts(book: Ledger) -> list[dict[str, Any]]:
    """Old nozzles that are in no parcel yet: a name, what it is in words, and the item for the parcel."""
    state = book.state()
    packed = Counter(
        one.marking
        for history in state.parcels.values()
        for one in parcel_of(history).items
        for _ in range(one.quantity)
    )
    found = []
    for job in state.jobs:
        for one in old_parts(book, job):
            if packed[one["marking"]]:
                packed[one["marking"]] -= 1
                continue
            item = {"marking": one["marking"], "cylinder": one["cylinder"]}
            item |= {"serial": one["serial"]} if one["serial"] else {}
            found.append({"name": f"{one['entry']}", **one, "job": job, "item": item})
    return found


def pack(book: Ledger, parcel: Mapping[str, Any], said: Said = NOTHING_SAID) -> Written:
    """Enter a parcel that has to go back."""
    return records.add(book, "parcel", {"state": "to-send", **parcel}, said)


def mark_sent(
    book: Ledger, parcel: str, day: str, tracking: str | None = None, said: Said = NOTHING_SAID
) -> Written:
    """A parcel has gone."""
    body = {"id": parcel, "state": "sent", "sent": day, **({"tracking": tracking} if tracking else {})}
    return records.add(book, "parcel", body, said)


def mark_credited(
    book: Ledger, parcel: str, day: str, amount: str | None = None, said: Said = NOTHING_SAID
) -> Written:
    """The deposit of a parcel has come back."""
    body = {
        "id": parcel,
        "state": "credited",
        "credited": day,
        **({"amount_credited": amount} if amount else {}),
    }
    return records.add(book, "parcel", body, said)


def due_list(book: Ledger) -> list[dict[str, Any]]:
    """Everything that falls due, as plain data."""
    return [standing.plain(asdict(one)) for one in due(book.state(), book.clock().date())]


def calendar(book: Ledger) -> bytes:
    """Everything that falls due on a date, as an iCalendar with an alarm a week before."""
    now = book.clock()
    made = icalendar.Calendar()
    made.add("prodid", "-//leanwright//reminders//EN")
    made.add("version", "2.0")
    for one in due(book.state(), now.date()):
        if one.day is not None:
            made.add_component(_event(one, book.name, now))
    return bytes(made.to_ical())


def _event(one: Due, ledger: str, now: Any) -> icalendar.Event:
    event = icalendar.Event()
    event.add("uid", f"{ledger}-{one.what}-{one.entry}@leanwright.invalid")
    event.add("dtstamp", now.astimezone(UTC))
    event.add("dtstart", one.day)
    event.add("summary", one.text)
    hours = f" or at {one.hours} h" if one.hours is not None else ""
    event.add("description", f"Due {one.day}{hours}. Entry {one.entry} of the book.")
    event.add("transp", "TRANSPARENT")
    alarm = icalendar.Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", one.text)
    alarm.add("trigger", -_WARNING)
    event.add_component(alarm)
    return event


def write_calendar(book: Ledger, place: Path) -> None:
    """Write the calendar into a file."""
    write_whole(place, calendar(book))
