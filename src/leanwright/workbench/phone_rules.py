"""What the book's rules answer, asked beforehand and written down as tables: a phone without a network looks them up.

Nothing is decided here. Each answer comes from the rule itself, asked about every marking that is known, every number
of like nozzles in place, every unit and every wrench.
"""

import itertools
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import partial
from typing import Any, Final

import msgspec

from leanwright.book import fitting_rules, parts_rules, torque_rules
from leanwright.book.job_progress import joint_inlb
from leanwright.book.kinds import hangar, work
from leanwright.book.state import JobState, Placed, State
from leanwright.engine.torque import MISTAKES, ROUNDING, UNITS_INLB
from leanwright.errors import RefusedEntryError

UNKNOWN: Final = "\ue000"
"""Stands for every marking that the book does not know."""
SOME_SERIAL: Final = "\ue001"
"""Stands for every serial number that is not in quarantine."""
_THERE: Final = 9000
"""Cylinders of a question that no engine has: from this number on."""
_NO_LENGTH: Final = work.Extension(lever="1", extension="0", unit="in")
"""An extension that leaves the torque as it is: asked with it, a rule speaks of the joint."""
Swaps = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Refused:
    """A rule's answer: its code, its sentences with braces for what the phone fills in, where the nozzle may go."""

    code: str
    reason: str
    next_step: str
    allowed: tuple[int, ...] | None = None


@dataclass(slots=True)
class Refusals:
    """The refusals of a worksheet, each once; ``say`` puts a sentence of the book into the reader's language."""

    say: Callable[[str], str] = str
    kept: list[Refused] = field(default_factory=list)

    def asked(
        self, ask: Callable[[], object], swaps: Swaps = (), allowed: tuple[int, ...] | None = None
    ) -> int | None:
        """Ask a rule: the number of its refusal, or nothing."""
        try:
            ask()
        except RefusedEntryError as error:
            words = [_swapped(self.say(text), swaps) for text in (error.reason, error.next_step)]
            refused = Refused(error.code, words[0], words[1], allowed)
            return self._number(refused)
        return None

    def own(self, code: str, reason: str) -> int:
        """The number of a refusal of what was typed, before any rule is asked."""
        return self._number(Refused(code, reason, ""))

    def _number(self, refused: Refused) -> int:
        if refused not in self.kept:
            self.kept.append(refused)
        return self.kept.index(refused)


def _swapped(text: str, swaps: Swaps) -> str:
    for found, wanted in swaps:
        text = text.replace(found, wanted)
    return text


def known_markings(state: State, job: JobState) -> tuple[str, ...]:
    """Every marking that somebody could read in this work, as far as the book knows."""
    plan: work.Job = job.item.body
    found = [one.marking for one in plan.positions]
    if plan.set is not None:
        found += [one.marking for one in state.sets[plan.set].body.nozzles]
    found += [one.item.body.marking for one in state.quarantine.values()]
    found += [item.body.marking for item in state.receipts]
    found += [placed.marking for places in state.fitted.values() for placed in places.values()]
    return tuple(dict.fromkeys(found))


def elsewhere(state: State, job: JobState) -> dict[str, list[list[str | None]]]:
    """Where nozzles of each marking are in other engines: in words, and the serial number."""
    found: dict[str, list[list[str | None]]] = {}
    for engine, places in state.fitted.items():
        if engine != job.item.body.engine:
            for cylinder, placed in places.items():
                found.setdefault(placed.marking, []).append([f"{cylinder} ({engine})", placed.serial])
    return found


def markings(state: State, job: JobState, cylinder: int, refusals: Refusals) -> dict[str, Any]:
    """What is answered to each marking at a cylinder; under ``UNKNOWN`` to any other.

    A row goes by the serial number (none, one in quarantine, ``SOME_SERIAL`` for any other), then by whether that very
    nozzle is in place already, then by how many of the marking are in place elsewhere; the last answer holds for more.
    """
    return {
        marking: _row(marking, state, job, cylinder, refusals)
        for marking in (*known_markings(state, job), UNKNOWN)
    }


