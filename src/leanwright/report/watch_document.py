"""A watched engine as one JSON document."""

import math
from collections.abc import Sequence
from typing import Any, Protocol, runtime_checkable

from leanwright.analysis.trend import Trend
from leanwright.findings import Finding, Statement
from leanwright.report.units import System
from leanwright.report.words import Voice, say_all
from leanwright.report.words.catalogue import load


class Event(Protocol):
    """What is shown of a change."""

    @property
    def cause(self) -> str:
        """One of the causes."""

    @property
    def cylinder(self) -> int | None:
        """Where; ``None``: the whole engine."""

    @property
    def first_recording(self) -> str:
        """The first that shows it."""

    @property
    def raised_at_recording(self) -> str:
        """The one at which it was known."""

    @property
    def probability(self) -> float:
        """Of the cause [1]."""

    @property
    def wait(self) -> str:
        """How long one can wait."""

    @property
    def told(self) -> Sequence[Statement]:
        """What is to be said."""

    @property
    def asked(self) -> bool:
        """Whether the owner is asked."""

    @property
    def others(self) -> Sequence[tuple[str, float]]:
        """Other causes with their chance [1]."""


@runtime_checkable
class Watched(Protocol):
    """What is shown of a watched engine."""

    @property
    def names(self) -> Sequence[str]:
        """Recordings, in order of time."""

    @property
    def started_at(self) -> Sequence[str | None]:
        """When each began."""

    @property
    def spread_percent(self) -> Sequence[float | None]:
        """Highest less lowest offset of each [percent]."""

    @property
    def work_days(self) -> Sequence[str]:
        """Days on which work was done, as ISO dates."""

    @property
    def trend(self) -> Trend:
        """Residuals and changes."""

    @property
    def events(self) -> Sequence[Event]:
        """What changed."""

    @property
    def findings(self) -> Sequence[Finding]:
        """What was left out or is doubtful."""

    @property
    def invented(self) -> bool:
        """Whether a recording says of itself that its data are invented."""

    @property
    def unreadable(self) -> Sequence[tuple[str, str]]:
        """Files with the reason why they could not be read."""


def watch_document(watched: Watched, *, units: System = "us", language: str = "en") -> dict[str, Any]:
    """The ``leanwright/watch/1`` document. Only its sentences depend on ``units`` and ``language``."""
    voice = Voice(load(language), units)
    return {
        "format": "leanwright/watch/1",
        "recordings": len(watched.names),
        "events": [
            {
                "cause": one.cause,
                "cylinder": one.cylinder,
                "first_recording": one.first_recording,
                "raised_at_recording": one.raised_at_recording,
                "probability": one.probability,
                "wait": one.wait,
                "message": " ".join(say_all(one.told, voice)).replace("\u00a0", " "),
                "asked": one.asked,
                "others": [{"cause": cause, "probability": chance} for cause, chance in one.others],
            }
            for one in watched.events
        ],
        "trend": [
            {
                "recording": moment.name,
                "started_at": started,
                "spread_percent": _number(spread),
                "flow_level_residual_percent": _number(moment.level_residual_percent),
                "cylinders": [
                    {
                        "cylinder": point.cylinder,
                        "offset_percent": _number(point.offset_percent),
                        "u_offset_percent": _number(point.u_offset_percent),
                        "egt_residual_df": _number(point.residual.get("egt")),
                        "u_egt_residual_df": _number(point.u_residual.get("egt")),
                        "cht_residual_df": _number(point.residual.get("cht")),
                        "u_cht_residual_df": _number(point.u_residual.get("cht")),
                    }
                    for point in moment.points
                ],
            }
            for moment, started, spread in zip(
                watched.trend.moments, watched.started_at, watched.spread_percent, strict=True
            )
        ],
        "findings": [
            {"severity": one.severity, "code": one.code, "message": one.message} for one in watched.findings
        ],
        "unreadable": [{"name": name, "reason": reason} for name, reason in watched.unreadable],
    }


def _number(value: float | None) -> float | None:
    return float(value) if value is not None and math.isfinite(value) else None
