"""The step "fit": one step at a time, each checked before it is written; nothing goes on that is refused."""

import re
from collections.abc import Mapping
from typing import Any, Final, get_args, get_type_hints

from leanwright.book import chain
from leanwright.book.due import latest_hours
from leanwright.book.engine_places import place_words
from leanwright.book.entry import DECIMAL
from leanwright.book.job_progress import open_steps, to_touch, turns_nothing
from leanwright.book.kinds import work
from leanwright.book.ledger import Ledger, Written
from leanwright.book.parts_rules import allowed_cylinders
from leanwright.book.state import FigureState, JobState, State
from leanwright.book.torque_rules import (
    calibration_due,
    figure_inlb,
    four_digits,
    needs_second_person,
    usable_figure,
)
from leanwright.engine.torque import UNITS_INLB, to_inlb, wrench_setting
from leanwright.errors import RefusedEntryError
from leanwright.told import Told
from leanwright.workbench import records
from leanwright.workbench.records import NOTHING_SAID, Said

LENGTHS: Final[tuple[str, ...]] = get_args(get_type_hints(work.Extension)["unit"])
"""The units in which lever and extension are entered."""
_HEALTH: Final = ("compression", "intake-leak", "timing", "plugs", "probes", "fuel-system")


def begin(book: Ledger, job: Mapping[str, Any], said: Said = NOTHING_SAID) -> Written:
    """Begin a job: engine, set, instructions with revision, which nozzle for which cylinder."""
    return records.add(book, "job", dict(job), said)


def enter_figure(book: Ledger, figure: Mapping[str, Any], said: Said = NOTHING_SAID) -> Written:
    """Enter a figure of the instructions; with ``confirms`` it is a second person's entry of the same."""
    return records.add(book, "figure", dict(figure), said)


def remove(book: Ledger, removal: Mapping[str, Any], said: Said = NOTHING_SAID) -> Written:
    """A nozzle comes out: its marking as read, bagged under a tag."""
    return records.add(book, "removal", dict(removal), said)


def do_step(book: Ledger, step: Mapping[str, Any], said: Said = NOTHING_SAID) -> Written:
    """Enter a step that was done, with what was seen, read or measured."""
    return records.add(book, "fitting-step", dict(step), said)


def check_open(book: Ledger, job: str, step: str, cylinder: int | None, request_key: str) -> None:
    """Raise for a step that somebody has entered meanwhile, in another window; the same request again is no other one."""
    found = book.state().jobs.get(job)
    done = found.steps.get((step, cylinder)) if found else None
    if found is None or done is None or (step, cylinder) in open_steps(found):
        return
    if all(sealed.entry.request_key != request_key for sealed, _newer in book.entries(done.kind)):
        raise RefusedEntryError(
            "done-already",
            Told(
                "This step was entered already, by {author} (entry {entry})",
                author=done.author,
                entry=done.latest,
            ),
            "Look at that entry. If it is wrong, correct it there.",
        )


def read_torque(book: Ledger, reading: Mapping[str, Any], said: Said = NOTHING_SAID) -> Written:
    """Enter what the wrench read."""
    return records.add(book, "torque-reading", dict(reading), said)


def pause(book: Ledger, job: str, because: str, said: Said = NOTHING_SAID) -> Written:
    """The work is interrupted, or handed over."""
    return records.add(book, "pause", {"job": job, "because": because}, said)


def resume(
    book: Ledger, job: str, touched: list[tuple[str, int | None]], said: Said = NOTHING_SAID
) -> Written:
    """Go on, after the steps named by :func:`worksheet` under ``touch_again`` have been touched."""
    named = [
        {"step": step, **({"cylinder": cylinder} if cylinder is not None else {})}
        for step, cylinder in touched
    ]
    return records.add(book, "resume", {"job": job, "touched": named}, said)


def inspect(book: Ledger, inspection: Mapping[str, Any], said: Said = NOTHING_SAID) -> Written:
    """Enter a second person's look."""
    return records.add(book, "inspection", dict(inspection), said)


def wrench_has_to_read(
    torque: float, unit: str, *, lever: float, extension: float, angle_deg: float = 0.0
) -> dict[str, float | str]:
    """What the wrench has to read so that the joint gets the torque, in its unit and in inch-pounds.

    Raises for a unit that is none, and for an extension that turns nothing.
    """
    if unit not in UNITS_INLB:
        raise RefusedEntryError(
            "torque-unit",
            Told("{unit!r} is no unit of torque here", unit=unit),
            Told("Write one of {units_inlb}.", units_inlb=", ".join(UNITS_INLB)),
        )
    try:
        reading = wrench_setting(torque, lever, extension, angle_deg)
    except ValueError as error:
        raise turns_nothing(f"{lever:g}", f"{extension:g}", f"{angle_deg:g}") from error
    return {"reading": reading, "unit": unit, "reading_inlb": to_inlb(reading, unit)}


def wrench_reads(
    book: Ledger, job: str, step: str, extension: Mapping[str, str], unit: str | None = None
) -> dict[str, str]:
    """From where to where the wrench has to read at a step with an extension on it, in a unit or that of the instructions.

    Raises where the instructions' torque is not entered yet, or the extension is not whole or turns nothing.
    """
    found = book.state().jobs.get(job)
    if found is None:
        raise _no_such_job(job)
    figure = usable_figure(step, found)
    lever, length, angle = (_length(extension, name) for name in ("lever", "extension", "angle_deg"))
    shown = unit or figure.unit
    ends = [
        wrench_has_to_read(end / UNITS_INLB.get(shown, 1.0), shown, lever=lever, extension=length, angle_deg=angle)
        for end in figure_inlb(figure)
    ]  # fmt: skip
    low, high = (four_digits(float(one["reading"])) for one in ends)
    return {"low": low, "high": high, "unit": shown}


