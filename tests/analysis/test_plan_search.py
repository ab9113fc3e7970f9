"""Choices of nozzles, compared with looking at every one of them."""

import itertools
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linear_sum_assignment, milp

from leanwright.analysis.plan_search import Problem, closest, options_at
from leanwright.engine.nozzles import EXACT, Available, Fitted, flow_factors

Floats = NDArray[np.float64]


def problem(
    offsets: list[float], to_be_had: tuple[Available, ...], *, relative: bool = True, **fitted: float
) -> Problem:
    likely = np.array(offsets) - np.mean(offsets)
    everywhere = frozenset(range(1, likely.size + 1))
    rows = [
        Fitted(number, flow=fitted.get(f"c{number}", 1.0), cylinders=everywhere if fitted else frozenset())
        for number in sorted(everywhere)
    ]
    options, quantity = options_at(rows, to_be_had, relative=relative)
    share = np.array([one.flow for one in rows])
    return Problem(likely, likely, share / share.sum(), options, quantity)


def judged(of: Problem, choice: tuple[int, ...]) -> tuple[float, int, float, float]:
    """Range, changes, sum of coefficients and change of the leanest of a choice, straight from the definitions."""
    factor = np.array([rows[place].factor for rows, place in zip(of.options, choice, strict=True)])
    total = float(np.sum(of.coefficient * factor))
    after = of.measured + np.log(total) - np.log(factor)
    spread = float(np.ptp(of.likely - np.log(factor)))
    return spread, sum(place > 0 for place in choice), total, float(after.max() - of.measured.max())


def allowed(of: Problem, choice: tuple[int, ...]) -> bool:
    _, _, total, leaner = judged(of, choice)
    kinds = [rows[place].kind for rows, place in zip(of.options, choice, strict=True)]
    in_stock = all(kinds.count(kind) <= count for kind, count in enumerate(of.quantity) if count >= 0)
    return abs(total - 1.0) <= of.band + 1e-9 and leaner <= 1e-9 and in_stock


def by_force(of: Problem, changes: int) -> float | None:
    """Smallest range of all choices, each looked at; none if no choice is better than to leave it."""
    every = itertools.product(*(range(len(rows)) for rows in of.options))
    ranges = [
        judged(of, choice)[0]
        for choice in every
        if sum(place > 0 for place in choice) == changes and allowed(of, choice)
    ]
    best = min(ranges, default=np.inf)
    return best if best <= of.range_now + 1e-12 else None


@given(
    st.lists(st.floats(-0.06, 0.06), min_size=4, max_size=4),
    st.sampled_from([1.0, 2.5, 4.0]),
    st.integers(1, 4),
)
@settings(max_examples=60, deadline=None)
def test_the_choice_is_the_best_of_all(offsets: list[float], step: float, changes: int) -> None:
    of = problem(offsets, flow_factors(frozenset(range(1, 5)), step_percent=step, most=2))
    found = closest(of, changes, 8)
    best = by_force(of, changes)
    if best is None:
        assert found == []
        return
    assert all(allowed(of, choice) and judged(of, choice)[1] == changes for choice in found)
    assert judged(of, found[0])[0] == pytest.approx(best, abs=1e-9)


@given(
    st.lists(st.floats(-0.05, 0.05), min_size=4, max_size=4),
    st.integers(1, 4),
    st.randoms(use_true_random=False),
)
@settings(max_examples=40, deadline=None)
def test_rules_stock_and_exchange_are_kept_in_the_best_choice(
    offsets: list[float], changes: int, random: object
) -> None:
    draw = random.sample  # type: ignore[attr-defined]  # hypothesis hands over a random.Random
    to_be_had = tuple(
        Available(f"N{size}", flow, EXACT, frozenset(draw(range(1, 5), 3)), 1 if size % 2 else None)
        for size, flow in enumerate([0.95, 0.98, 1.02, 1.05])
    )
    of = problem(offsets, to_be_had, relative=False, c1=1.0, c2=1.03, c3=0.97, c4=1.0)
    found, best = closest(of, changes, 8), by_force(of, changes)
    assert (not found) if best is None else judged(of, found[0])[0] == pytest.approx(best, abs=1e-9)
    for choice in found:
        assert allowed(of, choice)
        for row, place in enumerate(choice):
            option = of.options[row][place]
            if option.origin == "order":
                named = next(one for one in to_be_had if one.marking == option.marking)
                assert row + 1 in named.cylinders


