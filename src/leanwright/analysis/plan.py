"""From a balance to a decision: what to change, or to leave it, to fly more, to look elsewhere."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from leanwright.analysis import plan_reason as say
from leanwright.analysis.balance import Balance
from leanwright.analysis.payback import Prices
from leanwright.analysis.peak import Peaks
from leanwright.analysis.plan_chance import draws
from leanwright.analysis.plan_choice import ENOUGH, Bench, choices, judged, recommended
from leanwright.analysis.plan_search import Problem, options_at
from leanwright.analysis.plan_sweeps import (
    FIRST_FLIGHT,
    MOST_SWEEPS,
    disagreeing,
    next_flight,
    surer,
    sweeps_to_settle,
    sweeps_used,
)
from leanwright.analysis.planned import Choice, Plan, Suspected
from leanwright.analysis.response import AS_PROMISED, Response
from leanwright.engine.nozzles import Available, Fitted, flow_factors
from leanwright.engine.profile import FuelSystem
from leanwright.findings import Statement

NOZZLE_CAUSES: Final = frozenset({"nozzle-size", "nozzle-blocked", "nozzles-exchanged"})
BAND: Final = 0.01
"""How far the sum of the flow coefficients may move [1]: full-power flow and metered pressure stay."""
_LIKELIER_EVEN: Final = 0.2
"""Below this chance of being within the goal [1] a part is worth more than another flight, if it is likely to do."""
_WORTH_A_FLIGHT: Final = 0.1
"""Gain of chance [1] that makes another flight worth more than a part."""
_POOR: Final = 0.25
"""Uncertainty of the spread over the goal [1] from which a measurement is poor (common practice)."""
_LIKELY: Final = 0.5
"""Chance [1] from which a cause that is no nozzle comes first."""
_RIVAL: Final = 0.35
_RIVAL_SHARE: Final = 0.7
"""A cause that is no nozzle and at least so likely [1], and so likely against a nozzle at the same cylinders [1], has
to be told apart first."""
_MENTIONED: Final = 0.1
"""Chance [1] from which a double of a nozzle's fault is said beside an order."""
_DOUBLES: Final = frozenset({"low-airflow"})
"""Causes that no flight tells from a nozzle's size, but a check on the ground does: said beside an order."""
_DOUBLE_STOPS: Final = 0.7
"""Chance [1] from which such a double stops an order."""
_SURELY_BETTER: Final = 0.9
"""Chance of being better at all [1] from which the best choice is advised although it is not likely to be enough."""


@dataclass(frozen=True, slots=True)
class Means:
    """What can be done: the nozzles fitted, those to be had, and what is known besides.

    ``fitted`` is the nozzle of each cylinder; one that is not named is the standard nozzle, and ``fitted_assumed`` tells
    that nothing at all is known of them. ``to_be_had``
    is ``None`` where no set and no shelf is named: flow factors are planned in steps of 1 percent. ``not_sound`` are
    checks of the engine's health that found something: that is put right before any order.
    """

    fitted: tuple[Fitted, ...] = ()
    to_be_had: tuple[Available, ...] | None = None
    causes: tuple[Suspected, ...] = ()
    fuel_system: FuelSystem = "injected"
    response: Response = AS_PROMISED
    prices: Prices | None = None
    not_sound: tuple[str, ...] = ()
    fitted_assumed: bool = False


_NO_MEANS: Final = Means()


def plan(balance: Balance, peaks: Sequence[Peaks], means: Means = _NO_MEANS) -> Plan:
    """Choose the fewest changes that are likely enough to bring the cylinders within the goal.

    Parameters
    ----------
    balance : Balance
        How even the cylinders are.
    peaks : sequence of Peaks
        The sweeps that it rests on: no order is given unless two of them agree.
    means : Means
        What can be done.

    Returns
    -------
    Plan
        The decision with its choices and reasons.
    """
    if balance.spread_gph is None or len(balance.offset_cylinders) < 2:
        return _nothing_to_plan_with(balance, sweeps_used(peaks))
    bench = bench_of(balance, means)
    leave = judged(bench, "leave", bench.leave)
    refused = _not_a_nozzle(balance, means, leave) or _without_an_order(balance, peaks, leave)
    if refused is not None:
        return refused
    return _decide(bench, peaks, means)


