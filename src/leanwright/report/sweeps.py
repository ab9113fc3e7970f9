"""The sweeps of all recordings in one list: numbered, with the rows of the file that they came from."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.analysis.peak import SweepPeaks
from leanwright.analysis.sweep import Sweep
from leanwright.recordings.recording import Recording


@dataclass(frozen=True, slots=True, eq=False)
class SweepLine:
    """A sweep that is used: its number over all recordings, what it gave, and where it lies in its file."""

    number: int
    result: RecordingResult
    position: int
    peaks: SweepPeaks
    lines: tuple[int, int]
    spread_gph: float | None
    u_spread_gph: float | None

    @property
    def sweep(self) -> Sweep:
        """The sweep itself."""
        return self.peaks.sweep


@dataclass(frozen=True, slots=True, eq=False)
class LeftOut:
    """A stretch that is not used."""

    result: RecordingResult
    sweep: Sweep
    lines: tuple[int, int]


def used(measured: Measured) -> tuple[SweepLine, ...]:
    """The sweeps that count, numbered from 1 in the order of the recordings and of time."""
    found = [
        (result, position, peaks)
        for result in measured.results
        for position, peaks in enumerate(result.peaks.sweeps)
    ]
    return tuple(
        SweepLine(
            number,
            result,
            position,
            peaks,
            lines(result.recording, peaks.sweep),
            *_spread(result, position),
        )
        for number, (result, position, peaks) in enumerate(found, start=1)
    )


def left_out(measured: Measured) -> tuple[LeftOut, ...]:
    """The stretches that came near to a sweep, in the order of the recordings and of time."""
    return tuple(
        LeftOut(result, sweep, lines(result.recording, sweep))
        for result in measured.results
        for sweep in result.sweeps
        if not sweep.used
    )


def numbered(result: RecordingResult, of: Sequence[SweepLine]) -> tuple[tuple[Sweep, SweepLine | None], ...]:
    """Every sweep and stretch of a recording, with its line among the used ones if it has one."""
    own = [line for line in of if line.result is result]
    return tuple(
        (sweep, next((line for line in own if line.sweep == sweep), None)) for sweep in result.sweeps
    )


def rows(recording: Recording, start_s: float, end_s: float) -> slice:
    """The rows of a recording between two times [s], both included."""
    time = recording.time_s
    return slice(int(np.searchsorted(time, start_s)), int(np.searchsorted(time, end_s, side="right")))


def lines(recording: Recording, sweep: Sweep) -> tuple[int, int]:
    """First and last line of the file that a sweep covers; zeros if it covers none."""
    covered = recording.lines[rows(recording, sweep.start_s, sweep.end_s)]
    return (int(covered.min()), int(covered.max())) if covered.size else (0, 0)


def _spread(result: RecordingResult, position: int) -> tuple[float | None, float | None]:
    spreads = result.sweep_spreads
    return (spreads[position] if position < len(spreads) else None) or (None, None)
