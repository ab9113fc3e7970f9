"""Rules of torque: the instructions' figure, the wrench, and what it read."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Final

from leanwright.book.entry import Entry, local_date
from leanwright.book.job_progress import check_order, going_on, joint_inlb, of_this_job, same_person
from leanwright.book.kinds import hangar, work
from leanwright.book.state import JobState, State
from leanwright.engine.torque import UNITS_INLB, Mistake, likely_mistake, to_inlb
from leanwright.errors import RefusedEntryError
from leanwright.told import Told

USUAL_INLB: Final = (15.0, 200.0)
"""Outside this band a torque of the instructions is entered by a second person too. Our own band, not a source's."""
READING_TOLERANCE: Final = 0.1


def check_figure(body: work.Figure, entry: Entry, state: State) -> None:
    """A figure has its limits in order; a second person repeats an unusual torque, figure for figure."""
    low, high = Decimal(body.low), Decimal(body.high)
    if low > high or (body.what.endswith("torque") and low <= 0):
        raise RefusedEntryError(
            "limits",
            Told("The limits {low} to {high} {unit} are in no order", low=low, high=high, unit=body.unit),
            "Copy them again.",
        )
    if body.what.endswith("torque") and body.unit not in UNITS_INLB:
        raise RefusedEntryError(
            "torque-unit",
            Told("{unit!r} is no unit of torque here", unit=body.unit),
            Told("Write one of {units_inlb}.", units_inlb=", ".join(UNITS_INLB)),
        )
    if body.confirms is None:
        return
    first = state.jobs[body.job].figures.get(body.what)
    if first is None or first.item.latest != body.confirms:
        raise RefusedEntryError(
            "no-such-figure",
            Told("Entry {confirms} is no {what} of this job", confirms=body.confirms, what=body.what),
            "Check it.",
        )
    if same_person(first.item.author, entry.author.name):
        raise RefusedEntryError(
            "same-person",
            Told("{name} entered the figure; another person has to confirm it", name=entry.author.name),
            "Ask somebody.",
        )
    there = first.item.body
    if (there.low, there.high, there.unit, there.document, there.revision) != (
        body.low,
        body.high,
        body.unit,
        body.document,
        body.revision,
    ):
        raise RefusedEntryError(
            "figures-differ",
            Told(
                "Entered first: {low} to {high} {unit} from {document} {revision}. Entered now: {low_2} "
                "to {high_2} {unit_2} from {document_2} {revision_2}",
                low=there.low,
                high=there.high,
                unit=there.unit,
                document=there.document,
                revision=there.revision,
                low_2=body.low,
                high_2=body.high,
                unit_2=body.unit,
                document_2=body.document,
                revision_2=body.revision,
            ),
            "Look at the instructions together, and correct the one that is wrong.",
        )


def needs_second_person(body: work.Figure) -> bool:
    """Whether a torque of the instructions is so unusual that another person has to enter it too."""
    if not body.what.endswith("torque"):
        return False
    low, high = (to_inlb(float(one), body.unit) for one in (body.low, body.high))
    return low < USUAL_INLB[0] or high > USUAL_INLB[1]


def check_torque(body: work.TorqueReading, entry: Entry, state: State) -> None:
    """A torque reading: in order, with a wrench that may be used, within the instructions' range."""
    job = going_on(state, body.job, entry)
    of_this_job(job, body.cylinder)
    check_order(job, body.step, body.cylinder)
    figure = usable_figure(body.step, job)
    tool = state.tools[body.tool].body
    check_wrench(tool, entry.worked.date if entry.worked else local_date(entry), state)
    check_range(body, figure)
    check_reach(body, tool)


def usable_figure(step: str, job: JobState) -> work.Figure:
    """The instructions' figure for a step; raises while it is missing, or unusual and entered by one person only."""
    figure = job.figures.get(work.TORQUE_STEPS[step])
    if figure is None:
        raise RefusedEntryError(
            "no-figure",
            Told("The instructions' {torque_steps} is not entered yet", torque_steps=work.TORQUE_STEPS[step]),
            "Enter it with its document.",
        )
    if needs_second_person(figure.item.body) and figure.confirmed is None:
        raise RefusedEntryError(
            "unusual-figure",
            Told(
                "{low} to {high} {unit} is unusual (outside {least:g} to {most:g} in-lb)",
                low=figure.item.body.low,
                high=figure.item.body.high,
                unit=figure.item.body.unit,
                least=USUAL_INLB[0],
                most=USUAL_INLB[1],
            ),
            "Another person has to enter the instructions' figure too.",
        )
    body: work.Figure = figure.item.body
    return body


def check_wrench(tool: hangar.Tool, day: date, state: State) -> None:
    """Raise for a wrench out of calibration, or withdrawn."""
    if tool.kind != "torque-wrench" or tool.withdrawn:
        raise RefusedEntryError(
            "no-wrench", Told("{id} is no torque wrench in use", id=tool.id), "Take another."
        )
    due = calibration_due(tool, state)
    if due is None:
        raise RefusedEntryError(
            "calibration-unknown",
            Told("Nothing says until when wrench {id} is in calibration", id=tool.id),
            "Enter its certificate.",
        )
    if day > due:
        raise RefusedEntryError(
            "calibration-over",
            Told("Wrench {id} is out of calibration since {due}", id=tool.id, due=due),
            "Use another, or have it calibrated.",
        )


