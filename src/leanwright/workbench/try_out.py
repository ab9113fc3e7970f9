"""What if: a person puts nozzles where they like, and sees where that would bring the cylinders."""

from collections.abc import Mapping
from dataclasses import dataclass

from leanwright.analysis.chosen import Chosen
from leanwright.analysis.measured import Measured
from leanwright.analysis.plan_trial import place_name, tried
from leanwright.analysis.planned import Plan, Trial
from leanwright.findings import Statement
from leanwright.workbench.choose import Given, means_of, order_list


@dataclass(frozen=True, slots=True)
class TriedOut:
    """A trial, and the same as a plan, so that it is shown as one."""

    trial: Trial
    chosen: Chosen


def try_out(measured: Measured, given: Given, placed: Mapping[int, str]) -> TriedOut | None:
    """Put nozzles into cylinders by name; ``None`` where there is no spread to try with.

    Raises the error of the file that does not fit the engine, as :func:`leanwright.workbench.choose.choose`.
    """
    means = means_of(measured, given, ())
    trial = tried(measured.balance, means, placed)
    if trial is None:
        return None
    choice, goal = trial.choice, measured.balance.goal_gph
    likely = Statement(
        "trial-likely",
        {
            "predicted_spread_gph": choice.predicted_spread_gph,
            "u_predicted_spread_gph": choice.u_predicted_spread_gph,
            "goal_gph": goal,
            "probability_within_goal": choice.probability_within_goal,
        },
    )
    choices = (trial.leave, choice) if choice.changes else (trial.leave,)
    shown = Plan("change", choice, choices, goal, None, (likely, *trial.told))
    prices = given.aircraft.prices if given.aircraft else None
    currency = prices.currency if prices else ""
    return TriedOut(trial, Chosen(measured, shown, means.response, order_list(choice), currency=currency))


def as_planned(chosen: Chosen) -> dict[int, str]:
    """What a plan puts where, by the names under which a trial is asked for it."""
    best = chosen.plan.chosen
    return {one.cylinder: place_name(one) for one in best.cylinders} if best else {}
