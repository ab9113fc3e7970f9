"""What there is to say about a balance, in the order a person wants it; ``report`` finds the words."""

from __future__ import (
    annotations,
)  # Balance is needed by the type checker only: balance.py imports this module

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from leanwright.analysis.agreement import difference, powers
from leanwright.analysis.offset import Offsets, Stack, power_unknown
from leanwright.analysis.peak import BudgetSource, SweepPeaks
from leanwright.analysis.settle import EVEN_AT, lasting_share, sweeps_to_settle
from leanwright.analysis.spread import Posterior
from leanwright.findings import Statement

if TYPE_CHECKING:
    from leanwright.analysis.balance import Balance, CylinderBalance

_RARE: Final = 0.01
"""Disagreement less likely than this is said (common practice) [1]."""
_REMEDIES: Final[dict[BudgetSource, str]] = {
    "reading-noise": "more-sweeps",
    "shared-disturbance": "smoother-air",
    "lag": "slower-sweeps",
    "quantisation": "finer-recording",
    "between-sweeps": "steadier-conditions",
    "unknown-power": "record-power",
}


def without_flow(answer: Balance, sweeps: Sequence[SweepPeaks], recordings: int) -> tuple[Statement, ...]:
    """What to say where no cylinder peaked.

    Parameters
    ----------
    answer : Balance
        The balance, its reasons still empty.
    sweeps : sequence of SweepPeaks
        All sweeps.
    recordings : int
        Number of recordings [1].

    Returns
    -------
    tuple of Statement
        The statements.
    """
    used = sum(sweep.sweep.used for sweep in sweeps)
    if not recordings:
        why = Statement("no-recording")
    elif not used:
        why = Statement("no-sweep", {"recordings": recordings})
    else:
        why = Statement("no-peak", {"recordings": recordings, "sweeps": used})
    return (_verdict(answer), why, *_without_peak(answer), *_of_sweeps(sweeps))


def reasons(
    answer: Balance,
    offsets: Offsets,
    drawn: Posterior,
    stacked: Stack,
    sweeps: Sequence[SweepPeaks],
    recordings: int,
    *,
    goal_given: bool = True,
) -> tuple[Statement, ...]:
    """What to say of a balance.

    Parameters
    ----------
    answer : Balance
        The balance, its reasons still empty.
    offsets : Offsets
        The offsets that it rests on [1].
    drawn : Posterior
        The draws of the true offsets [1].
    stacked : Stack
        The values [ln gal/h].
    sweeps : sequence of SweepPeaks
        All sweeps, in the order of the stack.
    recordings : int
        Number of recordings [1].
    goal_given : bool
        Whether somebody set the goal; else it follows from the flow.

    Returns
    -------
    tuple of Statement
        Verdict, leanest, richest, cylinders without a peak, sweeps, disagreement, largest uncertainty, and what
        would settle a verdict that cannot be told.
    """
    return (
        _verdict(answer),
        *_extremes(answer, offsets, drawn),
        *_without_peak(answer),
        *((Statement("one-peak"),) if len(answer.offset_cylinders) == 1 else ()),
        _combined(offsets, stacked, sweeps, recordings),
        *(() if goal_given else (Statement("goal-by-flow", {"goal_gph": answer.goal_gph}),)),
        *_power(offsets, stacked),
        *_disagreement(offsets, stacked),
        *_of_sweeps(sweeps),
        *_uncertainty(answer, offsets, stacked),
        *_what_would_settle(answer, len(offsets.levels)),
    )


def _verdict(answer: Balance) -> Statement:
    low, high = answer.spread_interval95_gph or (None, None)
    return Statement(
        f"verdict-{answer.verdict}",
        {
            "spread_gph": answer.spread_gph,
            "u_spread_gph": answer.u_spread_gph,
            "spread_low_gph": low,
            "spread_high_gph": high,
            "spread_percent": answer.spread_percent,
            "spread_at_least_gph": answer.spread_at_least_gph,
            "mean_flow_gph": answer.mean_flow_gph,
            "goal_gph": answer.goal_gph,
            "probability_within_goal": answer.probability_within_goal,
            "cylinders_with_peak": len(answer.offset_cylinders),
            "cylinders": len(answer.cylinders),
        },
    )


