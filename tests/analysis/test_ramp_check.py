"""The ramp check asks for the first thing that is wanting, and for no more."""

from dataclasses import replace

import numpy as np
import pytest

from leanwright.analysis.balance import Balance, CylinderBalance, Verdict, balance
from leanwright.analysis.peak import BudgetSource, Status
from leanwright.analysis.ramp_check import MOST_MORE, RampCheck, ramp_check
from leanwright.analysis.sweep import Direction, Sweep
from leanwright.findings import Statement
from tests.analysis.made_peaks import made_peaks, made_sweep

Budget = tuple[tuple[BudgetSource, float], ...]


def sweep(direction: Direction) -> Sweep:
    return Sweep(0.0, 90.0, direction, True, None, 22.0, 2300.0, 6500.0)


def answer(
    u: float | None = 0.02, status: Status = "peaked", *codes: str | Statement, verdict: Verdict = "uneven"
) -> Balance:
    reasons = tuple(Statement(code) if isinstance(code, str) else code for code in codes)
    cylinders = tuple(CylinderBalance(n, status if n == 4 else "peaked") for n in range(1, 5))
    return Balance(
        cylinders, None if u is None else 0.9, u, None, None, None, None, 12.0, (), 0.5, 0.0, verdict, (),
        np.empty((0, 0)), reasons,
    )  # fmt: skip


PAIR = (sweep("leaning"), sweep("enriching"))


def test_sweeps_that_agree_and_are_certain_enough_are_good() -> None:
    values = {"spread_gph": 0.9, "u_spread_gph": 0.02, "needed_gph": 0.05}
    assert ramp_check(answer(), PAIR) == RampCheck(True, (Statement("sweeps-good", values),), 0, 0.05)


@pytest.mark.parametrize(
    ("given", "used", "because", "more"),
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
    given: Balance, used: tuple[Sweep, ...], because: Statement, more: int
) -> None:
    check = ramp_check(given, used)
    assert check == RampCheck(False, (Statement("fly-one-more", {"sweeps_more": more}), because), more, 0.05)


@pytest.mark.parametrize(("u", "more"), [(0.0506, 1), (0.07, 2), (0.1, 6), (0.5, MOST_MORE)])
def test_an_uncertain_spread_asks_for_as_many_sweeps_as_the_square_root_law_says(u: float, more: int) -> None:
    because = Statement("because-uncertain", {"u_spread_gph": u, "needed_gph": 0.05})
    assert ramp_check(answer(u), PAIR) == RampCheck(
        False, (Statement("fly-one-more", {"sweeps_more": more}), because), more, 0.05
    )


def test_what_more_sweeps_do_not_shrink_asks_for_none() -> None:
    lasting: Budget = (("unknown-power", 0.8), ("lag", 0.2))
    shared: Budget = (("unknown-power", 0.2), ("lag", 0.8))
    assert ramp_check(replace(answer(0.07), budget=lasting), PAIR).good
    check = ramp_check(replace(answer(0.07), budget=shared), PAIR)
    assert 0.2 * 0.07**2 + 0.8 * 0.07**2 * 2 / (2 + check.sweeps_more) <= 0.05**2
    assert 0.2 * 0.07**2 + 0.8 * 0.07**2 * 2 / (1 + check.sweeps_more) > 0.05**2


OPEN = {"spread_gph": 0.9, "u_spread_gph": 0.03, "goal_gph": 0.5}


def told(check: RampCheck) -> list[str]:
    return [statement.code for statement in check.answer]


@pytest.mark.parametrize("u", [0.0501, 0.0504])
def test_an_uncertainty_written_like_the_one_needed_is_enough(u: float) -> None:
    assert told(ramp_check(answer(u), PAIR)) == ["sweeps-good"]


@pytest.mark.parametrize("more", [1, 4])
def test_an_open_verdict_asks_for_as_many_sweeps_as_the_balance_says(more: int) -> None:
    settle = Statement("more-sweeps-would-settle", {"sweeps_more": more})
    check = ramp_check(answer(0.03, "peaked", settle, verdict="cannot-tell"), PAIR)
    flown = Statement("fly-one-more", {"sweeps_more": more})
    assert check == RampCheck(False, (flown, Statement("because-open", OPEN)), more, 0.05)


def test_sweeps_that_disagree_ask_for_as_many_as_the_balance_says() -> None:
    settle = Statement("more-sweeps-would-settle", {"sweeps_more": 3})
    check = ramp_check(answer(0.1, "peaked", "sweeps-disagree", settle, verdict="cannot-tell"), PAIR)
    assert (check.sweeps_more, told(check)) == (3, ["fly-one-more", "because-sweeps-disagree"])


@pytest.mark.parametrize(("u", "codes"), [(0.03, ["sweeps-good", "close-to-goal"]), (0.2, ["close-to-goal"])])
def test_a_spread_that_sweeps_cannot_tell_from_the_goal_asks_for_none(u: float, codes: list[str]) -> None:
    check = ramp_check(answer(u, "peaked", "close-to-goal", verdict="cannot-tell"), PAIR)
    assert (check.good, check.sweeps_more, told(check)) == (True, 0, codes)


def test_a_dead_probe_that_keeps_the_verdict_open_is_seen_to_first() -> None:
    probes = Statement("see-to-probes", {"cylinders_without_peak": (4,)})
    check = ramp_check(answer(0.02, "no-signal", verdict="cannot-tell"), PAIR)
    assert check == RampCheck(False, (probes,), 0, 0.05)


def test_a_dead_probe_that_changes_no_verdict_asks_for_no_sweep_since_none_would_help() -> None:
    assert ramp_check(answer(0.02, "no-signal"), PAIR).good


@pytest.mark.parametrize("codes", [(), ("sweeps-disagree",)])
def test_an_even_engine_needs_no_more_sweeps(codes: tuple[str, ...]) -> None:
    check = ramp_check(answer(0.08, "peaked", *codes, verdict="even"), PAIR[:1])
    assert check == RampCheck(
        True, (Statement("sweeps-good", {"spread_gph": 0.9, "u_spread_gph": 0.08}),), 0, 0.05
    )


def test_ramp_check_and_balance_ask_for_the_same_sweeps() -> None:
    generator = np.random.default_rng(5)
    for _ in range(60):
        spread, u = generator.uniform(0.2, 0.9), 10.0 ** generator.uniform(-3.3, -2.0)
        flows = [[12.0 + spread / 2.0, 12.0 - spread / 2.0, 12.1, 11.95]] * 2
        sweeps = [made_sweep("leaning"), made_sweep("enriching")]
        peaks = made_peaks(np.array(flows) * np.exp(generator.normal(0.0, u, (2, 4))), u=u, sweeps=sweeps)
        given = balance([peaks])
        check = ramp_check(given, PAIR)
        asked = [one.values["sweeps_more"] for one in given.reasons if one.code == "more-sweeps-would-settle"]
        assert given.verdict != "cannot-tell" or check.sweeps_more == (
            asked[0] if asked else check.sweeps_more
        )
        assert given.verdict != "even" or check.good
        assert not check.good or not asked


def test_the_wider_the_goal_the_less_is_asked() -> None:
    assert ramp_check(replace(answer(0.08), goal_gph=1.0), PAIR).good
