"""What became of a worksheet that was handed in, in words."""

from collections.abc import Mapping
from typing import Any

from leanwright.report.cleaning import clean


def hand_in_title(document: Mapping[str, Any]) -> str:
    """The first sentence: how many steps were entered, and how many refused."""
    steps, refused = len(document["steps"]), document["refused"]
    if not steps:
        return "Nothing was done in this worksheet."
    before = sum(one["before"] for one in document["steps"])
    told = f"{steps - refused - before} of {steps} steps are entered."
    if before:
        told += f" {before} were in the book already."
    return f"{told} {refused} {'is' if refused == 1 else 'are'} refused." if refused else told


def hand_in_behind(document: Mapping[str, Any]) -> str:
    """What happened in the book since the worksheet left it; empty if nothing did."""
    since, of_job = document["entries_since"], document["entries_since_of_job"]
    if not since:
        return ""
    entries = "One entry has" if since == 1 else f"{since} entries have"
    job = f"{of_job} of them about this job" if of_job else "none of them about this job"
    return f"{entries} come into the book since the worksheet left it at entry {document['left']}, {job}. Every step was held against the book as it is now."


def hand_in_lines(document: Mapping[str, Any]) -> list[str]:
    """The whole of it for a terminal."""
    lines = [hand_in_title(document)]
    if behind := hand_in_behind(document):
        lines.append(behind)
    for one in document["steps"]:
        where = f" at {one['cylinder']}" if one["cylinder"] is not None else ""
        step = f"{clean(one['step'])}{where}, {clean(one['by'])}"
        if one["refusal"]:
            reason = clean(one["refusal"]["reason"]).rstrip(".")
            lines.append(f"  refused  {step}: {reason}. {clean(one['refusal']['next_step'])}".rstrip())
        else:
            state = "already " if one["before"] else "entered "
            lines.append(f"  {state} {step}: entry {one['entry']}")
    return lines
