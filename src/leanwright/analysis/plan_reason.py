"""What there is to say about a plan, in the order a person wants it; ``report`` finds the words."""

from collections.abc import Sequence
from typing import Final

from leanwright.analysis.balance import Balance
from leanwright.analysis.planned import Choice, NextFlight, Suspected
from leanwright.analysis.response import Response
from leanwright.engine.profile import FuelSystem
from leanwright.findings import Statement

_ITS_OWN: Final = 0.5
"""Share of an offset [1] from which a difference between powers is taken as its cause (common practice)."""


def no_spread(balance: Balance) -> Statement:
    """That there is no spread to plan with.

    Parameters
    ----------
    balance : Balance
        The balance.

    Returns
    -------
    Statement
        With the number of cylinders that peaked.
    """
    return Statement("plan-no-spread", {"peaked": len(balance.offset_cylinders)})


def not_injected(fuel_system: FuelSystem) -> Statement:
    """That no nozzle is ordered for this kind of fuel system.

    Parameters
    ----------
    fuel_system : FuelSystem
        The kind.

    Returns
    -------
    Statement
        Naming it.
    """
    return Statement("plan-not-injected", {"fuel_system": fuel_system})


def not_sound(checks: tuple[str, ...]) -> Statement:
    """That a check of the engine's health found something, which comes before any order.

    Parameters
    ----------
    checks : tuple of str
        Which checks.

    Returns
    -------
    Statement
        Naming them.
    """
    return Statement("plan-not-sound", {"checks": checks})


def other_cause(cause: Suspected) -> Statement:
    """That the likeliest cause is no nozzle.

    Parameters
    ----------
    cause : Suspected
        The cause.

    Returns
    -------
    Statement
        Naming it, where it sits, and its probability.
    """
    values = {
        "cause": cause.cause,
        "cylinders_meant": cause.cylinders,
        "cause_probability": cause.probability,
    }
    return Statement("plan-other-cause", values)


def cause_open(cause: Suspected, of_nozzle: float) -> Statement:
    """That a nozzle may be the cause or something else.

    Parameters
    ----------
    cause : Suspected
        The likeliest cause that is no nozzle.
    of_nozzle : float
        Probability that a nozzle is the cause [1].

    Returns
    -------
    Statement
        With both probabilities.
    """
    values = {
        "cause": cause.cause,
        "cylinders_meant": cause.cylinders,
        "cause_probability": cause.probability,
        "nozzle_probability": of_nozzle,
    }
    return Statement("plan-cause-open", values)


def double(cause: Suspected) -> Statement:
    """That a cylinder may get little air, which a smaller nozzle would hide.

    Parameters
    ----------
    cause : Suspected
        The cause.

    Returns
    -------
    Statement
        With the cylinder and the probability.
    """
    return _of_cause("plan-little-air", cause)


def exchange_first(cause: Suspected) -> Statement:
    """That two nozzles may sit in each other's place, which costs nothing to try.

    Parameters
    ----------
    cause : Suspected
        The cause.

    Returns
    -------
    Statement
        With both cylinders and the probability.
    """
    return _of_cause("plan-exchange-first", cause)


def _of_cause(code: str, cause: Suspected) -> Statement:
    """A statement of a cause at its cylinders, with its probability."""
    return Statement(code, {"cylinders_meant": cause.cylinders, "cause_probability": cause.probability})


def differs_with_power(balance: Balance) -> tuple[Statement, ...]:
    """That an offset changes with power by so much that a nozzle cannot be its cause.

    Parameters
    ----------
    balance : Balance
        The balance.

    Returns
    -------
    tuple of Statement
        None where no offset does.
    """
    offset = {one.cylinder: one.offset_percent for one in balance.cylinders}
    told = []
    for one in balance.reasons:
        if one.code == "offsets-differ-between-powers":
            difference, number = one.values.get("difference_percent"), one.values.get("cylinder")
            own = offset.get(number) if isinstance(number, int) else None
            if isinstance(difference, float) and abs(difference) >= _ITS_OWN * abs(own or 0.0):
                told.append(Statement("plan-differs-with-power", dict(one.values)))
    return tuple(told)


def missing(cylinders: tuple[int, ...]) -> Statement:
    """That some cylinders gave no peak.

    Parameters
    ----------
    cylinders : tuple of int
        Their numbers [1].

    Returns
    -------
    Statement
        Naming them.
    """
    return Statement("plan-missing-peaks", {"cylinders_without_peak": cylinders})