def test_an_exchange_is_the_assignment_that_a_library_finds() -> None:
    # The nozzles are right but stand at the wrong cylinders: scipy's assignment with the squared distance from even
    # puts each where it belongs; a perfect assignment has cost 0 and is unique.
    flows = np.array([0.96, 0.98, 1.0, 1.01, 1.02, 1.03])
    stands = np.array([3, 5, 0, 2, 1, 4])
    right = np.log(flows / flows.mean())
    likely = right - np.log(flows[stands])  # F* of cylinder i goes with its air over its nozzle
    cost = (right[:, None] - np.log(flows)[None, :]) ** 2
    _, wanted = linear_sum_assignment(cost - cost.min())
    of = problem(likely.tolist(), (), relative=False, **{f"c{i + 1}": flows[n] for i, n in enumerate(stands)})
    moved = int(np.sum(stands != wanted))
    best = closest(of, moved, 1)[0]
    rows = [of.options[row][place] for row, place in enumerate(best)]
    came_from = [
        stands[one.from_row] if one.from_row is not None else stands[row] for row, one in enumerate(rows)
    ]
    assert came_from == wanted.tolist()
    assert judged(of, best)[0] == pytest.approx(0.0, abs=1e-12)


def by_library(of: Problem, changes: int) -> float:
    """The same by a mixed-integer programme (HiGHS): minimise top less bottom over one option for each cylinder."""
    place = [(row, option) for row, rows in enumerate(of.options) for option in range(len(rows))]
    count, size = len(of.options), len(place)
    value = np.array([of.likely[r] - np.log(of.options[r][o].factor) for r, o in place])
    factor = np.array([of.options[r][o].factor for r, o in place])
    share = np.array([of.coefficient[r] for r, _ in place]) * factor
    one = np.array([[r == row for r, _ in place] for row in range(count)], dtype=float)
    rows = []
    limits = []

    def add(row: Floats, low: float, high: float) -> None:
        rows.append(row)
        limits.append((low, high))

    for row in range(count):
        add(np.append(one[row], [0.0, 0.0]), 1.0, 1.0)
        add(np.append(one[row] * value, [-1.0, 0.0]), -np.inf, 0.0)
        add(np.append(one[row] * value, [0.0, -1.0]), 0.0, np.inf)
        # sum(C k)/sum(C) F/k <= max F, for the option that is taken
        add(
            np.append(share - one[row] * factor * np.exp(of.measured.max() - of.measured[row]), [0.0, 0.0]),
            -np.inf,
            0.0,
        )
    add(np.append(share, [0.0, 0.0]), 1.0 - of.band, 1.0 + of.band)
    add(np.append([float(o > 0) for _, o in place], [0.0, 0.0]), changes, changes)
    low, high = np.array(limits).T
    done = milp(
        np.append(np.zeros(size), [1.0, -1.0]),
        constraints=LinearConstraint(np.array(rows), low, high),
        integrality=np.append(np.ones(size), [0.0, 0.0]),
        bounds=Bounds(np.append(np.zeros(size), [-1.0, -1.0]), np.append(np.ones(size), [1.0, 1.0])),
        options={"mip_rel_gap": 0.0},
    )
    return float(done.fun) if done.success else np.inf


@pytest.mark.parametrize(("seed", "changes"), [(1, 2), (2, 3), (3, 6)])
def test_six_cylinders_agree_with_an_integer_programme(seed: int, changes: int) -> None:
    offsets = np.random.default_rng(seed).normal(0.0, 0.02, 6)
    of = problem(offsets.tolist(), flow_factors(frozenset(range(1, 7)), most=6))
    assert judged(of, closest(of, changes, 1)[0])[0] == pytest.approx(by_library(of, changes), abs=1e-6)


@pytest.mark.parametrize("step", [0.1, 0.25, 1.0, 2.5])
def test_eight_cylinders_and_twenty_sizes_take_less_than_a_second(step: float) -> None:
    offsets = np.random.default_rng(8).normal(0.0, 0.02, 8)
    of = problem(offsets.tolist(), flow_factors(frozenset(range(1, 9)), step_percent=step, most=10))
    began = time.process_time()
    found = [closest(of, changes, 64) for changes in range(1, 9)]
    assert time.process_time() - began < 1.0
    assert all(allowed(of, choice) for choices in found for choice in choices)


def test_nothing_is_found_where_nothing_helps() -> None:
    of = problem([0.0, 0.0, 0.0, 0.02], flow_factors(frozenset(range(1, 5)), step_percent=9.0, most=1))
    assert [closest(of, changes, 4) for changes in (1, 2, 3, 4)] == [[], [], [], []]


def test_of_more_choices_as_close_than_are_held_the_first_go_on_whatever_the_machine() -> None:
    """Those that stay set the range; in five others 100 000 choices leave it as it is."""
    smaller = flow_factors(frozenset(range(1, 6)), step_percent=0.1, most=10)[:10]
    of = problem([-0.05] * 6 + [0.05] * 6, smaller)
    assert closest(of, 5, 8) == [(*[size] * 5, *[0] * 7) for size in range(1, 9)]
