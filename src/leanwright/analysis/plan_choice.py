"""The choices there are: leave it, exchange, one change, two changes and so on, each drawn to see how it comes out."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.balance import Balance
from leanwright.analysis.payback import Prices, payback
from leanwright.analysis.plan_chance import Draws, highest_after, offsets_after, spread_after
from leanwright.analysis.plan_search import Option, Problem, closest
from leanwright.analysis.planned import Choice, Kind, PlannedCylinder

Floats = NDArray[np.float64]

ENOUGH: Final = 0.9
"""Chance of being within the goal that is good enough for an order (common practice)."""
_COMPARED: Final = 64
"""How many of the closest choices are compared by their chance."""
_FINALISTS: Final = 4
_SAME_CHANCE: Final = 0.005
"""Chances nearer than this are alike: then fewer parts decide, then the smaller spread."""


@dataclass(frozen=True, slots=True, eq=False)
class Bench:
    """All that choices are made and judged with."""

    balance: Balance
    problem: Problem
    drawn: Draws
    few: Draws
    prices: Prices | None = None

    @property
    def leave(self) -> tuple[Option, ...]:
        """The option of leaving every nozzle where it is."""
        return tuple(options[0] for options in self.problem.options)


def choices(bench: Bench) -> tuple[Choice, ...]:
    """The choices in their order; those that gain nothing over a smaller one are left out.

    Parameters
    ----------
    bench : Bench
        The engine, what can be had, and the draws.

    Returns
    -------
    tuple of Choice
        Leave it; exchange what is fitted; one change, two, ... until one more than is enough.
    """
    made = [judged(bench, "leave", bench.leave)]
    exchanged = _best_exchange(bench)
    if exchanged is not None and gains(exchanged, made):
        made.append(exchanged)
    enough = False
    for changes in range(1, bench.problem.likely.size + 1):
        best = _best(bench, bench.problem, changes, "change")
        if best is not None and gains(best, made):
            made.append(best)
            if enough:
                break
        enough = enough or any(one.probability_within_goal >= ENOUGH for one in made[1:])
    return tuple(made)


def recommended(made: Sequence[Choice]) -> Choice | None:
    """The first choice that is likely enough to do; else the best of them, for its chance and then its spread.

    Parameters
    ----------
    made : sequence of Choice
        In the order of :func:`choices`.

    Returns
    -------
    Choice or None
        ``None`` if there is nothing but to leave it.
    """
    for one in made[1:]:
        if one.probability_within_goal >= ENOUGH:
            return one
    return min(
        made[1:],
        key=lambda one: (-round(one.probability_within_goal, 2), one.predicted_spread_gph),
        default=None,
    )


def gains(new: Choice, made: Sequence[Choice]) -> bool:
    """Whether a choice does better than those before it, which are less work.

    Parameters
    ----------
    new : Choice
        The choice.
    made : sequence of Choice
        Those before it.

    Returns
    -------
    bool
        True if its chance is higher, or its spread smaller where its chance is no lower.
    """
    best = max(one.probability_within_goal for one in made)
    least = min(one.predicted_spread_gph for one in made)
    return new.probability_within_goal > best + _SAME_CHANCE or (
        new.predicted_spread_gph < least and new.probability_within_goal > best - _SAME_CHANCE
    )


def judged(bench: Bench, kind: Kind, chosen: Sequence[Option]) -> Choice:
    """How a choice comes out, drawn in full.

    Parameters
    ----------
    bench : Bench
        The engine and the draws.
    kind : Kind
        What kind of choice it is.
    chosen : sequence of Option
        What is done at each position.

    Returns
    -------
    Choice
        With all its numbers.
    """
    factor = np.array([option.factor for option in chosen])
    total = 1.0 + float(np.sum(bench.problem.coefficient * (factor - 1.0)))
    spread = spread_after(bench.drawn, chosen, total)
    now = spread_after(bench.drawn, bench.leave, 1.0)
    offset = 100.0 * offsets_after(bench.drawn, chosen)
    leanest = (
        float(np.max(bench.problem.measured - np.log(factor))) + np.log(total) - bench.problem.measured.max()
    )
    made = Choice(
        kind=kind,
        changes=sum(option.origin != "keep" for option in chosen),
        parts=sum(option.origin == "order" for option in chosen),
        cylinders=_cylinders(bench, chosen, offset),
        predicted_spread_gph=float(spread.mean()),
        u_predicted_spread_gph=float(spread.std()),
        predicted_interval95_gph=(float(np.quantile(spread, 0.025)), float(np.quantile(spread, 0.975))),
        probability_within_goal=float(np.mean(spread <= bench.balance.goal_gph)),
        probability_better=float(np.mean(spread < now)),
        total_flow_change_percent=100.0 * (total - 1.0),
        leanest_at_full_power_change_percent=100.0 * float(leanest),
    )
    if bench.prices is None:
        return made
    highest = highest_after(bench.drawn, bench.leave, 1.0), highest_after(bench.drawn, chosen, total)
    return replace(made, payback=payback(*highest, bench.prices, parts=made.parts, positions=made.changes))


def _cylinders(bench: Bench, chosen: Sequence[Option], offset: Floats) -> tuple[PlannedCylinder, ...]:
    numbers = bench.balance.offset_cylinders
    planned = {
        number: PlannedCylinder(
            number,
            option.factor,
            100.0 * float(np.hypot(option.tolerance.u, option.before.u)),
            option.marking,
            option.origin,
            None if option.from_row is None else numbers[option.from_row],
            float(offset[row].mean()),
            float(offset[row].std()),
        )
        for row, (number, option) in enumerate(zip(numbers, chosen, strict=True))
    }
    return tuple(
        planned.get(one.cylinder) or PlannedCylinder(one.cylinder) for one in bench.balance.cylinders
    )


def _best(bench: Bench, problem: Problem, changes: int, kind: Kind) -> Choice | None:
    """The best choice of so many changes: for its chance first, then for parts, then for its spread."""
    found = closest(problem, changes, _COMPARED)
    if not found:
        return None
    options = [tuple(rows[place] for rows, place in zip(problem.options, one, strict=True)) for one in found]
    coarse = [_coarse(bench, one) for one in options]
    best = max(chance for chance, _ in coarse)
    alike = [place for place, (chance, _) in enumerate(coarse) if chance >= best - 2.0 * _SAME_CHANCE]
    alike.sort(key=lambda place: (sum(one.origin == "order" for one in options[place]), coarse[place][1]))
    finalists = [judged(bench, kind, options[place]) for place in alike[:_FINALISTS]]
    best = max(one.probability_within_goal for one in finalists)
    good = [one for one in finalists if one.probability_within_goal >= best - _SAME_CHANCE]
    return min(good, key=lambda one: (one.parts, one.predicted_spread_gph))


def _coarse(bench: Bench, chosen: Sequence[Option]) -> tuple[float, float]:
    """Chance and spread [gal/h] from a few draws."""
    total = 1.0 + float(
        sum(c * (one.factor - 1.0) for c, one in zip(bench.problem.coefficient, chosen, strict=True))
    )
    spread = spread_after(bench.few, chosen, total)
    return float(np.mean(spread <= bench.balance.goal_gph)), float(spread.mean())


def _best_exchange(bench: Bench) -> Choice | None:
    """The best assignment of the nozzles that are fitted to the positions that their rules allow."""
    options = tuple(
        tuple(one for one in row if one.origin in {"keep", "exchange"}) for row in bench.problem.options
    )
    if not any(len(row) > 1 for row in options):
        return None
    problem = replace(bench.problem, options=options)
    made = [
        best
        for changes in range(2, problem.likely.size + 1)
        if (best := _best(bench, problem, changes, "exchange")) is not None
    ]
    if not made:
        return None
    enough = [one for one in made if one.probability_within_goal >= ENOUGH]
    return (
        enough[0]
        if enough
        else min(made, key=lambda one: (-round(one.probability_within_goal, 2), one.predicted_spread_gph))
    )
