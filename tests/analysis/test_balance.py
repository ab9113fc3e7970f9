"""The balance of synthetic peaks whose truth and covariance are known."""

import json
import math
from dataclasses import asdict

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leanwright.analysis.balance import Balance, balance, sweep_spreads, withheld
from leanwright.analysis.peak import CylinderPeak, Peaks
from tests.analysis.made_peaks import made_peaks, made_sweep, random_covariance

UNEVEN = [12.4, 11.8, 12.0, 12.1]
EVEN = [12.1, 11.95, 12.0, 12.05]


def above(cylinder: int, flow: float) -> CylinderPeak:
    return CylinderPeak(cylinder, "not-reached", bound_gph=flow, bound_side="above")


def below(cylinder: int, flow: float) -> CylinderPeak:
    return CylinderPeak(cylinder, "not-reached", bound_gph=flow, bound_side="below")


def unclear(cylinder: int, low: float, high: float) -> CylinderPeak:
    return CylinderPeak(cylinder, "unclear", possible_gph=(low, high))


def one_absent(flows: list[float], peak: CylinderPeak) -> Balance:
    return balance([made_peaks([flows], absent={(0, peak.cylinder): peak})])


def test_exact_flows_come_back_with_their_offsets_and_spread() -> None:
    answer = balance([made_peaks([UNEVEN], u=1e-5)])
    mean = math.exp(sum(map(math.log, UNEVEN)) / 4)
    assert [one.cylinder for one in answer.cylinders] == [1, 2, 3, 4]
    assert [one.fuel_flow_at_peak_gph for one in answer.cylinders] == pytest.approx(UNEVEN)
    assert [one.offset_percent for one in answer.cylinders] == pytest.approx(
        [100 * math.log(flow / mean) for flow in UNEVEN]
    )
    assert [one.sweeps_peaked for one in answer.cylinders] == [1, 1, 1, 1]
    assert answer.spread_gph == pytest.approx(0.6, abs=1e-3)
    assert answer.spread_at_least_gph == answer.spread_gph
    assert answer.spread_percent == pytest.approx(60.0 / mean, abs=1e-2)
    assert answer.mean_flow_gph == pytest.approx(mean)
    assert answer.verdict == "uneven"
    assert answer.probability_within_goal == 0.0


def test_flows_of_several_powers_are_quoted_at_their_geometric_mean() -> None:
    flows = np.array([UNEVEN, [0.75 * flow for flow in UNEVEN]])
    answer = balance([made_peaks(flows[:1], u=1e-5), made_peaks(flows[1:], u=1e-5)])
    assert [one.fuel_flow_at_peak_gph for one in answer.cylinders] == pytest.approx(
        [flow * math.sqrt(0.75) for flow in UNEVEN]
    )
    assert answer.spread_gph == pytest.approx(0.6 * math.sqrt(0.75), abs=1e-3)


def test_uncertainties_are_those_of_the_covariance() -> None:
    answer = balance([made_peaks([UNEVEN], u=0.001)])
    assert [one.u_offset_percent for one in answer.cylinders] == pytest.approx([0.1 * math.sqrt(0.75)] * 4)
    assert [one.u_fuel_flow_at_peak_gph for one in answer.cylinders] == pytest.approx(
        [0.001 * flow for flow in UNEVEN]
    )
    np.testing.assert_allclose(answer.offset_covariance, 0.01 * (np.eye(4) - 0.25), atol=1e-12)
    assert answer.offset_cylinders == (1, 2, 3, 4)
    assert answer.u_spread_gph == pytest.approx(0.001 * math.hypot(12.4, 11.8), rel=0.05)
    low, high = answer.spread_interval95_gph or (0.0, 0.0)
    assert high - low == pytest.approx(2 * 1.96 * 0.0171, rel=0.05)


def test_more_sweeps_make_the_answer_surer() -> None:
    few, many = (balance([made_peaks([UNEVEN] * number)]) for number in (1, 4))
    assert few.u_spread_gph is not None
    assert many.u_spread_gph == pytest.approx(few.u_spread_gph / 2.0, rel=0.05)


@pytest.mark.parametrize(
    ("flows", "goal"), [([12.4, 11.8], 0.5), ([18.0, 18.2], 0.5), ([9.0, 9.0], 0.375), ([6.0, 6.0], 0.25)]
)
def test_the_goal_shrinks_with_the_flow_of_small_engines(flows: list[float], goal: float) -> None:
    assert balance([made_peaks([flows])]).goal_gph == pytest.approx(goal)