def fly_more(balance: Balance, flight: NextFlight) -> Statement:
    """That another flight is worth more than a part.

    Parameters
    ----------
    balance : Balance
        The balance.
    flight : NextFlight
        What it would give.

    Returns
    -------
    Statement
        With the number of sweeps and the uncertainty now and then [gal/h].
    """
    values = {
        "sweeps_more": flight.sweeps,
        "u_now_gph": balance.u_spread_gph,
        "u_then_gph": flight.expected_u_spread_gph,
    }
    return Statement("plan-fly-more", values)


def two_have_to_agree(sweeps: int, split: tuple[int, ...]) -> Statement:
    """That no order is given unless two sweeps agree.

    Parameters
    ----------
    sweeps : int
        Sweeps there are [1].
    split : tuple of int
        Cylinders on which no two agree [1].

    Returns
    -------
    Statement
        One for a single sweep, another where they disagree.
    """
    if sweeps < 2:
        return Statement("plan-one-sweep", {})
    return Statement("plan-sweeps-disagree", {"cylinders_meant": split})


def leave_even(leave: Choice, goal_gph: float) -> Statement:
    """That the cylinders are likely enough within the goal as they are.

    Parameters
    ----------
    leave : Choice
        To leave them.
    goal_gph : float
        The goal [gal/h].

    Returns
    -------
    Statement
        With the chance.
    """
    values = {"probability_within_goal": leave.probability_within_goal, "goal_gph": goal_gph}
    return Statement("plan-leave-even", values)


def none_helps(named: bool) -> Statement:  # noqa: FBT001  the one thing that the sentence depends on
    """That no nozzle which is allowed and can be had helps.

    Parameters
    ----------
    named : bool
        Whether a set or a shelf was named.

    Returns
    -------
    Statement
        The reason.
    """
    return Statement("plan-none-helps" if named else "plan-no-step-helps", {})


def within_noise(best: Choice) -> Statement:
    """That what a change would gain lies within the noise.

    Parameters
    ----------
    best : Choice
        The best change.

    Returns
    -------
    Statement
        With the chance that it would be better at all.
    """
    return Statement("plan-within-noise", {"better_probability": best.probability_better})


def change(
    best: Choice, made: Sequence[Choice], balance: Balance, response: Response, *, fitted_assumed: bool
) -> tuple[Statement, ...]:
    """What to say of the change that is recommended.

    Parameters
    ----------
    best : Choice
        The change.
    made : sequence of Choice
        All choices.
    balance : Balance
        The balance.
    response : Response
        The engine's response as far as it was learned.
    fitted_assumed : bool
        Whether nothing is known of the nozzles fitted.

    Returns
    -------
    tuple of Statement
        The change, what it brings, what is lost by doing less, pay-back, and what it takes for granted.
    """
    values: dict[str, object] = {
        "changes": best.changes,
        "cylinders_changed": best.changed,
        "probability_within_goal": best.probability_within_goal,
    }
    told = [Statement("plan-exchange" if best.kind == "exchange" else "plan-change", values)]
    told.append(
        Statement(
            "plan-predicted",
            {
                "predicted_spread_gph": best.predicted_spread_gph,
                "u_predicted_spread_gph": best.u_predicted_spread_gph,
                "spread_gph": balance.spread_gph,
                "total_flow_change_percent": best.total_flow_change_percent,
                "leanest_change_percent": best.leanest_at_full_power_change_percent,
            },
        )
    )
    less = [one for one in made if one.kind != "exchange" and one.changes < best.changes]
    if less and best.kind != "exchange":
        one = less[-1]
        values = {
            "changes": one.changes,
            "probability_within_goal": one.probability_within_goal,
            "predicted_spread_gph": one.predicted_spread_gph,
        }
        told.append(Statement("plan-doing-less", values))
    if best.payback is not None:
        low, high = best.payback.hours_interval95
        told.append(
            Statement(
                "plan-pays-back" if best.payback.hours is not None else "plan-never-pays-back",
                {
                    "hours": best.payback.hours,
                    "hours_low": low,
                    "hours_high": high,
                    "saving_gph": best.payback.saving_gph,
                },
            )
        )
    if response.rounds:
        values = {
            "came_percent": 100.0 * response.factor,
            "u_came_percent": 100.0 * response.u_factor,
            "rounds": response.rounds,
        }
        told.append(Statement("plan-learned", values))
    if fitted_assumed:
        told.append(Statement("plan-fitted-assumed", {}))
    return tuple(told)
