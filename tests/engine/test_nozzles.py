"""Nozzles, sets and position rules."""

import re

import numpy as np
import pytest

from leanwright.engine.nozzle_set import (
    NozzleRuleError,
    NozzleSet,
    OnShelf,
    PositionGroup,
    SetNozzle,
    available,
    fitted_of_set,
    positions,
)
from leanwright.engine.nozzles import NEW_NOZZLE, Available, Fitted, Tolerance, flow_factors
from leanwright.engine.profile import opposed

SIX = opposed(6)
ALL = frozenset(range(1, 7))
GROUPS = {"R": PositionGroup(rows=("rear",)), "ML": PositionGroup(rows=("middle",), banks=("left",))}
SET = NozzleSet(
    "invented",
    (SetNozzle("A-97", 0.97, ("R",)), SetNozzle("A-103", 1.03, ("R", "ML")), SetNozzle("A-105", 1.05)),
    GROUPS,
)


def test_a_uniform_tolerance_has_the_standard_uncertainty_of_the_guide() -> None:
    # JCGM 100:2008, 4.3.7: a / sqrt(3) for bounds +-a.
    assert Tolerance(0.5, "uniform").u == pytest.approx(0.005 / np.sqrt(3.0))
    assert Tolerance(0.5, "normal").u == pytest.approx(0.005)


def test_flow_factors_are_whole_steps_without_the_one_that_changes_nothing() -> None:
    made = flow_factors(ALL, step_percent=2.5, most=2)
    assert [one.flow for one in made] == pytest.approx([0.95, 0.975, 1.025, 1.05])
    assert {(one.marking, one.tolerance, one.cylinders, one.quantity) for one in made} == {
        (None, NEW_NOZZLE, ALL, None)
    }


@pytest.mark.parametrize(
    ("group", "cylinders", "found"),
    [
        (PositionGroup(rows=("front",)), 6, {5, 6}),
        (PositionGroup(rows=("rear", "middle")), 6, {1, 2, 3, 4}),
        (PositionGroup(rows=(1,)), 6, {5, 6}),
        (PositionGroup(banks=("left",)), 6, {2, 4, 6}),
        (PositionGroup(rows=("front",), banks=("right",)), 6, {5}),
        (PositionGroup(cylinders=(2, 3, 9)), 6, {2, 3}),
        (PositionGroup(), 6, {1, 2, 3, 4, 5, 6}),
        (PositionGroup(rows=("middle",)), 4, set()),
        (PositionGroup(rows=("front",)), 4, {3, 4}),
        (PositionGroup(rows=("front mid", "rear mid")), 8, {3, 4, 5, 6}),
        (PositionGroup(rows=("rear",)), 10, {1, 2}),
    ],
)
def test_a_group_is_by_row_by_bank_by_list_or_by_all_of_them(
    group: PositionGroup, cylinders: int, found: set[int]
) -> None:
    assert positions(group, opposed(cylinders)) == found


@pytest.mark.parametrize(
    ("group", "told"),
    [
        (PositionGroup(rows=("aft",)), "no row 'aft'"),
        (PositionGroup(rows=(0,)), "no row 0"),
        (PositionGroup(banks=("port",)), "no bank 'port'"),
    ],
)
def test_a_row_or_bank_that_no_engine_has_is_named(group: PositionGroup, told: str) -> None:
    with pytest.raises(NozzleRuleError, match=told):
        positions(group, SIX)


def test_the_rules_of_a_set_say_where_each_nozzle_may_go() -> None:
    assert {one.marking: set(one.cylinders) for one in available(SET, SIX)} == {
        "A-97": {1, 2},
        "A-103": {1, 2, 4},
        "A-105": {1, 2, 3, 4, 5, 6},
    }


