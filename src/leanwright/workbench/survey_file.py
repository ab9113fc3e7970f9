"""One file of a survey: every recording in it measured as ``balance`` measures it, as a row of plain data."""

import math
from pathlib import Path
from typing import Any, Final

from leanwright.analysis.cause_signs import find_signs
from leanwright.analysis.health import plug_ratios
from leanwright.analysis.measured import Measured
from leanwright.recordings.memory import load_remembered
from leanwright.recordings.read import read_recordings
from leanwright.recordings.recording import Recording
from leanwright.workbench.flight_mark import flight_mark
from leanwright.workbench.measure import measure
from leanwright.workbench.one_engine import stated_engine
from leanwright.workbench.places import memory_place

TOLD_FROM: Final = math.log(1000.0)
"""A sign is told if it is so much likelier with the fault than without (logarithm; our choice)."""


def rows_of_file(place: str, name: str) -> list[dict[str, Any]]:
    """A row for each recording of a file; an error of :mod:`leanwright.errors` if there is none."""
    recordings = read_recordings(Path(place), remembered=load_remembered(memory_place()))
    several = len(recordings) > 1
    return [_row(one, f"{name}: {one.name}" if several else name) for one in recordings]


def _row(recording: Recording, name: str) -> dict[str, Any]:
    engines = recording.engines() or (1,)
    first, *others = (_of_engine(recording, engine) for engine in engines)
    return {
        "name": name,
        "sha256": recording.sha256,
        "flight": flight_mark(recording),
        "started_at": recording.started_at.isoformat() if recording.started_at else None,
        "stated_engine": stated_engine(recording),
        "rows_kept": recording.rows_kept,
        "rows_skipped": recording.rows_skipped,
        "duration_s": _number(recording.duration_s),
        **first,
        "findings": sorted({finding.code for finding in recording.findings}),
        "other_engines": others,
    }


def _of_engine(recording: Recording, engine: int) -> dict[str, Any]:
    measured = measure([recording], engine=engine)
    answer = measured.balance
    peaked = [one for one in answer.cylinders if one.offset_percent is not None]
    phases = [phase for up in measured.results[0].power_ups for phase in up.phases if phase.kind != "ground"]
    return {
        "engine": engine,
        "cylinders": measured.profile.cylinders,
        "flights": sum(
            any(phase.kind != "ground" for phase in up.phases) for up in measured.results[0].power_ups
        ),
        "flown_s": _number(sum(phase.end_s - phase.start_s for phase in phases)),
        "sweeps": sum(sweep.used for sweep in measured.results[0].sweeps),
        "offset_percent": {str(one.cylinder): _number(one.offset_percent) for one in peaked},
        "u_offset_percent": {str(one.cylinder): _number(one.u_offset_percent) for one in peaked},
        "spread_gph": _number(answer.spread_gph),
        "u_spread_gph": _number(answer.u_spread_gph),
        "spread_percent": _number(answer.spread_percent),
        "mean_flow_gph": _number(answer.mean_flow_gph),
        "goal_gph": _number(answer.goal_gph),
        "probability_within_goal": _number(answer.probability_within_goal),
        "verdict": answer.verdict,
        "health": _health(measured),
    }


def _health(measured: Measured) -> list[dict[str, Any]]:
    """Signs that something is wrong with a plug, a probe, or the ignition of a cylinder."""
    result = measured.results[0]
    ratios = {("plug-dead", number): ratio for number, ratio in plug_ratios(result).items()}
    # Probes and flanks are looked at about sweeps only; the ignition checks were found when measuring.
    if any(sweep.used for sweep in result.sweeps):
        ratios = {**find_signs(measured).log_ratio, **ratios}
    return [
        {"cause": cause, "cylinder": cylinder}
        for (cause, cylinder), ratio in sorted(ratios.items())
        if ratio > TOLD_FROM
    ]


def _number(value: float | None) -> float | None:
    """A finite number, or nothing: plain data has neither NaN nor infinity."""
    return float(value) if value is not None and math.isfinite(value) else None
