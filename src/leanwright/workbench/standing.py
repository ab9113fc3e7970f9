"""Where the book stands: engines and what is in them, open steps, what is due, whether the backup is fresh."""

import re
from dataclasses import asdict
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, Final

import msgspec

from leanwright.book import chain
from leanwright.book.due import due, latest_hours
from leanwright.book.engine_places import place_words
from leanwright.book.engine_work import done_to
from leanwright.book.entry import HOURS, TIME_FORM
from leanwright.book.job_progress import open_steps
from leanwright.book.ledger import Ledger
from leanwright.book.state import JobState, State, parcel_of
from leanwright.errors import RefusedEntryError
from leanwright.told import Told
from leanwright.workbench import engines

BACKUP_AGE: Final = timedelta(hours=24)
"""A backup is at most a day behind (AMC to M.A.305(e), also AMC to CAMO.B.220: updated within 24 hours of an entry)."""


def status(book: Ledger) -> dict[str, Any]:
    """Everything that the start page and ``book status`` show."""
    state = book.state()
    now = book.clock()
    head = book.head()
    due_list = [plain(asdict(one)) for one in due(state, now.date())]
    backup = backup_status(book, state, now)
    return {
        "format": "leanwright/book-status/1",
        "place": book.store.place,
        "ledger": book.name,
        "head": chain.short(head),
        "head_hash": head,
        "entries": state.head_sequence,
        "notes": list(book.store.notes),
        "engines": [engine_status(state, name) for name in state.engines],
        "quarantine": [
            quarantine_row(number, state) for number, one in state.quarantine.items() if one.released is None
        ],
        "returns": [plain(msgspec.to_builtins(parcel_of(history))) for history in state.parcels.values()],
        "squawks": [{"entry": one.latest, "text": one.body.text} for one in state.squawks.values()],
        "due": due_list,
        "overdue": sum(1 for one in due_list if one["overdue"]),
        "backup": backup,
    }


def backup_status(book: Ledger, state: State, now: datetime) -> dict[str, Any]:
    """When the last backup was made, what came since, and whether that is too long ago."""
    made = book.events("backup")
    last = made[-1] if made else None
    since = state.head_sequence - (last["entries"] if last else 0)
    started = last["recorded"] if last else (book.entry(1)[0].entry.recorded if state.head_sequence else None)
    age = now - datetime.strptime(started + "+0000", f"{TIME_FORM}%z") if started else timedelta()
    return {
        "last": last["recorded"] if last else None,
        "file": last["file"] if last else None,
        "entries_since": since,
        "overdue": since > 0 and age > BACKUP_AGE,
    }


def engine_status(state: State, engine: str) -> dict[str, Any]:
    """One engine: what is in which cylinder since when by which entry, its jobs, and whether it is released."""
    body = state.engines[engine].body
    places = state.fitted.get(engine, {})
    jobs = [job_status(state, job) for job in state.jobs.values() if job.item.body.engine == engine]
    hours = latest_hours(state, engine)
    return {
        "engine": engine,
        "aircraft": body.aircraft,
        "hours": str(hours) if hours is not None else None,
        "status": Told("not released") if any(not job["released"] for job in jobs) else Told("no open work"),
        "fitted": [
            {"cylinder": number, "place": place_words(body, number) or None, **placed(places.get(number))}
            for number in range(1, body.cylinders + 1)
        ],
        "jobs": jobs,
    }


def engine_at(
    book: Ledger, engine: str, *, day: date | None = None, hours: str | None = None
) -> dict[str, Any]:
    """One engine as it was at the end of a date, or when it had so many hours [h], with what had been done to it by then.

    What was entered late counts too. The profile of an engine that was entered only later is taken from there. Raises for
    an engine that the book does not know at all.
    """
    if hours is not None and not re.fullmatch(HOURS, hours):
        raise RefusedEntryError(
            "bad-hours", Told("{hours!r} is no reading of hours", hours=hours), 'Write it like "1234.5".'
        )
    state = book.state_at(day=day, engine=engine, hours=Decimal(hours) if hours is not None else None)
    if engine not in state.engines:
        known = book.state().engines
        if engine not in known:
            there = ", ".join(known) or "none yet"
            raise RefusedEntryError(
                "no-such-engine",
                Told(
                    "There is no engine {engine!r} in the book (there is: {there})",
                    engine=engine,
                    there=there,
                ),
                "Check the name.",
            )
        state.engines[engine] = known[engine]
    return {
        "format": "leanwright/engine/1",
        "head": chain.short(book.head()),
        "profile": engines.shown(book, engine),
        **engine_status(state, engine),
        "done": [plain(asdict(one)) for one in done_to(state, engine)],
    }


def placed(one: Any) -> dict[str, Any]:
    """The nozzle in a cylinder as plain data; all ``None`` where nothing is known."""
    if one is None:
        return {"marking": None, "serial": None, "since": None, "since_hours": None, "entry": None}
    return plain(asdict(one))


def job_status(state: State, job: JobState) -> dict[str, Any]:
    """How far a job is: what is open, whether it rests, whether its record is signed."""
    record = state.records.get(job.record) if job.record is not None else None
    return {
        "job": job.item.body.id,
        "entry": job.item.latest,
        "open_steps": [{"step": step, "cylinder": cylinder} for step, cylinder in open_steps(job)],
        "paused": job.paused is not None,
        "record": record.item.latest if record else None,
        "released": bool(record and record.released),
    }


def quarantine_row(number: int, state: State) -> dict[str, Any]:
    """A part in quarantine as plain data."""
    item = state.quarantine[number].item
    because = item.body.because if item.kind == "quarantine" else item.body.result
    return {
        "entry": number,
        "marking": item.body.marking,
        "serial": item.body.serial,
        "order": item.body.order,
        "because": because,
        "since": item.day.isoformat(),
    }


def plain(values: dict[str, Any]) -> dict[str, Any]:
    """Dates and decimals as text, all else as it is."""
    return {
        name: value.isoformat()
        if isinstance(value, date)
        else str(value)
        if isinstance(value, Decimal)
        else value
        for name, value in values.items()
    }
