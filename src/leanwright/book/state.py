"""What follows from the entries: the state of the book. It can be thrown away and made anew at any time (:mod:`fold`)."""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

import msgspec

from leanwright.book.entry import Record, Signature
from leanwright.book.kinds import hangar, papers, parts


class Item(msgspec.Struct, frozen=True, gc=False):
    """What an entry says now: the number of its first version, that of the one that holds, and its body.

    A struct, since one is made for each entry of the book, and it is made ten times faster than a dataclass.
    """

    sequence: int
    latest: int
    kind: str
    body: Any
    day: date
    author: str
    hours: Decimal | None = None
    signature: Signature | None = None
    recorded: str = ""
    hash: str = ""


@dataclass(frozen=True, slots=True)
class Placed:
    """A nozzle in a cylinder: its marking, since when, at which hours [h], and by which entry."""

    marking: str
    serial: str | None
    since: date
    since_hours: Decimal | None
    entry: int


@dataclass(slots=True)
class Held:
    """A part in quarantine, and who let it out."""

    item: Item
    released: Item | None = None


@dataclass(slots=True)
class FigureState:
    """A figure of the instructions, and whether a second person entered it too."""

    item: Item
    confirmed: Item | None = None


@dataclass(slots=True)
class JobState:
    """How far a job is."""

    item: Item
    figures: dict[str, FigureState] = field(default_factory=dict)
    steps: dict[tuple[str, int | None], Item] = field(default_factory=dict)
    torques: dict[tuple[str, int], Item] = field(default_factory=dict)
    removed: dict[int, Item] = field(default_factory=dict)
    inspections: list[Item] = field(default_factory=list)
    paused: Item | None = None
    record: int | None = None

    @property
    def done(self) -> list[tuple[str, int | None]]:
        """The steps in the order in which they were done."""
        return list(self.steps)


@dataclass(slots=True)
class RecordState:
    """A draft of a maintenance record, and what was signed under it."""

    item: Item
    signatures: list[Item] = field(default_factory=list)

    @property
    def released(self) -> bool:
        """Whether somebody signed for the release."""
        return any(one.signature and one.signature.meaning == "released" for one in self.signatures)


@dataclass(slots=True)
class State:
    """Everything that follows. Callers read it; only the fold writes it."""

    head_sequence: int = 0
    stale: bool = False
    latest_day: date = date.min
    owners: dict[str, Item] = field(default_factory=dict)
    persons: dict[str, Item] = field(default_factory=dict)
    aircraft: dict[str, Item] = field(default_factory=dict)
    engines: dict[str, Item] = field(default_factory=dict)
    tools: dict[str, Item] = field(default_factory=dict)
    sets: dict[str, Item] = field(default_factory=dict)
    orders: dict[str, Item] = field(default_factory=dict)
    documents: dict[str, Item] = field(default_factory=dict)
    intervals: dict[str, Item] = field(default_factory=dict)
    fuel: dict[str, Item] = field(default_factory=dict)
    fitted: dict[str, dict[int, Placed]] = field(default_factory=dict)
    hours: dict[str, list[tuple[date, Decimal, int]]] = field(default_factory=dict)
    as_found: dict[tuple[str, int], str] = field(default_factory=dict)
    receipts: list[Item] = field(default_factory=list)
    quarantine: dict[int, Held] = field(default_factory=dict)
    jobs: dict[str, JobState] = field(default_factory=dict)
    parcels: dict[str, list[Item]] = field(default_factory=dict)
    reminders: dict[int, Item] = field(default_factory=dict)
    squawks: dict[int, Item] = field(default_factory=dict)
    recordings: list[Item] = field(default_factory=list)
    bottle_tests: list[Item] = field(default_factory=list)
    decisions: list[Item] = field(default_factory=list)
    checks: list[Item] = field(default_factory=list)
    work_done: list[Item] = field(default_factory=list)
    records: dict[int, RecordState] = field(default_factory=dict)


def engine_of(state: State, body: Record) -> str | None:
    """The engine that a body is about: named in it, or that of its job, order or record."""
    if isinstance(body, hangar.Engine):
        return body.id
    engine = getattr(body, "engine", None)
    if isinstance(engine, str):
        return engine
    job = getattr(body, "job", None)
    if isinstance(job, str) and job in state.jobs:
        return str(state.jobs[job].item.body.engine)
    order = getattr(body, "order", None)
    if isinstance(order, str) and order in state.orders:
        return state.orders[order].body.engine  # type: ignore[no-any-return]  # a text or nothing
    if isinstance(body, papers.SignatureEntry) and body.record in state.records:
        return engine_of(state, state.records[body.record].item.body)
    return None


def parcel_of(history: list[Item]) -> parts.Parcel:
    """How a parcel stands: what its later entries do not say holds from the earlier ones."""
    made: dict[str, Any] = {}
    for item in history:
        made |= {
            name: value
            for name, value in msgspec.structs.asdict(item.body).items()
            if value not in (None, ())
        }
    return parts.Parcel(**made)