def _row(
    marking: str, state: State, job: JobState, cylinder: int, refusals: Refusals
) -> dict[str, list[list[int | None]]]:
    plan: work.Job = job.item.body
    engine: hangar.Engine = state.engines[plan.engine].body
    most = engine.cylinders - 1 + len(elsewhere(state, job).get(marking, ()))
    may = parts_rules.allowed_cylinders(state.sets[plan.set].body, marking, engine) if plan.set else None
    allowed = tuple(sorted(may)) if may is not None else None

    def answer(serial: str | None, like: list[str | None]) -> int | None:
        places = {_THERE + number: Placed(marking, one, date.min, None, 0) for number, one in enumerate(like)}
        others = replace(state, fitted={plan.engine: places})
        body = work.FittingStep(
            job=plan.id, step="marking-read", cylinder=cylinder, marking=marking, serial=serial
        )
        swaps = ((UNKNOWN, "{marking}"), (str(_THERE), "{there}"))
        return refusals.asked(lambda: fitting_rules.check_marking(body, job, others), swaps, allowed)

    held = [one.item.body.serial for one in parts_rules.held(state, marking, None)]
    named = {one: one for one in held if one} | {SOME_SERIAL: SOME_SERIAL}
    return {"": [_short([answer(None, [None] * count) for count in range(most + 1)])]} | {
        name: [
            _short([answer(serial, [None] * count) for count in range(most + 1)]),
            _short([answer(serial, [serial, *[None] * (max(count, 1) - 1)]) for count in range(most + 1)]),
        ]
        for name, serial in named.items()
    }


def _short(answers: list[int | None]) -> list[int | None]:
    """The same list without repeats at its end."""
    while len(answers) > 1 and answers[-1] == answers[-2]:
        answers.pop()
    return answers


def was_there(state: State, job: JobState, cylinder: int, refusals: Refusals) -> dict[str, int | None]:
    """What is answered to the marking of a nozzle that comes out; under ``UNKNOWN`` to any other."""

    def answer(marking: str) -> int | None:
        body = work.Removal(job=job.item.body.id, cylinder=cylinder, marking=marking, tag="-")
        return refusals.asked(
            lambda: fitting_rules.check_was_there(body, job, state),
            ((marking, "{marking}"),) if marking == UNKNOWN else (),
        )

    return {marking: answer(marking) for marking in (*known_markings(state, job), UNKNOWN)}


def no_figure(step: str, job: JobState, refusals: Refusals) -> int | None:
    """What is answered before a torque is read at all: its figure is missing, or a second person has to enter it."""
    return refusals.asked(lambda: torque_rules.usable_figure(step, job))


@dataclass(frozen=True, slots=True)
class Wrenches:
    """Which wrenches may never be used, until when the others may, what is said after that, what each can show [in-lb]."""

    refused: Mapping[str, int]
    until: Mapping[str, str]
    over: Mapping[str, int]
    reach: Mapping[str, list[dict[str, Any]]]


def wrenches(state: State, refusals: Refusals) -> Wrenches:
    """What the rules say of each torque wrench of the book."""
    refused, until, over, reach = dict[str, int](), dict[str, str](), dict[str, int](), dict[str, Any]()
    for name, item in state.tools.items():
        tool: hangar.Tool = item.body
        if tool.kind != "torque-wrench":
            continue
        never = refusals.asked(partial(torque_rules.check_wrench, tool, date.min, state))
        due = torque_rules.calibration_due(tool, state)
        if never is not None:
            refused[name] = never
            continue
        assert due is not None  # noqa: S101  a wrench of which nothing is known was refused above
        later = refusals.asked(partial(torque_rules.check_wrench, tool, due + timedelta(days=1), state))
        until[name] = due.isoformat()
        reach[name] = _reach(tool, refusals)
        if later is not None:
            over[name] = later
    return Wrenches(refused, until, over, reach)


def _reach(tool: hangar.Tool, refusals: Refusals) -> list[dict[str, Any]]:
    low = high = None
    try:
        low, high = torque_rules.reach_inlb(tool)
    except RefusedEntryError:
        reading = _reading(1.0, "in-lb", tool.id)
        return [band(None, None, refusals.asked(lambda: torque_rules.check_reach(reading, tool)))]
    far = _reading(2.0 * high + 0.123456789, "in-lb", tool.id)
    swaps = ((f"{far.reading} in-lb", "{reading} {unit}"),)
    beyond = refusals.asked(lambda: torque_rules.check_reach(far, tool), swaps)
    return [band(low, high, None), band(None, None, beyond)]


