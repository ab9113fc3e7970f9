"""What follows from the entries, whole: a book with every kind of entry, and each thing in the state that comes of it."""

from collections.abc import Iterator
from dataclasses import fields
from datetime import date
from decimal import Decimal
from typing import Any, Final

import pytest

from leanwright.book import ledger
from leanwright.book.entry import Signature, Worked
from leanwright.book.kinds.table import DECODERS, KINDS
from leanwright.book.ledger import Ledger
from leanwright.book.paper_rules import shown_digest
from leanwright.book.state import FigureState, Held, Item, JobState, Placed, RecordState, State
from tests.book.conftest import Desk

SIGNED = Signature(
    name="Bea Example",
    certificate_number="1",
    certificate_kind="mechanic",
    meaning="performed",
    time="2031-05-03T12:00:00Z",
    identified_by="typed-by-signer",
    shown_sha256=shown_digest("t"),
)
AT_3 = {"job": "J-1", "cylinder": 3}
INSTRUCTIONS = {"document": "SI", "revision": "C"}
FIGURE = {"job": "J-1", "what": "nozzle-torque", "low": "12", "high": "14", "unit": "in-lb", **INSTRUCTIONS}
LOOK = {"engine": "E1", "by": "Bea Example", "found": "as it should be", "result": "sound"}
RECORD = {"rules": "us-part-43", "completed": "2031-05-03", "performed_by": "Ada", "work": "w", "text": "t"}
STEPS = {"fuel-off": 21, "line-off": 22, "old-nozzle-out": 23, "seat-inspected": 24, "marking-read": 25,
         "thread-compound": 26, "started-by-hand": 27, "nozzle-torqued": 32}  # fmt: skip
"""The steps of the job in the order in which they were done, and the entry of each that holds."""
TOUCHED = [{"step": step, "cylinder": 3} for step in list(STEPS)[-3:]]


def worked(day: int, hours: str | None = None) -> dict[str, Any]:
    """That the work was done on a day of May."""
    return {"worked": Worked(date=date(2031, 5, day), hours=hours)}


def torque(reading: str) -> dict[str, Any]:
    """What the wrench read."""
    return {**AT_3, "step": "nozzle-torqued", "reading": reading, "unit": "in-lb", "tool": "TW"}


def tool(high: str) -> dict[str, Any]:
    """The wrench, up to a torque."""
    return {"id": "TW", "low": "10", "high": high, "unit": "in-lb", "calibration_due": "2035-01-01"}


def found(cylinder: int) -> dict[str, Any]:
    """A nozzle as it was found."""
    return {"engine": "E1", "cylinder": cylinder, "marking": "O", "source": "read", "serial": f"{cylinder}"}


def corrects(number: int, **more: Any) -> dict[str, Any]:
    """That an entry stands in the place of another."""
    return {"supersedes": number, "reason": "typing", **more}


