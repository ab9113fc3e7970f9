"""Nozzles: what is fitted, what can be had, how surely each flow is known, and where each may go."""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Shape = Literal["uniform", "normal"]
Source = Literal["order", "shelf"]


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a nozzle's flow may lie off what it is taken to be.

    ``percent`` [percent of flow] is the half-width of a ``uniform`` tolerance, which no nozzle passes, and the
    standard deviation of a ``normal`` one.
    """

    percent: float = 0.0
    shape: Shape = "uniform"

    @property
    def u(self) -> float:
        """Standard uncertainty of ln(flow) [1].

        That of a uniform tolerance is its half-width over the root of three (JCGM 100:2008, 4.3.7).
        """
        return self.percent / 100.0 / (float(np.sqrt(3.0)) if self.shape == "uniform" else 1.0)


EXACT: Final = Tolerance()
NEW_NOZZLE: Final = Tolerance(0.5, "uniform")
"""Tolerance of a new nozzle's flow where nothing is said (common practice)."""


@dataclass(frozen=True, slots=True)
class Available:
    """A nozzle that can be had.

    ``flow`` is over that of the standard nozzle [1]; ``cylinders`` are those that it may go to. ``quantity`` is how
    many there are, ``None`` where as many as wanted can be ordered. ``marking`` is ``None`` where flow factors are
    planned and no nozzle is named yet.
    """

    marking: str | None
    flow: float
    tolerance: Tolerance
    cylinders: frozenset[int]
    quantity: int | None = None
    source: Source = "order"


@dataclass(frozen=True, slots=True)
class Fitted:
    """The nozzle in one cylinder now. ``flow`` is over that of the standard nozzle [1].

    ``cylinders`` are those that it may go to; a fitted nozzle of which nothing is known stays where it is.
    """

    cylinder: int
    marking: str | None = None
    flow: float = 1.0
    tolerance: Tolerance = EXACT
    cylinders: frozenset[int] = frozenset()


def flow_factors(
    cylinders: frozenset[int], *, step_percent: float = 1.0, most: int = 20
) -> tuple[Available, ...]:
    """Flow factors to plan with where no nozzle set is named: 1 plus or minus whole steps.

    Parameters
    ----------
    cylinders : frozenset of int
        Numbers of the cylinders [1].
    step_percent : float
        Step [percent of the fitted nozzle's flow].
    most : int
        How many steps on either side [1].

    Returns
    -------
    tuple of Available
        Each factor as a nozzle without a marking, its tolerance :data:`NEW_NOZZLE`.

    Examples
    --------
    >>> [round(one.flow, 2) for one in flow_factors(frozenset({1, 2}), most=2)]
    [0.98, 0.99, 1.01, 1.02]
    """
    steps = [step for step in range(-most, most + 1) if step and step * step_percent > -100.0]
    return tuple(Available(None, 1.0 + step * step_percent / 100.0, NEW_NOZZLE, cylinders) for step in steps)
