"""Whether recordings can be of one engine: what they say of themselves, and what was measured."""

from collections.abc import Sequence
from typing import Final

from leanwright.analysis.agreement import Difference, difference, powers
from leanwright.analysis.measured import RecordingResult
from leanwright.analysis.offset import combined_offsets, stack
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
"""Half of the cylinders off by so much between two recordings: another engine, or another state of it (our choice)."""


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
    told = [value for names in (_AIRCRAFT, _ENGINE) if (value := said(recording, names))]
    return " / ".join(told) or None


def measured_apart(results: Sequence[RecordingResult]) -> Statement | None:
    """What was measured that one engine in one state would not give.

    Parameters
    ----------
    results
        One a recording.

    Returns
    -------
    Statement or None
        ``mixed-engines-measured`` where half of the cylinders or more moved far between two recordings;
        ``recordings-differ`` where some did at the same power; ``None`` where they agree within their uncertainty.
    """
    stacked = stack([one.peaks for one in results])
    groups, start = [], 0
    for one in results:
        groups.append(list(range(start, start + len(one.peaks.sweeps))))
        start += len(one.peaks.sweeps)
    worst: tuple[float, RecordingResult, RecordingResult, Difference] | None = None
    for place, first in enumerate(groups):
        for other in range(place + 1, len(groups)):
            found = difference(stacked, first, groups[other])
            if found and found.probability < RARE and (worst is None or found.probability < worst[0]):
                worst = (found.probability, results[place], results[other], found)
    if worst is None:
        return None
    _, one, two, found = worst
    values = {
        "cylinder": found.cylinder,
        "difference_percent": found.difference_percent,
        "u_difference_percent": found.u_difference_percent,
        "first": one.recording.name,
        "second": two.recording.name,
    }
    if _moved_share(one, two) >= MANY:
        return Statement("mixed-engines-measured", values)
    # At another power one cylinder may well differ (an air leak does that); the balance says so itself.
    sweeps = [sweep.sweep for result in (one, two) for sweep in result.peaks.sweeps]
    return Statement("recordings-differ", values) if len(powers(sweeps)) < 2 else None


def _moved_share(one: RecordingResult, two: RecordingResult) -> float:
    """Share of the cylinders whose offset moved far between two recordings [1]."""
    first, second = (combined_offsets(stack([result.peaks])) for result in (one, two))
    if first is None or second is None:
        return 0.0
    moved = common = 0
    for row, number in enumerate(first.cylinders):
        if number in second.cylinders:
            place = second.cylinders.index(number)
            apart = 100.0 * abs(float(first.offset[row] - second.offset[place]))
            u = 100.0 * float(first.covariance[row, row] + second.covariance[place, place]) ** 0.5
            common += 1
            moved += apart > max(LARGE_PERCENT, LARGE_SIGMAS * u)
    return moved / common if common else 0.0
