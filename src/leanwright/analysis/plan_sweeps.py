"""What the sweeps allow: whether two agree on a change, and what more of them would give."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from leanwright.analysis import settle
from leanwright.analysis.balance import Balance
from leanwright.analysis.peak import Peaks
from leanwright.analysis.plan_chance import Draws
from leanwright.analysis.planned import Choice, NextFlight

MOST_SWEEPS: Final = settle.MOST_SWEEPS
FIRST_FLIGHT: Final = 4
"""Sweeps of a first flight: down and up at two manifold pressures (common practice)."""
_NEAR: Final = 0.005
"""Offsets nearer than this agree whatever the change is [1] (common practice)."""


def sweeps_used(peaks: Sequence[Peaks]) -> int:
    """How many sweeps give a value.

    Parameters
    ----------
    peaks : sequence of Peaks
        One for each recording.

    Returns
    -------
    int
        Their number [1].
    """
    return sum(len({sweep for sweep, _ in one.index}) for one in peaks)


def disagreeing(balance: Balance, peaks: Sequence[Peaks], choice: Choice) -> tuple[int, ...]:
    """Changed cylinders on which no two sweeps agree.

    A sweep agrees if its own offset of the cylinder lies within half of the change from that of all sweeps together:
    each of the two would then have asked for a change the same way.

    Parameters
    ----------
    balance : Balance
        All sweeps together.
    peaks : sequence of Peaks
        The sweeps.
    choice : Choice
        What is to be changed.

    Returns
    -------
    tuple of int
        Numbers of the cylinders.
    """
    together = {
        one.cylinder: (one.offset_percent or 0.0) / 100.0
        for one in balance.cylinders
        if one.offset_percent is not None
    }
    agreeing = dict.fromkeys(together, 0)
    half = {one.cylinder: max(0.5 * abs(float(np.log(one.flow_factor))), _NEAR) for one in choice.cylinders}
    for one in peaks:
        for sweep in {position for position, _ in one.index}:
            own = {
                cylinder: float(value)
                for (position, cylinder), value in zip(one.index, one.log_flow, strict=True)
                if position == sweep and cylinder in together
            }
            if not own:
                continue
            level = float(np.mean([value - together[cylinder] for cylinder, value in own.items()]))
            for cylinder, value in own.items():
                agreeing[cylinder] += abs(value - level - together[cylinder]) <= half[cylinder]
    return tuple(number for number in choice.changed if agreeing.get(number, 0) < 2)


def sweeps_to_settle(balance: Balance, sweeps: int) -> int | None:
    """How many more sweeps would settle whether the spread is within the goal, if it is what it seems.

    Parameters
    ----------
    balance : Balance
        The balance.
    sweeps : int
        Sweeps that it rests on [1].

    Returns
    -------
    int or None
        Their number [1]; ``None`` if more than anybody flies.
    """
    if balance.spread_gph is None or balance.u_spread_gph is None:
        return FIRST_FLIGHT
    lasting = settle.lasting_share(balance.budget)
    return settle.sweeps_to_settle(
        balance.spread_gph, balance.u_spread_gph, balance.goal_gph, sweeps, lasting
    )


def next_flight(balance: Balance, sweeps: int, more: int) -> NextFlight:
    """What more sweeps like these would give.

    Parameters
    ----------
    balance : Balance
        The balance.
    sweeps : int
        Sweeps that it rests on [1].
    more : int
        More sweeps [1].

    Returns
    -------
    NextFlight
        With the uncertainty of the spread [gal/h] that all of them together would give: it falls with the root of
        their number.
    """
    if balance.u_spread_gph is None or not sweeps:
        return NextFlight(more, None)
    return NextFlight(more, balance.u_spread_gph * float(np.sqrt(sweeps / (sweeps + more))))


def surer(drawn: Draws, sweeps: int, more: int) -> Draws:
    """The draws as they would lie after more sweeps, if those found the same.

    Parameters
    ----------
    drawn : Draws
        The draws.
    sweeps : int
        Sweeps that they rest on [1].
    more : int
        More sweeps [1].

    Returns
    -------
    Draws
        Each offset drawn nearer to its mean by the root of the share of sweeps; tolerances stay as they are.
    """
    mean = drawn.offset.mean(axis=1, keepdims=True)
    nearer = float(np.sqrt(sweeps / (sweeps + more)))
    return replace(drawn, offset=mean + nearer * (drawn.offset - mean))
