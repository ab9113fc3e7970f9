"""Whether recordings can be of one engine: what they say of themselves, and what was measured."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

from leanwright.analysis.agreement import Difference, apart, beyond_one_cylinder, powers
from leanwright.analysis.measured import RecordingResult
from leanwright.analysis.offset import Offsets, Stack, combined_offsets, stack
from leanwright.analysis.sweep import Sweep
from leanwright.findings import Statement
from leanwright.recordings.recording import Recording
from leanwright.workbench.stated import bare, said

_AIRCRAFT: Final = frozenset(
    {
        "aircraft", "aircraftid", "aircraftident", "aircraftidentification", "aircraftregistration", "registration",
        "tail", "tailno", "tailnumber", "kennzeichen", "luftfahrzeug", "immatriculation", "matricula", "marche",
        "prefixo", "aeronave", "aeromobile", "aeronef",
    }
)  # fmt: skip
# "Engine" alone is left out: its value may be hours, which differ from flight to flight.
_ENGINE: Final = frozenset(
    {
        "engineid", "enginemodel", "engineno", "enginenumber", "engineserial", "engineserialno", "engineserialnumber",
        "enginesn", "enginetype", "motornummer", "motortyp", "numeromoteur", "numeromotore", "numeromotor",
    }
)  # fmt: skip
RARE: Final = 1e-3
"""Recordings that differ by something less likely than this are said to (common practice) [1]."""
MANY: Final = 0.5
LARGE_PERCENT: Final = 1.5
LARGE_SIGMAS: Final = 5.0
"""Off by so much between two recordings, at one power with any one cylinder taken away, or at two powers in half of the
cylinders: another engine, or another state of it (our choice). One cylinder alone may have a fault, and at another power
one may well differ: an air leak does that."""


def stated_apart(recordings: Sequence[Recording]) -> Statement | None:
    """What the lines before the headers say that one engine cannot be: two aircraft, or two engines.

    Parameters
    ----------
    recordings
        Two or more.

    Returns
    -------
    Statement or None
        With what each says of itself; ``None`` where nothing contradicts.
    """
    for names in (_AIRCRAFT, _ENGINE):
        told = {one.name: value for one in recordings if (value := said(one, names))}
        if len({bare(value) for value in told.values()}) > 1:
            return Statement("mixed-engines-stated", {"stated": told})
    return None


def stated_engine(recording: Recording) -> str | None:
    """What a recording says of the aircraft and the engine it is of.

    Parameters
    ----------
    recording
        With the lines before its header.

    Returns
    -------
    str or None
        Aircraft and engine as they are written; ``None`` where nothing is said.
    """
    return " / ".join(text for text in stated(recording) if text) or None


def stated(recording: Recording) -> tuple[str, str]:
    """What a recording says of its aircraft, and of its engine; empty where it says nothing."""
    return said(recording, _AIRCRAFT) or "", said(recording, _ENGINE) or ""


def measured_apart(results: Sequence[RecordingResult]) -> Statement | None:
    """What was measured that one engine in one state would not give.

    Parameters
    ----------
    results
        One a recording.

    Returns
    -------
    Statement or None
        ``mixed-engines-measured`` where more moved far between two recordings than one cylinder explains;
        ``recordings-differ`` where some did at the same power; ``None`` where they agree within their uncertainty.
    """
    pairs = list(_pairs(results))
    far = [pair for pair in pairs if pair.far]
    if far:
        return _said("mixed-engines-measured", far)
    # At another power one cylinder may well differ; the balance says so itself.
    differing = [pair for pair in pairs if pair.one_power]
    return _said("recordings-differ", differing) if differing else None


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two recordings that differ by more than chance: at one power or not, far or not."""

    first: str
    second: str
    found: Difference
    one_power: bool
    far: bool


def _said(code: str, pairs: Sequence[_Pair]) -> Statement:
    worst = min(pairs, key=lambda pair: (pair.found.probability, -abs(pair.found.difference_percent)))
    values = {
        "cylinder": worst.found.cylinder,
        "difference_percent": worst.found.difference_percent,
        "u_difference_percent": worst.found.u_difference_percent,
        "first": worst.first,
        "second": worst.second,
    }
    return Statement(code, values)


def _pairs(results: Sequence[RecordingResult]) -> Iterator[_Pair]:
    """The recordings that differ, two at a time: at each power that both were flown at, else as a whole."""
    stacked = stack([one.peaks for one in results])
    groups, start = [], 0
    for one in results:
        groups.append(list(range(start, start + len(one.peaks.sweeps))))
        start += len(one.peaks.sweeps)
    known: dict[tuple[int, ...], Offsets | None] = {}

    def offsets(sweeps: Sequence[int]) -> Offsets | None:
        key = tuple(sweeps)
        if key not in known:
            known[key] = combined_offsets(stacked, sweeps)
        return known[key]

    for (one, mine), (two, theirs) in combinations(zip(results, groups, strict=True), 2):
        at_one_power = list(_at_one_power(stacked.sweeps, mine, theirs))
        for group, other in at_one_power or [(mine, theirs)]:
            first, second = offsets(group), offsets(other)
            found = apart(stacked, first, second)
            if found is not None and found.probability < RARE:
                far = _moved_far(stacked, first, second) if at_one_power else _most_moved_far(first, second)
                yield _Pair(one.recording.name, two.recording.name, found, bool(at_one_power), far)


def _at_one_power(
    sweeps: Sequence[Sweep], first: Sequence[int], second: Sequence[int]
) -> Iterator[tuple[list[int], list[int]]]:
    """The sweeps of two recordings that were flown at the same power; those of unknown power count as of one."""
    both = [*first, *second]
    known = [[both[place] for place in group] for group in powers([sweeps[position] for position in both])]
    unknown = [position for position in both if sweeps[position].manifold_pressure_inhg is None]
    for group in (*known, unknown):
        mine = [position for position in first if position in group]
        theirs = [position for position in second if position in group]
        if mine and theirs:
            yield mine, theirs


def _moved_far(stacked: Stack, first: Offsets | None, second: Offsets | None) -> bool:
    """Whether cylinders moved far, even without the one that explains most of it."""
    left = beyond_one_cylinder(stacked, first, second)
    return (
        left is not None
        and left.probability < RARE
        and _far(left.difference_percent, left.u_difference_percent)
    )


def _most_moved_far(one: Offsets | None, two: Offsets | None) -> bool:
    """Whether half of the cylinders moved far [1]."""
    if one is None or two is None:
        return False
    moved = common = 0
    for row, number in enumerate(one.cylinders):
        if number in two.cylinders:
            place = two.cylinders.index(number)
            apart = 100.0 * float(one.offset[row] - two.offset[place])
            u = 100.0 * float(one.covariance[row, row] + two.covariance[place, place]) ** 0.5
            common += 1
            moved += _far(apart, u)
    return common > 0 and moved / common >= MANY


def _far(difference_percent: float, u_percent: float) -> bool:
    return abs(difference_percent) > max(LARGE_PERCENT, LARGE_SIGMAS * u_percent)
