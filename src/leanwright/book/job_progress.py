"""How far a job is: what comes before what, what is open, what has to be touched again after an interruption."""

from datetime import date
from decimal import Decimal
from typing import Any, Final

from leanwright.book.entry import Entry
from leanwright.book.kinds import work
from leanwright.book.state import Item, JobState, State
from leanwright.engine.torque import ROUNDING, to_inlb, torque_at_joint
from leanwright.errors import RefusedEntryError
from leanwright.told import Told, in_a_row

TOUCHED_AGAIN: Final = 3
BEFORE: Final[dict[str, tuple[str, ...]]] = {
    "line-off": ("fuel-off",),
    "old-nozzle-out": ("line-off",),
    "seat-inspected": ("old-nozzle-out",),
    "marking-read": ("seat-inspected",),
    "thread-compound": ("marking-read",),
    "started-by-hand": ("thread-compound",),
    "nozzle-torqued": ("started-by-hand",),
    "line-torqued-at-nozzle": ("nozzle-torqued",),
    "line-torqued-at-divider": ("nozzle-torqued",),
    "line-marked": ("line-torqued-at-nozzle", "line-torqued-at-divider"),
    "clamp-back": ("line-torqued-at-nozzle", "line-torqued-at-divider"),
    "looked-at-again": ("line-marked", "clamp-back"),
    "leak-check-at-nozzles": ("looked-at-again",),
    "leak-check-at-divider": ("looked-at-again",),
    "idle-mixture": ("leak-check-at-nozzles", "leak-check-at-divider"),
    "idle-speed": ("leak-check-at-nozzles", "leak-check-at-divider"),
    "metered-pressure": ("leak-check-at-nozzles", "leak-check-at-divider"),
    "unmetered-pressure": ("leak-check-at-nozzles", "leak-check-at-divider"),
    "full-power-flow": ("leak-check-at-nozzles", "leak-check-at-divider"),
    "ground-run": ("leak-check-at-nozzles", "leak-check-at-divider"),
    "look-after-run": ("ground-run",),
    "tools-counted": ("look-after-run",),
    "caps-counted": ("look-after-run",),
    "cowling": ("look-after-run", "tools-counted", "caps-counted"),
}
"""What each step comes after (common practice). No engine runs before the leak checks, and no cowling hides what is not counted.

A step of a cylinder comes after those of the same cylinder; one of the engine after those of every cylinder of the job.
"""


def going_on(state: State, name: str, entry: Entry) -> JobState:
    """The job, if an entry may be added to its work: it does not rest, and its record is not signed.

    A correction is no work: what was entered wrongly is put right while the work rests too.
    """
    job = state.jobs[name]
    if job.paused is not None and entry.supersedes is None:
        named = in_a_row([step_words(step, cylinder) for step, cylinder in to_touch(job)]) or Told(
            "nothing yet"
        )
        raise RefusedEntryError(
            "paused",
            Told("The work was interrupted (entry {latest})", latest=job.paused.latest),
            Told("Touch again: {named}.", named=named),
        )
    if job.record is not None and state.records[job.record].released:
        raise RefusedEntryError(
            "signed", Told("The record of job {name!r} is signed", name=name), "Begin a new job."
        )
    return job


def of_this_job(job: JobState, cylinder: int) -> None:
    """Raise for a cylinder that the job leaves alone."""
    if cylinder not in {one.cylinder for one in job.item.body.positions}:
        raise RefusedEntryError(
            "not-of-this-job",
            Told("Cylinder {cylinder} is not part of job {id!r}", cylinder=cylinder, id=job.item.body.id),
            "Check the number.",
        )


def steps_before(job: work.Job, step: str, cylinder: int | None) -> list[tuple[str, int | None]]:
    """The steps, each with its place, that have to be done before a step."""
    places: list[int | None] = [cylinder] if cylinder is not None else [one.cylinder for one in job.positions]
    return [
        (before, place)
        for before in BEFORE.get(step, ())
        for place in ([None] if before in work.ENGINE_STEPS else places)
    ]