def test_a_goal_that_is_set_is_the_goal() -> None:
    answer = balance([made_peaks([UNEVEN])], goal_gph=0.8)
    assert (answer.goal_gph, answer.verdict) == (0.8, "even")


@pytest.mark.parametrize(
    ("spread", "verdict"),
    [(0.40, "even"), (0.46, "even"), (0.49, "cannot-tell"), (0.51, "cannot-tell"), (0.54, "uneven"), (0.60, "uneven")],
)  # fmt: skip
def test_the_verdict_is_a_decision_with_a_risk_of_one_in_twenty(spread: float, verdict: str) -> None:
    # Flows known to 0.012 gal/h: the spread to 0.017 gal/h, so 0.028 gal/h from the goal decides.
    answer = balance([made_peaks([[12.0 + spread, 12.0, 12.1, 12.2]])])
    assert answer.verdict == verdict
    assert answer.probability_within_goal is not None
    assert (answer.verdict == "even") == (answer.probability_within_goal >= 0.95)
    assert (answer.verdict == "uneven") == (answer.probability_within_goal <= 0.05)


EXCHANGED = [[12.0 * math.exp(sign * way) for way in (0.024, -0.024, 0.0, 0.0)] for sign in (1, 1, -1, -1)]


@pytest.mark.parametrize("recordings", [1, 2])
def test_sweeps_that_plainly_disagree_never_make_an_even_engine_of_two_uneven_ones(recordings: int) -> None:
    size = 4 // recordings
    peaks = [made_peaks(EXCHANGED[start : start + size]) for start in range(0, 4, size)]
    answer = balance(peaks)
    assert [balance([made_peaks([flows])]).verdict for flows in EXCHANGED] == ["uneven"] * 4
    assert answer.verdict == "cannot-tell"
    assert answer.reasons[0].code == "verdict-cannot-tell"
    assert "sweeps-disagree" in [reason.code for reason in answer.reasons]
    assert "more-sweeps-would-settle" not in [reason.code for reason in answer.reasons]


def test_sweeps_that_scatter_by_little_beside_the_goal_may_be_even() -> None:
    flows = [
        [flow * math.exp(way) for flow, way in zip(EVEN, (s, -s, s, -s), strict=True)]
        for s in (0.002, -0.002)
    ]
    answer = balance([made_peaks(flows, u=0.0005)])
    assert "sweeps-disagree" in [reason.code for reason in answer.reasons]
    assert answer.verdict == "even"


def test_sweeps_that_disagree_may_still_show_an_uneven_engine() -> None:
    flows = [
        [13.2, 11.8, 12.0, 12.1],
        [13.0, 11.9, 12.0, 12.1],
        [13.3, 11.7, 12.1, 12.1],
        [12.9, 11.8, 12.1, 12.0],
    ]
    answer = balance([made_peaks(flows)])
    assert "sweeps-disagree" in [reason.code for reason in answer.reasons]
    assert answer.verdict == "uneven"


def test_even_can_be_withheld_and_nothing_else() -> None:
    even, uneven = balance([made_peaks([EVEN])]), balance([made_peaks([UNEVEN])])
    assert (withheld(even).verdict, withheld(even).reasons[0].code) == ("cannot-tell", "verdict-cannot-tell")
    assert withheld(even).reasons[1:] == even.reasons[1:]
    assert withheld(uneven) is uneven


def test_a_cylinder_without_a_signal_keeps_the_engine_from_being_called_even() -> None:
    answer = one_absent(EVEN, CylinderPeak(2, "no-signal"))
    assert answer.verdict == "cannot-tell"
    assert answer.probability_within_goal is not None
    assert answer.probability_within_goal > 0.99
    assert answer.spread_at_least_gph == answer.spread_gph


def test_a_cylinder_that_no_sweep_knows_has_no_signal() -> None:
    answer = balance([made_peaks([EVEN])], cylinders=6)
    assert [one.status for one in answer.cylinders[4:]] == ["no-signal", "no-signal"]
    assert answer.verdict == "cannot-tell"
    assert balance([], cylinders=6).cylinders == ()


def test_an_engine_can_be_called_uneven_whatever_the_missing_cylinder_does() -> None:
    assert one_absent(UNEVEN, CylinderPeak(3, "no-signal")).verdict == "uneven"


