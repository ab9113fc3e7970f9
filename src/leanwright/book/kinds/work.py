"""Work on an engine: the job, the instructions' figures, each step, each reading, interruptions, inspections."""

from typing import Annotated, Final, Literal

import msgspec

from leanwright.book.entry import Decimal, Line, Record, Text
from leanwright.book.kinds.hangar import Cylinder, Id, TorqueUnit
from leanwright.book.kinds.parts import Marking

CylinderStep = Literal[
    "line-off",
    "old-nozzle-out",
    "seat-inspected",
    "marking-read",
    "thread-compound",
    "started-by-hand",
    "nozzle-torqued",
    "line-torqued-at-nozzle",
    "line-torqued-at-divider",
    "line-marked",
    "clamp-back",
    "looked-at-again",
]
CYLINDER_STEPS: Final[tuple[CylinderStep, ...]] = CylinderStep.__args__  # type: ignore[attr-defined]  # words of the type
EngineStep = Literal[
    "fuel-off",
    "leak-check-at-nozzles",
    "leak-check-at-divider",
    "idle-mixture",
    "idle-speed",
    "metered-pressure",
    "unmetered-pressure",
    "full-power-flow",
    "ground-run",
    "look-after-run",
    "placard",
    "tools-counted",
    "caps-counted",
    "cowling",
]
ENGINE_STEPS: Final[tuple[EngineStep, ...]] = EngineStep.__args__  # type: ignore[attr-defined]  # words of the type
TORQUE_STEPS: Final = {
    "nozzle-torqued": "nozzle-torque",
    "line-torqued-at-nozzle": "line-torque",
    "line-torqued-at-divider": "line-torque",
}
MEASURED_STEPS: Final = (
    "idle-mixture",
    "idle-speed",
    "metered-pressure",
    "unmetered-pressure",
    "full-power-flow",
)
Quantity = Literal[
    "nozzle-torque",
    "line-torque",
    "idle-mixture",
    "idle-speed",
    "metered-pressure",
    "unmetered-pressure",
    "full-power-flow",
]


EngineWork = Literal[
    "nozzle",
    "cleaning",
    "intake",
    "plug",
    "ignition",
    "egt-probe",
    "cht-probe",
    "cylinder",
    "engine",
    "flow-sensor",
]


class Planned(Record, frozen=True):
    """Which nozzle is meant for which cylinder."""

    cylinder: Cylinder
    marking: Marking


class AsFound(Record, frozen=True):
    """Which nozzle is in a cylinder, as somebody read it or as older papers say."""

    engine: Id
    cylinder: Cylinder
    marking: Marking
    source: Line
    serial: Line | None = None


class Job(Record, frozen=True):
    """Work on one engine that begins: what is planned, after which instructions."""

    id: Id
    engine: Id
    document: Line
    revision: Line
    positions: tuple[Planned, ...]
    set: Id | None = None
    order: Id | None = None
    second_person: bool = False
    purpose: Line | None = None


class Figure(Record, frozen=True):
    """A figure of the instructions: its limits, unit, document and revision; entered again by another if unusual."""

    job: Id
    what: Quantity
    low: Decimal
    high: Decimal
    unit: Line
    document: Line
    revision: Line
    confirms: int | None = None


class Removal(Record, frozen=True):
    """A nozzle taken out, its marking as read, bagged and tagged."""

    job: Id
    cylinder: Cylinder
    marking: Marking
    tag: Line
    serial: Line | None = None
    condition: Text | None = None


class FittingStep(Record, frozen=True):
    """One step that was done and what was seen, read or measured. There is no step that says "all of them"."""

    job: Id
    step: CylinderStep | EngineStep
    seen: Annotated[str, msgspec.Meta(min_length=3, max_length=2000)] | None = None
    cylinder: Cylinder | None = None
    marking: Marking | None = None
    serial: Line | None = None
    value: Decimal | None = None
    unit: Line | None = None
    tool: Id | None = None


class Extension(Record, frozen=True):
    """An extension on the wrench: lever and extension in one unit of length, and the angle between them [deg]."""

    lever: Decimal
    extension: Decimal
    unit: Literal["in", "mm", "cm"]
    angle_deg: Decimal = "0"


class TorqueReading(Record, frozen=True):
    """What the wrench read, with its unit."""

    job: Id
    step: Literal["nozzle-torqued", "line-torqued-at-nozzle", "line-torqued-at-divider"]
    cylinder: Cylinder
    reading: Decimal
    unit: TorqueUnit
    tool: Id
    extension: Extension | None = None


class Pause(Record, frozen=True):
    """The work is interrupted, or handed over."""

    job: Id
    because: Text


class Touched(Record, frozen=True):
    """A step that was done before the interruption, touched again."""

    step: CylinderStep | EngineStep
    cylinder: Cylinder | None = None


class Resume(Record, frozen=True):
    """The work goes on, after the last three steps have been touched again."""

    job: Id
    touched: tuple[Touched, ...]


class Inspection(Record, frozen=True):
    """A second look at one cylinder, or at the engine: by whom, and what was found."""

    engine: Id
    by: Line
    found: Annotated[str, msgspec.Meta(min_length=3, max_length=2000)]
    result: Literal["sound", "not-sound"]
    job: Id | None = None
    cylinder: Cylinder | None = None
    after_pause: bool = False


class WorkDone(Record, frozen=True):
    """Work on an engine that needs no job of its own here: what was changed, cleaned or put right; no cylinder means all."""

    engine: Id
    what: EngineWork
    text: Text
    cylinders: tuple[Cylinder, ...] = ()
    document: Line | None = None
    revision: Line | None = None


class Check(Record, frozen=True):
    """A check of the engine outside the steps of a job: compression, leak, timing, plugs, probes, ground run."""

    engine: Id
    what: Literal[
        "compression",
        "intake-leak",
        "fuel-leak",
        "timing",
        "plugs",
        "probes",
        "fuel-system",
        "ground-run",
        "identity",
    ]
    result: Literal["sound", "not-sound"]
    found: Text
    cylinder: Cylinder | None = None
    value: Decimal | None = None
    unit: Line | None = None
    document: Line | None = None
    revision: Line | None = None
