"""Who and what there is: owner, persons, aircraft, engines, fuel, tools, settings."""

from datetime import date
from typing import Annotated, Literal

import msgspec

from leanwright.book.entry import Decimal, Line, Record, Text

Id = Annotated[str, msgspec.Meta(min_length=1, max_length=60)]
"""A name by which other entries refer to something: a registration, a serial number, a word of the owner's."""
Cylinder = Annotated[int, msgspec.Meta(ge=1, le=18)]
TorqueUnit = Literal["in-lb", "ft-lb", "N·m", "kgf·cm"]
CertificateKind = Literal[
    "mechanic",
    "inspection-authorization",
    "repair-station",
    "repairman",
    "manufacturer",
    "pilot",
    "part-66",
    "maintenance-organisation",
    "pilot-owner",
    "other",
]
Rules = Literal["us-part-43", "easa-part-ml", "uk-part-ml"]


class Owner(Record, frozen=True):
    """Who the aircraft belongs to."""

    name: Line
    id: Id = "owner"


class Person(Record, frozen=True):
    """Somebody who works, inspects or signs: only what a record needs, since it cannot be removed later."""

    name: Line
    certificate_number: Line | None = None
    certificate_kind: CertificateKind | None = None


class Aircraft(Record, frozen=True):
    """An aircraft by its registration, and the rules under which it is maintained."""

    id: Id
    type: Line | None = None
    serial: Line | None = None
    owner: Id | None = None
    rules: Rules = "us-part-43"
    category: Literal["standard", "experimental", "other"] = "standard"
    modifications: tuple[Line, ...] = ()


class EngineRow(Record, frozen=True):
    """One row of an engine, seen from the cockpit: the number of the cylinder on each side that has one."""

    left: Cylinder | None = None
    right: Cylinder | None = None


class Engine(Record, frozen=True):
    """An engine's profile. Numbering and firing order travel together.

    ``numbering`` is enough for opposed cylinders with the odd numbers on the right; ``rows``, the front one first, tells
    where each cylinder of any other engine lies. Without either no place is known, and no rule can go by row or bank.
    """

    id: Id
    cylinders: Annotated[int, msgspec.Meta(ge=2, le=18)]
    aircraft: Id | None = None
    position: Line | None = None
    model: Line | None = None
    serial: Line | None = None
    layout: Literal["opposed", "vee", "in-line", "radial"] = "opposed"
    numbering: Literal["from-rear", "from-front"] | None = None
    rows: tuple[EngineRow, ...] = ()
    firing_order: tuple[Cylinder, ...] = ()
    hours_source: Literal["tachometer", "hour-meter", "recorder", "logbook"] = "tachometer"
    new_meter: bool = False


class FuelGrade(Record, frozen=True):
    """Which fuel an engine burns, from a date on: it shifts all flows at peak by one factor."""

    engine: Id
    grade: Line
    density_kg_l: Decimal | None = None


class Tool(Record, frozen=True):
    """A measuring tool by its serial number, its range and its calibration."""

    id: Id
    kind: Literal["torque-wrench", "pressure-gauge", "flow-meter", "compression-tester", "other"] = (
        "torque-wrench"
    )
    low: Decimal | None = None
    high: Decimal | None = None
    unit: TorqueUnit | Line | None = None
    calibrated: date | None = None
    calibration_due: date | None = None
    certificate: Line | None = None
    withdrawn: bool = False


class Interval(Record, frozen=True):
    """How often something is due. Published sources differ widely, so the owner sets it and names the source."""

    what: Literal["wrench-calibration", "nozzle-cleaning", "backup"]
    source: Line
    days: Annotated[int, msgspec.Meta(ge=1, le=10_000)] | None = None
    hours: Decimal | None = None


class Reminder(Record, frozen=True):
    """Something that falls due on a date or at an engine's hours [h]."""

    text: Text
    due: date | None = None
    due_hours: Decimal | None = None
    engine: Id | None = None
    done: bool = False


class Squawk(Record, frozen=True):
    """A fault that somebody noticed, and whether it has been put right."""

    text: Text
    engine: Id | None = None
    aircraft: Id | None = None
    state: Literal["open", "closed"] = "open"
    closes: int | None = None


class Note(Record, frozen=True):
    """A plain remark."""

    text: Text
    engine: Id | None = None


class Attachment(Record, frozen=True):
    """Files that belong to an engine, an aircraft or the whole book; they travel with the entry."""

    text: Text
    engine: Id | None = None
    aircraft: Id | None = None
    entry: int | None = None


class MaintenanceDocument(Record, frozen=True):
    """A directive, bulletin or instruction that somebody has to follow: method, revision, next due."""

    id: Id
    type: Literal["directive", "bulletin", "instruction", "manual", "supplement"]
    revision: Line
    title: Line | None = None
    revised: date | None = None
    engine: Id | None = None
    aircraft: Id | None = None
    method: Text | None = None
    complied: date | None = None
    next_due: date | None = None
    next_due_hours: Decimal | None = None


class Void(Record, frozen=True):
    """Takes an entry back; which one and why stand beside the body."""
