"""Parts: nozzle sets with their rules, orders, what came, quarantine, and what has to go back."""

from datetime import date
from typing import Annotated, Literal

import msgspec

from leanwright.book.entry import Decimal, Line, Record, Text
from leanwright.book.kinds.hangar import Cylinder, Id

Quantity = Annotated[int, msgspec.Meta(ge=1, le=1000)]
Marking = Annotated[str, msgspec.Meta(min_length=1, max_length=60)]
ReceiptResult = Literal["right", "wrong-row", "double", "not-ordered", "wrong-number"]


class Group(Record, frozen=True):
    """Positions that belong together, named as the set's document names them."""

    name: Line
    rows: tuple[str | int, ...] = ()
    banks: tuple[Literal["left", "right"], ...] = ()
    cylinders: tuple[Cylinder, ...] = ()


class Nozzle(Record, frozen=True):
    """A nozzle of a set: its flow over that of the standard nozzle [1], and the groups that it may go to."""

    marking: Marking
    flow: Decimal | None = None
    groups: tuple[Line, ...] = ()


class Approval(Record, frozen=True):
    """The paper that a set is fitted under. Whether it covers an aircraft is for a person to say."""

    document: Line
    revision: Line | None = None
    holder: Line | None = None
    permission_on_file: bool = False
    classification: Literal["minor", "major"] | None = None
    form_date: date | None = None
    supplement: Line | None = None
    placards: tuple[Line, ...] = ()


class NozzleSet(Record, frozen=True):
    """A set of nozzles with its approval and position rules."""

    id: Id
    nozzles: tuple[Nozzle, ...]
    groups: tuple[Group, ...] = ()
    approval: Approval | None = None
    name: Line | None = None


class OrderLine(Record, frozen=True):
    """What was ordered: a marking, how many, and the cylinders that they are meant for."""

    marking: Marking
    quantity: Quantity = 1
    cylinders: tuple[Cylinder, ...] = ()
    part_number: Line | None = None


class Order(Record, frozen=True):
    """An order of parts for an engine."""

    id: Id
    lines: tuple[OrderLine, ...]
    engine: Id | None = None
    set: Id | None = None
    supplier: Line | None = None
    ordered: date | None = None
    return_due: date | None = None
    deposit: Decimal | None = None
    currency: Line | None = None


class Receipt(Record, frozen=True):
    """One nozzle that came: its marking as read, which cylinder its bag names, and how it fits the order."""

    order: Id
    marking: Marking
    result: ReceiptResult
    cylinder: Cylinder | None = None
    serial: Line | None = None
    instead_of: Marking | None = None
    documents: tuple[Line, ...] = ()


class Quarantine(Record, frozen=True):
    """A part set apart; it cannot be fitted until a named person has released it."""

    marking: Marking
    because: Text
    serial: Line | None = None
    order: Id | None = None
    receipt: int | None = None


class QuarantineRelease(Record, frozen=True):
    """A named person lets a part out of quarantine, and says why."""

    quarantine: int
    by: Line
    because: Text


class ParcelItem(Record, frozen=True):
    """A part that goes back."""

    marking: Marking
    quantity: Quantity = 1
    serial: Line | None = None
    cylinder: Cylinder | None = None


class Parcel(Record, frozen=True):
    """Parts that go back: to whom, by when, for which deposit; each later entry of the same id tells how it stands."""

    id: Id
    state: Literal["to-send", "sent", "credited"]
    items: tuple[ParcelItem, ...] = ()
    to: Line | None = None
    due: date | None = None
    order: Id | None = None
    deposit: Decimal | None = None
    currency: Line | None = None
    sent: date | None = None
    tracking: Line | None = None
    credited: date | None = None
    amount_credited: Decimal | None = None
