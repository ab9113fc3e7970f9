"""The step "choose" as one answer: the plan with what the owner's files say of it."""

from dataclasses import dataclass
from typing import Literal

from leanwright.analysis.explained import Explained
from leanwright.analysis.measured import Measured
from leanwright.analysis.planned import Plan
from leanwright.analysis.response import Response
from leanwright.findings import Statement
from leanwright.showing import html_of

Covered = Literal["covered", "not-covered", "person-decides"]


@dataclass(frozen=True, slots=True)
class ApprovalAnswer:
    """Whether a document covers the aircraft.

    ``said`` is why; ``line`` is where in the owner's file the line stands that decided it.
    """

    answer: Covered
    said: Statement
    document: str
    line: int | None = None


@dataclass(frozen=True, slots=True)
class OrderRow:
    """One row of an order: nozzles of one marking, or of one ``flow_factor`` [1] where no set is named."""

    marking: str | None
    flow_factor: float
    cylinders: tuple[int, ...]

    @property
    def quantity(self) -> int:
        """How many."""
        return len(self.cylinders)


@dataclass(frozen=True, slots=True, eq=False)
class Chosen:
    """What the terminal and the JSON document of a plan are made from, and nothing else."""

    measured: Measured
    plan: Plan
    response: Response
    order: tuple[OrderRow, ...] = ()
    approval: ApprovalAnswer | None = None
    notes: tuple[Statement, ...] = ()
    currency: str = ""
    explained: Explained | None = None
    """Why the cylinders differ, as far as the plan looked into it."""

    _repr_html_ = html_of
