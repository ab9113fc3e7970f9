"""Cylinders that gave no clean top where all others did: a ragged top, or a probe that was not read."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.analysis.peak import CylinderPeak, SweepPeaks
from leanwright.analysis.plain_top import plain_top
from leanwright.analysis.probe_gaps import Gaps

# Reasons for every threshold stand in docs/theory/causes.md.
BEYOND_THE_OTHERS: Final = (-0.05, 0.08)
RAGGED: Final = "not-one-top"
UNREAD: Final = "reading-comes-and-goes"


@dataclass(frozen=True, slots=True)
class Ragged:
    """A cylinder without a clean top in so many ``sweeps`` [1], the first from ``start_s`` to ``end_s`` of a recording."""

    sweeps: int
    recording: str
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class OddTops:
    """Cylinders without a clean top; and those whose probe was not read in most sweeps, with the share that is missing.

    ``silent`` names recording, gaps and sweeps as :mod:`leanwright.analysis.probe_gaps` does.
    """

    ragged: Mapping[int, Ragged]
    silent: Mapping[int, tuple[str, Gaps]]


def odd_tops(measured: Measured) -> OddTops:
    """Look for cylinders without a clean top in sweeps in which all others but one had theirs.

    Parameters
    ----------
    measured : Measured
        What was measured of one state.

    Returns
    -------
    OddTops
        A cylinder whose highest EGT lies far from the others' tops is passed over: there a sweep shows too little of it.
    """
    ragged: dict[int, Ragged] = {}
    seen: dict[int, list[tuple[str, Gaps] | None]] = {}
    for result in measured.results:
        for peaks in result.peaks.sweeps:
            others = [one for one in peaks.cylinders if one.status == "peaked"]
            if len(others) < len(peaks.cylinders) - 2 or len(others) < 2:
                continue
            for one in peaks.cylinders:
                unread = one.status == "no-signal" or (one.reason is not None and one.reason.code == UNREAD)
                seen.setdefault(one.cylinder, []).append(_gaps(result, peaks, one) if unread else None)
                if _is_ragged(result, peaks, one):
                    first = ragged.get(one.cylinder) or Ragged(
                        0, result.recording.name, peaks.sweep.start_s, peaks.sweep.end_s
                    )
                    ragged[one.cylinder] = replace(first, sweeps=first.sweeps + 1)
    silent = {number: [one for one in gaps if one is not None] for number, gaps in seen.items()}
    return OddTops(
        ragged, {number: gaps[0] for number, gaps in silent.items() if 2 * len(gaps) > len(seen[number])}
    )


def _gaps(result: RecordingResult, peaks: SweepPeaks, one: CylinderPeak) -> tuple[str, Gaps]:
    """Share of a probe's readings that are missing over a whole sweep."""
    recording, sweep = result.recording, peaks.sweep
    rows = slice(*np.searchsorted(recording.time_s, [sweep.start_s, sweep.end_s]))
    egt = recording.values("egt", one.cylinder, sweep.engine)
    missing = 1.0 if egt is None else float(np.mean(~np.isfinite(egt[rows])))
    return recording.name, Gaps(one.cylinder, missing, sweep.start_s, sweep.end_s, rows.stop - rows.start)


def _is_ragged(result: RecordingResult, peaks: SweepPeaks, one: CylinderPeak) -> bool:
    if one.status != "unclear" or one.reason is None or one.reason.code != RAGGED:
        return False
    flows = [other.fuel_flow_at_peak_gph for other in peaks.cylinders if other.fuel_flow_at_peak_gph]
    top = plain_top(result.recording, peaks.sweep, one.cylinder)
    if top is None or not flows:
        return False
    apart = top[0] - float(np.median(np.log(flows)))
    return BEYOND_THE_OTHERS[0] < apart < BEYOND_THE_OTHERS[1]
