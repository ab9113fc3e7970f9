"""The step "prove": the flights before and after a change, side by side."""

from collections.abc import Sequence
from datetime import datetime

from leanwright.analysis.by_hand import said_by_hand
from leanwright.analysis.compare import Comparison, Prediction, compare
from leanwright.analysis.measured import Measured
from leanwright.analysis.proved import Proved
from leanwright.analysis.response import Response
from leanwright.findings import Statement


def prove(before: Measured, after: Measured, promised: tuple[Prediction, Response] | None = None) -> Proved:
    """Compare two states of one engine; where they cannot be compared, the reasons say why and the values are missing.

    ``promised`` is what the plan predicted, and the response that it counted with.
    """
    why = _two_engines(before, after)
    if why is None or why.code == "mixed-engines-measured":
        why = (
            _swapped(before, after) or why
        )  # a flight named with the wrong state is what two states look like
    if why is not None:
        nothing = Comparison(before.balance, after.balance, None, None, None, (), None, None, (why,))
        return Proved(before, after, nothing)
    comparison = compare(before.balance, after.balance, *(promised or ()))
    return Proved(before, after, comparison, _notes(before, after))


def _notes(before: Measured, after: Measured) -> tuple[Statement, ...]:
    notes = []
    both = {one.recording.sha256 for one in before.results} & {one.recording.sha256 for one in after.results}
    if both:
        notes.append(Statement("compare-same-recording", {"recordings": len(both)}))
    if not (all(_started(before)) and all(_started(after))):
        notes.append(Statement("compare-no-dates", {}))
    return (*notes, *said_by_hand(before, after))


def _two_engines(before: Measured, after: Measured) -> Statement | None:
    for one in (before, after):
        told = [reason for reason in one.balance.reasons if reason.code.startswith("mixed-engines")]
        if told:
            return told[0]
    if (
        before.profile.cylinders
        and after.profile.cylinders
        and before.profile.cylinders != after.profile.cylinders
    ):
        values = {"cylinders_before": before.profile.cylinders, "cylinders_after": after.profile.cylinders}
        return Statement("compare-two-engines", values)
    return None


def _swapped(before: Measured, after: Measured) -> Statement | None:
    """Whether the dates of the recordings say that the states were named the wrong way round."""
    first = [day for day in _started(before) if day is not None]
    second = [day for day in _started(after) if day is not None]
    if not first or not second or max(first) <= min(second):
        return None
    values = {"date_before": max(first).date().isoformat(), "date_after": min(second).date().isoformat()}
    return Statement("compare-swapped" if min(first) >= max(second) else "compare-overlap", values)


def _started(measured: Measured) -> Sequence[datetime | None]:
    return [result.recording.started_at for result in measured.results]
