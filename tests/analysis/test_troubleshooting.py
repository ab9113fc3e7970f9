"""Which test comes next: by hand on a small case, and against exact dynamic programming."""

from math import isclose

import numpy as np
import pytest

from leanwright.analysis.troubleshooting import (
    TESTS,
    Search,
    Trial,
    best_policy_cost,
    entropy,
    exact_cost,
    listed_cost,
    ranked,
)

CHEAP = Trial("leak-check", 1.0, ({"intake-leak": 1.0, "nozzle-size": 0.0},))
DEAR = Trial("part", 6.0, ({"intake-leak": 0.0, "nozzle-size": 1.0},))


def test_a_perfect_cheap_test_settles_two_causes_at_its_own_cost() -> None:
    search = Search(tests=(DEAR, CHEAP), not_found=8.0)
    best = ranked({"nozzle-size": 0.5, "intake-leak": 0.5}, search)
    assert [one.name for one in best] == ["leak-check", "part"]
    assert isclose(best[0].information_bits, 1.0, abs_tol=1e-6)
    assert isclose(best[0].expected_cost, 1.0, abs_tol=1e-6)
    assert isclose(exact_cost({"nozzle-size": 0.5, "intake-leak": 0.5}, search), 1.0, abs_tol=1e-6)


def test_the_owners_costs_turn_the_order() -> None:
    turned = Search(tests=(Trial("leak-check", 7.0, CHEAP.outcomes), Trial("part", 2.0, DEAR.outcomes)))
    assert ranked({"nozzle-size": 0.5, "intake-leak": 0.5}, turned)[0].name == "part"


def test_an_imperfect_test_worked_by_hand() -> None:
    """Detects a leak 9 times of 10 and never speaks falsely; equal chances. Positive: sure. Negative: 1 in 11 a leak."""
    outcomes = ({"intake-leak": 0.9, "nozzle-size": 0.0},)
    search = Search(tests=(Trial("leak-check", 1.0, outcomes),), sure=0.95, not_found=8.0)
    # 0.45 found at 1 h; 0.55 left at 10/11 = 0.909 < 0.95 with no test left.
    expected = 1.0 + 0.55 * 8.0
    assert isclose(exact_cost({"intake-leak": 0.5, "nozzle-size": 0.5}, search), expected, rel_tol=1e-6)


def test_a_sure_cause_needs_no_test() -> None:
    assert ranked({"nozzle-size": 0.97, "intake-leak": 0.03}, Search()) == ()


def test_entropy_of_even_chances_is_the_number_of_bits() -> None:
    assert isclose(entropy([0.25] * 4), 2.0)


def test_a_test_that_tells_nothing_is_left_out() -> None:
    named = {one.name for one in ranked({"nozzle-size": 0.5, "nozzle-blocked": 0.5}, Search())}
    assert "compression" not in named
    assert "clean-and-fly" in named


@pytest.mark.parametrize("seed", [1, 2])
def test_mean_cost_is_near_that_of_exact_dynamic_programming(seed: int) -> None:
    rng = np.random.default_rng(seed)
    kinds = ["nozzle-size", "nozzle-blocked", "intake-leak", "plug-dead", "low-airflow", "probe-slow"]
    search = Search(tests=TESTS[:7])
    costs = []
    for _ in range(6):
        some = rng.choice(kinds, 3, replace=False).tolist()
        chances = dict(zip(some, rng.dirichlet(np.full(3, 1.5)).tolist(), strict=True))
        costs.append([way(chances, search) for way in (best_policy_cost, exact_cost, listed_cost)])
    ours, exact, as_listed = np.mean(costs, axis=0)
    assert exact <= ours <= 1.15 * exact
    assert ours <= 0.6 * as_listed
