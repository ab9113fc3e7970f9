"""The ladder in numbers: rails to scale about the mean, an axis that never makes an even engine look uneven."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leanwright.report.ladder import LEAST_ROOM_GPH, Ladder, Row, ladder, leanest_first, rails_about
from leanwright.report.units import System
from tests.report import examples


def of(example: examples.Example, units: System = "us") -> Ladder:
    found = ladder(example(), units)
    assert found is not None
    return found


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize(
    "example",
    [examples.uneven_six, examples.even_four, examples.odd_six, examples.eight],
    ids=lambda e: e.__name__,
)
def test_rails_are_as_far_apart_as_the_goal_and_the_axis_has_room(
    example: examples.Example, units: System
) -> None:
    found = of(example, units)
    litres = 3.785411784 if units == "metric" else 1.0
    assert math.isclose(found.rails[1] - found.rails[0], example().balance.goal_gph * litres)
    assert found.ends[1] - found.ends[0] >= (2 * example().balance.goal_gph + LEAST_ROOM_GPH) * litres - 1e-9


def test_everything_that_is_drawn_lies_on_the_axis() -> None:
    found = of(examples.odd_six)
    low, high = found.ends
    drawn = [*found.rails]
    for row in found.rows:
        if row.flow is not None and row.half_width is not None:
            drawn += [row.flow - row.half_width, row.flow + row.half_width]
        drawn += [] if row.bound is None else [row.bound]
        drawn += row.possible or ()
    assert low < min(drawn) < max(drawn) < high


def test_rails_stand_about_the_mean_where_something_sticks_out() -> None:
    found = of(examples.uneven_six)
    mean = examples.uneven_six().balance.mean_flow_gph
    assert math.isclose(sum(found.rails) / 2, mean or 0.0)
    assert {row.cylinder: row.outside for row in found.rows if row.outside} == {3: "lean", 6: "rich"}


@given(st.lists(st.floats(10.0, 14.0), min_size=2, max_size=8), st.floats(0.1, 2.0))
def test_rails_slide_just_far_enough_and_only_where_all_can_stand_inside(
    flows: list[float], goal: float
) -> None:
    centre = math.exp(sum(map(math.log, flows)) / len(flows))
    low, high = rails_about(centre, goal, flows)
    assert math.isclose(high - low, goal)
    if max(flows) - min(flows) <= goal:
        assert low - 1e-9 <= min(flows)
        assert max(flows) <= high + 1e-9
        slid = abs((low + high) / 2 - centre)
        assert slid <= 1e-9 or min(abs(low - min(flows)), abs(high - max(flows))) <= 1e-9
    else:
        assert math.isclose((low + high) / 2, centre)


def test_an_interval_is_two_standard_uncertainties_of_the_offset_in_flow() -> None:
    three = next(row for row in of(examples.uneven_six).rows if row.cylinder == 3)
    assert math.isclose(three.half_width or 0.0, 2 * 0.13 / 100 * 12.812)


def test_leanest_first_and_those_without_a_value_beside_their_neighbour() -> None:
    assert [row.cylinder for row in of(examples.odd_six).rows] == [3, 1, 2, 4, 5, 6]


def test_a_cylinder_without_any_neighbour_with_a_value_stands_last() -> None:
    rows = [Row(1, "no-signal"), Row(3, "peaked", flow=12.0), Row(4, "no-signal"), Row(6, "no-signal")]
    assert [row.cylinder for row in leanest_first(rows)] == [3, 4, 1, 6]


def test_the_first_cylinder_without_a_value_stands_before_the_second() -> None:
    rows = [Row(1, "no-signal"), Row(2, "peaked", flow=12.0)]
    assert [row.cylinder for row in leanest_first(rows)] == [1, 2]


def test_as_on_the_engine_is_front_row_first_and_left_before_right() -> None:
    found = ladder(examples.uneven_six(), "us", "engine")
    assert found is not None
    assert [row.cylinder for row in found.rows] == [6, 5, 4, 3, 2, 1]


def test_a_cylinder_that_lies_nowhere_stands_last() -> None:
    measured = examples.uneven_six()
    nowhere = replace(measured.profile, places={n: p for n, p in measured.profile.places.items() if n != 6})
    found = ladder(replace(measured, profile=nowhere), "us", "engine")
    assert found is not None
    assert found.rows[-1].cylinder == 6


def test_flows_that_rest_on_a_sweep_by_hand_say_so() -> None:
    assert {row.cylinder for row in of(examples.odd_six).rows if row.by_hand} == {1, 3, 5}
    assert not any(row.by_hand for row in of(examples.uneven_six).rows)


def test_without_a_mean_there_is_no_ladder() -> None:
    assert ladder(examples.nothing(), "us") is None
