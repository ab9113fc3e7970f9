"""A minute after landing: whether these sweeps are good enough, or one more is to be flown."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from leanwright.analysis.balance import Balance
from leanwright.analysis.sweep import Sweep
from leanwright.findings import Statement

NEEDED_SHARE: Final = 0.1
"""Standard uncertainty of the spread that is enough, as a share of the goal: the 95 % interval then reaches a fifth of
the goal to either side (our choice)."""
MOST_MORE: Final = 8
"""More sweeps than that in one flight are not asked for (our choice): conditions change, and so does attention."""
_DISAGREEMENTS: Final = ("sweeps-disagree", "directions-disagree")


@dataclass(frozen=True, slots=True)
class RampCheck:
    """Whether the sweeps will do, and why not if they will not.

    ``u_spread_needed_gph`` [gal/h] is the standard uncertainty of the spread that is enough.
    """

    good: bool
    answer: tuple[Statement, ...]
    sweeps_more: int
    u_spread_needed_gph: float


def ramp_check(balance: Balance, used: Sequence[Sweep]) -> RampCheck:
    """Judge the sweeps flown by the uncertainty that they give.

    Parameters
    ----------
    balance
        What they gave together.
    used
        The sweeps used, of all recordings.

    Returns
    -------
    RampCheck
        The first thing that is wanting decides: a sweep at all; every cylinder past its peak; a sweep in either
        direction, since one alone cannot take the probes' lag out; sweeps that agree; a spread that is certain enough.
    """
    needed = NEEDED_SHARE * balance.goal_gph
    wanting, more = _wanting(balance, used, needed)
    if wanting is None:
        values = {
            "spread_gph": balance.spread_gph,
            "u_spread_gph": balance.u_spread_gph,
            "needed_gph": needed,
        }
        return RampCheck(True, (Statement("sweeps-good", values),), 0, needed)
    return RampCheck(False, (Statement("fly-one-more", {"sweeps_more": more}), wanting), more, needed)


def _wanting(balance: Balance, used: Sequence[Sweep], needed: float) -> tuple[Statement | None, int]:
    """What is wanting, and how many more sweeps would mend it."""
    if not used or balance.u_spread_gph is None:
        return Statement("because-no-sweep", {"sweeps": len(used)}), 2
    missing = tuple(c.cylinder for c in balance.cylinders if c.status in {"not-reached", "unclear"})
    if missing:
        return Statement("because-peaks-missing", {"cylinders_without_peak": missing}), 1
    directions = {sweep.direction for sweep in used}
    if len(directions) == 1:
        other = "enriching" if "leaning" in directions else "leaning"
        return Statement("because-one-direction", {"direction": other}), 1
    if any(reason.code in _DISAGREEMENTS for reason in balance.reasons):
        return Statement("because-sweeps-disagree"), 1
    if balance.u_spread_gph > needed:
        ratio = balance.u_spread_gph / needed
        more = min(max(math.ceil(len(used) * ratio**2) - len(used), 1), MOST_MORE)
        values = {"u_spread_gph": balance.u_spread_gph, "needed_gph": needed}
        return Statement("because-uncertain", values), more
    return None, 0