def test_nozzles_on_the_shelf_keep_the_rules_of_their_set_and_their_own_flow() -> None:
    shelf = [OnShelf("A-97", 2), OnShelf("A-105", 1, 1.046, Tolerance(0.1, "normal")), OnShelf("A-103", 0)]
    found = [one for one in available(SET, SIX, shelf) if one.source == "shelf"]
    assert found == [
        Available("A-97", 0.97, NEW_NOZZLE, frozenset({1, 2}), 2, "shelf"),
        Available("A-105", 1.046, Tolerance(0.1, "normal"), ALL, 1, "shelf"),
    ]


def test_a_shelf_without_a_set_needs_flows_of_its_own() -> None:
    (only,) = available(None, SIX, [OnShelf("X", 1, 1.02)])
    assert (only.flow, only.cylinders, only.tolerance) == (1.02, ALL, NEW_NOZZLE)
    with pytest.raises(NozzleRuleError, match="nothing tells the flow of nozzle 'X' on the shelf"):
        available(None, SIX, [OnShelf("X")])


@pytest.mark.parametrize(
    ("nozzles", "told"),
    [
        ((SetNozzle("A", 1.0), SetNozzle("A", 1.1)), "two nozzles bear the marking 'A'"),
        (
            (SetNozzle("A", 1.0, ("Z",)),),
            "names the position group 'Z', which the set does not have .it has ML, R.",
        ),
        ((SetNozzle("A", -0.1),), "nozzle 'A' has a flow of -0.1 times the standard"),
        ((SetNozzle("A", 0.0),), "has to be above 0"),
    ],
)
def test_a_set_that_cannot_be_used_tells_which_nozzle_and_why(
    nozzles: tuple[SetNozzle, ...], told: str
) -> None:
    with pytest.raises(NozzleRuleError, match=told):
        available(NozzleSet("invented", nozzles, GROUPS), SIX)


def test_a_set_without_position_groups_is_told_to_have_none() -> None:
    told = "nozzle 'A' names the position group 'Z', which the set does not have (it has none)"
    with pytest.raises(NozzleRuleError, match=f"^{re.escape(told)}$"):
        available(NozzleSet("invented", (SetNozzle("A", 1.0, ("Z",)),)), SIX)


def test_a_nozzle_for_no_position_of_this_engine_is_refused() -> None:
    with pytest.raises(NozzleRuleError, match="'A' may go to no position of this engine of 4 cylinders"):
        available(NozzleSet("invented", (SetNozzle("A", 1.0, ("ML",)),), GROUPS), opposed(4))


def test_a_marking_on_the_shelf_that_the_set_does_not_have_is_refused() -> None:
    with pytest.raises(NozzleRuleError, match="'B' on the shelf is not of this set"):
        available(SET, SIX, [OnShelf("B", 1, 1.0)])


def test_what_is_fitted_is_completed_from_the_set() -> None:
    fitted = fitted_of_set(
        [Fitted(1, "A-103", 0.0), Fitted(3, None, 0.99, Tolerance(0.1, "normal"))], SET, SIX
    )
    assert [one.cylinder for one in fitted] == [1, 2, 3, 4, 5, 6]
    assert fitted[0] == Fitted(1, "A-103", 1.03, NEW_NOZZLE, frozenset({1, 2, 4}))
    assert fitted[1] == Fitted(2, None, 1.0, NEW_NOZZLE)
    assert fitted[2] == Fitted(3, None, 0.99, Tolerance(0.1, "normal"), frozenset())


@pytest.mark.parametrize(
    ("fitted", "told"),
    [
        ([Fitted(7, "A-103", 0.0)], "no cylinder 7"),
        ([Fitted(1, "A-103", 0.0), Fitted(1, "A-97", 0.0)], "cylinder 1 is named twice"),
        ([Fitted(1, "B", 0.0)], "nothing tells the flow of nozzle 'B' in cylinder 1"),
    ],
)
def test_what_is_fitted_where_it_cannot_be_is_refused(fitted: list[Fitted], told: str) -> None:
    with pytest.raises(NozzleRuleError, match=told):
        fitted_of_set(fitted, SET, SIX)