EVERY_KIND: Final[tuple[tuple[str, dict[str, Any], dict[str, Any]], ...]] = (
    ("owner", {"name": "Olivia Owner"}, {}),
    ("person", {"name": "Ada Example"}, {}),
    ("aircraft", {"id": "X-TEST"}, {}),
    ("engine", {"id": "E1", "cylinders": 4}, worked(1, "100")),
    ("tool", tool("15"), {}),  # 5
    ("nozzle-set", {"id": "S", "nozzles": [{"marking": "N"}, {"marking": "O"}]}, {}),
    ("order", {"id": "O-1", "engine": "E1", "lines": [{"marking": "N", "quantity": 2}]}, {}),
    ("document", {"id": "D", "type": "manual", "revision": "1"}, {}),
    ("interval", {"what": "backup", "source": "owner", "days": 1}, {}),
    ("interval", {"what": "nozzle-cleaning", "source": "owner", "days": 365}, {}),  # 10
    ("as-found", found(3), worked(1, "101")),
    ("as-found", found(4), worked(1)),
    ("receipt", {"order": "O-1", "marking": "N", "result": "right"}, {}),
    ("receipt", {"order": "O-1", "marking": "Z", "result": "not-ordered"}, {}),
    ("quarantine", {"marking": "Y", "because": "no papers"}, {}),  # 15
    ("quarantine-release", {"quarantine": 14, "by": "Ada Example", "because": "papers came"}, {}),
    ("job", {"id": "J-1", "engine": "E1", "positions": [{"cylinder": 3, "marking": "N"}], **INSTRUCTIONS}, {}),
    ("job", {"id": "J-2", "engine": "E1", "positions": [{"cylinder": 4, "marking": "N"}], **INSTRUCTIONS}, {}),
    ("figure", FIGURE, {}),
    ("figure", {**FIGURE, "confirms": 19}, {"by": "Bea Example"}),  # 20
    ("fitting-step", {"job": "J-1", "step": "fuel-off", "seen": "selector off"}, {}),
    ("fitting-step", {**AT_3, "step": "line-off", "seen": "capped"}, {}),
    ("removal", {**AT_3, "marking": "O", "tag": "old"}, {}),
    ("fitting-step", {**AT_3, "step": "seat-inspected", "seen": "clean"}, {}),
    ("fitting-step", {**AT_3, "step": "marking-read", "marking": "N", "serial": "8"}, worked(3, "102.5")),  # 25
    ("fitting-step", {**AT_3, "step": "thread-compound", "seen": "as the manual says", "marking": "not this one"}, {}),
    ("fitting-step", {**AT_3, "step": "started-by-hand", "seen": "as the manual says"}, {}),
    ("torque-reading", torque("13"), {}),
    ("pause", {"job": "J-2", "because": "telephone"}, {}),
    ("pause", {"job": "J-1", "because": "lunch"}, {}),  # 30
    ("resume", {"job": "J-1", "touched": TOUCHED}, {}),
    ("torque-reading", torque("13.5"), {}),
    ("inspection", {**LOOK, **AT_3}, {}),
    ("inspection", LOOK, {}),
    ("check", {"engine": "E1", "what": "plugs", "result": "sound", "found": "clean"}, {}),  # 35
    ("record", {"job": "J-1", **RECORD}, {}),
    ("signature", {"record": 36}, {"signature": SIGNED}),
    ("parcel", {"id": "P", "state": "to-send", "items": [{"marking": "O"}]}, {}),
    ("parcel", {"id": "P", "state": "sent"}, {}),
    ("squawk", {"text": "stain"}, {}),  # 40
    ("squawk", {"text": "rough"}, {}),
    ("squawk", {"text": "tightened", "state": "closed", "closes": 40}, {}),
    ("reminder", {"text": "look"}, {}),
    ("fuel-grade", {"engine": "E1", "grade": "A"}, worked(2)),
    ("fuel-grade", {"engine": "E1", "grade": "A"}, worked(3)),  # 45
    ("fuel-grade", {"engine": "E1", "grade": "B"}, worked(3)),
    ("work", {"engine": "E1", "what": "plug", "text": "new"}, {}),
    ("decision", {"engine": "E1", "text": "leave it"}, {}),
    ("recording", {"engine": "E1", "name": "a", "sha256": "0" * 64, "program": "p"}, {}),
    ("bottle-test", {"engine": "E1", "unit": "mL", "duration_s": "30", "caught": []}, {}),  # 50
    ("note", {"text": "read", "engine": "E1"}, worked(3, "103")),
    ("note", {"text": "nothing follows"}, {}),
    ("attachment", {"text": "scan"}, {}),
    ("tool", tool("16"), corrects(5, **worked(3))),
    ("document", {"id": "D", "type": "manual", "revision": "2"}, corrects(8, **worked(3))),  # 55
    ("document", {"id": "D", "type": "manual", "revision": "3"}, corrects(55, **worked(2))),
    ("void", {}, corrects(9)),
    ("work", {"engine": "E1", "what": "plug", "text": "newer"}, corrects(47, **worked(2, "102"))),
    ("void", {}, corrects(48, **worked(3, "104"))),
)  # fmt: skip
"""A round with an entry of every kind; some of them are corrected, others taken back."""


@pytest.fixture
def desk(quick_desk: Desk) -> Desk:
    """A book with an entry of every kind."""
    for kind, body, more in EVERY_KIND:
        quick_desk.add(kind, body, **more)
    return quick_desk


def short(one: Any) -> Any:
    """A part of the state with each entry in the place of what it says: its first version, and the one that holds."""
    if isinstance(one, Item):
        return one.sequence if one.sequence == one.latest else (one.sequence, one.latest)
    if isinstance(one, Held):
        return "in quarantine" if one.released is None else f"let out by {short(one.released)}"
    if isinstance(one, FigureState):
        return short(one.item), short(one.confirmed)
    if isinstance(one, Placed):
        return one.marking, one.serial, one.since.day, str(one.since_hours), one.entry
    if isinstance(one, RecordState):
        return short(one.item), short(one.signatures)
    if isinstance(one, JobState | State):
        return {field.name: short(getattr(one, field.name)) for field in fields(one)}
    if isinstance(one, dict):
        return {key: short(value) for key, value in one.items()}
    return [short(each) for each in one] if isinstance(one, list) else one


def items(one: Any) -> Iterator[Item]:
    """Every entry in a part of the state."""
    if isinstance(one, Item):
        yield one
    elif isinstance(one, Held | FigureState | RecordState | JobState | State):
        for field in fields(one):
            yield from items(getattr(one, field.name))
    elif isinstance(one, dict | list):
        for each in one.values() if isinstance(one, dict) else one:
            yield from items(each)


def whole(book: Ledger) -> State:
    """The state made anew from the entries, which is that of the book that has grown with them."""
    anew = ledger.open_ledger(book.store, book.clock, "leanwright test").state()
    assert anew == book.state()
    return anew


