"""What is decided: change, leave, fly more, look elsewhere."""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from leanwright.analysis.balance import balance
from leanwright.analysis.payback import Prices
from leanwright.analysis.plan import Means, plan
from leanwright.analysis.planned import NextFlight, Plan, Suspected
from leanwright.analysis.response import Response
from leanwright.engine.nozzles import Available, Fitted, Tolerance
from leanwright.findings import Statement
from tests.analysis.made_peaks import made_peaks
from tests.analysis.plan_scene import TWO_OUT, flown

EVEN = (12.0, 12.05, 12.1, 11.95, 12.02, 12.0)
ALL = frozenset(range(1, 7))


def codes(found: Plan) -> list[str]:
    return [one.code for one in found.reasons]


def planned(flows: tuple[float, ...], means: Means = Means(), sweeps: int = 4, u: float = 0.001) -> Plan:  # noqa: B008  frozen
    return plan(*flown(flows, sweeps=sweeps, u=u), means)


def test_two_cylinders_out_are_two_changes() -> None:
    found = planned(TWO_OUT)
    assert found.action == "change"
    assert found.chosen is not None
    assert found.chosen.changed == (3, 5)
    factors = {one.cylinder: one.flow_factor for one in found.chosen.cylinders}
    assert factors == pytest.approx({1: 1.0, 2: 1.0, 3: 1.05, 4: 1.0, 5: 0.95, 6: 1.0})
    assert found.chosen.probability_within_goal > 0.99
    assert [one.kind for one in found.choices[:2]] == ["leave", "change"]
    assert codes(found)[:3] == ["plan-change", "plan-predicted", "plan-doing-less"]
    assert found.reasons[0].values["cylinders_changed"] == (3, 5)
    assert found.next_flight is None


def test_the_numbers_of_a_choice_are_those_of_the_flow_algebra() -> None:
    found = planned(TWO_OUT)
    assert found.chosen is not None
    factor = np.array([one.flow_factor for one in found.chosen.cylinders])
    total = factor.mean()  # six equal nozzles
    after = np.array(TWO_OUT) * total / factor
    assert found.chosen.total_flow_change_percent == pytest.approx(100.0 * (total - 1.0))
    assert found.chosen.leanest_at_full_power_change_percent == pytest.approx(
        100.0 * np.log(after.max() / max(TWO_OUT)), abs=1e-6
    )
    offsets = 100.0 * (np.log(after) - np.log(after).mean())
    predicted = [one.predicted_offset_percent for one in found.chosen.cylinders]
    assert predicted == pytest.approx(offsets.tolist(), abs=0.02)
    # The range of uncertain values is larger on average than that of the values (0.2 % tolerance on two of them).
    assert found.chosen.predicted_spread_gph == pytest.approx(np.ptp(after), abs=0.03)


def test_leaving_it_has_the_numbers_of_the_balance() -> None:
    answer, peaks = flown(TWO_OUT, u=0.004, seed=3)
    leave = plan(answer, peaks).choices[0]
    assert leave.predicted_spread_gph == pytest.approx(answer.spread_gph, abs=1e-3)
    assert leave.u_predicted_spread_gph == pytest.approx(answer.u_spread_gph, abs=1e-3)
    assert leave.probability_within_goal == pytest.approx(answer.probability_within_goal, abs=2e-3)


def test_an_even_engine_is_left_alone() -> None:
    found = planned(EVEN)
    assert (found.action, codes(found)) == ("leave", ["plan-leave-even"])
    assert found.chosen is not None
    assert {one.flow_factor for one in found.chosen.cylinders} == {1.0}
    assert found.chosen.total_flow_change_percent == 0.0


def test_one_sweep_of_an_engine_never_orders() -> None:
    found = planned(TWO_OUT, sweeps=1)
    assert (found.action, codes(found)) == ("fly-more", ["plan-fly-more", "plan-one-sweep"])
    assert found.next_flight is not None
    assert found.next_flight.sweeps == 3
    assert found.next_flight.expected_u_spread_gph == pytest.approx(
        found.reasons[0].values["u_now_gph"] / 2.0  # type: ignore[operator]  # a number, in plain data
    )


def test_two_sweeps_that_contradict_each_other_order_nothing() -> None:
    answer, peaks = flown(TWO_OUT, sweeps=2)
    split = peaks[0].log_flow.copy()
    split[2] += 0.04  # the first sweep asks for twice as much at cylinder 3 as the second
    split[8] -= 0.04
    found = plan(answer, [replace(peaks[0], log_flow=split)])
    assert found.action == "fly-more"
    assert found.reasons[1] == Statement("plan-sweeps-disagree", {"cylinders_meant": (3,)})


