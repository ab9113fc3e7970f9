"""The step "watch": one engine's recordings in order of time, what changed and when, and what to do about it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from leanwright.analysis.trend import Change, Trend, follow
from leanwright.analysis.trend_past import Quantity
from leanwright.findings import Finding, Statement
from leanwright.showing import html_of
from leanwright.survey.run import Progress
from leanwright.workbench.survey import work_through
from leanwright.workbench.watch_order import in_order
from leanwright.workbench.work_file import Work

LEAST_PROBABILITY: Final = 0.5
"""Below this no cause is named alone: the owner is asked whether something was done."""
MOVES_WITH_POWER: Final = frozenset({"intake-leak", "air-bleed-blocked"})
"""What moves a cylinder's offset more at one manifold pressure than at another: it is met again and again in other flights."""
CONFIRMING: Final = (("ignition-check",), ("probe",))
NOTHING_NEW: Final = 0.05
"""Below this no new cause is there."""
WAIT: Final[Mapping[str, str]] = {
    "nozzle-blocked": "before the next flight",
    "nozzle-size": "before the next flight",
    "nozzles-exchanged": "before the next flight",
    "intake-leak": "before the next flight",
    "air-bleed-blocked": "at the next inspection",
    "plug-dead": "before the next flight",
    "ignition-weak": "before the next flight",
    "low-airflow": "before the next flight",
    "probe-slow": "at the next oil change",
    "probe-dead": "at the next oil change",
    "probes-exchanged": "before the next flight",
    "flow-misscaled": "before the next flight",
    "none": "before the next flight",
}
"""How long one can wait (common practice; the flight manual and licensed people win). What may hurt the engine, or makes the fuel
counted wrong, waits for nothing."""


PART: Final[Mapping[str, str]] = {
    "nozzle-blocked": "nozzle",
    "nozzle-size": "nozzle",
    "nozzles-exchanged": "nozzle",
    "intake-leak": "intake",
    "air-bleed-blocked": "bleed",
    "plug-dead": "ignition",
    "ignition-weak": "ignition",
    "low-airflow": "air",
    "probe-slow": "probe",
    "probe-dead": "probe",
    "probes-exchanged": "probe",
    "flow-misscaled": "flow",
}
"""What is to be checked first."""


Restarts = dict[int, list[tuple[int | None, Quantity]]]
"""What begins anew before the recording at a place: cylinder (``None``: the whole engine) and quantity."""


@dataclass(frozen=True, slots=True)
class Event:
    """Something changed, with its likeliest cause."""

    cause: str
    cylinder: int | None
    first_recording: str
    raised_at_recording: str
    probability: float
    wait: str
    told: tuple[Statement, ...]
    asked: bool
    others: tuple[tuple[str, float], ...]
    change: Change


@dataclass(frozen=True, slots=True)
class Watched:
    """What the terminal, the page and the JSON document are made from."""

    names: tuple[str, ...]
    started_at: tuple[str | None, ...]
    spread_percent: tuple[float | None, ...]
    trend: Trend
    events: tuple[Event, ...]
    findings: tuple[Finding, ...]
    unreadable: tuple[tuple[str, str], ...]
    work: tuple[Work, ...]
    invented: bool = False
    """Whether a recording says of itself that its data are invented."""

    _repr_html_ = html_of

    @property
    def work_days(self) -> tuple[str, ...]:
        """Days on which work was done, as ISO dates."""
        return tuple(one.day.isoformat() for one in self.work)


def read_evidence(place: str, name: str) -> list[dict[str, Any]]:
    """The work on one file. What is heavy is loaded here, so that only workers carry it."""
    from leanwright.workbench.watch_file import evidence_of_file

    return evidence_of_file(place, name)


def watch_folder(
    folder: Path,
    *,
    engine: int = 1,
    workers: int | None = None,
    work: Sequence[Work] = (),
    leave_out: frozenset[Path] = frozenset(),
    kept_in: Path | None = None,
    progress: Callable[[Progress], None] = lambda _progress: None,
) -> Watched:
    """Watch one engine, whose recordings lie below a folder.

    ``engine`` is which of a twin; ``work`` is what was done to it and when, which begins the right baselines anew; files
    to ``leave_out`` are no recordings.
    """
    done = work_through(
        folder,
        read_evidence,
        "watch",
        workers=workers,
        kept_in=kept_in,
        leave_out=leave_out,
        progress=progress,
    )
    rows = [row for outcome in done.outcomes for row in outcome.rows]
    unreadable = tuple((one.name, one.reason) for one in done.outcomes if one.reason is not None)
    kept, findings = in_order(rows, engine)
    places = {outcome.name: folder / outcome.name for outcome in done.outcomes}
    watched = watch_rows(kept, places, work, engine)
    return replace(watched, findings=findings, unreadable=unreadable)


