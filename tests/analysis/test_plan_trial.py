"""Nozzles put by hand: the numbers are those of the flow algebra, and no rule is passed by."""

import numpy as np
import pytest

from leanwright.analysis.plan import Means, plan
from leanwright.analysis.plan_trial import place_name, tried
from leanwright.analysis.planned import Trial
from leanwright.engine.nozzles import NEW_NOZZLE, Available, Fitted
from tests.analysis.plan_scene import TWO_OUT, flown

FRONT = frozenset({5, 6})
OTHERS = frozenset({1, 2, 3, 4})
SET = (
    Available("Q7-096", 0.96, NEW_NOZZLE, FRONT),
    Available("Q7-104", 1.04, NEW_NOZZLE, OTHERS),
    Available("Q7-104s", 1.045, NEW_NOZZLE, OTHERS, 1, "shelf"),
)
FITTED = tuple(Fitted(number, "Q7-100", cylinders=frozenset(range(1, 7))) for number in range(1, 7))


def trial(placed: dict[int, str], means: Means = Means(FITTED, SET)) -> Trial:  # noqa: B008  frozen
    found = tried(flown(TWO_OUT, sweeps=4, u=0.001)[0], means, placed)
    assert found is not None
    return found


def codes(found: Trial) -> dict[int, str]:
    return {number: one.code for number, one in found.refused.items()}


def test_a_trial_has_the_numbers_of_the_flow_algebra() -> None:
    found = trial({3: "order Q7-104", 5: "order Q7-096"})
    factor = np.array([1.0, 1.0, 1.04, 1.0, 0.96, 1.0])
    total = factor.mean()  # six equal nozzles
    after = np.array(TWO_OUT) * total / factor
    assert found.choice.changed == (3, 5)
    assert found.choice.total_flow_change_percent == pytest.approx(100.0 * (total - 1.0), abs=1e-9)
    offsets = 100.0 * (np.log(after) - np.log(after).mean())
    predicted = [one.predicted_offset_percent for one in found.choice.cylinders]
    assert predicted == pytest.approx(offsets.tolist(), abs=0.05)
    assert (found.refused, found.told) == ({}, ())


def test_what_a_plan_recommends_comes_out_the_same_when_it_is_tried() -> None:
    answer, peaks = flown(TWO_OUT, sweeps=4, u=0.001)
    means = Means(FITTED, SET)
    best = plan(answer, peaks, means).chosen
    assert best is not None
    found = tried(answer, means, {one.cylinder: place_name(one) for one in best.cylinders})
    assert found is not None
    assert found.choice == best


def test_nothing_put_anywhere_leaves_it() -> None:
    found = trial({})
    assert found.choice == found.leave
    assert found.choice.changes == 0


def test_a_place_that_its_rule_forbids_is_refused_and_keeps_what_it_has() -> None:
    found = trial({3: "order Q7-096", 5: "order Q7-096"})
    assert codes(found) == {3: "trial-not-allowed"}
    assert found.refused[3].values == {"nozzle": "Q7-096", "cylinder_to": 3, "cylinders_allowed": (5, 6)}
    assert found.choice.changed == (5,)
    assert {one.name: one.allowed for one in found.places[3]} == {
        "keep": True, "shelf Q7-104s": True, "order Q7-104": True, "order Q7-096": False,
    }  # fmt: skip


def test_what_lies_on_the_shelf_once_is_not_put_twice() -> None:
    found = trial({1: "shelf Q7-104s", 3: "shelf Q7-104s"})
    assert codes(found) == {3: "trial-too-few"}
    assert found.choice.changed == (1,)


def test_a_nozzle_cannot_be_in_two_places_but_two_can_change_places() -> None:
    everywhere = frozenset(range(1, 7))
    fitted = (Fitted(3, "Q7-100", cylinders=everywhere), Fitted(5, "Q7-104", 1.04, cylinders=everywhere))
    means = Means(fitted, ())
    assert codes(trial({3: "from 5"}, means)) == {3: "trial-two-places"}
    both = trial({3: "from 5", 5: "from 3"}, means)
    assert both.refused == {}
    assert both.choice.changed == (3, 5)
    assert both.choice.parts == 0


def test_a_nozzle_that_may_not_leave_its_group_is_not_exchanged_out_of_it() -> None:
    fitted = (Fitted(3, "Q7-100", cylinders=OTHERS), Fitted(5, "Q7-104", 1.04, cylinders=FRONT))
    assert codes(trial({3: "from 5"}, Means(fitted, ()))) == {3: "trial-exchange-not-allowed"}


def test_what_is_not_there_is_said() -> None:
    assert codes(trial({1: "order Q9-999", 2: "nonsense"})) == {1: "trial-not-there", 2: "trial-not-there"}


def test_rules_of_the_engine_as_a_whole_are_told() -> None:
    relative = Means()
    told = [one.code for one in trial({1: "factor 1.1000", 2: "factor 1.1000"}, relative).told]
    assert told == ["trial-sum-moves", "trial-leaner"]  # the others get a smaller share of the same fuel
    leaner = trial({3: "factor 0.9500"}, relative)
    assert [one.code for one in leaner.told] == ["trial-leaner"]
    assert leaner.told[0].values["leanest_change_percent"] == pytest.approx(
        100.0 * np.log((1.0 - 0.05 / 6.0) / 0.95), abs=0.02
    )