def test_a_spread_near_the_goal_that_sweeps_would_settle_is_flown_again() -> None:
    flows = (12.25, 11.8, 12.2, 11.82, 12.0, 11.9)
    found = planned(flows, u=0.005, sweeps=2)
    assert (found.action, codes(found)) == ("fly-more", ["plan-fly-more"])
    assert found.next_flight is not None
    assert 1 <= found.next_flight.sweeps <= 8


def test_a_cylinder_without_a_peak_is_looked_at_first() -> None:
    found = plan(*flown(TWO_OUT, absent=[2]))
    assert (found.action, codes(found)) == ("fly-more", ["plan-fly-more", "plan-missing-peaks"])
    assert found.chosen is not None
    assert [one.cylinder for one in found.chosen.cylinders] == [1, 2, 3, 4, 5, 6]


def test_sweeps_of_two_states_are_not_left_alone_for_being_even_on_average() -> None:
    lean, rich = 12.0 * np.exp(0.024), 12.0 * np.exp(-0.024)
    peaks = [
        made_peaks([[lean, rich, 12.0, 12.0, 12.0, 12.0]] * 2 + [[rich, lean, 12.0, 12.0, 12.0, 12.0]] * 2)
    ]
    found = plan(balance(peaks), peaks, Means())
    assert (found.action, codes(found)) == ("fly-more", ["plan-fly-more", "sweeps-disagree"])
    assert found.next_flight is not None
    assert found.next_flight.sweeps == 1


def test_without_a_peak_there_is_nothing_to_plan_with() -> None:
    found = plan(*flown(TWO_OUT, absent=[1, 2, 3, 4, 5, 6]))
    assert (found.action, found.chosen, codes(found)[:2]) == ("fly-more", None, ["plan-no-spread", "no-peak"])
    assert not found.possible


@pytest.mark.parametrize(
    "why",
    [
        Statement("mixed-engines", {"cylinders": {"a.csv": 4, "b.csv": 6}}),
        Statement("mixed-engines-measured", {"first": "a.csv", "second": "b.csv"}),
    ],
)
def test_recordings_of_two_engines_are_no_reason_to_fly(why: Statement) -> None:
    answer, _ = flown(TWO_OUT, absent=[1, 2, 3, 4, 5, 6])
    found = plan(replace(answer, reasons=(why,)), [])
    assert (found.action, found.next_flight, found.reasons, found.possible) == ("leave", None, (why,), False)


@pytest.mark.parametrize("system", ["carburetted", "electronic"])
def test_nothing_is_ordered_where_nozzles_are_not_the_cure(system: str) -> None:
    means = Means(fuel_system=system)  # type: ignore[arg-type]  # one of the two
    assert (planned(TWO_OUT, means).action, codes(planned(TWO_OUT, means))) == (
        "look-elsewhere",
        ["plan-not-injected"],
    )
    assert planned(EVEN, means).action == "leave"


@pytest.mark.parametrize(
    ("causes", "code"),
    [
        ((Suspected("intake-leak", 0.88, (3,)), Suspected("nozzle-size", 0.1, (3,))), "plan-other-cause"),
        ((Suspected("intake-leak", 0.45, (3,)), Suspected("nozzle-size", 0.41, (3,))), "plan-cause-open"),
        ((Suspected("nozzle-size", 0.93, (3,)), Suspected("intake-leak", 0.05, (3,))), "plan-change"),
        ((Suspected("nozzle-size", 0.93, (3,)), Suspected("probe-slow", 0.6, (1,))), "plan-change"),
        ((Suspected("none", 0.9),), "plan-change"),
        ((Suspected("plug-dead", 0.97, (1,)), Suspected("nozzle-size", 0.93, (3,))), "plan-other-cause"),
        ((Suspected("intake-leak", 0.41, (3,)), Suspected("nozzle-size", 0.54, (3,))), "plan-cause-open"),
        (
            (
                Suspected("low-airflow", 0.4, (3,)),
                Suspected("nozzle-size", 0.44, (3,)),
                Suspected("nozzles-exchanged", 0.45, (1, 3)),
            ),
            "plan-change",
        ),
        ((Suspected("flow-misscaled", 0.8), Suspected("nozzle-size", 0.9, (3,))), "plan-change"),
    ],
)
def test_a_likelier_cause_than_a_nozzle_is_looked_for_first(causes: tuple[Suspected, ...], code: str) -> None:
    found = planned(TWO_OUT, Means(causes=causes))
    assert codes(found)[0] == code
    assert found.action == ("change" if code == "plan-change" else "look-elsewhere")