def _nothing_to_plan_with(balance: Balance, sweeps: int) -> Plan:
    mixed = tuple(one for one in balance.reasons if one.code.startswith("mixed-engines"))
    if mixed:
        return Plan("leave", None, (), balance.goal_gph, None, mixed)
    why = tuple(one for one in balance.reasons if not one.code.startswith("verdict-"))
    flight = next_flight(balance, sweeps, FIRST_FLIGHT)
    return Plan("fly-more", None, (), balance.goal_gph, flight, (say.no_spread(balance), *why))


def bench_of(balance: Balance, means: Means) -> Bench:
    """All that choices are made and judged with.

    Parameters
    ----------
    balance : Balance
        With at least two cylinders that peaked.
    means : Means
        What can be done.

    Returns
    -------
    Bench
        The engine, what may be done at each cylinder, and the draws.
    """
    by_number = {one.cylinder: one for one in means.fitted}
    numbers = balance.offset_cylinders
    rows = [by_number.get(number) or Fitted(number) for number in numbers]
    relative = means.to_be_had is None
    to_be_had = flow_factors(frozenset(numbers)) if means.to_be_had is None else means.to_be_had
    options, quantity = options_at(rows, to_be_had, relative=relative)
    drawn = draws(balance, means.response)
    flows = {one.cylinder: one.fuel_flow_at_peak_gph for one in balance.cylinders}
    everybody = [
        by_number[number].flow if number in by_number else 1.0
        for number in (one.cylinder for one in balance.cylinders)
    ]
    problem = Problem(
        likely=drawn.offset.mean(axis=1),
        measured=np.log([flows[number] or 1.0 for number in numbers]),
        coefficient=np.array([one.flow for one in rows]) / sum(everybody),
        options=options,
        quantity=quantity,
        response=means.response.factor,
        band=BAND,
        others=1.0 - sum(one.flow for one in rows) / sum(everybody),
    )
    return Bench(balance, problem, drawn, drawn.few(), means.prices)


_APART: Final = ("sweeps-disagree", "recordings-differ")
"""Why "even" is withheld although the mean of all sweeps would be."""


def _not_a_nozzle(balance: Balance, means: Means, leave: Choice) -> Plan | None:
    """Where the cause is not a nozzle, or none may be ordered for this kind of fuel system."""
    if leave.probability_within_goal >= ENOUGH and balance.verdict != "uneven":
        return None  # there is nothing to look for
    why: tuple[Statement, ...] = ()
    if means.fuel_system != "injected":
        why = (say.not_injected(means.fuel_system),)
    elif means.not_sound:
        why = (say.not_sound(means.not_sound),)
    else:
        likeliest = _likeliest_other(balance, means.causes)
        of_nozzle = 0.0 if likeliest is None else _nozzle_at(likeliest.cylinders, means.causes)
        stops = _DOUBLE_STOPS if likeliest is not None and likeliest.cause in _DOUBLES else _LIKELY
        if likeliest is not None and likeliest.probability >= stops and likeliest.probability > of_nozzle:
            why = (say.other_cause(likeliest),)
        elif (
            likeliest is not None
            and likeliest.cylinders
            and likeliest.cause not in _DOUBLES
            and likeliest.probability >= max(_RIVAL, _RIVAL_SHARE * of_nozzle)
        ):
            why = (say.cause_open(likeliest, of_nozzle),)
        elif not means.causes:
            why = say.differs_with_power(balance)
    if not why:
        return None
    return Plan("look-elsewhere", leave, (leave,), balance.goal_gph, None, why)


def _likeliest_other(balance: Balance, causes: Sequence[Suspected]) -> Suspected | None:
    """The likeliest cause that is no nozzle, of those that concern all cylinders or one that sticks out.

    One that is nearly certain counts wherever it sits: it is put right before any order.
    """
    mean = balance.mean_flow_gph or 0.0
    out = {
        one.cylinder
        for one in balance.cylinders
        if one.fuel_flow_at_peak_gph is not None
        and abs(one.fuel_flow_at_peak_gph - mean) > balance.goal_gph / 2.0
    }
    others = [
        one
        for one in causes
        if one.cause not in NOZZLE_CAUSES
        and one.cause != "none"
        and (not one.cylinders or out & set(one.cylinders) or one.probability >= ENOUGH)
    ]
    return max(others, key=lambda one: one.probability, default=None)


def _nozzle_at(cylinders: tuple[int, ...], causes: Sequence[Suspected]) -> float:
    """Chance that a nozzle is the cause at some cylinders, whichever way; at any where none is named."""
    return min(
        1.0,
        sum(
            one.probability
            for one in causes
            if one.cause in NOZZLE_CAUSES and (not cylinders or set(cylinders) & set(one.cylinders))
        ),
    )


