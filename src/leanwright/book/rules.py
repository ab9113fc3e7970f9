"""What may be written next, whoever asks: rules of all entries here, those of parts, work and papers beside."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final

import msgspec

from leanwright.book import engine_places, fitting_rules, paper_rules, parts_rules, torque_rules
from leanwright.book.entry import EARLIEST_PLAUSIBLE, Entry, Record, local_date
from leanwright.book.fold import PLAIN_KINDS
from leanwright.book.kinds import hangar
from leanwright.book.kinds.table import dates_of
from leanwright.book.state import State, engine_of
from leanwright.errors import RefusedEntryError
from leanwright.told import Told

GetState = Callable[[], State]
_REFERENCES: Final = {
    "engine": ("engines", Told("engine")),
    "aircraft": ("aircraft", Told("aircraft")),
    "owner": ("owners", Told("owner")),
    "job": ("jobs", Told("job")),
    "order": ("orders", Told("order")),
    "set": ("sets", Told("nozzle set")),
    "tool": ("tools", Told("tool")),
}
_NAMED: Final = frozenset({"aircraft", "engine", "job", "nozzle-set", "order", "tool"})
_SIGNED_KINDS: Final = frozenset({"signature", "inspection"})
_CHECKS: Final[dict[str, Callable[[Any, Entry, State], None]]] = {
    "receipt": parts_rules.check_receipt,
    "quarantine-release": parts_rules.check_quarantine_release,
    "nozzle-set": parts_rules.check_set,
    "parcel": parts_rules.check_parcel,
    "squawk": paper_rules.check_squawk,
    "job": fitting_rules.check_job,
    "figure": torque_rules.check_figure,
    "removal": fitting_rules.check_removal,
    "fitting-step": fitting_rules.check_step,
    "torque-reading": torque_rules.check_torque,
    "pause": fitting_rules.check_pause,
    "resume": fitting_rules.check_resume,
    "record": paper_rules.check_record,
    "signature": paper_rules.check_signature,
}


@dataclass(frozen=True, slots=True)
class Candidate:
    """An entry that somebody wants to write, and the time of the entry before it."""

    entry: Entry
    body: Any
    recorded_before: str


def check(candidate: Candidate, get_state: GetState) -> None:
    """Raise :class:`RefusedEntryError` if the entry breaks a rule."""
    entry, body = candidate.entry, candidate.body
    _check_dates(candidate)
    if entry.signature is not None and entry.kind not in _SIGNED_KINDS:
        raise RefusedEntryError(
            "cannot-be-signed",
            Told("A {kind} is not signed", kind=entry.kind),
            "Sign the record of the work.",
        )
    if entry.signature is not None:
        paper_rules.check_time(entry.signature, entry.recorded, candidate.recorded_before)
    if entry.kind == "void":
        _check_void(entry, get_state())
        return
    if not _needs_state(entry, body):
        return
    state = get_state()
    _check_references(body, state)
    check_cylinders(body, state)
    _check_hours(entry, body, state)
    special = _CHECKS.get(entry.kind)
    if special is not None:
        special(body, entry, state)


def _needs_state(entry: Entry, body: Record) -> bool:
    if entry.kind not in PLAIN_KINDS:
        return True
    return bool(entry.worked and entry.worked.hours) or any(getattr(body, name, None) for name in _REFERENCES)


def check_superseding(old: Entry, kind: str, reason: str | None, body: Mapping[str, Any]) -> None:
    """Raise if an entry may not be put in the place of another."""
    if old.kind == "void":
        raise RefusedEntryError(
            "taken-back",
            Told("Entry {sequence} takes another back; it stays", sequence=old.sequence),
            "Write a new entry instead.",
        )
    if kind not in {old.kind, "void"}:
        raise RefusedEntryError(
            "other-kind",
            Told(
                "Entry {sequence} is a {kind}; a {kind_2} cannot correct it",
                sequence=old.sequence,
                kind=old.kind,
                kind_2=kind,
            ),
            "Write the same kind.",
        )
    if not reason or not reason.strip():
        raise RefusedEntryError("no-reason", "A correction needs its reason", "Say why, with --reason.")
    name = msgspec.json.decode(old.body).get("id")
    if kind in _NAMED and name is not None and body.get("id") != name:
        raise RefusedEntryError(
            "other-name",
            Told(
                "Other entries speak of {kind} {name!r} by that name; it cannot become {get!r}",
                kind=kind,
                name=name,
                get=body.get("id"),
            ),
            "Keep the name, or take the entry back and enter another.",
        )


def subject(kind: str, body: Any, get_state: GetState) -> str:
    """What an entry is about, in one line."""
    if kind in {"engine", "aircraft", "tool", "order", "nozzle-set", "document", "parcel"}:
        return f"{kind} {body.id}"
    for name in ("engine", "aircraft"):
        if getattr(body, name, None):
            return f"{name} {getattr(body, name)}"
    if any(getattr(body, name, None) for name in ("job", "order", "record")):
        engine = engine_of(get_state(), body)
        if engine:
            return f"engine {engine}"
    return "book"


def _check_dates(candidate: Candidate) -> None:
    """No work and no event in the future. A clock that is plainly wrong is no measure of that."""
    entry = candidate.entry
    if max(entry.recorded, candidate.recorded_before) < EARLIEST_PLAUSIBLE:
        return
    today = local_date(entry)
    if entry.recorded < candidate.recorded_before:
        today = max(today, date.fromisoformat(candidate.recorded_before[:10]))
    told = [("worked", entry.worked.date)] if entry.worked else []
    for name, day in (*told, *dates_of(candidate.body)):
        if day > today and not name.endswith("due"):
            raise RefusedEntryError(
                "in-the-future",
                Told(
                    "The date {day} ({name}) lies in the future; this machine's date is {today}",
                    day=day,
                    name=name,
                    today=today,
                ),
                "Check the date, and the clock.",
            )


def _check_references(body: Any, state: State) -> None:
    for name, (kept, words) in _REFERENCES.items():
        wanted = getattr(body, name, None)
        known = getattr(state, kept)
        if isinstance(wanted, str) and wanted not in known:
            there = ", ".join(list(known)[:8]) or Told("none yet")
            raise RefusedEntryError(
                f"no-such-{name}",
                Told(
                    "There is no {words} {wanted!r} in the book (there is: {there})",
                    words=Told.of(words),
                    wanted=wanted,
                    there=there,
                ),
                "Enter it first.",
            )


def check_cylinders(body: Any, state: State) -> None:
    """Raise if a body names a cylinder that its engine has not got."""
    if isinstance(body, hangar.Engine):
        engine_places.check_engine(body)
        return
    engine = engine_of(state, body)
    if engine is None or engine not in state.engines:
        return
    count = state.engines[engine].body.cylinders
    for cylinder in _cylinders_of(body):
        if cylinder > count:
            raise RefusedEntryError(
                "no-such-cylinder",
                Told(
                    "Engine {engine} has {count} cylinders; there is no {cylinder}",
                    engine=engine,
                    count=count,
                    cylinder=cylinder,
                ),
                "Check the number.",
            )


def _cylinders_of(body: Any) -> list[int]:
    """Every cylinder that a body names."""
    found: list[int] = []
    own = getattr(body, "cylinder", None)
    if isinstance(own, int):
        found.append(own)
    for name in ("positions", "cylinders", "caught", "touched", "lines"):
        for one in getattr(body, name, ()):
            if isinstance(one, int):
                found.append(one)
            elif isinstance(getattr(one, "cylinder", None), int):
                found.append(one.cylinder)
            else:
                found.extend(getattr(one, "cylinders", ()))
    return found


def _check_hours(entry: Entry, body: Any, state: State) -> None:
    """Hours never go back: an entry lies between those of the work before and after it."""
    if entry.worked is None or entry.worked.hours is None:
        return
    engine = engine_of(state, body)
    if engine is None or (isinstance(body, hangar.Engine) and body.new_meter):
        return
    hours, day = Decimal(entry.worked.hours), entry.worked.date
    for other_day, other, number in state.hours.get(engine, ()):
        earlier = other_day < day and other > hours
        later = other_day > day and other < hours
        same_day = (
            other_day == day
            and other > hours
            and number == max((one[2] for one in state.hours[engine] if one[0] == day), default=0)
        )
        if earlier or later or same_day:
            raise RefusedEntryError(
                "hours-go-back",
                Told(
                    "Engine {engine} had {other} h on {other_day} (entry {number}); {hours} h on {day} does "
                    "not fit",
                    engine=engine,
                    other=other,
                    other_day=other_day,
                    number=number,
                    hours=hours,
                    day=day,
                ),
                "Check the reading. If the meter was changed, correct the engine with new_meter.",
            )


def _check_void(entry: Entry, state: State) -> None:
    """What other entries lean on is corrected, not taken back."""
    for name, kept in (
        ("aircraft", state.aircraft),
        ("engine", state.engines),
        ("nozzle-set", state.sets),
        ("order", state.orders),
        ("tool", state.tools),
    ):
        for key, item in kept.items():
            if item.latest == entry.supersedes and _leans(name, key, state):
                raise RefusedEntryError(
                    "in-use",
                    Told("Other entries speak of {name} {key!r}", name=name, key=key),
                    "Correct it instead of taking it back.",
                )
    for key, job in state.jobs.items():
        if job.item.latest == entry.supersedes and (job.steps or job.figures):
            raise RefusedEntryError(
                "in-use",
                Told("Work was done under job {key!r}", key=key),
                "Correct it instead of taking it back.",
            )


def _leans(name: str, key: str, state: State) -> bool:
    if name == "engine":
        return key in state.fitted or any(job.item.body.engine == key for job in state.jobs.values())
    if name == "aircraft":
        return any(item.body.aircraft == key for item in state.engines.values())
    if name == "nozzle-set":
        users = [*(job.item for job in state.jobs.values()), *state.orders.values()]
        return any(item.body.set == key for item in users)
    if name == "order":
        received = any(item.body.order == key for item in state.receipts)
        return received or any(job.item.body.order == key for job in state.jobs.values())
    return any(item.body.tool == key for job in state.jobs.values() for item in job.torques.values())
