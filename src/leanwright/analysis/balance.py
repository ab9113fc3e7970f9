"""From the peaks of all sweeps to one answer: offsets, spread, verdict, each with its uncertainty."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis import reason
from leanwright.analysis.bound import Limits, limits
from leanwright.analysis.offset import Offsets, Stack, combined_offsets, stack
from leanwright.analysis.peak import BudgetSource, Peaks, Status
from leanwright.analysis.settle import EVEN_AT
from leanwright.analysis.spread import FEW_DRAWS, Posterior, posterior, spread_budget
from leanwright.findings import Statement
from leanwright.showing import html_of

Floats = NDArray[np.float64]
Verdict = Literal["even", "uneven", "cannot-tell"]


@dataclass(frozen=True, slots=True)
class CylinderBalance:
    """One cylinder over all sweeps used. Units and meaning as in :class:`leanwright.analysis.peak.CylinderPeak`.

    ``offset_percent`` is 100 ln(F* / geometric mean of all F*) [percent], positive = lean.
    """

    cylinder: int
    status: Status
    fuel_flow_at_peak_gph: float | None = None
    u_fuel_flow_at_peak_gph: float | None = None
    offset_percent: float | None = None
    u_offset_percent: float | None = None
    bound_gph: float | None = None
    bound_side: Literal["below", "above"] | None = None
    possible_gph: tuple[float, float] | None = None
    sweeps_peaked: int = 0
    reason: Statement | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Balance:
    """How even the cylinders are, and how sure that is.

    ``spread_gph`` is the posterior mean of max - min of the true flows at peak [gal/h], ``None`` if fewer than two
    cylinders peaked. ``offset_covariance`` [percent squared] is over ``offset_cylinders``, in that order.

    ``probability_within_goal`` is the chance that the cylinders seen are within the goal: all that peaked, and
    those with a bound as near to them as the bound allows. It is ``None`` if fewer than two cylinders peaked and
    no bound shows that they lie further apart than the goal.
    """

    cylinders: tuple[CylinderBalance, ...]
    spread_gph: float | None
    u_spread_gph: float | None
    spread_interval95_gph: tuple[float, float] | None
    spread_percent: float | None
    u_spread_percent: float | None
    spread_at_least_gph: float | None
    mean_flow_gph: float | None
    """G of the contract: geometric mean over the sweeps used of each sweep's mean flow at peak [gal/h]."""
    budget: tuple[tuple[BudgetSource, float], ...]
    """Share of the spread's variance by source [1], largest first; shares sum to 1."""
    goal_gph: float
    probability_within_goal: float | None
    verdict: Verdict
    offset_cylinders: tuple[int, ...]
    offset_covariance: Floats
    reasons: tuple[Statement, ...]

    @property
    def reaches_even(self) -> bool:
        """Whether the chance alone would be enough to say that the cylinders are even."""
        return (self.probability_within_goal or 0.0) >= EVEN_AT

    _repr_html_ = html_of


_UNEVEN_AT: Final = 0.05
_GOAL_GPH: Final = 0.5
_GOAL_FLOW_GPH: Final = 12.0
_PLAIN: Final = 1e-3
_PLAIN_SHARE: Final = 0.1
"""Sweeps that differ by something less likely than that, and from one to the next by more than that share of the goal,
are not of one state: their mean may look even where no sweep was (our choice) [1]."""


