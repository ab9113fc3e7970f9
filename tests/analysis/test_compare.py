"""Before and after, and what a missed prediction points to."""

import numpy as np
import pytest

from leanwright.analysis.compare import Comparison, Prediction, compare
from leanwright.engine.sharing import flows_after_change
from leanwright.findings import Statement
from tests.analysis.plan_scene import TWO_OUT, flown

TOLERANCE = 100.0 * 0.005 / np.sqrt(3.0)
FACTORS = {1: 1.0, 2: 1.0, 3: 1.05, 4: 1.0, 5: 0.95, 6: 1.0}
PROMISED = Prediction(FACTORS, {3: TOLERANCE, 5: TOLERANCE}, 0.12, 0.03)


def after(*factors: float) -> tuple[float, ...]:
    """Flows at peak with nozzles changed by these factors, six equal ones before."""
    return tuple(flows_after_change(TWO_OUT, np.ones(6), factors).tolist())


def compared(*factors: float, prediction: Prediction | None = PROMISED, u: float = 0.0005) -> Comparison:
    before, then = flown(TWO_OUT, u=u)[0], flown(after(*factors), u=u)[0]
    return compare(before, then, prediction)


def codes(found: Comparison) -> list[str]:
    return [one.code for one in found.reasons]


def test_a_change_that_came_as_predicted() -> None:
    found = compared(1, 1, 1.05, 1, 0.95, 1)
    assert codes(found) == ["compare-better"]
    assert found.probability_better == pytest.approx(1.0)
    then = after(1, 1, 1.05, 1, 0.95, 1)
    assert found.change_spread_gph == pytest.approx(np.ptp(then) - np.ptp(TWO_OUT), abs=0.01)
    change = [one.offset_change_percent for one in found.cylinders]
    factor = np.log([1, 1, 1.05, 1, 0.95, 1])
    assert change == pytest.approx((-100.0 * (factor - factor.mean())).tolist(), abs=1e-6)
    # Four sweeps of 0.05 % on either side: u of a centred offset is u sqrt(5/6) / 2, of their difference sqrt(2) times it.
    expected = 0.05 * np.sqrt(5.0 / 6.0) / 2.0 * np.sqrt(2.0)
    assert [one.u_offset_change_percent for one in found.cylinders] == pytest.approx([expected] * 6, rel=1e-6)
    assert found.cylinders[2].missed_gph == pytest.approx(0.0, abs=1e-6)


def test_nothing_changed_cannot_be_told_from_chance() -> None:
    found = compared(1, 1, 1, 1, 1, 1, prediction=None)
    assert codes(found) == ["compare-open"]
    assert found.change_spread_gph == pytest.approx(0.0, abs=0.002)
    assert found.probability_better == pytest.approx(0.5, abs=0.05)
    assert found.response is None


def test_worse_is_said() -> None:
    assert codes(compared(1, 1, 0.97, 1, 1, 1, prediction=None)) == ["compare-worse"]


def test_the_change_of_the_spread_is_as_uncertain_as_both_sides() -> None:
    found = compared(1, 1, 1.05, 1, 0.95, 1, u=0.002)
    sides = found.before.u_spread_gph or 0.0, found.after.u_spread_gph or 0.0
    assert found.u_change_spread_gph == pytest.approx(np.hypot(*sides), rel=0.02)


def test_swapping_the_sides_turns_the_signs() -> None:
    one, other = flown(TWO_OUT)[0], flown(after(1, 1, 1.05, 1, 0.95, 1))[0]
    there, back = compare(one, other), compare(other, one)
    assert there.change_spread_gph == pytest.approx(-(back.change_spread_gph or 0.0), abs=1e-3)
    assert [x.offset_change_percent for x in there.cylinders] == pytest.approx(
        [-(x.offset_change_percent or 0.0) for x in back.cylinders]
    )


@pytest.mark.parametrize(
    ("factors", "told"),
    [
        ((1, 1, 1.0, 1, 0.95, 1), Statement("missed-not-changed", {"cylinder": 3})),
        ((1, 1, 0.95, 1, 1.05, 1), Statement("missed-exchanged", {"cylinders_meant": (3, 5)})),
        ((1, 1.05, 1.0, 1, 0.95, 1), Statement("missed-exchanged", {"cylinders_meant": (2, 3)})),
    ],
)
def test_a_missed_prediction_points_to_what_accounts_for_it(
    factors: tuple[float, ...], told: Statement
) -> None:
    assert compared(*factors).reasons[-1] == told


def test_all_changes_missed_in_proportion_are_the_engines_response() -> None:
    found = compared(1, 1, 1.05**0.7, 1, 0.95**0.7, 1)
    assert codes(found)[-1] == "missed-in-proportion"
    assert found.reasons[-1].values["came_percent"] == pytest.approx(70.0, abs=0.5)
    assert found.response is not None
    assert found.response.factor == pytest.approx(0.72, abs=0.03)  # drawn a little towards 1
    assert found.response.rounds == 1


@pytest.mark.parametrize(("factor", "side"), [(0.96, "lean"), (1.04, "rich")])
def test_one_cylinder_that_was_left_alone_and_moved_is_named(factor: float, side: str) -> None:
    found = compared(1, factor, 1.05, 1, 0.95, 1)
    (told,) = found.reasons[1:]
    assert (told.code, told.values["cylinder"], told.values["side"]) == ("missed-prediction", 2, side)
    # Against the others, whose level the change moved too: 12.05 gal/h x |ln factor|, at the flow that came.
    expected = after(1, factor, 1.05, 1, 0.95, 1)[1] * abs(np.log(factor))
    assert abs(told.values["missed_gph"]) == pytest.approx(expected, rel=0.02)  # type: ignore[arg-type]  # a number


def test_two_cylinders_that_moved_are_both_named() -> None:
    found = compared(1.03, 1, 1.05, 1, 0.95, 0.96)
    told = [(one.code, one.values["cylinder"], one.values["side"]) for one in found.reasons[1:]]
    assert told == [("missed-prediction", 1, "rich"), ("missed-prediction", 6, "lean")]


def test_a_miss_within_the_tolerance_is_no_miss() -> None:
    assert codes(compared(1, 1, 1.053, 1, 0.948, 1)) == ["compare-better"]


def test_cylinders_without_a_peak_on_one_side_are_left_out() -> None:
    before = flown(TWO_OUT)[0]
    then = flown(after(1, 1, 1.05, 1, 0.95, 1), absent=[6])[0]
    found = compare(before, then)
    assert [one.offset_change_percent is None for one in found.cylinders] == [False] * 5 + [True]
    assert codes(found) == ["compare-better", "compare-fewer"]


def test_too_few_common_cylinders_cannot_be_compared() -> None:
    before, then = flown(TWO_OUT, absent=[1, 2, 3])[0], flown(TWO_OUT, absent=[4, 5])[0]
    found = compare(before, then)
    assert (found.change_spread_gph, found.probability_better, found.reasons) == (
        None,
        None,
        (Statement("compare-too-few", {"peaked": 1}),),
    )


def test_flights_at_different_powers_are_said() -> None:
    before = flown(TWO_OUT)[0]
    then = flown(tuple(0.85 * one for one in TWO_OUT))[0]
    assert "compare-other-power" in codes(compare(before, then))
