"""What is due, and when: calibrations, cleaning, parcels, reminders, maintenance documents."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Literal

from leanwright.book.state import State, parcel_of
from leanwright.book.torque_rules import calibration_due
from leanwright.told import Told

What = Literal["wrench-calibration", "nozzle-cleaning", "parcel", "reminder", "document"]


@dataclass(frozen=True, slots=True)
class Due:
    """Something that falls due: on a date, at an engine's hours [h], or both; and by which entry."""

    what: What
    text: str
    entry: int
    day: date | None = None
    hours: Decimal | None = None
    engine: str | None = None
    overdue: bool = False


def due(state: State, today: date) -> tuple[Due, ...]:
    """Everything that falls due, what is overdue first, then by date."""
    found = [*_tools(state), *_cleaning(state), *_parcels(state), *_reminders(state), *_documents(state)]
    judged = [_judged(one, state, today) for one in found]
    return tuple(sorted(judged, key=lambda one: (not one.overdue, one.day or date.max, one.text)))


def latest_reading(state: State, engine: str | None) -> tuple[date, Decimal] | None:
    """When the hours of an engine were read last, and how many they were [h]."""
    readings = state.hours.get(engine) if engine else None
    return max(readings, key=lambda one: (one[0], one[2]))[:2] if readings else None


def latest_hours(state: State, engine: str | None) -> Decimal | None:
    """The hours that an engine had last [h]."""
    reading = latest_reading(state, engine)
    return reading[1] if reading else None


def _judged(one: Due, state: State, today: date) -> Due:
    now_h = latest_hours(state, one.engine)
    past_day = one.day is not None and one.day < today
    past_hours = one.hours is not None and now_h is not None and now_h >= one.hours
    return Due(one.what, one.text, one.entry, one.day, one.hours, one.engine, past_day or past_hours)


def _tools(state: State) -> Iterator[Due]:
    for item in state.tools.values():
        if item.body.withdrawn:
            continue
        day = calibration_due(item.body, state)
        if day is not None:
            text = Told("Calibration of {kind} {tool}", kind=item.body.kind, tool=item.body.id)
            yield Due("wrench-calibration", text, item.latest, day)


def _cleaning(state: State) -> Iterator[Due]:
    """Nozzles are cleaned by the owner's interval, from the day on which the newest of them was fitted."""
    interval = state.intervals.get("nozzle-cleaning")
    if interval is None:
        return
    for engine, places in state.fitted.items():
        newest = max(places.values(), key=lambda one: one.since, default=None)
        if newest is None:
            continue
        day = newest.since + timedelta(days=interval.body.days) if interval.body.days else None
        hours = (
            newest.since_hours + Decimal(interval.body.hours)
            if interval.body.hours and newest.since_hours is not None
            else None
        )
        if day or hours:
            text = Told(
                "Clean the nozzles of engine {engine} ({source})", engine=engine, source=interval.body.source
            )
            yield Due("nozzle-cleaning", text, interval.latest, day, hours, engine)


def _parcels(state: State) -> Iterator[Due]:
    for history in state.parcels.values():
        parcel = parcel_of(history)
        if parcel.state == "to-send" and parcel.due is not None:
            text = (
                Told("Send back parcel {parcel} to {to}", parcel=parcel.id, to=parcel.to)
                if parcel.to
                else Told("Send back parcel {parcel}", parcel=parcel.id)
            )
            yield Due("parcel", text, history[-1].latest, parcel.due)


def _reminders(state: State) -> Iterator[Due]:
    for item in state.reminders.values():
        body = item.body
        if not body.done and (body.due or body.due_hours):
            hours = Decimal(body.due_hours) if body.due_hours else None
            yield Due("reminder", body.text, item.latest, body.due, hours, body.engine)


def _documents(state: State) -> Iterator[Due]:
    for item in state.documents.values():
        body = item.body
        if body.next_due or body.next_due_hours:
            hours = Decimal(body.next_due_hours) if body.next_due_hours else None
            text = Told(
                "{type} {document} revision {revision}: {title}"
                if body.title
                else "{type} {document} revision {revision}",
                type=body.type,
                document=body.id,
                revision=body.revision,
                title=body.title,
            )
            yield Due("document", text, item.latest, body.next_due, hours, body.engine)