def watch_rows(
    rows: Sequence[Mapping[str, Any]],
    places: Mapping[str, Path],
    work: Sequence[Work] = (),
    engine: int = 1,
) -> Watched:
    """Follow evidence that is in order of time; ``places`` tells where each file lies, to weigh causes."""
    from leanwright.workbench.watch_causes import Flown, weigh_change
    from leanwright.workbench.watch_file import from_plain

    history = [from_plain(row) for row in rows]
    restarts = _restarts(rows, work)
    trend = follow(history, restarts)
    events = []
    for number, change in enumerate(trend.changes):
        between = _undisturbed(number, trend, restarts)
        if change.quantities == ("cylinders",):
            events.append(_asked(change, rows))
            continue
        weighed = weigh_change(change, history, trend, Flown(places, engine), between)
        if _stands(change, weighed.probability, events, rows, work):
            continue
        if any(_same(event, weighed.cause, change) for event in events) and not work:
            continue
        events.append(_event(change, weighed.cause, weighed.probability, weighed.others, rows))
    spreads = []
    for moment in trend.moments:
        offsets = [point.offset_percent for point in moment.points if point.offset_percent is not None]
        whole = len(offsets) == len(moment.points) and len(offsets) > 1
        spreads.append(max(offsets) - min(offsets) if whole else None)
    return Watched(
        tuple(str(row["name"]) for row in rows),
        tuple(row["started_at"] for row in rows),
        tuple(spreads),
        trend,
        tuple(events),
        (),
        (),
        tuple(work),
        any(row.get("invented", False) for row in rows),
    )


def _undisturbed(number: int, trend: Trend, restarts: Restarts) -> tuple[int, int]:
    """The places about a change between which nothing else is known to have changed that bears on its cause.

    Work bears on it that was done on its cylinder, or moved any cylinder's offset: those are told against their mean.
    """
    change = trend.changes[number]
    worked = [
        place
        for place, what in restarts.items()
        if any(cylinder in {None, change.cylinder} or quantity == "offset" for cylinder, quantity in what)
    ]
    before = [one.raised for one in trend.changes if one.raised < change.first]
    before += [place for place in worked if place <= change.first]
    after = [one.first for one in trend.changes[number + 1 :] if one.first > change.raised]
    after += [place for place in worked if place > change.raised]
    return max(before, default=0), min(after, default=len(trend.moments))


def _same(event: Event, cause: str, change: Change) -> bool:
    """Whether a sign of one recording only confirms what its charts told before."""
    return (event.cause, event.cylinder) == (cause, change.cylinder) and change.quantities in CONFIRMING


def _stands(
    change: Change,
    probability: float,
    events: Sequence[Event],
    rows: Sequence[Mapping[str, Any]],
    work: Sequence[Work],
) -> bool:
    """Whether it is a fault that is known and was not mended, met in other conditions.

    A temperature moves at its cylinder, or at any if the fault is of the whole engine, and no new cause explains it; or the offset of a
    cylinder whose known fault does more at one power than at another, and no new cause is likelier than not.
    """
    day = (rows[change.first]["started_at"] or "")[:10]
    for event in events:
        since = (rows[event.change.first]["started_at"] or "")[:10]
        if event.cylinder not in {None, change.cylinder} or _mended(event, since, day, work):
            continue
        if set(change.quantities) <= {"egt", "cht"} and probability < NOTHING_NEW:
            return True
        with_power = MOVES_WITH_POWER & {event.cause, *(cause for cause, _chance in event.others)}
        if "offset" in change.quantities and with_power and probability < LEAST_PROBABILITY:
            return True
    return False


def _mended(event: Event, since: str, until: str, work: Sequence[Work]) -> bool:
    """Whether something was done between two days to the cylinder of an event, or to the whole engine."""
    return any(
        since <= done.day.isoformat() <= until
        and (not done.cylinders or event.cylinder is None or event.cylinder in done.cylinders)
        for done in work
    )


def _event(
    change: Change,
    cause: str,
    probability: float,
    others: tuple[tuple[str, float], ...],
    rows: Sequence[Mapping[str, Any]],
) -> Event:
    asked = probability < LEAST_PROBABILITY
    cause = cause if probability >= NOTHING_NEW else "none"
    values: dict[str, object] = {"cause": cause, "probability": probability}
    told = []
    if change.cylinder is None:
        told.append(
            Statement("watch-changed-engine") if cause == "none" else Statement("watch-cause-engine", values)
        )
    elif cause == "none":
        told.append(Statement("watch-changed", {"cylinder": change.cylinder}))
    else:
        told.append(Statement("watch-cause", {**values, "cylinder": change.cylinder}))
    if cause != "none":
        told.append(Statement("watch-check", {"part": PART[cause]}))
    if asked:
        told.append(Statement("watch-asked", {}))
    return Event(
        cause,
        change.cylinder,
        str(rows[change.first]["name"]),
        str(rows[change.raised]["name"]),
        probability,
        WAIT[cause],
        tuple(told),
        asked,
        others,
        change,
    )


def _asked(change: Change, rows: Sequence[Mapping[str, Any]]) -> Event:
    """Most cylinders changed at once: another engine, other nozzles, another panel. Only the owner knows."""
    told = (Statement("watch-asked-engine", {}),)
    first, raised = str(rows[change.first]["name"]), str(rows[change.raised]["name"])
    return Event("none", None, first, raised, 0.0, WAIT["none"], told, True, (), change)


def _restarts(rows: Sequence[Mapping[str, Any]], work: Sequence[Work]) -> Restarts:
    """What begins anew before the first recording on or after the day of each piece of work."""
    restarts: Restarts = {}
    for done in work:
        day = done.day.isoformat()
        place = next((n for n, row in enumerate(rows) if (row["started_at"] or "")[:10] >= day), None)
        if place is None:
            continue
        for cylinder in done.cylinders or (None,):
            restarts.setdefault(place, []).extend((cylinder, quantity) for quantity in done.restarts)
    return restarts
