"""What the sheets show, gathered from the state of the book: plain frozen data, nothing worded."""

from datetime import date
from typing import Any, Final

from leanwright.book import chain, parts_rules, record_check
from leanwright.book.due import latest_hours
from leanwright.book.engine_places import profile
from leanwright.book.job_progress import joint_inlb, to_touch
from leanwright.book.kinds import work
from leanwright.book.kinds.table import DECODERS
from leanwright.book.ledger import Ledger
from leanwright.book.paper_rules import shown_digest
from leanwright.book.state import Item, JobState, RecordState, State, parcel_of
from leanwright.book.torque_rules import calibration_due, may_be_used, needs_second_person
from leanwright.engine.profile import unplaced
from leanwright.engine.torque import UNITS_INLB, to_inlb
from leanwright.report.sheet_fitting import Block, Done, Figure, Fitting, Health, Wrench
from leanwright.report.sheet_receiving import Came, Ordered, Receiving
from leanwright.report.sheet_record import ItemFound, Record, Signed
from leanwright.report.sheet_returns import Item as PackedItem
from leanwright.report.sheet_returns import Returns
from leanwright.report.sheet_source import EntryMark, OfEngine
from leanwright.report.sheet_tags import Apart, New, Old
from leanwright.workbench import fit

_CHECKS: Final = {"timing": "ignition-timing"}
"""A check of the book whose word on sheets has another name."""


def mark(item: Item) -> EntryMark:
    """The entry that something of the state rests on."""
    return EntryMark(item.latest, chain.short(item.hash), item.sequence)


def of_engine(state: State, engine: str | None) -> OfEngine:
    """An engine with its aircraft and hours; without places where the book knows none."""
    if engine is None or engine not in state.engines:
        return OfEngine(engine, None, None, None, None, unplaced(0))
    body = state.engines[engine].body
    hours = latest_hours(state, engine)
    return OfEngine(
        engine,
        body.aircraft,
        body.model,
        body.serial,
        None if hours is None else str(hours),
        profile(body),
    )


def return_due(state: State, order: str | None) -> str | None:
    """By which day the old parts of an order go back."""
    item = state.orders.get(order or "")
    return str(item.body.return_due) if item is not None and item.body.return_due else None


def receiving(state: State, order: str) -> Receiving:
    """The receiving list of an order."""
    body = state.orders[order].body
    came = [one for one in state.receipts if one.body.order == order]
    right = [one.body.marking for one in came if one.body.result == "right"]
    nozzle_set = state.sets.get(body.set or "")
    approval = nozzle_set.body.approval if nozzle_set is not None else None
    named = (
        [f"{approval.document} {approval.revision or ''}".strip(), approval.supplement, *approval.placards]
        if approval is not None
        else []
    )
    return Receiving(
        order=order,
        supplier=body.supplier,
        ordered=str(body.ordered) if body.ordered else None,
        engine=of_engine(state, body.engine),
        lines=tuple(
            Ordered(line.marking, line.quantity, line.cylinders, right.count(line.marking))
            for line in body.lines
        ),
        came=tuple(_came(state, one) for one in came),
        missing=tuple(parts_rules.missing(state, order)),
        documents=tuple(one for one in named if one),
        return_due=return_due(state, order),
        deposit=body.deposit,
        currency=body.currency,
    )


def _came(state: State, item: Item) -> Came:
    held = state.quarantine.get(item.sequence)
    let_out = held.released.body.by if held is not None and held.released is not None else None
    body = item.body
    return Came(body.marking, body.cylinder, body.serial, body.result, body.instead_of, mark(item), let_out)


def new_nozzles(state: State, order: str) -> tuple[New, ...]:
    """The nozzles of an order that came as ordered, each with the cylinder that it is meant for."""
    lines = state.orders[order].body.lines
    return tuple(
        New(one.body.marking, one.body.cylinder or _only_cylinder(lines, one.body.marking), one.body.serial, order, mark(one))
        for one in state.receipts
        if one.body.order == order and one.body.result == "right"
    )  # fmt: skip