def may_be_used(tool: hangar.Tool, day: date, state: State) -> bool:
    """Whether a tool is a wrench that no rule refuses on a day."""
    try:
        check_wrench(tool, day, state)
    except RefusedEntryError:
        return False
    return True


def check_reach(body: work.TorqueReading, tool: hangar.Tool) -> None:
    """Raise unless the reading is one that the wrench can show, by its certificate."""
    low, high = reach_inlb(tool)
    reading = to_inlb(float(body.reading), body.unit)
    if not low <= reading <= high:
        raise RefusedEntryError(
            "outside-wrench",
            Told(
                "{reading} {unit} lies outside the range of wrench {id} ({low} to {high} {shown})",
                reading=body.reading,
                unit=body.unit,
                id=tool.id,
                low=tool.low,
                high=tool.high,
                shown=tool.unit,
            ),
            "Use a wrench that reaches it.",
        )


def reach_inlb(tool: hangar.Tool) -> tuple[float, float]:
    """What a wrench can show, by its certificate [in-lb]; raises where that is not entered."""
    if tool.low is None or tool.high is None or tool.unit not in UNITS_INLB:
        raise RefusedEntryError(
            "range-unknown", Told("The range of wrench {id} is not entered", id=tool.id), "Correct the tool."
        )
    return to_inlb(float(tool.low), tool.unit), to_inlb(float(tool.high), tool.unit)


def calibration_due(tool: hangar.Tool, state: State) -> date | None:
    """Until when a tool is in calibration: as its certificate says, else by the owner's interval."""
    if tool.calibration_due is not None:
        return tool.calibration_due
    interval = state.intervals.get("wrench-calibration")
    if tool.calibrated is None or interval is None or interval.body.days is None:
        return None
    return tool.calibrated + timedelta(days=interval.body.days)


def figure_inlb(figure: work.Figure) -> tuple[float, float]:
    """The limits of an instructions' torque [in-lb]."""
    return to_inlb(float(figure.low), figure.unit), to_inlb(float(figure.high), figure.unit)


def accepted_inlb(figure: work.Figure) -> tuple[float, float]:
    """Between which torques a reading is taken in at all [in-lb]: wide enough to be entered as it was read."""
    low, high = figure_inlb(figure)
    return low * (1.0 - READING_TOLERANCE), high * (1.0 + READING_TOLERANCE)


def check_range(body: work.TorqueReading, figure: work.Figure) -> None:
    """Raise for a torque outside the instructions' range; the likely mix-up of units is named."""
    low, high = figure_inlb(figure)
    torque = joint_inlb(body)
    lowest, highest = accepted_inlb(figure)
    if lowest <= torque <= highest:
        return
    said = Told(
        "The instructions say {low} to {high} {unit}", low=figure.low, high=figure.high, unit=figure.unit
    )
    raise RefusedEntryError(
        "torque-outside",
        Told("{reading_words}. {said}", reading_words=_reading_words(body, torque), said=said),
        _mistake_words(body, torque, low, high) or "Read the wrench again.",
    )


def _reading_words(body: work.TorqueReading, torque: float) -> str:
    """What was read, and what it is in inch-pounds where that is something else."""
    values = {"reading": body.reading, "unit": body.unit, "joint": four_digits(torque)}
    if body.extension is not None:
        return Told("{reading} {unit} is {joint} in-lb at the joint, with the extension", **values)
    if body.unit == "in-lb":
        return Told("{reading} {unit}", **values)
    return Told("{reading} {unit} is {joint} in-lb", **values)


def four_digits(torque: float) -> str:
    """A torque with four digits that count, never with an exponent.

    >>> four_digits(396.04), four_digits(12938.065)
    ('396', '12940')
    """
    return f"{Decimal(f'{torque:.4g}'):f}"


def _mistake_words(body: work.TorqueReading, torque: float, low: float, high: float) -> str:
    found, own = likely_mix_up(torque, low, high, body.unit)
    if found is None:
        return ""
    times = (
        Told("{ratio:.3g} times too much", ratio=found.ratio)
        if found.ratio > 1
        else Told("{ratio:.3g} times too little", ratio=1 / found.ratio)
    )
    if own:
        return Told(
            "Likely mistake: {times}; {reading} {meant} was entered as {reading} {read}.",
            times=times,
            reading=body.reading,
            meant=found.meant,
            read=found.read,
        )
    return Told(
        "Likely mistake: {times}, as when {meant} are taken for {read}. "
        "Compare the unit on the wrench with that of the instructions.",
        times=times,
        meant=found.meant,
        read=found.read,
    )


def likely_mix_up(torque: float, low: float, high: float, unit: str) -> tuple[Mistake | None, bool]:
    """The mix-up of units that explains a torque [in-lb], and whether it is one of the unit that was entered.

    One of that unit comes first, then whichever fits the ratio.
    """
    own = likely_mistake(torque, low, high, READING_TOLERANCE, read=unit)
    return own or likely_mistake(torque, low, high, READING_TOLERANCE), own is not None
