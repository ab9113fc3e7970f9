"""What was measured, decided, drafted and signed."""

from datetime import date
from typing import Annotated, Literal

import msgspec

from leanwright.book.entry import Decimal, Digest, Line, Record, Text
from leanwright.book.kinds.hangar import Cylinder, Id, Rules


class CylinderAnswer(Record, frozen=True):
    """What a recording said of one cylinder."""

    cylinder: Cylinder
    status: Line
    fuel_flow_at_peak_gph: Decimal | None = None
    u_fuel_flow_at_peak_gph: Decimal | None = None
    offset_percent: Decimal | None = None
    u_offset_percent: Decimal | None = None


class Recording(Record, frozen=True):
    """A recording by its digest, and the answer that a stated version of the program gave."""

    engine: Id
    name: Line
    sha256: Digest
    program: Line
    verdict: Literal["even", "uneven", "cannot-tell"] | None = None
    spread_gph: Decimal | None = None
    u_spread_gph: Decimal | None = None
    goal_gph: Decimal | None = None
    probability_within_goal: Decimal | None = None
    cylinders: tuple[CylinderAnswer, ...] = ()


class Caught(Record, frozen=True):
    """Fuel caught from one nozzle."""

    cylinder: Cylinder
    amount: Decimal


class BottleTest(Record, frozen=True):
    """Fuel caught from each nozzle in the same time."""

    engine: Id
    unit: Literal["mL", "g", "oz"]
    duration_s: Decimal
    caught: tuple[Caught, ...]


class Decision(Record, frozen=True):
    """What was decided, on which grounds."""

    engine: Id
    text: Text
    action: Literal["change", "leave", "fly-more", "look-elsewhere"] | None = None
    recordings: tuple[Digest, ...] = ()


class MaintenanceRecord(Record, frozen=True):
    """The draft of a maintenance record. It releases nothing: the signature is an entry of its own."""

    job: Id
    rules: Rules
    completed: date
    performed_by: Line
    work: Text
    text: Text
    book: Literal["engine", "aircraft", "propeller"] = "engine"
    check_flight: Literal["logged", "not-needed", "ground-test"] | None = None
    check_flight_reason: Text | None = None
    weight_and_balance: Literal["no-change", "changed"] | None = None
    own_wording: bool = False


class SignatureEntry(Record, frozen=True):
    """A licensed person signs a record. Name and certificate stand in the entry's signature."""

    record: int
    remarks: Text | None = None
    limitations: Annotated[str, msgspec.Meta(max_length=2000)] | None = None