def balance(peaks: Sequence[Peaks], *, goal_gph: float | None = None, cylinders: int = 0) -> Balance:
    """Combine the sweeps of all recordings of one engine to how even its cylinders are.

    Offsets are combined first, sweep for sweep and with their full covariance; the spread is then the posterior
    of the range of the true flows, so that noise does not pass for unevenness.

    Parameters
    ----------
    peaks : sequence of Peaks
        The peaks of each recording; all of the same engine in the same state.
    goal_gph : float, optional
        The spread to stay within [gal/h]. If not given, 0.5 gal/h (common practice), less in proportion where
        the mean flow at peak is below 12 gal/h.
    cylinders : int, optional
        How many the engine has, counted from 1; those that no sweep knows have no signal.

    Returns
    -------
    Balance
        Offsets [percent], flows and spread [gal/h], verdict, and what is to be said about them.

    Examples
    --------
    >>> answer = balance([])
    >>> answer.verdict, answer.spread_gph, answer.reasons[-1].code
    ('cannot-tell', None, 'no-recording')
    """
    sweeps = tuple(sweep for one in peaks for sweep in one.sweeps)
    stacked = stack(peaks)
    offsets = combined_offsets(stacked)
    goal = goal_gph if goal_gph is not None else _default_goal(offsets)
    numbers = {peak.cylinder for sweep in sweeps for peak in sweep.cylinders}
    if any(sweep.sweep.used for sweep in sweeps):
        numbers |= set(range(1, cylinders + 1))
    missing = tuple(
        limits(number, sweeps, offsets.levels if offsets else {}, offsets.log_mean_flow if offsets else 0.0)
        for number in sorted(numbers)
        if offsets is None or number not in offsets.cylinders
    )
    if offsets is None:
        answer = _without_flow(missing, goal)
        return replace(answer, reasons=reason.without_flow(answer, sweeps, recordings=len(peaks)))
    drawn = posterior(offsets.offset, offsets.log_mean_flow, offsets.covariance)
    answer = _answer(offsets, drawn, missing, stacked, goal)
    return replace(
        answer,
        reasons=reason.reasons(
            answer,
            offsets,
            drawn,
            stacked,
            sweeps,
            recordings=len(peaks),
            goal_given=goal_gph is not None or goal >= _GOAL_GPH,
        ),
    )


def withheld(answer: Balance) -> Balance:
    """The same balance without the verdict "even", for recordings that are not of one state.

    Parameters
    ----------
    answer : Balance
        What all recordings gave together.

    Returns
    -------
    Balance
        It cannot be told where it was even; any other verdict stands.
    """
    if answer.verdict != "even":
        return answer
    first = replace(answer.reasons[0], code="verdict-cannot-tell")
    return replace(answer, verdict="cannot-tell", reasons=(first, *answer.reasons[1:]))


def sweep_spreads(peaks: Peaks) -> tuple[tuple[float, float] | None, ...]:
    """Spread of each sweep by itself, over the cylinders that peaked in it.

    Parameters
    ----------
    peaks : Peaks
        The peaks of a recording.

    Returns
    -------
    tuple of (float, float) or None
        Posterior mean and standard uncertainty of the spread [gal/h] of each of ``peaks.sweeps``; ``None`` if fewer than
        two cylinders peaked in it.
    """
    stacked = stack([peaks])
    return tuple(_sweep_spread(stacked, position) for position in range(len(peaks.sweeps)))


def _sweep_spread(stacked: Stack, position: int) -> tuple[float, float] | None:
    offsets = combined_offsets(stacked, [position])
    if offsets is None or len(offsets.cylinders) < 2:
        return None
    drawn = posterior(offsets.offset, offsets.log_mean_flow, offsets.covariance, draws=FEW_DRAWS)
    spread = drawn.spread()
    return float(spread.mean()), float(spread.std())


def _default_goal(offsets: Offsets | None) -> float:
    if offsets is None:
        return _GOAL_GPH
    return _GOAL_GPH * min(1.0, float(np.exp(offsets.log_mean_flow)) / _GOAL_FLOW_GPH)


def _without_flow(missing: Sequence[Limits], goal: float) -> Balance:
    return Balance(
        cylinders=tuple(_without_peak(one, 0.0) for one in missing),
        spread_gph=None,
        u_spread_gph=None,
        spread_interval95_gph=None,
        spread_percent=None,
        u_spread_percent=None,
        spread_at_least_gph=None,
        mean_flow_gph=None,
        budget=(),
        goal_gph=goal,
        probability_within_goal=None,
        verdict="cannot-tell",
        offset_cylinders=(),
        offset_covariance=np.zeros((0, 0)),
        reasons=(),
    )


