"""The step "prove" as one answer: both states as they were measured, and the comparison."""

from dataclasses import dataclass

from leanwright.analysis.compare import Comparison
from leanwright.analysis.measured import Measured
from leanwright.findings import Statement
from leanwright.showing import html_of


@dataclass(frozen=True, slots=True, eq=False)
class Proved:
    """What the terminal and the JSON document of a comparison are made from, and nothing else."""

    before: Measured
    after: Measured
    comparison: Comparison
    notes: tuple[Statement, ...] = ()

    _repr_html_ = html_of