def check_order(job: JobState, step: str, cylinder: int | None) -> None:
    """Raise if a step that comes before is still open."""
    for before, place in steps_before(job.item.body, step, cylinder):
        if (before, place) in job.steps:
            continue
        if before == "fuel-off":
            raise RefusedEntryError(
                "fuel-on", "The fuel is not off yet by the book", "Enter fuel-off, and how it was checked."
            )
        raise RefusedEntryError(
            "out-of-order",
            Told(
                "{wanted} comes after {before}, which is open",
                wanted=step_words(step, cylinder),
                before=step_words(before, place),
            ),
            Told("Do {step} first.", step=before),
        )


def joint_inlb(body: work.TorqueReading) -> float:
    """What the joint got [in-lb]."""
    reading = to_inlb(float(body.reading), body.unit)
    if body.extension is None:
        return reading
    one = body.extension
    try:
        return torque_at_joint(reading, float(one.lever), float(one.extension), float(one.angle_deg))
    except ValueError as error:
        raise turns_nothing(one.lever, one.extension, one.angle_deg) from error


def turns_nothing(lever: str, extension: str, angle_deg: str) -> RefusedEntryError:
    """The refusal of an extension through which the wrench turns nothing."""
    return RefusedEntryError(
        "extension",
        Told(
            "With a lever of {lever} and an extension of {extension} at {angle_deg} deg the wrench turns nothing",
            lever=lever,
            extension=extension,
            angle_deg=angle_deg,
        ),
        "Measure it again.",
    )


def within_figure(body: work.TorqueReading, figure: work.Figure) -> bool:
    """Whether a reading is within the instructions' range, without any allowance but rounding."""
    low, high = (to_inlb(float(one), figure.unit) for one in (figure.low, figure.high))
    return low * (1.0 - ROUNDING) <= joint_inlb(body) <= high * (1.0 + ROUNDING)


def to_touch(job: JobState) -> list[tuple[str, int | None]]:
    """The steps that have to be touched again after an interruption."""
    return job.done[-TOUCHED_AGAIN:]


def step_words(step: str, cylinder: int | None) -> str:
    """A step as a sentence names it."""
    if cylinder is None:
        return Told("{step}", step=step)
    return Told("{step} at {cylinder}", step=step, cylinder=cylinder)


def open_steps(job: JobState) -> list[tuple[str, int | None]]:
    """Steps of a job that are not done, or whose reading is outside the instructions."""
    plan: work.Job = job.item.body
    left: list[tuple[str, int | None]] = []
    for planned in plan.positions:
        here = planned.cylinder
        left += [
            (step, here)
            for step in work.CYLINDER_STEPS
            if (step, here) not in job.steps or not _reading_holds(job, step, here)
        ]
        if plan.second_person and not _inspected(job, planned.cylinder):
            left.append(("inspected-by-another", planned.cylinder))
    left += [
        (step, None)
        for step in work.ENGINE_STEPS
        if (step, None) not in job.steps or not _value_holds(job, step)
    ]
    return left


def _reading_holds(job: JobState, step: str, cylinder: int) -> bool:
    item = job.torques.get((step, cylinder))
    if item is None:
        return True
    figure = job.figures.get(work.TORQUE_STEPS[step])
    return figure is None or within_figure(item.body, figure.item.body)


def _value_holds(job: JobState, step: str) -> bool:
    figure = job.figures.get(step)
    body: Any = job.steps[step, None].body
    if figure is None or body.value is None:
        return True
    return Decimal(figure.item.body.low) <= Decimal(body.value) <= Decimal(figure.item.body.high)


def _inspected(job: JobState, cylinder: int) -> bool:
    """Whether somebody who did none of the work looked at it when it was done; the second look is no work."""
    here = {step: item for (step, where), item in job.steps.items() if where == cylinder}
    doers = {_name(item.author) for item in here.values()}
    last = max((_when(item) for step, item in here.items() if step != "looked-at-again"), default=None)
    return last is not None and any(
        item.body.cylinder == cylinder
        and item.body.result == "sound"
        and _name(item.body.by) not in doers
        and _when(item) > last
        for item in job.inspections
    )


def _when(item: Item) -> tuple[date, int]:
    return item.day, item.sequence


def same_person(one: str, other: str) -> bool:
    """Whether two names are those of one person, however they were typed."""
    return _name(one) == _name(other)


def _name(typed: str) -> str:
    return " ".join(typed.split()).casefold()
