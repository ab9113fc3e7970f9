"""Times as the clock showed them → a time line that never falls. Every change is told in a finding."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.findings import Finding
from leanwright.recordings.dates import SECONDS_A_DAY
from leanwright.told import Told

Floats = NDArray[np.float64]

LOOK_AHEAD: Final = 5
STRAY_SHARE: Final = 2.0
RESTART_SHARE: Final = 0.1
LISTED: Final = 20
GAP_STEPS: Final = 5.0
SHORT_S: Final = 600.0
"""Below this a time is told in seconds [s]."""


@dataclass(frozen=True, slots=True)
class Timeline:
    """Times from the first row [s], the rows that begin a power-up, and what had to be said."""

    time_s: Floats
    power_up_rows: tuple[int, ...]
    findings: tuple[Finding, ...]


def make_timeline(
    seconds: Floats, lines: NDArray[np.int64], headers: Iterable[int], *, of_day: bool
) -> Timeline:
    """Bring times into an order that never falls.

    ``seconds`` holds no NaN. ``headers`` are the rows before which a header stood again: a power-up begins there
    if the clock did not go on as before, or begins again where it once began.
    ``of_day`` times begin anew at midnight.
    """
    headings = {row for row in headers if 0 < row < seconds.size}
    findings: list[Finding] = []
    time = _past_midnight(seconds, lines, headings, findings) if of_day else seconds.copy()
    step = _usual_step(time)
    starts = {row for row in headings if not 0 <= time[row] - time[row - 1] <= GAP_STEPS * step}
    moved_on = np.zeros(time.size)
    told = 0
    for row in map(int, np.flatnonzero(np.diff(time) < 0) + 1):
        before, back, line = float(time[row - 1]), float(time[row - 1] - time[row]), int(lines[row])
        if back <= 0:
            continue  # The row before was a stray one, and was put right.
        told += 1
        strays = 0 if row in starts else _strays(time, row, step)
        if strays:
            time[row : row + strays] = before
            message = Told(
                "The clock goes back {span} at line {line} for one row; there the time of the row before is used."
                if strays == 1
                else "The clock goes back {span} at line {line} for {strays} rows; there the time of the row before is "
                "used.",
                span=_span(back),
                line=line,
                strays=strays,
            )
        elif row not in starts and row > 1 and _is_leap(time, row, step):
            time[row - 1] = time[row - 2]
            message = Told(
                "The clock leaps ahead for one row at line {line}; there the time of the row before is used.",
                line=int(lines[row - 1]),
            )
        else:
            moved_on[row] = back + step
            if _begins_again(seconds, row, step):
                starts.add(row)
            message = Told(
                "The clock goes back {span} at line {line}; all later times are moved on by {moved}.",
                span=_span(back),
                line=line,
                moved=_span(back + step),
            )
        if told <= LISTED:
            findings.append(Finding("warning", "clock-goes-back", message, line))
    if told > LISTED:
        message = Told(
            "The clock goes back {times} times; {listed} of them are listed.", times=told, listed=LISTED
        )
        findings.append(Finding("warning", "clock-goes-back-often", message))
    time += np.cumsum(moved_on)
    time = np.maximum.accumulate(np.round(time - time[0], 6))
    findings += _irregularities(time, lines, step)
    return Timeline(time, (0, *sorted(starts)), tuple(findings))


def _past_midnight(
    seconds: Floats, lines: NDArray[np.int64], headings: set[int], findings: list[Finding]
) -> Floats:
    """Times of day made to go on after midnight.

    At a repeated header any step back is taken for another day, unless the count begins again.
    """
    steps = np.diff(seconds)
    rows = [
        row
        for row in map(int, np.flatnonzero(steps < 0) + 1)
        if steps[row - 1] < -SECONDS_A_DAY / 2 or (row in headings and not _begins_again(seconds, row, 1.0))
    ]
    days = np.zeros(seconds.size)
    days[rows] = SECONDS_A_DAY
    for row in rows[:LISTED]:
        line = int(lines[row])
        message = Told("The clock passes midnight at line {line}; the day after is meant.", line=line)
        findings.append(Finding("note", "past-midnight", message, line))
    later: Floats = seconds + np.cumsum(days)
    return later


def _span(seconds: float) -> str:
    """A time as people say it: in seconds while it is short.

    >>> _span(4.5), _span(86399.0), _span(86400.0)
    ('4.5 s', '23 h 59 min 59 s', '24 h')
    """
    if seconds < SHORT_S:
        return Told("{seconds:g} s", seconds=seconds)
    minutes, rest = divmod(round(seconds), 60)
    parts = ((minutes // 60, "h"), (minutes % 60, "min"), (rest, "s"))
    return " ".join(f"{count} {unit}" for count, unit in parts if count)


def _usual_step(time: Floats) -> float:
    steps = np.diff(time)
    steps = steps[steps > 0]
    return float(np.median(steps)) if steps.size else 1.0


def _begins_again(seconds: Floats, row: int, step: float) -> bool:
    """Whether a count is back near the value that it began with."""
    start = float(seconds[0])
    return abs(float(seconds[row]) - start) <= RESTART_SHARE * max(float(seconds[row - 1]) - start, step)


def _strays(time: Floats, row: int, step: float) -> int:
    """How many rows from ``row`` on lie in the past before the clock is again where it would have been."""
    before = float(time[row - 1])
    for count in range(1, min(LOOK_AHEAD, time.size - row - 1) + 1):
        after = float(time[row + count]) - before
        if after > 0:
            return count if _goes_on(after, count + 1, step) else 0
    return 0


def _is_leap(time: Floats, row: int, step: float) -> bool:
    """Whether the row before is the stray one: far ahead of both its neighbours."""
    on = float(time[row] - time[row - 2])
    return _goes_on(on, 2, step) and float(time[row - 1] - time[row - 2]) > STRAY_SHARE * 2 * step


def _goes_on(passed: float, steps: int, step: float) -> bool:
    """Whether about as much time passed as so many steps take."""
    return steps * step / STRAY_SHARE <= passed <= steps * step * STRAY_SHARE


def _irregularities(time: Floats, lines: NDArray[np.int64], step: float) -> list[Finding]:
    """Gaps and repeated times, which stay as they are."""
    steps = np.diff(time)
    findings = []
    gaps = np.flatnonzero(steps > GAP_STEPS * step)
    if gaps.size:
        longest = int(gaps[np.argmax(steps[gaps])])
        findings.append(
            Finding(
                "note",
                "gaps",
                Told(
                    "The rows have one gap of {span}, before line {line}. Nothing is filled in."
                    if gaps.size == 1
                    else "The rows have {gaps} gaps; the longest is {span}, before line {line}. Nothing is filled in.",
                    gaps=gaps.size,
                    span=_span(float(steps[longest])),
                    line=int(lines[longest + 1]),
                ),
                int(lines[longest + 1]),
                float(time[longest]),
            )
        )
    repeats = int(np.sum(steps == 0))
    if repeats:
        findings.append(
            Finding(
                "note",
                "repeated-times",
                Told(
                    "One row has the same time as the row before."
                    if repeats == 1
                    else "{repeats} rows have the same time as the row before.",
                    repeats=repeats,
                ),
            )
        )
    return findings