def _answer(
    offsets: Offsets, drawn: Posterior, missing: Sequence[Limits], stacked: Stack, goal: float
) -> Balance:
    several = len(offsets.cylinders) > 1
    spread = drawn.spread()
    at_least = at_most = spread
    if missing:
        at_least = drawn.spread(low=min(one.high for one in missing), high=max(one.low for one in missing))
        farthest = np.array([one.farthest for one in missing])
        at_most = drawn.spread(low=float(farthest[:, 0].min()), high=float(farthest[:, 1].max()))
    percent = 100.0 * spread / drawn.mean_flow
    within, surely_within = float(np.mean(at_least <= goal)), float(np.mean(at_most <= goal))
    decided = several or within <= _UNEVEN_AT
    shown = several or bool(at_least.max() > 0.0)
    return Balance(
        cylinders=_cylinders(offsets, missing, stacked),
        spread_gph=float(spread.mean()) if several else None,
        u_spread_gph=float(spread.std()) if several else None,
        spread_interval95_gph=_interval(spread) if several else None,
        spread_percent=float(percent.mean()) if several else None,
        u_spread_percent=float(percent.std()) if several else None,
        spread_at_least_gph=float(at_least.mean()) if shown else None,
        mean_flow_gph=float(np.exp(offsets.log_mean_flow)),
        budget=spread_budget(drawn, offsets.parts) if several else (),
        goal_gph=goal,
        probability_within_goal=within if decided else None,
        verdict=_verdict(within, surely_within, agreed=not _disagree(offsets, goal))
        if decided
        else "cannot-tell",
        offset_cylinders=offsets.cylinders,
        offset_covariance=1e4 * offsets.covariance[:-1, :-1],
        reasons=(),
    )


def _verdict(within: float, surely_within: float, *, agreed: bool) -> Verdict:
    """Decide on the chance with the cylinders without a peak at their nearest, and at their farthest."""
    if within <= _UNEVEN_AT:
        return "uneven"
    return "even" if surely_within >= EVEN_AT and agreed else "cannot-tell"


def _disagree(offsets: Offsets, goal: float) -> bool:
    """Whether the sweeps plainly disagree, by something that matters beside the goal."""
    between = float(np.sqrt(offsets.between_variance) * np.exp(offsets.log_mean_flow))
    return offsets.probability < _PLAIN and between > _PLAIN_SHARE * goal


def _interval(spread: Floats) -> tuple[float, float]:
    low, high = np.quantile(spread, (0.025, 0.975))
    return float(low), float(high)


def _cylinders(offsets: Offsets, missing: Sequence[Limits], stacked: Stack) -> tuple[CylinderBalance, ...]:
    flow = np.exp(offsets.log_mean_flow + offsets.offset)
    to_flow = np.hstack([np.eye(flow.size), np.ones((flow.size, 1))])
    u_flow = flow * np.sqrt(np.maximum(np.diag(to_flow @ offsets.covariance @ to_flow.T), 0.0))
    u_offset = np.sqrt(np.maximum(np.diag(offsets.covariance)[:-1], 0.0))
    peaked = [
        CylinderBalance(
            cylinder=number,
            status="peaked",
            fuel_flow_at_peak_gph=float(flow[row]),
            u_fuel_flow_at_peak_gph=float(u_flow[row]),
            offset_percent=100.0 * float(offsets.offset[row]),
            u_offset_percent=100.0 * float(u_offset[row]),
            sweeps_peaked=int(np.sum(stacked.cylinder == number)),
        )
        for row, number in enumerate(offsets.cylinders)
    ]
    others = [_without_peak(one, offsets.log_mean_flow) for one in missing]
    return tuple(sorted([*peaked, *others], key=lambda one: one.cylinder))


def _without_peak(limit: Limits, log_mean_flow: float) -> CylinderBalance:
    low, high = float(np.exp(limit.low + log_mean_flow)), float(np.exp(limit.high + log_mean_flow))
    closed = limit.status == "unclear" and low > 0.0 and high < np.inf
    bound = {"below": high, "above": low}
    return CylinderBalance(
        cylinder=limit.cylinder,
        status=limit.status,
        bound_gph=bound[limit.side] if limit.side else None,
        bound_side=limit.side,
        possible_gph=(low, high) if closed else None,
        reason=limit.reason,
    )