@pytest.mark.parametrize("peak", [above(2, 12.7), unclear(2, 12.65, 13.0), below(2, 11.4)])
def test_a_bound_can_show_an_engine_to_be_uneven(peak: CylinderPeak) -> None:
    answer = one_absent(EVEN, peak)
    assert answer.verdict == "uneven"
    assert answer.spread_gph == pytest.approx(0.1, abs=0.02)
    assert answer.spread_at_least_gph is not None
    assert answer.spread_at_least_gph > 0.55


def test_a_bound_on_one_side_never_shows_an_engine_to_be_even() -> None:
    answer = one_absent(EVEN, above(2, 11.9))
    assert answer.verdict == "cannot-tell"
    assert answer.cylinders[1].bound_gph == pytest.approx(11.9)
    assert answer.cylinders[1].bound_side == "above"
    assert answer.cylinders[1].possible_gph is None


def test_bounds_on_both_sides_within_the_goal_settle_that_an_engine_is_even() -> None:
    answer = balance([made_peaks([EVEN, EVEN], absent={(0, 2): above(2, 11.9), (1, 2): below(2, 12.2)})])
    assert answer.verdict == "even"
    assert answer.cylinders[1].status == "unclear"
    assert answer.cylinders[1].possible_gph == pytest.approx((11.9, 12.2))


def test_bounds_on_both_sides_that_reach_past_the_goal_do_not() -> None:
    answer = balance([made_peaks([EVEN, EVEN], absent={(0, 2): above(2, 11.9), (1, 2): below(2, 12.9)})])
    assert answer.verdict == "cannot-tell"


def test_what_a_sweep_could_not_tell_never_shows_an_engine_to_be_even() -> None:
    answer = one_absent(EVEN, unclear(2, 11.95, 12.0))
    assert answer.verdict == "cannot-tell"
    assert answer.cylinders[1].possible_gph == pytest.approx((11.95, 12.0))


def test_a_cylinder_that_peaked_in_one_sweep_is_peaked() -> None:
    answer = balance(
        [made_peaks([UNEVEN] * 3, absent={(0, 1): above(1, 12.3), (2, 1): CylinderPeak(1, "no-signal")})]
    )
    assert answer.cylinders[0].status == "peaked"
    assert answer.cylinders[0].sweeps_peaked == 1
    assert answer.cylinders[0].bound_gph is None


def test_with_a_cylinder_missing_offsets_refer_to_those_that_have_a_value() -> None:
    answer = one_absent(UNEVEN, CylinderPeak(1, "no-signal"))
    offsets = [one.offset_percent for one in answer.cylinders]
    assert offsets[0] is None
    assert sum(offset for offset in offsets if offset is not None) == pytest.approx(0.0, abs=1e-9)


def test_two_cylinders_far_apart_by_one_peak_and_one_bound_are_uneven() -> None:
    answer = balance([made_peaks([[12.0, 13.0]], absent={(0, 2): above(2, 12.8)})])
    assert answer.spread_gph is None
    assert answer.spread_at_least_gph == pytest.approx(0.8, abs=0.01)
    assert (answer.verdict, answer.probability_within_goal) == ("uneven", 0.0)


def test_one_peak_alone_says_nothing_of_a_spread() -> None:
    answer = balance([made_peaks([[12.0, 13.0]], absent={(0, 2): CylinderPeak(2, "no-signal")})])
    assert (answer.spread_gph, answer.spread_at_least_gph) == (None, None)
    assert (answer.verdict, answer.probability_within_goal) == ("cannot-tell", None)
    assert answer.budget == ()


def test_without_any_peak_bounds_are_kept() -> None:
    answer = balance([made_peaks([[12.0, 13.0]], absent={(0, 1): below(1, 11.0), (0, 2): above(2, 12.8)})])
    assert [(one.status, one.bound_side) for one in answer.cylinders] == [
        ("not-reached", "below"),
        ("not-reached", "above"),
    ]
    assert [one.bound_gph for one in answer.cylinders] == pytest.approx([11.0, 12.8])
    assert (answer.verdict, answer.mean_flow_gph, answer.goal_gph) == ("cannot-tell", None, 0.5)


