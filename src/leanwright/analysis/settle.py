"""How many more sweeps would settle on which side of the goal the spread lies."""

from typing import Final

import numpy as np

EVEN_AT: Final = 0.95
"""Chance of being within the goal from which an engine is called even (common practice) [1]."""
MOST_SWEEPS: Final = 8
"""More than this nobody flies for one answer (common practice) [1]."""
_ONE_SIDE: Final = 1.645
"""Standard deviations that hold 95 % on one side of a normal distribution [1]."""


def sweeps_to_settle(spread_gph: float, u_spread_gph: float, goal_gph: float, sweeps: int) -> int | None:
    """More sweeps that would settle whether the spread is within the goal, if it is what it seems.

    Parameters
    ----------
    spread_gph, u_spread_gph : float
        The spread and its standard uncertainty [gal/h].
    goal_gph : float
        The goal [gal/h].
    sweeps : int
        Sweeps that they rest on [1].

    Returns
    -------
    int or None
        Their number [1], at least one; ``None`` if more than anybody flies.

    Examples
    --------
    >>> sweeps_to_settle(0.4, 0.1, 0.5, 1), sweeps_to_settle(0.5, 0.1, 0.5, 1)
    (2, None)
    """
    margin = abs(spread_gph - goal_gph) / _ONE_SIDE
    if margin**2 * (sweeps + MOST_SWEEPS) < sweeps * u_spread_gph**2:
        return None
    return max(int(np.ceil(sweeps * (u_spread_gph / margin) ** 2)) - sweeps, 1)
