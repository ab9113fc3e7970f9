"""What became of a worksheet that was handed in, in words."""

from collections.abc import Mapping
from typing import Any

from leanwright.told import Told, joined


def hand_in_title(document: Mapping[str, Any]) -> Told:
    """The first sentence: how many steps were entered, and how many refused."""
    steps, refused = len(document["steps"]), document["refused"]
    if not steps:
        return Told("Nothing was done in this worksheet.")
    before = sum(one["before"] for one in document["steps"])
    told = [Told("{entered} of {steps} steps are entered.", entered=steps - refused - before, steps=steps)]
    if before:
        told.append(Told("{before} were in the book already.", before=before))
    if refused:
        several = Told("{refused} are refused.", refused=refused)
        told.append(Told("1 is refused.") if refused == 1 else several)
    return Told.of(joined(told))


def hand_in_behind(document: Mapping[str, Any]) -> str:
    """What happened in the book since the worksheet left it; empty if nothing did."""
    since, of_job = document["entries_since"], document["entries_since_of_job"]
    if not since:
        return ""
    about = (
        Told("{of_job} of them about this job", of_job=of_job)
        if of_job
        else Told("none of them about this job")
    )
    values = {"since": since, "left": document["left"], "about": about}
    came = (
        Told("One entry has come into the book since the worksheet left it at entry {left}, {about}.", **values)
        if since == 1
        else Told("{since} entries have come into the book since the worksheet left it at entry {left}, {about}.", **values)
    )  # fmt: skip
    return joined([came, Told("Every step was held against the book as it is now.")])


def hand_in_lines(document: Mapping[str, Any]) -> list[str]:
    """The whole of it for a terminal."""
    behind = hand_in_behind(document)
    return [hand_in_title(document), *([behind] if behind else []), *map(_line, document["steps"])]


def _line(one: Mapping[str, Any]) -> Told:
    step, cylinder = one["step"], one["cylinder"]
    done = (
        Told("{step}", step=step)
        if cylinder is None
        else Told("{step} at {cylinder}", step=step, cylinder=cylinder)
    )
    values = {"step": done, "by": one["by"], "entry": one["entry"]}
    if refusal := one["refusal"]:
        reason, more = Told.of(refusal["reason"]), Told.of(refusal["next_step"])
        return Told("  refused  {step}, {by}: {reason}. {more}", **values, reason=reason, more=more)
    if one["before"]:
        return Told("  already  {step}, {by}: entry {entry}", **values)
    return Told("  entered  {step}, {by}: entry {entry}", **values)