WHOLE: dict[str, Any] = {
    "head_sequence": 59,
    "stale": False,
    "latest_day": date(2031, 5, 3),
    "owners": {"owner": 1},
    "persons": {"Ada Example": 2},
    "aircraft": {"X-TEST": 3},
    "engines": {"E1": 4},
    "tools": {"TW": (5, 54)},
    "sets": {"S": 6},
    "orders": {"O-1": 7},
    "documents": {"D": (8, 56)},
    "intervals": {"nozzle-cleaning": 10},
    "fuel": {"E1": 46},
    "fitted": {"E1": {4: ("O", "4", 1, "None", 12), 3: ("N", "8", 3, "102.5", 25)}},
    "hours": {"E1": [
        (date(2031, 5, 1), Decimal(100), 4), (date(2031, 5, 1), Decimal(101), 11), (date(2031, 5, 2), Decimal(102), 47),
        (date(2031, 5, 3), Decimal("102.5"), 25), (date(2031, 5, 3), Decimal(103), 51),
    ]},
    "as_found": {("E1", 3): "O", ("E1", 4): "O"},
    "receipts": [13, 14],
    "quarantine": {14: "let out by 16", 15: "in quarantine"},
    "jobs": {
        "J-1": {
            "item": 17,
            "figures": {"nozzle-torque": (19, 20)},
            "steps": {(step, None if step == "fuel-off" else 3): number for step, number in STEPS.items()},
            "torques": {("nozzle-torqued", 3): 32},
            "removed": {3: 23},
            "inspections": [33],
            "paused": None,
            "record": 36,
        },
        "J-2": {
            "item": 18, "figures": {}, "steps": {}, "torques": {}, "removed": {}, "inspections": [], "paused": 29, "record": None,
        },
    },
    "parcels": {"P": [38, 39]},
    "reminders": {43: 43},
    "squawks": {41: 41},
    "recordings": [49],
    "bottle_tests": [50],
    "decisions": [],
    "checks": [34, 35],
    "work_done": [(47, 58), 46],
    "records": {36: (36, [37])},
}  # fmt: skip


def test_every_kind_of_entry_leaves_its_trace_and_no_other(desk: Desk) -> None:
    assert {kind for _, kind, _ in desk.bodies()} == set(KINDS)
    state = whole(desk.book)
    assert short(state) == WHOLE
    # The torque that was read anew comes after what was done before it.
    assert [step for step, _ in state.jobs["J-1"].done] == list(STEPS)


def test_each_thing_in_the_state_says_what_its_entry_says(desk: Desk) -> None:
    every = list(items(whole(desk.book)))
    assert len(every) > 40
    for item in every:
        first, sealed = desk.book.entry(item.sequence)[0].entry, desk.book.entry(item.latest)[0]
        entry = sealed.entry
        hours = entry.worked.hours if entry.worked else None
        assert item == Item(
            sequence=first.sequence,
            latest=entry.sequence,
            kind=entry.kind,
            body=DECODERS[entry.kind].decode(entry.body),
            day=entry.worked.date if entry.worked else date(2031, 5, 3),
            author=entry.author.name,
            hours=Decimal(hours) if hours else None,
            signature=entry.signature,
            recorded="2031-05-03T12:00:00Z",
            hash=sealed.hash,
        )


SUBJECTS = {
    "aircraft X-TEST": {"aircraft"},
    "engine E1": {
        "engine", "as-found", "receipt", "job", "figure", "fitting-step", "removal", "torque-reading", "pause", "resume",
        "inspection", "check", "record", "signature", "fuel-grade", "work", "decision", "recording", "bottle-test", "note",
    },
    "tool TW": {"tool"},
    "nozzle-set S": {"nozzle-set"},
    "order O-1": {"order"},
    "document D": {"document"},
    "parcel P": {"parcel"},
    "book": {"owner", "person", "interval", "quarantine", "quarantine-release", "squawk", "reminder", "note", "attachment", "void"},
}  # fmt: skip


def test_each_entry_says_what_it_is_about(desk: Desk) -> None:
    told: dict[str, set[str]] = {}
    for sealed, _ in desk.book.entries():
        told.setdefault(sealed.entry.subject, set()).add(sealed.entry.kind)
    assert told == SUBJECTS
    desk.add("squawk", {"text": "stain", "aircraft": "X-TEST"})
    assert desk.book.entry(60)[0].entry.subject == "aircraft X-TEST"


def test_a_fault_is_open_until_it_is_said_to_be_closed_and_whatever_is_taken_back(desk: Desk) -> None:
    desk.add("squawk", {"text": "still there", "closes": 41})
    desk.add("void", {}, supersedes=40, reason="it was never there")
    assert short(whole(desk.book).squawks) == {41: 41, 60: 60}