def _only_cylinder(lines: Any, marking: str) -> int | None:
    """The cylinder that a marking was ordered for, if there is only one."""
    meant = [number for line in lines if line.marking == marking for number in line.cylinders]
    return meant[0] if len(meant) == 1 else None


def in_quarantine(state: State, order: str | None) -> tuple[Apart, ...]:
    """What is in quarantine and has not been let out; of one order, or all of it."""
    return tuple(
        Apart(
            marking=one.item.body.marking,
            serial=one.item.body.serial,
            order=one.item.body.order,
            because=one.item.body.because if one.item.kind == "quarantine" else one.item.body.result,
            in_words=one.item.kind == "quarantine",
            since=one.item.day.isoformat(),
            entry=mark(one.item),
        )
        for one in state.quarantine.values()
        if one.released is None and (order is None or one.item.body.order == order)
    )


def old_nozzles(state: State, job: JobState) -> tuple[Old, ...]:
    """The nozzles that a job takes out: as they were entered, or as the book has them now."""
    return tuple(_old(state, job, planned.cylinder) for planned in job.item.body.positions)


def _old(state: State, job: JobState, cylinder: int) -> Old:
    item = job.removed.get(cylinder)
    in_book = _in_book(state, job, cylinder)
    if item is None:
        return Old(cylinder, in_book, None, None, None, None, None, None, mark(job.item))
    body = item.body
    hours = None if item.hours is None else str(item.hours)
    day = item.day.isoformat()
    return Old(cylinder, in_book, body.marking, body.serial, body.tag, day, hours, body.condition, mark(item))


def _in_book(state: State, job: JobState, cylinder: int) -> str | None:
    """What the book has in a cylinder before the job takes it out; nothing afterwards."""
    if cylinder in job.removed:
        return None
    placed = state.fitted.get(job.item.body.engine, {}).get(cylinder)
    return placed.marking if placed else None


def returns(state: State, parcel: str) -> Returns:
    """The return list of a parcel, as it stands."""
    history = state.parcels[parcel]
    stands = parcel_of(history)
    order = state.orders.get(stands.order or "")
    return Returns(
        parcel=parcel,
        state=stands.state,
        to=stands.to,
        due=str(stands.due) if stands.due else None,
        order=stands.order,
        deposit=stands.deposit,
        currency=stands.currency,
        sent=str(stands.sent) if stands.sent else None,
        tracking=stands.tracking,
        credited=str(stands.credited) if stands.credited else None,
        amount_credited=stands.amount_credited,
        engine=of_engine(state, order.body.engine if order is not None else None),
        items=tuple(PackedItem(one.marking, one.quantity, one.serial, one.cylinder) for one in stands.items),
        history=tuple((item.body.state, mark(item)) for item in history),
    )


def record(book: Ledger, state: State, number: int) -> tuple[Record, EntryMark]:
    """A record by the number of any of its versions; only the one that holds is checked."""
    holds = next((one for one in state.records.values() if one.item.latest == number), None)
    if holds is not None:
        return _record(state, holds.item.body, holds), mark(holds.item)
    sealed, newer = book.entry(number)
    body = DECODERS["record"].decode(sealed.entry.body)
    entry = EntryMark(number, chain.short(sealed.hash), number, newer)
    return _record(state, body, None), entry


def _record(state: State, body: Any, held: RecordState | None) -> Record:
    job = state.jobs.get(body.job)
    return Record(
        job=body.job,
        text=body.text,
        released=held is not None and held.released,
        engine=of_engine(state, job.item.body.engine if job else None),
        findings=tuple(
            ItemFound(one.item, one.asks, one.verdict, one.found, one.rule, one.text_of)
            for one in (record_check.check(state, held) if held is not None else ())
        ),
        signed=tuple(_signed(one) for one in (held.signatures if held is not None else ())),
        digest=shown_digest(body.text),
    )


