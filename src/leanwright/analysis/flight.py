"""Power-ups and phases of flight."""

from dataclasses import dataclass
from typing import Literal

PhaseKind = Literal["ground", "climb", "cruise", "descent"]


@dataclass(frozen=True, slots=True)
class Phase:
    """A stretch of one kind of flying, in seconds of the recording."""

    kind: PhaseKind
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class PowerUp:
    """From the panel being switched on to its being switched off: rows ``first_row`` to ``end_row`` (exclusive)."""

    first_row: int
    end_row: int
    phases: tuple[Phase, ...]
