"""The ramp check asks for the first thing that is wanting, and for no more."""

from dataclasses import replace

import numpy as np
import pytest

from leanwright.analysis.balance import Balance, CylinderBalance
from leanwright.analysis.peak import Status
from leanwright.analysis.ramp_check import MOST_MORE, RampCheck, ramp_check
from leanwright.analysis.sweep import Direction, Sweep
from leanwright.findings import Statement


def sweep(direction: Direction) -> Sweep:
    return Sweep(0.0, 90.0, direction, True, None, 22.0, 2300.0, 6500.0)


def answer(u: float | None = 0.02, status: Status = "peaked", *codes: str) -> Balance:
    cylinders = tuple(CylinderBalance(n, status if n == 4 else "peaked") for n in range(1, 5))
    return Balance(
        cylinders, None if u is None else 0.9, u, None, None, None, None, 12.0, (), 0.5, 0.0, "uneven", (),
        np.empty((0, 0)), tuple(Statement(code) for code in codes),
    )  # fmt: skip


PAIR = (sweep("leaning"), sweep("enriching"))


def test_sweeps_that_agree_and_are_certain_enough_are_good() -> None:
    values = {"spread_gph": 0.9, "u_spread_gph": 0.02, "needed_gph": 0.05}
    assert ramp_check(answer(), PAIR) == RampCheck(True, (Statement("sweeps-good", values),), 0, 0.05)


@pytest.mark.parametrize(
    ("balance", "used", "because", "more"),
    [
        (answer(None), (), Statement("because-no-sweep", {"sweeps": 0}), 2),
        (answer(None), PAIR, Statement("because-no-sweep", {"sweeps": 2}), 2),
        (
            answer(0.02, "not-reached"),
            PAIR,
            Statement("because-peaks-missing", {"cylinders_without_peak": (4,)}),
            1,
        ),
        (
            answer(0.02, "unclear"),
            PAIR,
            Statement("because-peaks-missing", {"cylinders_without_peak": (4,)}),
            1,
        ),
        (answer(), PAIR[:1], Statement("because-one-direction", {"direction": "enriching"}), 1),
        (answer(), PAIR[1:], Statement("because-one-direction", {"direction": "leaning"}), 1),
        (answer(0.02, "peaked", "directions-disagree"), PAIR, Statement("because-sweeps-disagree"), 1),
    ],
)
def test_the_first_thing_wanting_decides(
    balance: Balance, used: tuple[Sweep, ...], because: Statement, more: int
) -> None:
    check = ramp_check(balance, used)
    assert check == RampCheck(False, (Statement("fly-one-more", {"sweeps_more": more}), because), more, 0.05)


@pytest.mark.parametrize(("u", "more"), [(0.0501, 1), (0.07, 2), (0.1, 6), (0.5, MOST_MORE)])
def test_an_uncertain_spread_asks_for_as_many_sweeps_as_the_square_root_law_says(u: float, more: int) -> None:
    assert ramp_check(answer(u), PAIR).sweeps_more == more


def test_a_dead_probe_asks_for_no_sweep_since_none_would_help() -> None:
    assert ramp_check(answer(0.02, "no-signal"), PAIR).good


def test_the_wider_the_goal_the_less_is_asked() -> None:
    assert ramp_check(replace(answer(0.08), goal_gph=1.0), PAIR).good