def _extremes(answer: Balance, offsets: Offsets, drawn: Posterior) -> tuple[Statement, ...]:
    """The leanest and the richest of those that peaked, each with the chance that it is."""
    if len(offsets.cylinders) < 2:
        return ()
    by_number = {one.cylinder: one for one in answer.cylinders}
    statements = []
    for code, place, chances in (
        ("leanest-cylinder", int(offsets.offset.argmax()), drawn.extremes.sum(axis=1)),
        ("richest-cylinder", int(offsets.offset.argmin()), drawn.extremes.sum(axis=0)),
    ):
        one = by_number[offsets.cylinders[place]]
        values: dict[str, object] = {
            "cylinder": one.cylinder,
            "fuel_flow_at_peak_gph": one.fuel_flow_at_peak_gph,
            "u_fuel_flow_at_peak_gph": one.u_fuel_flow_at_peak_gph,
            "offset_percent": one.offset_percent,
            "u_offset_percent": one.u_offset_percent,
            "probability": float(chances[place]),
            "side": _side(one),
        }
        flow, leanest = one.fuel_flow_at_peak_gph or 0.0, code == "leanest-cylinder"
        beyond = tuple(c.cylinder for c in answer.cylinders if _may_lie_beyond(c, flow, leanest=leanest))
        statements.append(Statement(code, values | ({"perhaps_beyond": beyond} if beyond else {})))
    return tuple(statements)


def _may_lie_beyond(one: CylinderBalance, flow: float, *, leanest: bool) -> bool:
    """Whether a cylinder without a peak may be leaner, or richer, than one that peaks at a flow [gal/h]."""
    if one.status == "peaked":
        return False
    low, high = one.possible_gph or (0.0, np.inf)
    if one.bound_gph is not None:
        low, high = (0.0, one.bound_gph) if one.bound_side == "below" else (one.bound_gph, np.inf)
    return high > flow if leanest else low < flow


def _side(one: CylinderBalance) -> str:
    """On which side of the mean a cylinder runs: the mean itself where it cannot be told from it."""
    offset, u = one.offset_percent or 0.0, one.u_offset_percent or 0.0
    if abs(offset) <= u:
        return "mean"
    return "lean" if offset > 0.0 else "rich"


def _without_peak(answer: Balance) -> tuple[Statement, ...]:
    missing = [one for one in answer.cylinders if one.status != "peaked"]
    if not missing:
        return ()
    summary = Statement(
        "cylinders-without-peak",
        {
            "cylinders_without_peak": tuple(one.cylinder for one in missing),
            "cylinders_with_peak": len(answer.cylinders) - len(missing),
            "cylinders": len(answer.cylinders),
        },
    )
    flows = [one.fuel_flow_at_peak_gph for one in answer.cylinders if one.fuel_flow_at_peak_gph is not None]
    return (summary, *(_of_cylinder(one, flows) for one in missing))


def _of_cylinder(one: CylinderBalance, flows: Sequence[float]) -> Statement:
    values: dict[str, object] = {"cylinder": one.cylinder}
    if one.bound_gph is not None:
        values |= {"bound_gph": one.bound_gph, "bound_side": one.bound_side, "beyond": _beyond(one, flows)}
    if one.possible_gph is not None:
        values |= {"possible_low_gph": one.possible_gph[0], "possible_high_gph": one.possible_gph[1]}
    if one.reason is not None:
        values["reason"] = one.reason
    return Statement(f"cylinder-{one.status}", values)


def _beyond(one: CylinderBalance, flows: Sequence[float]) -> str | None:
    """Whether a bound alone puts a cylinder past all that peaked."""
    if not flows or one.bound_gph is None:
        return None
    if one.bound_side == "above" and one.bound_gph > max(flows):
        return "leanest"
    return "richest" if one.bound_side == "below" and one.bound_gph < min(flows) else None


def _combined(offsets: Offsets, stacked: Stack, sweeps: Sequence[SweepPeaks], recordings: int) -> Statement:
    combined = [stacked.sweeps[position] for position in offsets.levels]
    groups = powers(combined)
    return Statement(
        "sweeps-combined",
        {
            "sweeps": len(combined),
            "sweeps_found": len(sweeps),
            "leaning": sum(sweep.direction == "leaning" for sweep in combined),
            "enriching": sum(sweep.direction == "enriching" for sweep in combined),
            "recordings": recordings,
            "manifold_pressures_inhg": tuple(
                float(np.mean([combined[position].manifold_pressure_inhg or np.nan for position in group]))
                for group in groups
            ),
        },
    )


