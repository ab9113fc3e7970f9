"""The recordings of a watched engine in order of time, and what of them is left out or doubtful."""

import itertools
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from leanwright.findings import Finding
from leanwright.told import Told


def in_order(
    rows: Sequence[Mapping[str, Any]], engine: int = 1
) -> tuple[list[Mapping[str, Any]], tuple[Finding, ...]]:
    """Recordings of one engine in order of time; what does not fit is left out, and said.

    Of twins that ``engine`` is meant. Copies of a flight count once, by what was read; recordings of another engine than most are
    left out; those without a date stand by name before the others; flights that overlap are told.
    """
    findings: list[Finding] = []
    single: dict[str, Mapping[str, Any]] = {}
    mine = [row for row in rows if row["engine"] == engine]
    if rows and not mine:
        there = ", ".join(map(str, sorted({row["engine"] for row in rows})))
        message = Told(
            "No recording has an engine {engine}; there is {there}. Choose with --engine.",
            engine=engine,
            there=there,
        )
        findings.append(Finding("warning", "no-such-engine", message))
    for row in mine:
        if row["flight"] in single:
            first = single[row["flight"]]["name"]
            findings.append(
                Finding(
                    "note",
                    "same-flight-twice",
                    Told(
                        "{row} holds the same flight as {first} and is left out.",
                        row=row["name"],
                        first=first,
                    ),
                )
            )
        else:
            single[row["flight"]] = row
    kept = _of_one_engine(list(single.values()), findings)
    undated = [row["name"] for row in kept if row["started_at"] is None]
    if undated and len(undated) < len(kept):
        findings.append(
            Finding(
                "warning",
                "no-date",
                (
                    Told(
                        "{undated}: no date; taken to be before the others. Name such files by date.",
                        undated=", ".join(undated[:5]),
                    )
                ),
            )
        )
    kept.sort(key=lambda row: (row["started_at"] or "", row["name"]))
    for one, other in itertools.pairwise(kept):
        if one["started_at"] and other["started_at"]:
            end = datetime.fromisoformat(one["started_at"]) + timedelta(seconds=one["duration_s"])
            if datetime.fromisoformat(other["started_at"]) < end:
                findings.append(
                    Finding(
                        "warning",
                        "flights-overlap",
                        (
                            Told(
                                "{other} begins before {one} ends: the panel's clock was wrong in one of them. Their "
                                "order may be wrong.",
                                other=other["name"],
                                one=one["name"],
                            )
                        ),
                    )
                )
    return kept, tuple(findings)


def _of_one_engine(rows: list[Mapping[str, Any]], findings: list[Finding]) -> list[Mapping[str, Any]]:
    """Those whose cylinders are those of most; the statement of the aircraft may change, and then it is said."""
    counts = [tuple(row["cylinders"]) for row in rows]
    usual = max(set(counts), key=counts.count, default=())
    kept = []
    for row, cylinders in zip(rows, counts, strict=True):
        if max(cylinders, default=0) == max(usual, default=0):
            kept.append(row)
        else:
            findings.append(
                Finding(
                    "warning",
                    "another-engine",
                    (
                        Told(
                            "{row} has {cylinders} cylinders, not {usual}: another engine, left out.",
                            row=row["name"],
                            cylinders=len(cylinders),
                            usual=len(usual),
                        )
                    ),
                )
            )
    stated = {row["stated_engine"] for row in kept if row["stated_engine"]}
    if len(stated) > 1:
        findings.append(
            Finding(
                "warning",
                "several-engines-stated",
                (
                    Told(
                        "These recordings name several engines: {stated}. Watch a folder of one, or tell the "
                        "change of engine in --work.",
                        stated="; ".join(sorted(stated)),
                    )
                ),
            )
        )
    return kept
