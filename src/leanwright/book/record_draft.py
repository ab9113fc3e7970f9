"""The draft of a maintenance record, from what was really entered. It releases nothing: its signature block is empty."""

from collections.abc import Iterator
from datetime import date
from typing import Any, Final

from leanwright.book.due import latest_reading
from leanwright.book.engine_places import place_words
from leanwright.book.job_progress import joint_inlb
from leanwright.book.kinds import work
from leanwright.book.rule_texts import ECFR_AUGUST, UK_2020
from leanwright.book.state import JobState, State
from leanwright.book.torque_rules import calibration_due

_STATEMENTS: Final = {
    "us-part-43": "The signature constitutes the approval for return to service only for the work performed "
    f"(14 CFR 43.9(a)(4), {ECFR_AUGUST}).",
    "easa-part-ml": "Certifies that the work specified except as otherwise specified was carried out in accordance with "
    "Part-M and in respect to that work the aircraft is considered ready for release to service "
    f"(AMC M.A.801 as printed in the {UK_2020}; use the wording of ML.A.801 in force).",
    "uk-part-ml": "Certifies that the work specified except as otherwise specified was carried out in accordance with "
    "Part-M and in respect to that work the aircraft is considered ready for release to service "
    f"(AMC M.A.801, {UK_2020}).",
}


def draft_text(state: State, job_name: str, rules: str, completed: date, performed_by: str) -> str:
    """The text of a maintenance record, from the entries of a job; its signature block is empty."""
    job = state.jobs[job_name]
    engine = state.engines[job.item.body.engine].body
    aircraft = state.aircraft[engine.aircraft].body if engine.aircraft in state.aircraft else None
    hours = latest_reading(state, engine.id)
    lines = [
        "DRAFT. Nobody has released anything until a licensed person has signed.",
        f"Engine: {engine.model or engine.id}, serial number {engine.serial or '(not entered)'}",
    ]
    if aircraft is not None:
        lines.append(
            f"Aircraft: {aircraft.id}, {aircraft.type or ''} serial number {aircraft.serial or '(not entered)'}"
        )
    lines.append(f"Date completed: {completed.isoformat()}")
    if hours is not None:
        day, read = hours
        when = f", read on {day}" if day != completed else ""
        lines.append(f"Engine hours ({engine.hours_source}): {read} h{when}")
    lines += ["Work performed:", *(f"- {one}" for one in work_lines(state, job))]
    lines += [
        f"In accordance with {job.item.body.document}, revision {job.item.body.revision}.",
        *_approval_lines(state, job),
        f"Performed by: {performed_by}",
        _STATEMENTS[rules],
        "Signature: ____________________  Certificate number: ______________  Kind of certificate: ______________",
    ]
    return "\n".join(lines)


def work_lines(state: State, job: JobState) -> Iterator[str]:
    """What was done, one sentence a thing, each from an entry."""
    engine = state.engines[job.item.body.engine].body
    for planned in job.item.body.positions:
        number = planned.cylinder
        place = place_words(engine, number)
        where = f"Cylinder {number} ({place})" if place else f"Cylinder {number}"
        removed, read = job.removed.get(number), job.steps.get(("marking-read", number))
        if removed is not None:
            yield f"{where}: nozzle {removed.body.marking} removed, tag {removed.body.tag}."
        if read is not None:
            yield f"{where}: nozzle {read.body.marking}{_serial(read.body.serial)} fitted."
        for step, what in (
            ("nozzle-torqued", "nozzle"),
            ("line-torqued-at-nozzle", "line at the nozzle"),
            ("line-torqued-at-divider", "line at the divider"),
        ):
            item = job.torques.get((step, number))
            if item is not None:
                yield f"{where}: {what} {_torque_words(state, item.body)}."
    for step in work.ENGINE_STEPS:
        item = job.steps.get((step, None))
        if item is not None:
            value = f"{item.body.value} {item.body.unit}" if item.body.value is not None else item.body.seen
            yield f"{step.replace('-', ' ').capitalize()}: {value}."


def _serial(serial: str | None) -> str:
    return f" serial number {serial}" if serial else ""


def _torque_words(state: State, body: work.TorqueReading) -> str:
    tool = state.tools.get(body.tool)
    due = calibration_due(tool.body, state) if tool is not None else None
    joint = (
        f" ({joint_inlb(body):.1f} in-lb at the joint, with an extension)"
        if body.extension is not None
        else ""
    )
    in_date = f", calibration due {due}" if due else ""
    return f"torqued, wrench {body.tool} read {body.reading} {body.unit}{joint}{in_date}"


def _approval_lines(state: State, job: JobState) -> Iterator[str]:
    approval = approval_of(state, job)
    if approval is None:
        return
    revision = f", revision {approval.revision}" if approval.revision else ""
    yield f"Parts under {approval.document}{revision}; alteration recorded as {approval.classification or '(not recorded)'}."
    if approval.supplement:
        yield f"Flight manual supplement: {approval.supplement}."
    for placard in approval.placards:
        yield f"Placard: {placard}."


def approval_of(state: State, job: JobState) -> Any:
    """The approval of the set that a job fits; ``None`` without one."""
    chosen = job.item.body.set
    return state.sets[chosen].body.approval if chosen in state.sets else None
