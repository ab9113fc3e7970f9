"""Which step of a job comes next, in the order of the work; what was skipped stays on the list."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from leanwright.book.kinds.work import MEASURED_STEPS, TORQUE_STEPS

SECOND_LOOK: Final = "looked-at-again"
INSPECTED: Final = "inspected-by-another"
Way = Literal["seen", "marking", "removal", "torque", "value", "inspection"]
Place = tuple[str, int | None]
"""A step, and the cylinder that it is done at."""


@dataclass(frozen=True, slots=True)
class Next:
    """A step, where, how it is entered, and how many of how many are done."""

    step: str
    cylinder: int | None
    way: Way
    done: int
    whole: int


def in_order(sheet: Mapping[str, Any]) -> tuple[Place, ...]:
    """Every step of a worksheet in its order.

    Fuel off, cylinder by cylinder, the second look the other way round, another person's look where it is asked for,
    then the engine.
    """
    engine = [row["step"] for row in sheet["engine_steps"]]
    cylinders = [block["cylinder"] for block in sheet["blocks"]]
    each = (
        [row["step"] for row in sheet["blocks"][0]["steps"] if row["step"] != SECOND_LOOK]
        if cylinders
        else []
    )
    at_cylinders = [(step, cylinder) for cylinder in cylinders for step in each]
    again = [(SECOND_LOOK, cylinder) for cylinder in reversed(cylinders)]
    again += [(INSPECTED, cylinder) for cylinder in reversed(cylinders) if sheet["second_person"]]
    return ((engine[0], None), *at_cylinders, *again, *((step, None) for step in engine[1:]))


def next_step(sheet: Mapping[str, Any]) -> Next | None:
    """The first open step; ``None`` where all are done."""
    order = in_order(sheet)
    left = {(one["step"], one["cylinder"]) for one in sheet["open_steps"]}
    # A reading outside its limits was entered and is open all the same: it comes again when the rest is done.
    again = left & _entered(sheet)
    for step, cylinder in (
        *(one for one in order if one not in again),
        *(one for one in order if one in again),
    ):
        if (step, cylinder) in left:
            return Next(step, cylinder, way_of(step), len(order) - len(left), len(order))
    return None


def _entered(sheet: Mapping[str, Any]) -> set[Place]:
    engine = {(row["step"], None) for row in sheet["engine_steps"] if row["done"]}
    return engine | {
        (row["step"], block["cylinder"]) for block in sheet["blocks"] for row in block["steps"] if row["done"]
    }


def way_of(step: str) -> Way:
    """How a step is entered: what was seen, a marking read, a nozzle taken out, a torque, a value, another's look."""
    if step == INSPECTED:
        return "inspection"
    if step == "marking-read":
        return "marking"
    if step == "old-nozzle-out":
        return "removal"
    if step in TORQUE_STEPS:
        return "torque"
    return "value" if step in MEASURED_STEPS else "seen"