def test_little_air_stops_an_order_only_where_it_is_likely_and_is_said_beside_it_else() -> None:
    """No flight tells it from a nozzle too big; a compression test does."""
    changed = planned(TWO_OUT).chosen
    assert changed is not None
    place = changed.changed[:1]
    likely, open_, slight = (
        planned(
            TWO_OUT,
            Means(causes=(Suspected("low-airflow", one, place), Suspected("nozzle-size", 0.2, place))),
        )
        for one in (0.75, 0.6, 0.05)
    )
    assert (likely.action, codes(likely)) == ("look-elsewhere", ["plan-other-cause"])
    assert (open_.action, codes(open_)[-1]) == ("change", "plan-little-air")
    assert open_.reasons[-1].values == {"cylinders_meant": place, "cause_probability": 0.6}
    assert "plan-little-air" not in codes(slight)


def test_two_nozzles_likely_in_each_others_place_are_exchanged_before_buying() -> None:
    changed = planned(TWO_OUT).chosen
    assert changed is not None
    both, other = (
        changed.changed[:2],
        (changed.changed[0], next(n for n in range(1, 7) if n not in changed.changed)),
    )
    said = [
        "plan-exchange-first"
        in codes(planned(TWO_OUT, Means(causes=(Suspected("nozzles-exchanged", 0.6, one),))))
        for one in (both, other)
    ]
    assert said == [True, False]


def test_what_is_not_sound_is_put_right_first() -> None:
    assert codes(planned(TWO_OUT, Means(not_sound=("compression",)))) == ["plan-not-sound"]


def test_an_offset_that_changes_with_power_is_no_nozzle() -> None:
    answer, peaks = flown(TWO_OUT)
    values = {
        "cylinder": 3, "difference_percent": 3.0, "u_difference_percent": 0.2, "probability": 0.0,
        "manifold_pressure_high_inhg": 24.0, "manifold_pressure_low_inhg": 18.0,
    }  # fmt: skip
    told = Statement("offsets-differ-between-powers", values)
    found = plan(replace(answer, reasons=(*answer.reasons, told)), peaks)
    assert (found.action, codes(found)) == ("look-elsewhere", ["plan-differs-with-power"])
    little = Statement("offsets-differ-between-powers", values | {"difference_percent": 0.4})
    assert plan(replace(answer, reasons=(*answer.reasons, little)), peaks).action == "change"


def test_only_what_can_be_had_and_may_go_there_is_planned() -> None:
    big, small = frozenset({1, 3}), frozenset({5})
    means = Means(
        fitted=tuple(Fitted(number) for number in sorted(ALL)),
        to_be_had=(
            Available("B-104", 1.04, Tolerance(0.5), big),
            Available("S-096", 0.96, Tolerance(0.5), small, 1, "shelf"),
            Available("S-095", 0.95, Tolerance(0.5), frozenset({2})),
        ),
    )
    found = planned(TWO_OUT, means)
    assert found.chosen is not None
    got = {one.cylinder: (one.nozzle, one.origin) for one in found.chosen.cylinders if one.origin != "keep"}
    assert got == {3: ("B-104", "order"), 5: ("S-096", "shelf")}
    assert (found.chosen.parts, found.chosen.changes) == (1, 2)


def test_where_no_nozzle_helps_that_is_said() -> None:
    means = Means(to_be_had=(Available("B-104", 1.04, Tolerance(0.5), frozenset({1, 2})),))
    found = planned(TWO_OUT, means)
    assert (found.action, codes(found), found.possible) == ("leave", ["plan-none-helps"], False)


def test_exchanging_comes_before_buying() -> None:
    # Cylinder 3 has the smaller nozzle and 5 the bigger one: exchanged, both are right.
    tight = Tolerance(0.1, "normal")
    fitted = tuple(
        Fitted(number, f"N{number}", {3: 0.976, 5: 1.024}.get(number, 1.0), tight, ALL)
        for number in sorted(ALL)
    )
    found = planned(TWO_OUT, Means(fitted=fitted, to_be_had=(Available("B-105", 1.05, tight, ALL),)))
    assert found.chosen is not None
    assert (found.chosen.kind, found.chosen.changed, found.chosen.parts) == ("exchange", (3, 5), 0)
    assert {one.cylinder: one.from_cylinder for one in found.chosen.cylinders if one.from_cylinder} == {
        3: 5,
        5: 3,
    }
    assert codes(found)[0] == "plan-exchange"


def test_pay_back_stands_with_every_choice() -> None:
    prices = Prices(part=40.0, labour=60.0, fuel_per_gallon=8.0, hours_per_year=100.0)
    found = planned(TWO_OUT, Means(prices=prices))
    assert found.chosen is not None
    assert found.chosen.payback is not None
    assert found.choices[0].payback is not None
    assert found.choices[0].payback.cost == 0.0
    assert found.chosen.payback.cost == 2 * (40.0 + 60.0)
    # The leanest peaks at 12.6 before and near 12.05 after.
    assert found.chosen.payback.saving_gph == pytest.approx(0.55, abs=0.05)
    assert "plan-pays-back" in codes(found)