def _power(offsets: Offsets, stacked: Stack) -> tuple[Statement, ...]:
    """That power is not recorded, where that is so: then nobody knows whether it followed the mixture."""
    unknown = [position for position in offsets.levels if power_unknown(stacked.sweeps[position])]
    if not unknown or len(offsets.cylinders) < 2:
        return ()
    return (Statement("power-not-recorded", {"sweeps": len(unknown)}),)


def _disagreement(offsets: Offsets, stacked: Stack) -> tuple[Statement, ...]:
    statements = []
    if offsets.probability < _RARE:
        statements.append(
            Statement(
                "sweeps-disagree",
                {
                    "between_sweeps_percent": 100.0 * float(np.sqrt(offsets.between_variance)),
                    "misfit": offsets.misfit,
                    "degrees_of_freedom": offsets.degrees_of_freedom,
                    "probability": offsets.probability,
                },
            )
        )
    used = tuple(offsets.levels)
    leaning = [position for position in used if stacked.sweeps[position].direction == "leaning"]
    enriching = [position for position in used if position not in leaning]
    statements += _differ("directions-disagree", stacked, leaning, enriching, {})
    groups = powers(stacked.sweeps)
    if len(groups) > 1:
        low, high = groups[0], groups[-1]
        pressures = [
            float(np.mean([stacked.sweeps[position].manifold_pressure_inhg or np.nan for position in group]))
            for group in (high, low)
        ]
        values = {"manifold_pressure_high_inhg": pressures[0], "manifold_pressure_low_inhg": pressures[1]}
        statements += _differ("offsets-differ-between-powers", stacked, high, low, values)
    return tuple(statements)


def _differ(
    code: str, stacked: Stack, first: Sequence[int], second: Sequence[int], values: dict[str, float]
) -> list[Statement]:
    found = difference(stacked, first, second)
    if found is None or found.probability >= _RARE:
        return []
    told: dict[str, object] = {
        "cylinder": found.cylinder,
        "difference_percent": found.difference_percent,
        "u_difference_percent": found.u_difference_percent,
        "probability": found.probability,
    }
    return [Statement(code, told | values)]


def _of_sweeps(sweeps: Sequence[SweepPeaks]) -> tuple[Statement, ...]:
    return tuple(statement for sweep in sweeps if sweep.sweep.used for statement in sweep.statements)


def _uncertainty(answer: Balance, offsets: Offsets, stacked: Stack) -> tuple[Statement, ...]:
    if not answer.budget:
        return ()
    source, share = answer.budget[0]
    directions = {stacked.sweeps[position].direction for position in offsets.levels}
    remedy = "sweep-both-ways" if source == "lag" and len(directions) == 1 else _REMEDIES[source]
    values = {"source": source, "share_percent": 100.0 * share, "remedy": remedy}
    return (Statement("largest-uncertainty", values),)


def _what_would_settle(answer: Balance, sweeps: int) -> tuple[Statement, ...]:
    """The peaks that are missing, or how many more sweeps like these, if the spread is what it seems now."""
    if answer.verdict != "cannot-tell" or answer.spread_gph is None or answer.u_spread_gph is None:
        return ()
    missing = tuple(one.cylinder for one in answer.cylinders if one.status in {"not-reached", "unclear"})
    if missing:
        return (Statement("missing-peaks-decide", {"cylinders_without_peak": missing}),)
    if any(one.status == "no-signal" for one in answer.cylinders):
        return ()  # no sweep makes a silent probe speak
    if (answer.probability_within_goal or 0.0) >= EVEN_AT:
        return ()  # the sweeps disagree, and their number does not tell how many more would
    lasting = lasting_share(answer.budget)
    more = sweeps_to_settle(answer.spread_gph, answer.u_spread_gph, answer.goal_gph, sweeps, lasting)
    if more is None:
        return (Statement("close-to-goal", {"goal_gph": answer.goal_gph}),)
    return (Statement("more-sweeps-would-settle", {"sweeps_more": more}),)