def band(low: float | None, high: float | None, answer: int | None) -> dict[str, Any]:
    """From where to where an answer holds, both ends belonging to it; ``None`` leaves an end open."""
    return {"from": low, "to": high, "no": answer}


def inside(low: float, high: float) -> list[dict[str, Any]]:
    """Bands that answer nothing within two ends, and something outside."""
    return [band(low, high, None), band(None, None, 0)]


def turns_nothing(refusals: Refusals) -> int | None:
    """What is answered to an extension through which the wrench turns nothing; the phone fills in what was typed."""
    lever, extension, angle = "9001", "9002", "180"
    reading = _reading(1.0, "in-lb", "-")
    turned = work.Extension(lever=lever, extension=extension, unit="in", angle_deg=angle)
    swaps = ((lever, "{lever}"), (extension, "{extension}"), (angle, "{angle_deg}"))
    return refusals.asked(lambda: joint_inlb(msgspec.structs.replace(reading, extension=turned)), swaps)


def torque_bands(
    figure: work.Figure, refusals: Refusals, *, extended: bool = False
) -> dict[str, list[dict[str, Any]]]:
    """What is answered to a torque at the joint [in-lb], for each unit that it may be entered in; the first band that fits holds.

    ``extended`` gives the words for a reading with an extension on the wrench.
    """
    return {unit: _bands(figure, _NO_LENGTH if extended else None, unit, refusals) for unit in UNITS_INLB}


def _bands(
    figure: work.Figure, extension: work.Extension | None, unit: str, refusals: Refusals
) -> list[dict[str, Any]]:
    lowest, highest = torque_rules.accepted_inlb(figure)
    ratios = [one.ratio for one in MISTAKES]
    middle = math.sqrt(math.prod(torque_rules.figure_inlb(figure)))
    explained = (lowest * (1.0 - ROUNDING), highest * (1.0 + ROUNDING))
    turns = {end * ratio for ratio in ratios for end in explained} | {lowest, highest}
    turns |= {middle * math.sqrt(one * other) for one in ratios for other in ratios}
    ends = [0.0, *sorted(turns), 4.0 * max(turns)]
    found = [band(lowest, highest, None)]
    for low, high in itertools.pairwise(ends):
        inside = math.sqrt(low * high) if low else high / 2.0
        if not lowest <= inside <= highest:
            found.append(band(low, high, _outside(inside, figure, extension, unit, refusals)))
    beyond = _outside(2.0 * ends[-1], figure, extension, unit, refusals)
    return [*_joined(found), band(None, None, beyond)]


def _joined(bands: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Bands that touch and have one answer, put together."""
    found: list[dict[str, Any]] = []
    for one in bands:
        if found and found[-1]["no"] == one["no"] and found[-1]["to"] == one["from"]:
            found[-1] = band(found[-1]["from"], one["to"], one["no"])
        else:
            found.append(one)
    return found


def _outside(
    torque: float, figure: work.Figure, extension: work.Extension | None, unit: str, refusals: Refusals
) -> int | None:
    """The rule's answer to a torque [in-lb] entered in a unit; what was entered is left for the phone to fill in."""
    reading = msgspec.structs.replace(_reading(torque, unit, "-"), extension=extension)
    joint = f"{torque_rules.four_digits(joint_inlb(reading))} in-lb"
    swaps = ((reading.reading, "{reading}"), (joint, "{joint} in-lb"))
    return refusals.asked(lambda: torque_rules.check_range(reading, figure), swaps)


def _reading(torque: float, unit: str, tool: str) -> work.TorqueReading:
    return work.TorqueReading(
        job="-",
        step="nozzle-torqued",
        cylinder=1,
        reading=f"{torque / UNITS_INLB[unit]:.9f}",
        unit=unit,  # type: ignore[arg-type]  # one of the table's units
        tool=tool,
    )