def _signed(item: Item) -> Signed:
    one = item.signature
    assert one is not None  # noqa: S101  the fold keeps no signature without one
    return Signed(
        one.name, f"{one.certificate_kind} {one.certificate_number}", one.meaning, one.time, mark(item)
    )


def fitting(state: State, job: JobState, today: date) -> Fitting:
    """The worksheet of a job; the wrenches on it are those that may be used today."""
    plan: work.Job = job.item.body
    return Fitting(
        job=plan.id,
        document=plan.document,
        revision=plan.revision,
        nozzle_set=plan.set,
        engine=of_engine(state, plan.engine),
        blocks=tuple(_block(state, job, planned) for planned in plan.positions),
        engine_steps={step: _done(job.steps.get((step, None))) for step in work.ENGINE_STEPS},
        figures=tuple(_figure(what, one.item.body, confirmed=one.confirmed is not None)
                      for what, one in job.figures.items()),
        wrenches=tuple(_wrench(state, name) for name, item in state.tools.items() if may_be_used(item.body, today, state)),
        health=tuple(
            Health(_CHECKS.get(one["what"], one["what"]), one["result"], one["date"])
            for one in fit.health(state, plan.engine)
        ),
        second_person=plan.second_person,
        return_due=return_due(state, plan.order),
        touch_again=tuple(to_touch(job)) if job.paused is not None else None,
    )  # fmt: skip


def _block(state: State, job: JobState, planned: work.Planned) -> Block:
    plan: work.Job = job.item.body
    engine = state.engines[plan.engine].body
    everywhere = frozenset(range(1, engine.cylinders + 1))
    allowed = (
        parts_rules.allowed_cylinders(state.sets[plan.set].body, planned.marking, engine)
        if plan.set in state.sets
        else everywhere
    )
    here = planned.cylinder
    steps = {step: _done(item) for (step, where), item in job.steps.items() if where == here}
    known = {step: done for step, done in steps.items() if done is not None}
    removal = job.removed.get(here)
    if removal is not None:
        known["tagged"] = Done(removal.body.tag, "", removal.author, mark(removal))
    if "marking-read" in known:
        # The book takes no marking that may not go there.
        read = known["marking-read"]
        known["allowed-here"] = Done("", "", read.by, read.entry)
    return Block(
        here, planned.marking, tuple(sorted(allowed or everywhere)), _in_book(state, job, here), known
    )


def _done(item: Item | None) -> Done | None:
    if item is None:
        return None
    body = item.body
    if isinstance(body, work.TorqueReading):
        joint = joint_inlb(body) if body.extension is not None else None
        return Done(body.reading, body.unit, item.author, mark(item), joint)
    value = getattr(body, "marking", None) or getattr(body, "value", None)
    return Done(value or "", getattr(body, "unit", None) or "", item.author, mark(item))


def _figure(what: str, body: work.Figure, *, confirmed: bool) -> Figure:
    unusual = needs_second_person(body) and not confirmed
    also, unit = _second_unit(body) if what.endswith("torque") else (None, "")
    return Figure(what, body.low, body.high, body.unit, body.document, body.revision, unusual, also, unit)


def _second_unit(body: work.Figure) -> tuple[tuple[float, float], str]:
    """The limits of a torque in newton metres, or in inch-pounds where they were entered in newton metres."""
    other = "in-lb" if body.unit == "N·m" else "N·m"
    low, high = (to_inlb(float(value), body.unit) / UNITS_INLB[other] for value in (body.low, body.high))
    return (low, high), other


def _wrench(state: State, name: str) -> Wrench:
    body = state.tools[name].body
    due = calibration_due(body, state)
    return Wrench(name, body.low, body.high, body.unit, due.isoformat() if due else None)
