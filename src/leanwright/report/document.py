"""The answer as one JSON document: the same numbers and sentences that the terminal and the page show."""

import math
from collections.abc import Sequence
from typing import Any

from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.analysis.peak import CylinderPeak
from leanwright.analysis.sweep import Sweep
from leanwright.recordings.recording import Recording
from leanwright.report.answer import sentences
from leanwright.report.channels import inside_unit
from leanwright.report.sweeps import SweepLine, numbered, used
from leanwright.report.units import System
from leanwright.report.words import Voice, say, say_all
from leanwright.report.words.catalogue import load


def balance_document(measured: Measured, *, units: System = "us", language: str = "en") -> dict[str, Any]:
    """The ``leanwright/balance/1`` document. Only its sentences depend on ``units`` and ``language``."""
    voice = Voice(load(language), units, measured.profile)
    answer = measured.balance
    lines = used(measured)
    return {
        "format": "leanwright/balance/1",
        "engine": measured.engine,
        "fuel_system": measured.fuel_system,
        "recordings": [_recording_result(result, lines, voice) for result in measured.results],
        "cylinders": [
            {
                "cylinder": one.cylinder,
                "engine": measured.engine,
                "status": one.status,
                "fuel_flow_at_peak_gph": _number(one.fuel_flow_at_peak_gph),
                "u_fuel_flow_at_peak_gph": _number(one.u_fuel_flow_at_peak_gph),
                "offset_percent": _number(one.offset_percent),
                "u_offset_percent": _number(one.u_offset_percent),
                "bound_gph": _number(one.bound_gph),
                "bound_side": one.bound_side,
                "possible_gph": _pair(one.possible_gph),
                "sweeps_peaked": one.sweeps_peaked,
            }
            for one in answer.cylinders
        ],
        "spread_gph": _number(answer.spread_gph),
        "u_spread_gph": _number(answer.u_spread_gph),
        "spread_interval95_gph": _pair(answer.spread_interval95_gph),
        "spread_percent": _number(answer.spread_percent),
        "u_spread_percent": _number(answer.u_spread_percent),
        "spread_at_least_gph": _number(answer.spread_at_least_gph),
        "mean_flow_gph": _number(answer.mean_flow_gph),
        "budget": [{"source": source, "share": _number(share)} for source, share in answer.budget],
        "goal_gph": _number(answer.goal_gph),
        "probability_within_goal": _number(answer.probability_within_goal),
        "verdict": answer.verdict,
        "reasons": [_spaced(sentence) for sentence in sentences(measured, voice)],
        "ramp_check": _ramp_check(measured, Voice(load(language), units, measured.profile)),
    }


def _ramp_check(measured: Measured, voice: Voice) -> dict[str, Any] | None:
    check = measured.ramp_check
    if check is None:
        return None
    return {
        "good": check.good,
        "sentence": _spaced(" ".join(say_all(check.answer, voice))),
        "sweeps_more": check.sweeps_more,
        "u_spread_needed_gph": check.u_spread_needed_gph,
    }


def channels_document(recordings: Sequence[Recording]) -> dict[str, Any]:
    """The ``leanwright/channels/1`` document: what was understood of a file, before any analysis.

    An archive may hold several recordings: then ``recordings`` lists them all, and the keys beside it are those of
    the first.
    """
    understood = [{**_recording(recording), **_as_written(recording)} for recording in recordings]
    document: dict[str, Any] = {"format": "leanwright/channels/1", **understood[0]}
    if len(understood) > 1:
        document["recordings"] = understood
    return document


def _as_written(recording: Recording) -> dict[str, Any]:
    """The file beside its reading: what each line was taken for, and the first rows' cells with the values read."""
    places = {int(line): row for row, line in enumerate(recording.lines)}
    return {
        "notes": [list(pair) for pair in recording.notes],
        "fuel_grade": recording.fuel_grade,
        "tank": recording.tank,
        "lines": [{"first": run.first, "last": run.last, "label": run.label} for run in recording.line_runs],
        "first_rows": [
            {
                "line": row.line,
                "kept": row.line in places,
                "cells": list(row.cells),
                "values": [
                    _number(float(channel.values[places[row.line]]))
                    if channel.values is not None and row.line in places
                    else None
                    for channel in recording.channels
                ],
                "units": [inside_unit(channel) for channel in recording.channels],
            }
            for row in recording.first_rows
        ],
    }


