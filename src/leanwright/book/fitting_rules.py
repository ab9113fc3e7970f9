"""Rules of the work with the wrench in the hand: what is refused until it is put right."""

from leanwright.book import parts_rules
from leanwright.book.engine_places import place_words
from leanwright.book.entry import Entry
from leanwright.book.job_progress import check_order, going_on, of_this_job, step_words, to_touch
from leanwright.book.kinds import hangar, work
from leanwright.book.state import JobState, State
from leanwright.errors import RefusedEntryError
from leanwright.told import Told, both, in_a_row, quoted


def check_job(body: work.Job, entry: Entry, state: State) -> None:
    """A job begins once, on positions that the set's rules allow."""
    known = state.jobs.get(body.id)
    if known is not None and entry.supersedes is None:
        raise RefusedEntryError(
            "job-there", Told("There is a job {id!r} already", id=body.id), "Use another name."
        )
    cylinders = [one.cylinder for one in body.positions]
    if not cylinders or len(set(cylinders)) != len(cylinders):
        raise RefusedEntryError(
            "job-positions", "A job names at least one cylinder, and each once", "Correct the list."
        )
    engine = state.engines[body.engine].body
    for planned in body.positions:
        _check_position(state, body, engine, planned.cylinder, planned.marking)


def check_removal(body: work.Removal, entry: Entry, state: State) -> None:
    """A nozzle comes out once the line is off, and it is the one that was there."""
    job = going_on(state, body.job, entry)
    of_this_job(job, body.cylinder)
    check_order(job, "old-nozzle-out", body.cylinder)
    check_was_there(body, job, state)


def check_was_there(body: work.Removal, job: JobState, state: State) -> None:
    """What comes out is what the book has in that cylinder, if it has anything there."""
    placed = state.fitted.get(job.item.body.engine, {}).get(body.cylinder)
    # A removal may be corrected when the new nozzle is in already: then it is not the one that came out.
    new = job.steps.get(("marking-read", body.cylinder))
    if placed is not None and placed.marking != body.marking and (new is None or placed.entry != new.latest):
        raise RefusedEntryError(
            "other-marking",
            Told(
                "The book has {marking} in cylinder {cylinder} (entry {entry}), not {read}",
                marking=placed.marking,
                cylinder=body.cylinder,
                entry=placed.entry,
                read=body.marking,
            ),
            "Read it again. If the book is wrong, enter as found what was there.",
        )


def check_step(body: work.FittingStep, entry: Entry, state: State) -> None:
    """A step is done in its order, for one place, with what was seen, read or measured."""
    job = going_on(state, body.job, entry)
    if body.step in work.TORQUE_STEPS:
        raise RefusedEntryError(
            "needs-reading",
            Told("{step} needs the wrench's reading", step=body.step),
            "Enter a torque-reading.",
        )
    if body.step == "old-nozzle-out":
        raise RefusedEntryError(
            "needs-removal", "A nozzle taken out is a removal", "Enter its marking and tag."
        )
    if body.step in work.ENGINE_STEPS:
        if body.cylinder is not None:
            raise RefusedEntryError(
                "no-cylinder",
                Told("{step} is of the engine, not of a cylinder", step=body.step),
                "Leave it out.",
            )
        _check_measured(body, job)
        if body.step not in work.MEASURED_STEPS and not body.seen:
            raise RefusedEntryError(
                "nothing-seen", Told("{step}: what was seen is missing", step=body.step), "Say it in words."
            )
        check_order(job, body.step, None)
        return
    if body.cylinder is None:
        raise RefusedEntryError(
            "all-of-them",
            Told("{step} is entered for each cylinder by itself", step=body.step),
            "Name the cylinder.",
        )
    of_this_job(job, body.cylinder)
    check_order(job, body.step, body.cylinder)
    if body.step == "marking-read":
        check_marking(body, job, state)
    elif not body.seen:
        raise RefusedEntryError(
            "nothing-seen", Told("{step}: what was seen is missing", step=body.step), "Say it in words."
        )
    if body.step == "looked-at-again":
        _check_second_look(body, job, entry)


def check_pause(body: work.Pause, entry: Entry, state: State) -> None:
    """Work that rests is not interrupted again."""
    del entry
    if state.jobs[body.job].paused is not None:
        raise RefusedEntryError(
            "paused-already", Told("Job {job!r} rests already", job=body.job), "Go on with resume."
        )


def check_resume(body: work.Resume, entry: Entry, state: State) -> None:
    """After an interruption the last three steps are touched again before anything else is done."""
    del entry
    job = state.jobs[body.job]
    if job.paused is None:
        raise RefusedEntryError(
            "not-paused", Told("Job {job!r} was not interrupted", job=body.job), "Go on with the next step."
        )
    wanted = to_touch(job)
    touched = {(one.step, one.cylinder) for one in body.touched}
    left = [one for one in wanted if one not in touched]
    if left:
        named = in_a_row([step_words(step, cylinder) for step, cylinder in left])
        raise RefusedEntryError(
            "not-touched", Told("Not touched again yet: {named}", named=named), "Go back and touch each."
        )


