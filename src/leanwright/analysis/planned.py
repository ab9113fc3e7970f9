"""What a plan says: the choices, the one recommended, and what else to do first."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from leanwright.analysis.payback import Payback
from leanwright.analysis.plan_search import Origin
from leanwright.findings import Statement

Action = Literal["change", "leave", "fly-more", "look-elsewhere"]
Kind = Literal["leave", "exchange", "change"]


@dataclass(frozen=True, slots=True)
class Suspected:
    """A cause that was weighed on the evidence: what the plan needs to know of it.

    ``cause`` is one of the fixed names of causes (``nozzle-size``, ``intake-leak``, ...), ``probability`` the chance that
    it is present; ``cylinders`` are those that it sits at, none where it concerns all.
    """

    cause: str
    probability: float
    cylinders: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class PlannedCylinder:
    """What is done at one cylinder.

    ``flow_factor`` is the new nozzle's flow coefficient over that of the one fitted now [1]; 1 leaves it alone.
    ``u_flow_percent`` is how surely that factor is known. ``from_cylinder`` is where a nozzle that is exchanged comes
    from. ``predicted_offset_percent`` is after the change.
    """

    cylinder: int
    flow_factor: float = 1.0
    u_flow_percent: float = 0.0
    nozzle: str | None = None
    origin: Origin = "keep"
    from_cylinder: int | None = None
    predicted_offset_percent: float | None = None
    u_predicted_offset_percent: float | None = None


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to go on, and how it is likely to come out.

    ``changes`` counts positions worked on, ``parts`` nozzles to be ordered. ``probability_within_goal`` is the chance
    that the spread is within the goal afterwards; ``probability_better`` the chance that it is smaller than now.
    """

    kind: Kind
    changes: int
    parts: int
    cylinders: tuple[PlannedCylinder, ...]
    predicted_spread_gph: float
    u_predicted_spread_gph: float
    predicted_interval95_gph: tuple[float, float]
    probability_within_goal: float
    probability_better: float
    total_flow_change_percent: float
    leanest_at_full_power_change_percent: float
    payback: Payback | None = None

    @property
    def changed(self) -> tuple[int, ...]:
        """Numbers of the cylinders whose nozzle changes."""
        return tuple(one.cylinder for one in self.cylinders if one.origin != "keep")


@dataclass(frozen=True, slots=True)
class NextFlight:
    """How many more sweeps to fly, and the uncertainty of the spread that they would give."""

    sweeps: int
    expected_u_spread_gph: float | None


@dataclass(frozen=True, slots=True)
class Plan:
    """The decision, what it rests on, and the other choices.

    ``chosen`` is what the action amounts to: the recommended change, or to leave everything as it is; ``None`` if
    there is no spread to plan with. ``choices`` begins with leaving everything, then exchanging, then one change, two
    changes and so on.
    """

    action: Action
    chosen: Choice | None
    choices: tuple[Choice, ...]
    goal_gph: float
    next_flight: NextFlight | None
    reasons: tuple[Statement, ...]

    @property
    def possible(self) -> bool:
        """Whether what was asked could be planned at all with what was measured and with the nozzles named."""
        return self.chosen is not None and not any(one.code == "plan-none-helps" for one in self.reasons)


@dataclass(frozen=True, slots=True)
class Place:
    """One thing that could be put into a cylinder: by which name it is asked for, and whether its rule allows it there.

    ``flow_factor`` is its flow over that of the nozzle fitted there now [1]; 0 where it may not go there.
    """

    name: str
    origin: Origin
    marking: str | None
    from_cylinder: int | None
    flow_factor: float
    allowed: bool


@dataclass(frozen=True, slots=True)
class Trial:
    """What a trial comes to.

    ``places`` are, for each cylinder, all that could be asked for. ``refused`` tells why something was not put where it
    was asked for; there the cylinder keeps what it has. ``told`` is what a plan would not do for a rule that concerns
    the engine as a whole.
    """

    leave: Choice
    choice: Choice
    places: Mapping[int, tuple[Place, ...]]
    refused: Mapping[int, Statement]
    told: tuple[Statement, ...]
