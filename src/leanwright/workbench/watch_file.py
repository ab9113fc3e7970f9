"""One file of a watched engine: the evidence of each recording in it, as plain data and back."""

from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from leanwright.analysis.health import Seen, seen_in
from leanwright.analysis.health_cruise import Cruise
from leanwright.recordings.recording import Recording
from leanwright.workbench.flight_mark import flight_mark
from leanwright.workbench.measure import measure
from leanwright.workbench.one_engine import stated_engine
from leanwright.workbench.opening import read_kept


def evidence_of_file(place: str, name: str) -> list[dict[str, Any]]:
    """The evidence of each recording of a file, for each of its engines; an error of :mod:`leanwright.errors` if there is none."""
    recordings = read_kept(Path(place))
    several = len(recordings) > 1
    return [
        _row(recording, f"{name}: {recording.name}" if several else name, engine)
        for recording in recordings
        for engine in recording.engines() or (1,)
    ]


def _row(recording: Recording, name: str, engine: int) -> dict[str, Any]:
    measured = measure([recording], engine=engine)
    return {
        **to_plain(seen_in(measured.results[0], engine)),
        "name": name,
        "engine": engine,
        "sha256": recording.sha256,
        "flight": flight_mark(recording),
        "stated_engine": stated_engine(recording),
        "invented": any("invented" in line.casefold() for line in recording.metadata),
        "findings": sorted({finding.code for finding in recording.findings}),
    }


def to_plain(seen: Seen) -> dict[str, Any]:
    """Evidence as plain data, which JSON can hold."""
    plain = asdict(seen)
    plain["offset_percent"] = seen.offset_percent.tolist()
    plain["covariance_percent"] = seen.covariance_percent.tolist()
    return plain


def from_plain(plain: Mapping[str, Any]) -> Seen:
    """Evidence from plain data, whose keys JSON has made texts."""
    count = len(plain["offset_cylinders"])
    return Seen(
        plain["name"],
        plain["started_at"],
        tuple(plain["cylinders"]),
        tuple(plain["offset_cylinders"]),
        np.array(plain["offset_percent"], dtype=np.float64),
        np.array(plain["covariance_percent"], dtype=np.float64).reshape(count, count),
        plain["air_level_percent"],
        tuple(
            Cruise(**{**one, "egt_f": _by_number(one["egt_f"]), "cht_f": _by_number(one["cht_f"])})
            for one in plain["cruise"]
        ),
        _by_number(plain["plug_ratio"]),
        _by_number(plain["silent"]),
        plain["sweeps"],
        plain["duration_s"],
    )


def _by_number(plain: Mapping[Any, float]) -> dict[int, float]:
    return {int(number): float(value) for number, value in plain.items()}
