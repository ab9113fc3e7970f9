"""Mixture sweeps: found without being marked, each with its grounds; almost-sweeps with the reason why not."""

from dataclasses import dataclass
from typing import Literal

from leanwright.findings import Statement

Direction = Literal["leaning", "enriching"]


@dataclass(frozen=True, slots=True)
class Sweep:
    """A stretch in which the mixture was moved one way through the peaks.

    Start and end are those of the lever's movement; rests before and after don't belong to it.
    """

    start_s: float
    end_s: float
    direction: Direction
    used: bool
    reason: Statement | None
    """Why it was left out; ``None`` when it is used."""
    manifold_pressure_inhg: float | None
    engine_speed_rpm: float | None
    altitude_ft: float | None
    engine: int = 1
    by_hand: bool = False
    grounds: tuple[Statement, ...] = ()
    """What makes it a sweep: steadiness, way of the flow, cylinders that passed their peaks."""
