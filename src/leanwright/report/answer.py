"""The answer in the order in which a person wants it: the sentence, what it means, what to do, what it rests on."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from leanwright.analysis.balance import Balance, CylinderBalance
from leanwright.analysis.measured import Measured
from leanwright.findings import Statement
from leanwright.report.cleaning import clean
from leanwright.report.words import Voice, say_all

_EXTREMES: Final = {"leanest-cylinder": "lean", "richest-cylinder": "rich"}
_ACTIONS: Final = {"even": "leave-alone", "uneven": "find-cause"}
_ANOTHER_FLIGHT_HELPS: Final = ("no-sweep", "no-peak")
NOT_READ: Final = frozenset({"no-egt", "no-fuel-flow", "fuel-flow-without-unit", "no-time"})
"""Why there is no answer where a column is missing or not understood: the reason itself says what to do, and no flight helps."""
_SAY_THEMSELVES: Final = frozenset({"missing-peaks-decide", "recordings-differ"})
_NEARLY_NONE: Final = 0.01
_NEARLY_SURE: Final = 0.99
"""Chances beyond these are written as "under 1 %" and "over 99 %" [1]."""
_RESTS_ON: Final = (
    "sweeps-combined",
    "largest-uncertainty",
    "same-flight-twice",
    "cylinders-without-peak",
    "goal-by-flow",
)


DOUBTS: Final = frozenset(
    {
        "unit-doubtful",
        "flow-doubtful",
        "flow-unit-by-values",
        "identical-columns",
        "cylinders-by-letter",
        "many-rows-lost",
        "more-cylinders-than-stated",
    }
)
"""Findings that may spoil the whole answer: they stand beside it, not only below."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What is said of a balance; every statement of the analysis stands in exactly one place.

    ``headline`` is the first sentence (two statements where the verdict alone says nothing), ``leads`` what follows
    from it, ``actions`` what to do, ``notes`` what it rests on.
    """

    headline: tuple[Statement, ...]
    leads: tuple[Statement, ...]
    actions: tuple[Statement, ...]
    notes: tuple[Statement, ...]

    def __iter__(self) -> Iterator[Statement]:
        """All of it, in order."""
        yield from (*self.headline, *self.leads, *self.actions, *self.notes)


def answer(measured: Measured) -> Answer:
    """Put what the analysis says in order, and add the chance and what to do."""
    balance = measured.balance
    said = balance.reasons
    first = 2 if balance.spread_gph is None and balance.verdict == "cannot-tell" else 1
    leads: list[Statement] = []
    notes: list[Statement] = []
    for statement in said[first:]:
        (leads if _leads(statement, balance) else notes).append(statement)
    return Answer(said[:first], (*leads, *_chance(balance)), _actions(balance), tuple(notes))


def _chance(balance: Balance) -> tuple[Statement, ...]:
    """The chance, where it says something.

    With a cylinder unseen it is that of its lying as near as it can, and where sweeps disagree it takes them for one
    state: both are upper limits. A limit of nearly 1 says nothing; one of nearly 0 is the chance itself.
    """
    chance = balance.probability_within_goal
    if chance is None:
        return ()
    values = {"probability_within_goal": chance}
    whole = all(one.status == "peaked" for one in balance.cylinders)
    agreed = balance.verdict != "cannot-tell" or not balance.reaches_even
    if (whole and agreed) or chance < _NEARLY_NONE:
        return (Statement("chance-within-goal", values),)
    return (Statement("chance-at-most", values),) if chance <= _NEARLY_SURE else ()


def sentences(measured: Measured, voice: Voice) -> list[str]:
    """The whole answer in words, a statement each."""
    return say_all(answer(measured), voice)


def doubts(measured: Measured, voice: Voice) -> list[str]:
    """What makes the whole answer doubtful in how a file was read, a paragraph each."""
    found = [
        f"{voice.word('severity', finding.severity)}{voice.colon}{clean(voice.told(finding.message))}"
        for result in measured.results
        for finding in result.recording.findings
        if finding.code in DOUBTS
    ]
    return list(dict.fromkeys(found))


def without_column(one: CylinderBalance) -> bool:
    """Whether no column of the recordings holds a cylinder's EGT."""
    return one.reason is not None and one.reason.code == "cylinder-no-column"


def invented(measured: Measured) -> bool:
    """Whether a recording says of itself, in the lines before its header, that its data are invented."""
    return any(
        "invented" in line.casefold() for result in measured.results for line in result.recording.metadata
    )


def _leads(statement: Statement, balance: Balance) -> bool:
    """Whether a statement belongs to the answer rather than to what it rests on.

    The leanest and the richest lead only where they stick out: where the engine is even they are nobody's task.
    """
    if statement.code in _EXTREMES:
        return balance.verdict != "even" and _sticks_out(statement, balance)
    return statement.code not in _RESTS_ON


def _sticks_out(statement: Statement, balance: Balance) -> bool:
    flow = statement.values["fuel_flow_at_peak_gph"]
    if balance.mean_flow_gph is None or not isinstance(flow, float):
        return False
    return abs(flow - balance.mean_flow_gph) > balance.goal_gph / 2.0


def _actions(balance: Balance) -> tuple[Statement, ...]:
    itself = ("mixed-engines", "measured-not-planned")
    if any(reason.code.startswith(itself) for reason in balance.reasons):
        return ()  # the reason itself says what to do
    if balance.spread_gph is None and balance.verdict == "cannot-tell":
        codes = {statement.code for statement in balance.reasons}
        another = codes & set(_ANOTHER_FLIGHT_HELPS) and not codes & NOT_READ
        return (Statement("fly-sweep"),) if another else ()
    if balance.verdict == "cannot-tell":
        return _to_tell(balance)
    return (Statement(_ACTIONS[balance.verdict]),)


def _to_tell(balance: Balance) -> tuple[Statement, ...]:
    """What would tell: the probes, what a statement says itself (the peaks that are missing), or more sweeps."""
    silent = [one for one in balance.cylinders if one.status == "no-signal"]
    absent = tuple(one.cylinder for one in silent if without_column(one))
    probes = tuple(one.cylinder for one in silent if not without_column(one))
    first = (
        *((Statement("name-columns", {"cylinders_without_peak": absent}),) if absent else ()),
        *((Statement("see-to-probes", {"cylinders_without_peak": probes}),) if probes else ()),
    )
    if first:
        return first
    codes = {statement.code for statement in balance.reasons}
    if codes & _SAY_THEMSELVES:
        return ()
    return (Statement("set-goal-or-leave" if "close-to-goal" in codes else "fly-more"),)