def _check_measured(body: work.FittingStep, job: JobState) -> None:
    if body.step not in work.MEASURED_STEPS:
        return
    figure = job.figures.get(body.step)
    if figure is None:
        raise RefusedEntryError(
            "no-figure",
            Told("The limits of {step} are not entered yet", step=body.step),
            "Enter them with their document.",
        )
    if body.value is None or body.unit is None:
        raise RefusedEntryError(
            "no-value", Told("{step} is a number with its unit", step=body.step), "Enter value and unit."
        )
    if body.unit != figure.item.body.unit:
        raise RefusedEntryError(
            "other-unit",
            Told(
                "{value} {unit}: the limits are in {wanted}",
                value=body.value,
                unit=body.unit,
                wanted=figure.item.body.unit,
            ),
            "Enter it in that unit.",
        )


def check_marking(body: work.FittingStep, job: JobState, state: State) -> None:
    """A nozzle that was read may go where it is meant to go: not in quarantine, in a place of its own, planned, not twice.

    Whatever was done before it is not asked here.
    """
    if body.marking is None or body.cylinder is None:
        raise RefusedEntryError("no-marking", "The marking as read is missing", "Read it off the nozzle.")
    plan = job.item.body
    engine = state.engines[plan.engine].body
    _check_quarantine(body, state, plan)
    _check_position(state, plan, engine, body.cylinder, body.marking)
    wanted = next(one.marking for one in plan.positions if one.cylinder == body.cylinder)
    if wanted != body.marking:
        raise RefusedEntryError(
            "not-planned-here",
            Told(
                "{where} waits for {wanted}, not {marking}",
                where=_where(engine, body.cylinder),
                wanted=wanted,
                marking=body.marking,
            ),
            "Read the marking again. If the plan has changed, correct the job.",
        )
    _check_twice(body, state, plan)


def _check_position(state: State, plan: work.Job, engine: hangar.Engine, cylinder: int, marking: str) -> None:
    if plan.set is None:
        return
    allowed = parts_rules.allowed_cylinders(state.sets[plan.set].body, marking, engine)
    if allowed is None:
        raise RefusedEntryError(
            "not-of-set",
            Told("{marking} is not of the set {set!r}", marking=marking, set=plan.set),
            "Read the marking again.",
        )
    if cylinder not in allowed:
        may = both([str(one) for one in sorted(allowed)]) or Told("no cylinder of this engine")
        wanted = next((one.marking for one in plan.positions if one.cylinder == cylinder), "")
        raise RefusedEntryError(
            "position-rule",
            Told(
                "Not in this place. {marking} may go to {may} only. This is {where}",
                marking=marking,
                may=may,
                where=_where(engine, cylinder),
            ),
            Told("Put it where it belongs. It waits for {wanted}.", wanted=wanted)
            if wanted and wanted != marking
            else "Put it where it belongs.",
        )


def _where(engine: hangar.Engine, cylinder: int) -> str:
    words = place_words(engine, cylinder)
    if not words:
        return Told("cylinder {cylinder}", cylinder=cylinder)
    return Told("cylinder {cylinder} ({place})", cylinder=cylinder, place=words)


def _check_quarantine(body: work.FittingStep, state: State, plan: work.Job) -> None:
    marking = body.marking or ""
    kept = parts_rules.held(state, marking, body.serial)
    if not kept:
        return
    exactly = body.serial is not None and any(one.item.body.serial == body.serial for one in kept)
    used = [one for one in parts_rules.where_fitted(state, marking) if one != (plan.engine, body.cylinder)]
    if exactly or parts_rules.stock(state, marking) - len(used) <= 0:
        item = kept[0].item
        why = (
            quoted([item.body.because])
            if item.kind == "quarantine"
            else parts_rules.MISFITS[item.body.result]
        )
        raise RefusedEntryError(
            "in-quarantine",
            Told(
                "This nozzle is in quarantine since {day} ({why}, entry {sequence})",
                day=item.day,
                why=why,
                sequence=item.sequence,
            ),
            "A person of the book has to release it first, with a reason.",
        )


def _check_twice(body: work.FittingStep, state: State, plan: work.Job) -> None:
    marking = body.marking or ""
    here = (plan.engine, body.cylinder)
    if body.serial is not None:
        used = [one for one in parts_rules.where_fitted(state, marking, body.serial) if one != here]
        limit = 1
    else:
        used = [one for one in parts_rules.where_fitted(state, marking) if one != here]
        planned = sum(1 for one in plan.positions if one.marking == marking)
        limit = max(parts_rules.stock(state, marking), 1) if plan.order is not None else planned
    if len(used) >= limit:
        engine, cylinder = used[0]
        there = (
            str(cylinder)
            if engine == plan.engine
            else Told("{cylinder} of engine {engine}", cylinder=cylinder, engine=engine)
        )
        raise RefusedEntryError(
            "already-in",
            Told("{marking} is already in {there}", marking=marking, there=there),
            "Read the marking again.",
        )


def _check_second_look(body: work.FittingStep, job: JobState, entry: Entry) -> None:
    """The second look goes another way round than the first: the same order repeats the same mistake."""
    del entry
    torqued = [cylinder for step, cylinder in job.done if step == "nozzle-torqued"]
    looked = [cylinder for step, cylinder in job.done if step == "looked-at-again"] + [body.cylinder]
    if len(torqued) > 2 and len(looked) == 2 and looked == torqued[:2]:
        raise RefusedEntryError(
            "same-order", "The second look goes the same way round as the work", "Look in another order."
        )