def _without_an_order(balance: Balance, peaks: Sequence[Peaks], leave: Choice) -> Plan | None:
    """Where nothing needs to be changed, or not enough is known to change anything."""
    sweeps = sweeps_used(peaks)
    missing = tuple(one.cylinder for one in balance.cylinders if one.status != "peaked")
    if missing and balance.verdict != "even":
        flight = next_flight(balance, sweeps, max(FIRST_FLIGHT - sweeps, 2))
        why = (say.fly_more(balance, flight), say.missing(missing))
        return Plan("fly-more", leave, (leave,), balance.goal_gph, flight, why)
    apart = tuple(one for one in balance.reasons if one.code in _APART)
    if leave.probability_within_goal >= ENOUGH and balance.verdict == "cannot-tell" and apart:
        flight = next_flight(balance, sweeps, 1)
        said = (say.fly_more(balance, flight), *apart)
        return Plan("fly-more", leave, (leave,), balance.goal_gph, flight, said)
    if leave.probability_within_goal >= ENOUGH:
        return Plan(
            "leave", leave, (leave,), balance.goal_gph, None, (say.leave_even(leave, balance.goal_gph),)
        )
    return None


def _decide(bench: Bench, peaks: Sequence[Peaks], means: Means) -> Plan:
    balance, sweeps = bench.balance, sweeps_used(peaks)
    made = choices(bench)
    leave, best = made[0], recommended(made)
    more = sweeps_to_settle(balance, sweeps)
    if more is None and (balance.u_spread_gph or 0.0) > _POOR * balance.goal_gph:
        more = MOST_SWEEPS  # they may not settle it, but nothing can be decided on so poor a measurement
    if best is None:
        if more is not None and balance.verdict == "cannot-tell":
            return _fly(bench, made, sweeps, more)
        return Plan(
            "leave", leave, made, balance.goal_gph, None, (say.none_helps(means.to_be_had is not None),)
        )
    split = disagreeing(balance, peaks, best)
    if split or sweeps < 2:
        return _fly(bench, made, sweeps, max(FIRST_FLIGHT - sweeps, 2), say.two_have_to_agree(sweeps, split))
    enough = best.probability_within_goal >= ENOUGH
    unsettled = leave.probability_within_goal > (_LIKELIER_EVEN if enough else 0.05)
    if unsettled and more is not None:
        return _fly(bench, made, sweeps, more)
    if enough:
        return _change(bench, made, best, means)
    worth = _flight_worth_more(bench, best, sweeps)
    if worth is not None:
        return _fly(bench, made, sweeps, worth)
    if best.probability_better >= _SURELY_BETTER:
        return _change(bench, made, best, means)
    return Plan("leave", leave, made, balance.goal_gph, None, (say.within_noise(best),))


def _fly(bench: Bench, made: Sequence[Choice], sweeps: int, more: int, *why: Statement) -> Plan:
    flight = next_flight(bench.balance, sweeps, more)
    reasons = (say.fly_more(bench.balance, flight), *why)
    return Plan("fly-more", made[0], tuple(made), bench.balance.goal_gph, flight, reasons)


def _change(bench: Bench, made: Sequence[Choice], best: Choice, means: Means) -> Plan:
    reasons = say.change(best, made, bench.balance, means.response, fitted_assumed=means.fitted_assumed)
    doubles = tuple(one for one in means.causes if one.cause in _DOUBLES and one.probability >= _MENTIONED)
    exchanged = tuple(
        one
        for one in means.causes
        if one.cause == "nozzles-exchanged"
        and one.cylinders
        and one.probability >= _MENTIONED
        and set(one.cylinders) <= set(best.changed)
    )
    reasons = (*reasons, *(say.exchange_first(one) for one in exchanged if best.kind != "exchange"))
    reasons = (*reasons, *(say.double(one) for one in doubles if set(one.cylinders) & set(best.changed)))
    return Plan("change", best, tuple(made), bench.balance.goal_gph, None, reasons)


def _flight_worth_more(bench: Bench, best: Choice, sweeps: int) -> int | None:
    """How many more sweeps would let an order be likelier to do; ``None`` if none would by enough."""
    for more in (2, 4, MOST_SWEEPS):
        drawn = surer(bench.drawn, sweeps, more)
        then = recommended(choices(replace(bench, drawn=drawn, few=drawn.few(), prices=None)))
        gain = (then.probability_within_goal if then else 0.0) - best.probability_within_goal
        if then is not None and gain >= _WORTH_A_FLIGHT and then.probability_within_goal >= ENOUGH:
            return more
    return None