def _no_such_job(job: str) -> RefusedEntryError:
    return RefusedEntryError(
        "no-such-job", Told("There is no job {job!r} in the book", job=job), "Begin it first."
    )


def _length(extension: Mapping[str, str], name: str) -> float:
    typed = extension.get(name, "0" if name == "angle_deg" else "")
    if not re.search(DECIMAL, typed):
        raise RefusedEntryError(
            "no-number",
            "Lever and extension are two lengths, and the angle is a number",
            "Write them like 33.5.",
        )
    return float(typed)


def worksheet(book: Ledger, job: str) -> dict[str, Any]:
    """Everything that the fitting worksheet shows, on paper, on a screen or on a phone, as plain data."""
    state = book.state()
    if job not in state.jobs:
        raise _no_such_job(job)
    found = state.jobs[job]
    plan: work.Job = found.item.body
    engine = state.engines[plan.engine].body
    hours = latest_hours(state, plan.engine)
    return {
        "format": "leanwright/worksheet/1",
        "head": chain.short(book.head()),
        "job": job,
        "entry": found.item.latest,
        "engine": plan.engine,
        "aircraft": engine.aircraft,
        "cylinders": engine.cylinders,
        "numbering": engine.numbering,
        "hours": str(hours) if hours is not None else None,
        "document": plan.document,
        "revision": plan.revision,
        "second_person": plan.second_person,
        "figures": [_figure_row(what, one) for what, one in found.figures.items()],
        "tools": [_tool_row(state, name) for name in state.tools],
        "health": health(state, plan.engine),
        "blocks": [_block(state, found, planned) for planned in plan.positions],
        "engine_steps": [_step_row(found, step, None) for step in work.ENGINE_STEPS],
        "open_steps": [{"step": step, "cylinder": cylinder} for step, cylinder in open_steps(found)],
        "paused": found.paused is not None,
        "touch_again": [{"step": step, "cylinder": cylinder} for step, cylinder in to_touch(found)]
        if found.paused is not None
        else [],
    }


def health(state: State, engine: str) -> list[dict[str, Any]]:
    """The health gate: the latest result of each check with its date, or that it is missing."""
    latest = {
        item.body.what: item for item in state.checks if item.kind == "check" and item.body.engine == engine
    }
    return [
        {
            "what": what,
            "result": latest[what].body.result if what in latest else None,
            "date": latest[what].day.isoformat() if what in latest else None,
            "entry": latest[what].latest if what in latest else None,
        }
        for what in _HEALTH
    ]


def _block(state: State, job: JobState, planned: work.Planned) -> dict[str, Any]:
    plan: work.Job = job.item.body
    engine = state.engines[plan.engine].body
    placed = state.fitted.get(plan.engine, {}).get(planned.cylinder)
    allowed = (
        allowed_cylinders(state.sets[plan.set].body, planned.marking, engine)
        if plan.set is not None
        else frozenset(range(1, engine.cylinders + 1))
    )
    removed = job.removed.get(planned.cylinder)
    return {
        "cylinder": planned.cylinder,
        "place": place_words(engine, planned.cylinder) or None,
        "planned": planned.marking,
        "allowed_cylinders": sorted(allowed or ()),
        "in_place": placed.marking if placed else None,
        "removed": removed.body.marking if removed else None,
        "tag": removed.body.tag if removed else None,
        "tightness": tightness(job, planned.cylinder),
        "steps": [_step_row(job, step, planned.cylinder) for step in work.CYLINDER_STEPS],
    }


def tightness(job: JobState, cylinder: int) -> str:
    """How a new nozzle sits: open, finger-tight, torqued, marked, looked at again."""
    for step, word in (
        ("looked-at-again", Told("looked at again")),
        ("line-marked", Told("marked")),
        ("nozzle-torqued", Told("torqued")),
        ("started-by-hand", Told("finger-tight")),
    ):
        if (step, cylinder) in job.steps:
            return word
    return Told("open")


def _step_row(job: JobState, step: str, cylinder: int | None) -> dict[str, Any]:
    item = job.steps.get((step, cylinder))
    body = item.body if item is not None else None
    torque = body if isinstance(body, work.TorqueReading) else None
    return {
        "step": step,
        "done": item is not None,
        "entry": item.latest if item is not None else None,
        "by": item.author if item is not None else None,
        "time": item.recorded if item is not None else None,
        "seen": getattr(body, "seen", None),
        "marking": getattr(body, "marking", None),
        "value": torque.reading if torque else getattr(body, "value", None),
        "unit": getattr(body, "unit", None),
        "tool": getattr(body, "tool", None),
    }


def _figure_row(what: str, one: FigureState) -> dict[str, Any]:
    body: work.Figure = one.item.body
    return {
        "what": what,
        "low": body.low,
        "high": body.high,
        "unit": body.unit,
        "document": body.document,
        "revision": body.revision,
        "entry": one.item.latest,
        "needs_second_person": needs_second_person(body),
        "confirmed_by": one.confirmed.author if one.confirmed else None,
    }


def _tool_row(state: State, name: str) -> dict[str, Any]:
    body = state.tools[name].body
    due = calibration_due(body, state)
    return {
        "tool": name,
        "kind": body.kind,
        "low": body.low,
        "high": body.high,
        "unit": body.unit,
        "calibration_due": due.isoformat() if due else None,
        "withdrawn": body.withdrawn,
    }