def _recording_result(result: RecordingResult, lines: Sequence[SweepLine], voice: Voice) -> dict[str, Any]:
    return {
        **_recording(result.recording),
        "sweeps": [_sweep(sweep, line, voice) for sweep, line in numbered(result, lines)],
        "ground_runs": [
            {
                "start_s": _number(run.start_s),
                "end_s": _number(run.end_s),
                "engine_speed_rpm": _number(run.engine_speed_rpm),
            }
            for run in result.ground_runs
        ],
        "ignition_checks": [
            {
                "start_s": _number(check.start_s),
                "end_s": _number(check.end_s),
                "egt_rise_df": {
                    str(number): _number(value) for number, value in sorted(check.response_df.items())
                },
            }
            for check in result.ignition_checks
        ],
    }


def _recording(recording: Recording) -> dict[str, Any]:
    return {
        "name": recording.name,
        "sha256": recording.sha256,
        "rows_kept": recording.rows_kept,
        "rows_skipped": recording.rows_skipped,
        "duration_s": _number(recording.duration_s),
        "interval_s": _number(recording.interval_s),
        "channels": [
            {
                "column": channel.column,
                "quantity": channel.quantity,
                "cylinder": channel.cylinder,
                "engine": channel.engine,
                "unit": channel.unit,
                "unit_from": channel.unit_from,
            }
            for channel in recording.channels
        ],
        "findings": [
            {
                "severity": finding.severity,
                "code": finding.code,
                "message": finding.message,
                "line": finding.line,
                "time_s": _number(finding.time_s),
                "cylinder": finding.cylinder,
            }
            for finding in recording.findings
        ],
    }


def _sweep(sweep: Sweep, line: SweepLine | None, voice: Voice) -> dict[str, Any]:
    """One sweep, with its cylinders if it was used."""
    return {
        "start_s": _number(sweep.start_s),
        "end_s": _number(sweep.end_s),
        "direction": sweep.direction,
        "engine": sweep.engine,
        "used": sweep.used,
        "by_hand": sweep.by_hand,
        "reason": _spaced(say(sweep.reason, voice)) if sweep.reason else None,
        "manifold_pressure_inhg": _number(sweep.manifold_pressure_inhg),
        "engine_speed_rpm": _number(sweep.engine_speed_rpm),
        "altitude_ft": _number(sweep.altitude_ft),
        "cylinders": [_cylinder(peak) for peak in line.peaks.cylinders] if line else [],
        "spread_gph": _number(line.spread_gph if line else None),
        "u_spread_gph": _number(line.u_spread_gph if line else None),
    }


def _cylinder(peak: CylinderPeak) -> dict[str, Any]:
    return {
        "cylinder": peak.cylinder,
        "status": peak.status,
        "fuel_flow_at_peak_gph": _number(peak.fuel_flow_at_peak_gph),
        "u_fuel_flow_at_peak_gph": _number(peak.u_fuel_flow_at_peak_gph),
        "bound_gph": _number(peak.bound_gph),
        "bound_side": peak.bound_side,
        "possible_gph": _pair(peak.possible_gph),
        "lag_s": _number(peak.lag_s),
        "u_lag_s": _number(peak.u_lag_s),
    }


def _number(value: float | None) -> float | None:
    """A finite number, or null: JSON has neither NaN nor Infinity."""
    return float(value) if value is not None and math.isfinite(value) else None


def _pair(value: tuple[float, float] | None) -> list[float | None] | None:
    return None if value is None else [_number(value[0]), _number(value[1])]


def _spaced(sentence: str) -> str:
    """Ordinary blanks: what may not part on a page need not be kept together in a document."""
    return sentence.replace("\u00a0", " ")