@pytest.mark.parametrize("peaks", [[], [Peaks((), (), np.zeros(0), np.zeros((0, 0)))]])
def test_nothing_to_go_by_cannot_tell(peaks: list[Peaks]) -> None:
    answer = balance(peaks)
    assert answer.cylinders == ()
    assert (answer.verdict, answer.spread_gph, answer.goal_gph) == ("cannot-tell", None, 0.5)
    assert answer.offset_covariance.shape == (0, 0)


def test_recordings_with_different_cylinders_are_taken_together() -> None:
    answer = balance([made_peaks([UNEVEN]), made_peaks([[12.4, 11.8]])])
    assert [one.sweeps_peaked for one in answer.cylinders] == [2, 2, 1, 1]


def test_a_sweep_that_is_not_used_changes_nothing() -> None:
    spoilt = made_peaks([UNEVEN, EVEN], sweeps=[made_sweep(), made_sweep(used=False)])
    one, other = balance([spoilt]), balance([made_peaks([UNEVEN])])
    assert one.spread_gph == other.spread_gph
    assert one.cylinders == other.cylinders


def test_the_budget_sums_to_one_with_the_largest_first() -> None:
    answer = balance([made_peaks([UNEVEN])])
    assert [source for source, _ in answer.budget] == ["lag", "reading-noise"]
    assert [share for _, share in answer.budget] == pytest.approx([0.75, 0.25])


def test_disagreement_has_its_share_of_the_budget() -> None:
    answer = balance([made_peaks([UNEVEN, EVEN])])
    assert answer.budget[0][0] == "between-sweeps"
    assert sum(share for _, share in answer.budget) == pytest.approx(1.0)


def test_the_spread_of_one_sweep_is_that_of_its_own_balance() -> None:
    peaks = made_peaks([UNEVEN, EVEN])
    alone = balance([made_peaks([EVEN])])
    assert sweep_spreads(peaks)[1] == pytest.approx((alone.spread_gph, alone.u_spread_gph), rel=3e-3)


def test_a_sweep_with_fewer_than_two_peaks_has_no_spread() -> None:
    peaks = made_peaks([[12.0, 13.0], [12.0, 13.0]], absent={(1, 2): CylinderPeak(2, "no-signal")})
    assert sweep_spreads(peaks)[1] is None


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_whatever_the_peaks_the_answer_is_whole(data: st.DataObject) -> None:
    cylinders = data.draw(st.integers(1, 8))
    sweeps = data.draw(st.integers(0, 4))
    seed = data.draw(st.integers(0, 10_000))
    generator = np.random.default_rng(seed)
    flows = 12.0 * np.exp(generator.normal(0.0, 0.03, (sweeps, cylinders)))
    kinds = st.sampled_from([None, "no-signal", "above", "below", "unclear", "bare"])
    absent: dict[tuple[int, int], CylinderPeak] = {}
    for sweep in range(sweeps):
        for cylinder in range(1, cylinders + 1):
            match data.draw(kinds):
                case "no-signal":
                    absent[sweep, cylinder] = CylinderPeak(cylinder, "no-signal")
                case "above":
                    absent[sweep, cylinder] = above(cylinder, 12.0)
                case "below":
                    absent[sweep, cylinder] = below(cylinder, 12.0)
                case "unclear":
                    absent[sweep, cylinder] = unclear(cylinder, 11.5, 12.5)
                case "bare":
                    absent[sweep, cylinder] = CylinderPeak(cylinder, "unclear")
    size = sweeps * cylinders - len(absent)
    covariance = (
        random_covariance(seed, size, data.draw(st.sampled_from([0.0, 1e-4, 1e-2])))
        if size
        else np.zeros((0, 0))
    )
    answer = balance([made_peaks(flows, absent=absent, covariance=covariance)] if sweeps else [])
    plain = asdict(answer) | {"offset_covariance": answer.offset_covariance.tolist()}
    json.dumps(plain, allow_nan=False)
    if answer.probability_within_goal is not None:
        assert (answer.verdict == "uneven") == (answer.probability_within_goal <= 0.05)
    if answer.spread_gph is not None and answer.spread_at_least_gph is not None:
        assert answer.spread_at_least_gph >= answer.spread_gph - 1e-12
    for one in answer.cylinders:
        assert (one.bound_gph is None) == (one.status != "not-reached")
        assert (one.fuel_flow_at_peak_gph is None) == (one.status != "peaked")
    assert sum(share for _, share in answer.budget) == pytest.approx(1.0 if answer.budget else 0.0)
