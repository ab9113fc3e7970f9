"""``--sweep`` and ``--drop-sweep``: what a person says about the sweeps, read from the command line."""

import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import click

from leanwright.errors import UnusableOptionError
from leanwright.told import Told

if TYPE_CHECKING:
    from leanwright.workbench.measure import Hand

_TIME = r"\d+(?:\.\d+)?(?::\d\d(?:\.\d+)?){0,2}"

added = click.option(
    "--sweep",
    "added",
    multiple=True,
    metavar="[NAME:]START-END",
    help="Use this stretch as a sweep (seconds or h:mm:ss from the first row); a sweep found there gives way to it.",
)
dropped = click.option(
    "--drop-sweep", "dropped", multiple=True, metavar="[NAME:]START", help="Leave out the sweep at this time."
)


def hands(names: Sequence[str], added: Iterable[str], dropped: Iterable[str]) -> "dict[str, Hand]":
    """What was said, by the name of the recording.

    Raises :class:`leanwright.errors.UnusableOptionError` if a time cannot be read, or if it is not clear which recording is meant.
    """
    from leanwright.workbench.measure import Hand

    stretches: dict[str, list[tuple[float, float]]] = {}
    times: dict[str, list[float]] = {}
    for said in added:
        name, start, end = _split(said, names, rf"(?P<start>{_TIME})-(?P<end>{_TIME})", "--sweep")
        if end <= start:
            raise UnusableOptionError("--sweep", Told("{said!r} ends before it starts.", said=said))
        stretches.setdefault(name, []).append((start, end))
    for said in dropped:
        name, start, _ = _split(said, names, rf"(?P<start>{_TIME})(?P<end>)", "--drop-sweep")
        times.setdefault(name, []).append(start)
    return {
        name: Hand(tuple(stretches.get(name, ())), tuple(times.get(name, ())))
        for name in {*stretches, *times}
    }


def _split(said: str, names: Sequence[str], times: str, option: str) -> tuple[str, float, float]:
    """Name of the recording, start and end [s]."""
    match = re.fullmatch(rf"(?P<name>){times}", said) or re.fullmatch(rf"(?P<name>.+?):{times}", said)
    if match is None:
        raise UnusableOptionError(
            option, Told("{said!r} is not a time like 1810-1975 or 0:30:10-0:32:55.", said=said)
        )
    name = match["name"] or (names[0] if len(names) == 1 else "")
    if names.count(name) > 1:
        raise UnusableOptionError(
            option, Told("{name!r} is the name of several recordings; rename one of them.", name=name)
        )
    if name not in names:
        raise UnusableOptionError(
            option,
            Told("say which recording {said!r} means: {names}.", said=said, names=", ".join(names)),
        )
    return name, _seconds(match["start"]), _seconds(match["end"])


def _seconds(text: str) -> float:
    seconds = 0.0
    for part in text.split(":") if text else ():
        seconds = 60.0 * seconds + float(part)
    return seconds
