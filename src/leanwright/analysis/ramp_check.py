"""A minute after landing: whether these sweeps are good enough, or one more is to be flown."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from leanwright.analysis.balance import Balance
from leanwright.analysis.settle import lasting_share
from leanwright.analysis.sweep import Sweep
from leanwright.findings import Statement

NEEDED_SHARE: Final = 0.1
"""Standard uncertainty of the spread that is enough, as a share of the goal: the 95 % interval then reaches a fifth of
the goal to either side (our choice)."""
MOST_MORE: Final = 8
"""More sweeps than that in one flight are not asked for (our choice): conditions change, and so does attention."""
_DISAGREEMENTS: Final = frozenset({"sweeps-disagree", "directions-disagree", "recordings-differ"})
_DECIMALS: Final = 3
"""Uncertainties that are written alike are alike."""


@dataclass(frozen=True, slots=True)
class RampCheck:
    """Whether the sweeps will do, and why not if they will not.

    ``good`` where no more sweeps are asked for; ``u_spread_needed_gph`` [gal/h] is the standard uncertainty of the spread
    that is enough to plan a change.
    """

    good: bool
    answer: tuple[Statement, ...]
    sweeps_more: int
    u_spread_needed_gph: float


def ramp_check(balance: Balance, used: Sequence[Sweep]) -> RampCheck:
    """Judge the sweeps flown by what they leave open.

    Parameters
    ----------
    balance
        What they gave together.
    used
        The sweeps used, of all recordings.

    Returns
    -------
    RampCheck
        The first thing that is wanting decides: a sweep at all; a probe that speaks, where it keeps the verdict open; every
        cylinder past its peak. An even engine needs no more. Else a sweep in either direction, since one alone cannot
        take the probes' lag out; sweeps that agree; a verdict, with as many sweeps as the balance says; and for an uneven
        engine a spread that is certain enough to plan with.
    """
    needed = NEEDED_SHARE * balance.goal_gph
    silent = tuple(one.cylinder for one in balance.cylinders if one.status == "no-signal")
    if balance.verdict == "cannot-tell" and balance.spread_gph is not None and silent:
        return RampCheck(False, (Statement("see-to-probes", {"cylinders_without_peak": silent}),), 0, needed)
    wanting, more = _wanting(balance, used, needed)
    if wanting is not None:
        return RampCheck(False, (Statement("fly-one-more", {"sweeps_more": more}), wanting), more, needed)
    close = tuple(one for one in balance.reasons if one.code == "close-to-goal")
    enough = not _above(balance.u_spread_gph or 0.0, needed)
    if close and not enough:
        return RampCheck(True, close, 0, needed)
    values = {"spread_gph": balance.spread_gph, "u_spread_gph": balance.u_spread_gph}
    good = Statement("sweeps-good", values | ({"needed_gph": needed} if enough else {}))
    return RampCheck(True, (good, *close), 0, needed)


def _wanting(balance: Balance, used: Sequence[Sweep], needed: float) -> tuple[Statement | None, int]:
    """What is wanting, and how many more sweeps would mend it."""
    if not used or balance.spread_gph is None or balance.u_spread_gph is None:
        return Statement("because-no-sweep", {"sweeps": len(used)}), 2
    missing = tuple(c.cylinder for c in balance.cylinders if c.status in {"not-reached", "unclear"})
    if balance.verdict == "even":
        return None, 0
    if missing:
        return Statement("because-peaks-missing", {"cylinders_without_peak": missing}), 1
    directions = {sweep.direction for sweep in used}
    if len(directions) == 1:
        other = "enriching" if "leaning" in directions else "leaning"
        return Statement("because-one-direction", {"direction": other}), 1
    codes = {reason.code for reason in balance.reasons}
    settling = _said_to_settle(balance)
    if codes & _DISAGREEMENTS:
        return Statement("because-sweeps-disagree"), settling or 1
    if settling:
        values = {
            "spread_gph": balance.spread_gph,
            "u_spread_gph": balance.u_spread_gph,
            "goal_gph": balance.goal_gph,
        }
        return Statement("because-open", values), settling
    if _above(balance.u_spread_gph, needed) and "close-to-goal" not in codes:
        lasting = lasting_share(balance.budget) * balance.u_spread_gph**2
        if lasting >= needed**2:
            return None, 0  # no number of sweeps would do
        ratio = (balance.u_spread_gph**2 - lasting) / (needed**2 - lasting)
        more = min(max(math.ceil(len(used) * ratio) - len(used), 1), MOST_MORE)
        return Statement(
            "because-uncertain", {"u_spread_gph": balance.u_spread_gph, "needed_gph": needed}
        ), more
    return None, 0


def _said_to_settle(balance: Balance) -> int:
    """How many more sweeps the balance itself says would settle its verdict [1]."""
    for reason in balance.reasons:
        more = reason.values.get("sweeps_more")
        if reason.code == "more-sweeps-would-settle" and isinstance(more, int):
            return more
    return 0


def _above(u_gph: float, needed_gph: float) -> bool:
    return round(u_gph, _DECIMALS) > round(needed_gph, _DECIMALS)
