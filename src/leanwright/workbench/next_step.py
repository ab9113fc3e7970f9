"""Which step of a job comes next, in the order of the work; what was skipped stays on the list."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from leanwright.book.kinds.work import MEASURED_STEPS, TORQUE_STEPS

SECOND_LOOK: Final = "looked-at-again"
Way = Literal["seen", "marking", "removal", "torque", "value"]


@dataclass(frozen=True, slots=True)
class Next:
    """A step, where, how it is entered, and how many of how many are done."""

    step: str
    cylinder: int | None
    way: Way
    done: int
    whole: int


def in_order(sheet: Mapping[str, Any]) -> tuple[tuple[str, int | None], ...]:
    """Every step of a worksheet: fuel off, cylinder by cylinder, the second look the other way round, then the engine."""
    engine = [row["step"] for row in sheet["engine_steps"]]
    cylinders = [block["cylinder"] for block in sheet["blocks"]]
    each = (
        [row["step"] for row in sheet["blocks"][0]["steps"] if row["step"] != SECOND_LOOK]
        if cylinders
        else []
    )
    at_cylinders = [(step, cylinder) for cylinder in cylinders for step in each]
    again = [(SECOND_LOOK, cylinder) for cylinder in reversed(cylinders)]
    return ((engine[0], None), *at_cylinders, *again, *((step, None) for step in engine[1:]))


def next_step(sheet: Mapping[str, Any]) -> Next | None:
    """The first open step; ``None`` where all are done."""
    order = in_order(sheet)
    done = {(row["step"], None) for row in sheet["engine_steps"] if row["done"]}
    done |= {
        (row["step"], block["cylinder"]) for block in sheet["blocks"] for row in block["steps"] if row["done"]
    }
    for step, cylinder in order:
        if (step, cylinder) not in done:
            return Next(step, cylinder, way_of(step), len(done), len(order))
    return None


def way_of(step: str) -> Way:
    """How a step is entered: what was seen, a marking read, a nozzle taken out, a torque, or a value measured."""
    if step == "marking-read":
        return "marking"
    if step == "old-nozzle-out":
        return "removal"
    if step in TORQUE_STEPS:
        return "torque"
    return "value" if step in MEASURED_STEPS else "seen"
