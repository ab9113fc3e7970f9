"""How the state follows from the entries: a fold of them and nothing else."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any, Final

from leanwright.book.entry import Entry, Sealed, local_date
from leanwright.book.kinds import hangar, work
from leanwright.book.kinds.table import DECODERS
from leanwright.book.state import FigureState, Held, Item, JobState, Placed, RecordState, State, engine_of
from leanwright.book.work_order import in_order

PLAIN_KINDS: Final = frozenset({"note", "attachment", "void"})
"""Kinds from which nothing follows but themselves."""


def fold(
    sealed: Iterable[Sealed],
    superseding: Mapping[int, int],
    *,
    until: date | None = None,
    engine: str | None = None,
    until_hours: Decimal | None = None,
    without: int | None = None,
) -> State:
    """The state after all entries, in the order of the work; with a limit, after those done up to it.

    A correction stands in the place of the entry that it corrects; what was taken back is left out, and so is the
    entry numbered ``without``: against what remains its correction is judged.
    """
    state = State()
    items = in_order(
        [
            item
            for item in _items(sealed, superseding, state)
            if item.latest != without and (until is None or item.day <= until)
        ]
    )
    if engine is not None and until_hours is not None:
        items = items[: _first_after(items, engine, until_hours)]
    for item in items:
        _apply(state, item)
    return state


def _first_after(items: Sequence[Item], engine: str, hours: Decimal) -> int:
    """The place of the first entry that tells of more hours than these, after the last one that tells of no more.

    Most entries tell no hours; they lie between those that do. With a new meter the same hours come twice, and the later
    time is meant.
    """
    state = State()
    told: list[tuple[int, Decimal]] = []
    for place, item in enumerate(items):
        _apply(state, item)
        if item.hours is not None and engine_of(state, item.body) == engine:
            told.append((place, item.hours))
    last = max((place for place, read in told if read <= hours), default=-1)
    return next((place for place, read in told if place > last and read > hours), len(items))


def _items(sealed: Iterable[Sealed], superseding: Mapping[int, int], state: State) -> Iterator[Item]:
    """What each entry says now; those that were superseded come last, when all their versions are known."""
    later = frozenset(superseding.values())
    first: list[Sealed] = []
    replaced: dict[int, Sealed] = {}
    for one in sealed:
        entry = one.entry
        number = state.head_sequence = entry.sequence
        if number in later:
            replaced[number] = one
        elif number in superseding:
            first.append(one)
        elif not _says_nothing(entry):
            yield _item(number, one)
    for one in first:
        holds = _holding(one.entry.sequence, superseding, replaced)
        if not _says_nothing(holds.entry):
            yield _item(one.entry.sequence, holds)


def fold_more(state: State, sealed: Sealed) -> State:
    """The state after one more entry. A correction, or work done before other work, makes the state stale."""
    entry = sealed.entry
    state.head_sequence = entry.sequence
    if entry.supersedes is not None:
        state.stale = True
    elif not _says_nothing(entry):
        item = _item(entry.sequence, sealed)
        if item.day < state.latest_day:
            state.stale = True
        else:
            _apply(state, item)
    return state


def _holding(sequence: int, superseding: Mapping[int, int], replaced: Mapping[int, Sealed]) -> Sealed:
    """The version that holds of an entry that was superseded; one that takes it back says nothing."""
    while sequence in superseding:
        sequence = superseding[sequence]
    return replaced[sequence]


def _says_nothing(entry: Entry) -> bool:
    """Whether nothing follows from an entry; the hours that a remark was made at count."""
    return entry.kind in PLAIN_KINDS and (entry.worked is None or entry.worked.hours is None)


def _day(entry: Entry) -> date:
    return entry.worked.date if entry.worked else local_date(entry)


def _item(sequence: int, sealed: Sealed) -> Item:
    entry = sealed.entry
    hours = Decimal(entry.worked.hours) if entry.worked and entry.worked.hours else None
    body = DECODERS[entry.kind].decode(entry.body)
    return Item(
        sequence,
        entry.sequence,
        entry.kind,
        body,
        _day(entry),
        entry.author.name,
        hours,
        entry.signature,
        entry.recorded,
        sealed.hash,
    )


def _apply(state: State, item: Item) -> None:
    state.latest_day = max(state.latest_day, item.day)
    named = _BY_ID.get(item.kind)
    if named is not None:
        field_name, key = named
        getattr(state, field_name)[getattr(item.body, key)] = item
    else:
        handler = _HANDLERS.get(item.kind)
        if handler is not None:
            handler(state, item)
    if item.hours is not None:
        engine = engine_of(state, item.body)
        if engine:
            state.hours.setdefault(engine, []).append((item.day, item.hours, item.sequence))
    if item.kind == "engine" and item.body.new_meter:
        state.hours[item.body.id] = []


def _place(state: State, engine: str, cylinder: int, marking: str, serial: str | None, item: Item) -> None:
    state.fitted.setdefault(engine, {})[cylinder] = Placed(marking, serial, item.day, item.hours, item.latest)


def _as_found(state: State, item: Item) -> None:
    body: work.AsFound = item.body
    _place(state, body.engine, body.cylinder, body.marking, body.serial, item)
    state.as_found[body.engine, body.cylinder] = body.marking


def _job(state: State, item: Item) -> None:
    state.jobs[item.body.id] = JobState(item)


def _figure(state: State, item: Item) -> None:
    body: work.Figure = item.body
    job = state.jobs.get(body.job)
    if job is None:
        return
    known = job.figures.get(body.what)
    if body.confirms is not None and known is not None:
        known.confirmed = item
    else:
        job.figures[body.what] = FigureState(item)


def _removal(state: State, item: Item) -> None:
    body: work.Removal = item.body
    job = state.jobs.get(body.job)
    if job is None:
        return
    job.removed[body.cylinder] = item
    job.steps["old-nozzle-out", body.cylinder] = item
    state.fitted.get(job.item.body.engine, {}).pop(body.cylinder, None)


def _step(state: State, item: Item) -> None:
    body: work.FittingStep = item.body
    job = state.jobs.get(body.job)
    if job is None:
        return
    job.steps[body.step, body.cylinder] = item
    if body.step == "marking-read" and body.cylinder is not None and body.marking is not None:
        _place(state, job.item.body.engine, body.cylinder, body.marking, body.serial, item)


def _torque(state: State, item: Item) -> None:
    body: work.TorqueReading = item.body
    job = state.jobs.get(body.job)
    if job is None:
        return
    job.torques[body.step, body.cylinder] = item
    job.steps.pop((body.step, body.cylinder), None)
    job.steps[body.step, body.cylinder] = item


def _pause(state: State, item: Item) -> None:
    job = state.jobs.get(item.body.job)
    if job is not None:
        job.paused = item if item.kind == "pause" else None


def _inspection(state: State, item: Item) -> None:
    job = state.jobs.get(item.body.job or "")
    if job is not None:
        job.inspections.append(item)
    else:
        state.checks.append(item)


def _quarantine(state: State, item: Item) -> None:
    state.quarantine[item.sequence] = Held(item)


def _receipt(state: State, item: Item) -> None:
    """What does not match the order is in quarantine from the same entry on: there is no moment in between."""
    state.receipts.append(item)
    if item.body.result != "right":
        state.quarantine[item.sequence] = Held(item)


def _out_of_quarantine(state: State, item: Item) -> None:
    held = state.quarantine.get(item.body.quarantine)
    if held is not None:
        held.released = item


def _parcel(state: State, item: Item) -> None:
    state.parcels.setdefault(item.body.id, []).append(item)


def _squawk(state: State, item: Item) -> None:
    body: hangar.Squawk = item.body
    if body.state == "closed" and body.closes is not None:
        state.squawks.pop(body.closes, None)
    elif body.state == "open":
        state.squawks[item.sequence] = item


def _record(state: State, item: Item) -> None:
    state.records[item.sequence] = RecordState(item)
    job = state.jobs.get(item.body.job)
    if job is not None:
        job.record = item.sequence


def _signature(state: State, item: Item) -> None:
    # A signature belongs to the very version that was shown: after a correction of the draft nobody has signed it.
    for record in state.records.values():
        if item.body.record == record.item.latest:
            record.signatures.append(item)


def _fuel(state: State, item: Item) -> None:
    """Another grade shifts all flows at peak: it counts as work done."""
    before = state.fuel.get(item.body.engine)
    if before is not None and before.body.grade != item.body.grade:
        state.work_done.append(item)
    state.fuel[item.body.engine] = item


def _listed(name: str) -> Any:
    def handler(state: State, item: Item) -> None:
        getattr(state, name).append(item)

    return handler


def _reminder(state: State, item: Item) -> None:
    state.reminders[item.sequence] = item


_BY_ID: Final = {
    "owner": ("owners", "id"),
    "person": ("persons", "name"),
    "aircraft": ("aircraft", "id"),
    "engine": ("engines", "id"),
    "tool": ("tools", "id"),
    "nozzle-set": ("sets", "id"),
    "order": ("orders", "id"),
    "document": ("documents", "id"),
    "interval": ("intervals", "what"),
}
_HANDLERS: Final = {
    "as-found": _as_found,
    "bottle-test": _listed("bottle_tests"),
    "check": _listed("checks"),
    "decision": _listed("decisions"),
    "figure": _figure,
    "fitting-step": _step,
    "fuel-grade": _fuel,
    "inspection": _inspection,
    "job": _job,
    "parcel": _parcel,
    "pause": _pause,
    "quarantine": _quarantine,
    "quarantine-release": _out_of_quarantine,
    "receipt": _receipt,
    "record": _record,
    "recording": _listed("recordings"),
    "reminder": _reminder,
    "removal": _removal,
    "resume": _pause,
    "signature": _signature,
    "squawk": _squawk,
    "torque-reading": _torque,
    "work": _listed("work_done"),
}
