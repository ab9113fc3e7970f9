"""Which engine each recording is of, and one line an engine, worst first."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Any, Literal

ToldBy = Literal["user", "recording", "folder"]


@dataclass(frozen=True, slots=True)
class EngineLine:
    """One engine over all its recordings; of what changes with time the latest is told.

    ``spread_gph`` [gal/h], its uncertainty, ``verdict`` and ``offset_percent`` are those of the latest recording that
    gave a spread, which ``spread_of`` names. ``health`` are signs of faults in the latest recording, by cause and cylinder.
    """

    engine: str
    told_by: ToldBy
    recordings: int
    flown_s: float
    sweeps: int
    latest: str
    spread_gph: float | None
    u_spread_gph: float | None
    spread_percent: float | None
    verdict: str
    spread_of: str | None
    health: tuple[tuple[str, int], ...]
    doubles: int


def engine_of(row: Mapping[str, Any], given: Mapping[str, str]) -> tuple[str, ToldBy]:
    """The engine that a recording is of: as the user says, else as the recording says, else by its folder.

    ``given`` holds names by file; a file may be written with ``*`` and ``?``, the first that fits counts.

    >>> engine_of({"name": "spring/a.csv", "stated_engine": None}, {})
    ('spring', 'folder')
    >>> engine_of({"name": "spring/a.csv", "stated_engine": None}, {"spring/*": "Two"})
    ('Two', 'user')
    """
    name = row["name"].split(": ")[0]
    for pattern, engine in given.items():
        if name == pattern or fnmatchcase(name, pattern):
            return engine, "user"
    if row["stated_engine"]:
        return str(row["stated_engine"]), "recording"
    return name.rpartition("/")[0] or ".", "folder"


def with_engines(rows: Sequence[Mapping[str, Any]], given: Mapping[str, str]) -> list[dict[str, Any]]:
    """The rows with the name of their engine; a copy of a flight under a second name, or packed otherwise, is marked as one.

    The second engine of a twin is named after the first with its number.
    """
    first: dict[str, str] = {}
    named = []
    for row in rows:
        engine, told_by = engine_of(row, given)
        copy_of = first.setdefault(row["flight"], row["name"])
        findings = list(row["findings"])
        double = copy_of != row["name"]
        if double:
            findings.append("same-flight-twice")
        named.append(
            {
                **row,
                "engine_of": engine,
                "engine_told_by": told_by,
                "findings": findings,
                "copy_of": copy_of if double else None,
            }
        )
    return named


def engine_lines(rows: Sequence[Mapping[str, Any]]) -> tuple[EngineLine, ...]:
    """One line an engine: those with a sign of a fault first, then by how uneven, engines without a spread last."""
    groups: dict[tuple[str, int], list[Mapping[str, Any]]] = {}
    told: dict[tuple[str, int], ToldBy] = {}
    for row in rows:
        for one in (row, *row["other_engines"]):
            key = (row["engine_of"], one["engine"])
            groups.setdefault(key, []).append({**row, **one})
            told[key] = row["engine_told_by"]
    lines = [_line(key, told[key], group) for key, group in groups.items()]
    return tuple(sorted(lines, key=_order))


def _order(line: EngineLine) -> tuple[bool, bool, float, str]:
    return (not line.health, line.spread_gph is None, -(line.spread_gph or 0.0), line.engine)


def _line(key: tuple[str, int], told_by: ToldBy, rows: Sequence[Mapping[str, Any]]) -> EngineLine:
    single = sorted(
        (row for row in rows if row["copy_of"] is None),
        key=lambda row: (row["started_at"] or "", row["name"]),
    )
    known = [row for row in single if row["spread_gph"] is not None]
    best = known[-1] if known else None
    latest = single[-1] if single else rows[-1]
    name, number = key
    return EngineLine(
        engine=name if number == 1 else f"{name}, engine {number}",
        told_by=told_by,
        recordings=len(single),
        flown_s=sum(row["flown_s"] or 0.0 for row in single),
        sweeps=sum(row["sweeps"] for row in single),
        latest=latest["name"],
        spread_gph=best["spread_gph"] if best else None,
        u_spread_gph=best["u_spread_gph"] if best else None,
        spread_percent=best["spread_percent"] if best else None,
        verdict=best["verdict"] if best else "cannot-tell",
        spread_of=best["name"] if best else None,
        health=tuple((sign["cause"], sign["cylinder"]) for sign in latest["health"]),
        doubles=len(rows) - len(single),
    )
