"""A survey as one JSON document."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any, Protocol, runtime_checkable

from leanwright.survey.engines import EngineLine


@runtime_checkable
class Surveyed(Protocol):
    """What is shown of a survey."""

    @property
    def rows(self) -> Sequence[Mapping[str, Any]]:
        """One a recording."""

    @property
    def unreadable(self) -> Sequence[tuple[str, str]]:
        """Name and reason of each file that could not be read."""

    @property
    def engines(self) -> Sequence[EngineLine]:
        """One an engine, worst first."""

    @property
    def read_now(self) -> int:
        """Files read in this run; the others were known."""


def survey_document(surveyed: Surveyed) -> dict[str, Any]:
    """The ``leanwright/survey/1`` document."""
    return {
        "format": "leanwright/survey/1",
        "recordings": len(surveyed.rows),
        "unreadable": [{"name": name, "reason": reason} for name, reason in surveyed.unreadable],
        "rows": [dict(row) for row in surveyed.rows],
        "engines": [
            {
                **asdict(line),
                "health": [{"cause": cause, "cylinder": number} for cause, number in line.health],
            }
            for line in surveyed.engines
        ],
        "read_now": surveyed.read_now,
    }
