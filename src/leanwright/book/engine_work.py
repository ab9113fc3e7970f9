"""What was done to an engine and when: nozzles fitted under a job, work entered by itself, another grade of fuel."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from leanwright.book.kinds.work import EngineWork
from leanwright.book.state import Item, State

What = EngineWork | Literal["fuel"]


@dataclass(frozen=True, slots=True)
class Done:
    """One piece of work, the engine's hours then [h], and its entry; without cylinders it was done on all."""

    day: date
    what: What
    cylinders: tuple[int, ...]
    text: str
    entry: int
    hours: Decimal | None


def done_to(state: State, engine: str) -> tuple[Done, ...]:
    """Everything that was done to an engine, in the order of the work. A nozzle found in place is nobody's work."""
    found = [*_fitted(state, engine), *_entered(state, engine)]
    return tuple(sorted(found, key=lambda one: (one.day, one.entry)))


def _fitted(state: State, engine: str) -> Iterator[Done]:
    for job in state.jobs.values():
        if job.item.body.engine == engine:
            for (step, cylinder), item in job.steps.items():
                if step == "marking-read" and cylinder is not None:
                    yield _done(item, "nozzle", (cylinder,), item.body.marking)


def _entered(state: State, engine: str) -> Iterator[Done]:
    for item in state.work_done:
        if item.body.engine == engine:
            fuel = item.kind == "fuel-grade"
            yield (
                _done(item, "fuel", (), item.body.grade)
                if fuel
                else _done(item, item.body.what, item.body.cylinders, item.body.text)
            )


def _done(item: Item, what: What, cylinders: tuple[int, ...], text: str) -> Done:
    return Done(item.day, what, cylinders, text, item.latest, item.hours)