def test_a_learned_response_changes_the_plan() -> None:
    found = planned(TWO_OUT, Means(response=Response(0.5, 0.02, 1)))
    assert found.chosen is not None
    factors = {one.cylinder: one.flow_factor for one in found.chosen.cylinders}
    assert factors[3] > 1.07
    assert factors[5] < 0.93
    assert "plan-learned" in codes(found)


def test_the_leanest_gets_no_leaner_and_the_sum_stays() -> None:
    for seed in range(12):
        flows = 12.0 * np.exp(np.random.default_rng(seed).normal(0.0, 0.03, 6))
        for one in planned(tuple(flows)).choices:
            assert one.leanest_at_full_power_change_percent <= 1e-6
            assert abs(one.total_flow_change_percent) <= 1.0 + 1e-6


def test_more_changes_are_listed_only_where_they_gain() -> None:
    for seed in range(6):
        flows = 12.0 * np.exp(np.random.default_rng(seed).normal(0.0, 0.03, 6))
        made = planned(tuple(flows)).choices
        for less, more in itertools.pairwise(made):
            assert more.probability_within_goal > less.probability_within_goal - 0.01
            assert more.changes > less.changes


def test_of_too_uncertain_a_measurement_another_flight_is_worth_more() -> None:
    found = planned(TWO_OUT, u=0.03, sweeps=2)
    assert found.action == "fly-more"


def test_where_an_order_is_not_likely_enough_so_many_more_sweeps_are_flown_as_would_make_it_so() -> None:
    flows = (12.0, 12.0, 12.8, 12.0, 11.5, 12.0)
    coarse = tuple(Available(f"N{step}", 1.0 + step / 100.0, Tolerance(0.5), ALL) for step in (-4, 4))
    means = Means(fitted=tuple(Fitted(n) for n in sorted(ALL)), to_be_had=coarse)
    answer, peaks = flown(flows, sweeps=4, u=0.016)
    assert answer.u_spread_gph is not None
    found = plan(answer, peaks, means)
    u_then = answer.u_spread_gph * float(np.sqrt(4 / 8))
    values = {"sweeps_more": 4, "u_now_gph": answer.u_spread_gph, "u_then_gph": u_then}
    assert (found.action, found.chosen, found.next_flight, found.reasons) == (
        "fly-more",
        found.choices[0],
        NextFlight(4, u_then),
        (Statement("plan-fly-more", values),),
    )
    likely = [
        max(one.probability_within_goal for one in made.choices) >= 0.9
        for made in (found, planned(flows, means, 6, 0.016), planned(flows, means, 8, 0.016))
    ]
    assert likely == [False, False, True]


def test_cylinders_change_places_and_so_does_the_plan() -> None:
    found, mirrored = planned(TWO_OUT), planned(TWO_OUT[::-1])
    assert found.chosen is not None
    assert mirrored.chosen is not None
    assert [one.flow_factor for one in mirrored.chosen.cylinders] == pytest.approx(
        [one.flow_factor for one in reversed(found.chosen.cylinders)]
    )


def test_the_best_is_recommended_where_nothing_is_enough() -> None:
    coarse = tuple(Available(f"N{step}", 1.0 + step / 100.0, Tolerance(0.5), ALL) for step in (-8, 8))
    flows = (12.0, 12.0, 13.0, 12.0, 12.8, 11.2)
    found = planned(flows, Means(fitted=tuple(Fitted(n) for n in sorted(ALL)), to_be_had=coarse))
    assert found.action == "change"
    assert found.chosen is not None
    assert found.chosen.probability_within_goal < 0.9
    assert found.chosen.probability_better > 0.95
    assert (
        max(one.probability_within_goal for one in found.choices)
        <= found.chosen.probability_within_goal + 0.01
    )


def test_a_gain_within_the_noise_is_left_alone() -> None:
    # Only one cylinder may change, and by so loose a nozzle that it may well come out worse.
    loose = (Available("N", 0.97, Tolerance(6.0), frozenset({5})),)
    flows = (12.5, 12.0, 12.0, 12.0, 11.85, 12.0)
    found = planned(flows, Means(fitted=tuple(Fitted(n) for n in sorted(ALL)), to_be_had=loose))
    assert (found.action, codes(found)) == ("leave", ["plan-within-noise"])
    assert found.possible


def test_a_flight_is_worth_more_where_it_would_make_an_order_likely_enough() -> None:
    coarse = tuple(Available(f"N{step}", 1.0 + step / 100.0, Tolerance(0.5), ALL) for step in (-4, 4))
    flows = (12.0, 12.0, 12.5, 12.0, 11.5, 12.0)
    fitted = tuple(Fitted(n) for n in sorted(ALL))
    actions = [
        planned(flows, Means(fitted=fitted, to_be_had=coarse), u=u).action for u in (0.002, 0.025, 0.03, 0.05)
    ]
    assert actions == ["change", "fly-more", "fly-more", "fly-more"]
