"""How many more sweeps would settle on which side of the goal the spread lies."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from leanwright.analysis.peak import BudgetSource

EVEN_AT: Final = 0.95
"""Chance of being within the goal from which an engine is called even (common practice) [1]."""
MOST_SWEEPS: Final = 8
"""More than this nobody flies for one answer (common practice) [1]."""
_ONE_SIDE: Final = 1.645
"""Standard deviations that hold 95 % on one side of a normal distribution [1]."""


def sweeps_to_settle(
    spread_gph: float, u_spread_gph: float, goal_gph: float, sweeps: int, lasting_share: float = 0.0
) -> int | None:
    """More sweeps that would settle whether the spread is within the goal, if it is what it seems.

    Parameters
    ----------
    spread_gph, u_spread_gph : float
        The spread and its standard uncertainty [gal/h].
    goal_gph : float
        The goal [gal/h].
    sweeps : int
        Sweeps that they rest on [1].
    lasting_share : float, optional
        Share of its variance that more sweeps do not shrink [1].

    Returns
    -------
    int or None
        Their number [1], at least one; ``None`` if more than anybody flies.

    Examples
    --------
    >>> sweeps_to_settle(0.4, 0.1, 0.5, 1), sweeps_to_settle(0.5, 0.1, 0.5, 1)
    (2, None)
    >>> sweeps_to_settle(0.4, 0.1, 0.5, 1, 0.2), sweeps_to_settle(0.4, 0.1, 0.5, 1, 0.5) is None
    (4, True)
    """
    margin = abs(spread_gph - goal_gph) / _ONE_SIDE
    room = margin**2 - lasting_share * u_spread_gph**2
    shrinking = (1.0 - lasting_share) * u_spread_gph**2
    if room <= 0.0 or room * (sweeps + MOST_SWEEPS) < sweeps * shrinking:
        return None
    return max(int(np.ceil(sweeps * shrinking / room)) - sweeps, 1)


def lasting_share(budget: Sequence[tuple[BudgetSource, float]]) -> float:
    """Share of the spread's variance that stays however many sweeps are flown.

    Parameters
    ----------
    budget : sequence of (source, share)
        Shares of the variance by source [1].

    Returns
    -------
    float
        That of power which nobody recorded [1]: engine and propeller are the same in every sweep.
    """
    return dict(budget).get("unknown-power", 0.0)
