"""What a balance says, and in which order."""

from collections.abc import Mapping

import numpy as np
import pytest

from leanwright.analysis.balance import Balance, balance
from leanwright.analysis.peak import BudgetSource, CylinderPeak, Peaks
from leanwright.analysis.sweep import Direction
from leanwright.findings import Statement
from tests.analysis.made_peaks import made_peaks, made_sweep

UNEVEN = [12.4, 11.8, 12.0, 12.1]
EVEN = [12.1, 11.95, 12.0, 12.05]


def codes(answer: Balance) -> list[str]:
    return [statement.code for statement in answer.reasons]


def said(answer: Balance, code: str) -> Mapping[str, object]:
    """Values of the one statement with a code."""
    (statement,) = (one for one in answer.reasons if one.code == code)
    return statement.values


def test_the_verdict_comes_first_then_leanest_richest_sweeps_and_uncertainty() -> None:
    answer = balance([made_peaks([UNEVEN])])
    assert codes(answer) == [
        "verdict-uneven",
        "leanest-cylinder",
        "richest-cylinder",
        "sweeps-combined",
        "largest-uncertainty",
    ]


def test_the_verdict_bears_its_numbers() -> None:
    answer = balance([made_peaks([EVEN], absent={(0, 4): CylinderPeak(4, "no-signal")})])
    low, high = answer.spread_interval95_gph or (None, None)
    assert said(answer, "verdict-cannot-tell") == {
        "spread_gph": answer.spread_gph,
        "u_spread_gph": answer.u_spread_gph,
        "spread_low_gph": low,
        "spread_high_gph": high,
        "spread_percent": answer.spread_percent,
        "spread_at_least_gph": answer.spread_at_least_gph,
        "mean_flow_gph": answer.mean_flow_gph,
        "goal_gph": 0.5,
        "probability_within_goal": answer.probability_within_goal,
        "cylinders_with_peak": 3,
        "cylinders": 4,
    }


def test_leanest_and_richest_are_named_with_the_chance_that_they_are() -> None:
    answer = balance([made_peaks([[12.4, 11.8, 11.8, 12.1]])])
    leanest, richest = said(answer, "leanest-cylinder"), said(answer, "richest-cylinder")
    assert leanest["cylinder"] == 1
    assert leanest["probability"] == pytest.approx(1.0)
    assert leanest["fuel_flow_at_peak_gph"] == pytest.approx(12.4)
    assert richest["cylinder"] in {2, 3}
    assert richest["probability"] == pytest.approx(0.5, abs=0.01)
    assert set(richest) == {
        "cylinder",
        "fuel_flow_at_peak_gph",
        "u_fuel_flow_at_peak_gph",
        "offset_percent",
        "u_offset_percent",
        "probability",
        "side",
    }


@pytest.mark.parametrize(
    ("peak", "beyond"),
    [
        (CylinderPeak(4, "not-reached", bound_gph=11.7, bound_side="below"), (False, True)),
        (CylinderPeak(4, "not-reached", bound_gph=12.6, bound_side="above"), (True, False)),
        (CylinderPeak(4, "not-reached", bound_gph=12.5, bound_side="below"), (True, True)),
        (CylinderPeak(4, "unclear", possible_gph=(11.9, 12.3)), (False, False)),
        (CylinderPeak(4, "unclear", possible_gph=(11.6, 12.3)), (False, True)),
        (CylinderPeak(4, "no-signal"), (True, True)),
    ],
)
def test_whom_a_cylinder_without_a_peak_may_lie_beyond_is_told(
    peak: CylinderPeak, beyond: tuple[bool, bool]
) -> None:
    answer = balance([made_peaks([[12.4, 11.8, 12.1, 12.0]], absent={(0, 4): peak})])
    told = [said(answer, code).get("perhaps_beyond") for code in ("leanest-cylinder", "richest-cylinder")]
    assert told == [(4,) if one else None for one in beyond]


def test_cylinders_without_a_peak_are_told_one_by_one_with_their_reasons() -> None:
    why = Statement("probe-open")
    absent = {
        (0, 1): CylinderPeak(1, "not-reached", bound_gph=12.3, bound_side="above", reason=why),
        (0, 3): CylinderPeak(3, "unclear", possible_gph=(11.9, 12.05)),
        (0, 4): CylinderPeak(4, "no-signal"),
        (0, 5): CylinderPeak(5, "not-reached", bound_gph=12.6, bound_side="below"),
        (0, 6): CylinderPeak(6, "not-reached", bound_gph=11.5, bound_side="below"),
        (0, 7): CylinderPeak(7, "unclear"),
    }
    answer = balance([made_peaks([[12.4, 11.8, 12.0, 12.1, 12.0, 11.0, 12.0, 12.1]], absent=absent)])
    told = [one for one in answer.reasons if one.code.startswith("cylinder")]
    assert told[0] == Statement(
        "cylinders-without-peak",
        {"cylinders_without_peak": (1, 3, 4, 5, 6, 7), "cylinders_with_peak": 2, "cylinders": 8},
    )
    bounds = {"bound_gph": pytest.approx(12.3), "bound_side": "above"}
    assert dict(told[1].values) == {"cylinder": 1, **bounds, "beyond": "leanest", "reason": why}
    assert (told[2].code, dict(told[2].values)) == (
        "cylinder-unclear",
        {"cylinder": 3, "possible_low_gph": pytest.approx(11.9), "possible_high_gph": pytest.approx(12.05)},
    )
    assert told[3] == Statement("cylinder-no-signal", {"cylinder": 4})
    assert told[4].values["beyond"] is None
    assert told[5].values["beyond"] == "richest"
    # Nothing is known of it but that it ran: 8 to 16 parts of air where the others peak at 15 (FAA-H-8083-32B, p. 2-4).
    assert told[6].code == "cylinder-unclear"
    assert set(told[6].values) == {"cylinder", "possible_low_gph", "possible_high_gph"}


def test_a_bound_within_the_flows_of_the_others_is_beyond_none_of_them() -> None:
    absent = {(0, 1): CylinderPeak(1, "not-reached", bound_gph=11.9, bound_side="above")}
    assert said(balance([made_peaks([UNEVEN], absent=absent)]), "cylinder-not-reached")["beyond"] is None


def test_the_sweeps_combined_are_counted_by_direction_and_power() -> None:
    sweeps = [
        made_sweep("leaning", 22.0),
        made_sweep("enriching", 22.4),
        made_sweep("leaning", 18.0),
        made_sweep("leaning", None),
        made_sweep("leaning", 22.0),
    ]
    absent = {(4, number): CylinderPeak(number, "no-signal") for number in (1, 2, 3, 4)}
    peaks = made_peaks([UNEVEN] * 5, sweeps=sweeps, absent=absent)
    assert said(balance([peaks, made_peaks([UNEVEN])]), "sweeps-combined") == {
        "sweeps": 5,
        "sweeps_found": 6,
        "leaning": 4,
        "enriching": 1,
        "recordings": 2,
        "manifold_pressures_inhg": (18.0, pytest.approx((22.0 + 22.4 + 22.0) / 3)),
    }


def test_sweeps_that_disagree_are_said_with_their_scatter() -> None:
    values = said(balance([made_peaks([UNEVEN, EVEN])]), "sweeps-disagree")
    apart = np.log(np.array(UNEVEN) / EVEN)
    variance = (
        np.var(apart) * 4.0 / 6.0 - 0.001**2
    )  # half of each difference's, over three degrees of freedom
    assert values["between_sweeps_percent"] == pytest.approx(100.0 * np.sqrt(variance))
    assert values["degrees_of_freedom"] == 3
    assert values["probability"] == pytest.approx(0.0, abs=1e-6)


def test_sweeps_that_agree_need_no_word() -> None:
    told = codes(
        balance([made_peaks([UNEVEN] * 4, sweeps=[made_sweep("leaning"), made_sweep("enriching")] * 2)])
    )
    assert not {"sweeps-disagree", "directions-disagree", "offsets-differ-between-powers"} & set(told)


def test_leaning_and_enriching_that_disagree_are_said() -> None:
    late = [12.4, 11.8, 12.1, 12.1]
    peaks = made_peaks([UNEVEN, late], sweeps=[made_sweep("leaning"), made_sweep("enriching")])
    values = said(balance([peaks]), "directions-disagree")
    assert values["cylinder"] == 3
    assert values["difference_percent"] == pytest.approx(-100.0 * np.log(12.1 / 12.0) * 0.75)
    assert set(values) == {"cylinder", "difference_percent", "u_difference_percent", "probability"}


def test_offsets_that_differ_between_powers_are_said() -> None:
    leaking = [12.4, 11.8, 12.3, 12.1]
    sweeps = [made_sweep(pressure=24.0), made_sweep(pressure=18.0)]
    values = said(balance([made_peaks([UNEVEN, leaking], sweeps=sweeps)]), "offsets-differ-between-powers")
    assert (
        values["cylinder"],
        values["manifold_pressure_high_inhg"],
        values["manifold_pressure_low_inhg"],
    ) == (
        3,
        24.0,
        18.0,
    )
    assert values["difference_percent"] == pytest.approx(-100.0 * np.log(12.3 / 12.0) * 0.75)


def test_what_is_said_of_the_sweeps_used_is_passed_on() -> None:
    note = Statement("witness-differs", {"cylinder": 2})
    sweeps = [made_sweep(), made_sweep(used=False)]
    answer = balance([made_peaks([UNEVEN, UNEVEN], sweeps=sweeps, statements=[note])])
    assert [one for one in answer.reasons if one.code == "witness-differs"] == [note]


@pytest.mark.parametrize(
    ("source", "second", "remedy"),
    [
        ("reading-noise", "leaning", "more-sweeps"),
        ("shared-disturbance", "leaning", "smoother-air"),
        ("lag", "leaning", "sweep-both-ways"),
        ("lag", "enriching", "slower-sweeps"),
        ("quantisation", "leaning", "finer-recording"),
    ],
)
def test_the_largest_uncertainty_comes_with_what_would_shrink_it(
    source: BudgetSource, second: Direction, remedy: str
) -> None:
    sweeps = [made_sweep("leaning"), made_sweep(second)]
    made = made_peaks([UNEVEN, UNEVEN], sweeps=sweeps)
    peaks = Peaks(made.sweeps, made.index, made.log_flow, made.covariance, {source: made.covariance})
    assert said(balance([peaks]), "largest-uncertainty") == {
        "source": source,
        "share_percent": pytest.approx(100.0),
        "remedy": remedy,
    }


def test_disagreement_between_sweeps_asks_for_steadier_conditions() -> None:
    values = said(balance([made_peaks([UNEVEN, EVEN])]), "largest-uncertainty")
    assert (values["source"], values["remedy"]) == ("between-sweeps", "steadier-conditions")


def test_peaks_whose_uncertainty_has_no_source_say_nothing_of_it() -> None:
    made = made_peaks([UNEVEN])
    answer = balance([Peaks(made.sweeps, made.index, made.log_flow, made.covariance)])
    assert "largest-uncertainty" not in codes(answer)
    assert answer.budget == ()


def test_a_spread_near_the_goal_tells_how_many_more_sweeps_would_settle_it() -> None:
    # About 0.029 gal/h from the goal with 0.034: it must fall to 0.029 / 1.645, that is to a half: four sweeps.
    answer = balance([made_peaks([[12.474, 12.0, 12.1, 12.2]], u=0.002)])
    assert answer.verdict == "cannot-tell"
    assert answer.reasons[-1] == Statement("more-sweeps-would-settle", {"sweeps_more": 3})


def test_a_spread_at_the_goal_is_not_worth_more_sweeps() -> None:
    answer = balance([made_peaks([[12.5, 12.0, 12.1, 12.2]], u=0.003)])
    assert answer.reasons[-1] == Statement("close-to-goal", {"goal_gph": 0.5})


def test_missing_peaks_that_keep_the_verdict_open_are_named() -> None:
    answer = balance([made_peaks([EVEN], absent={(0, 2): CylinderPeak(2, "unclear")})])
    assert answer.reasons[-1] == Statement("missing-peaks-decide", {"cylinders_without_peak": (2,)})


def test_a_silent_probe_asks_for_no_sweep_since_none_would_make_it_speak() -> None:
    answer = balance([made_peaks([EVEN], absent={(0, 2): CylinderPeak(2, "no-signal")})])
    assert answer.verdict == "cannot-tell"
    assert "missing-peaks-decide" not in codes(answer)


def test_one_peak_has_no_leanest_and_no_richest() -> None:
    answer = balance([made_peaks([[12.0, 12.5]], absent={(0, 2): CylinderPeak(2, "no-signal")})])
    assert codes(answer) == [
        "verdict-cannot-tell",
        "cylinders-without-peak",
        "cylinder-no-signal",
        "one-peak",
        "sweeps-combined",
    ]


def test_no_recording_no_sweep_and_no_peak_are_told_apart() -> None:
    unused = made_peaks([UNEVEN], sweeps=[made_sweep(used=False)])
    silent = made_peaks([[12.0]], absent={(0, 1): CylinderPeak(1, "no-signal")})
    answers = [balance([]), balance([unused]), balance([silent])]
    assert [answer.reasons[1] for answer in answers] == [
        Statement("no-recording"),
        Statement("no-sweep", {"recordings": 1}),
        Statement("no-peak", {"recordings": 1, "sweeps": 1}),
    ]
    assert {answer.reasons[0].code for answer in answers} == {"verdict-cannot-tell"}


def test_power_that_nobody_recorded_is_said() -> None:
    unseen = made_sweep(pressure=None, speed=None)
    answer = balance([made_peaks([UNEVEN, UNEVEN], sweeps=(unseen, made_sweep()))])
    assert said(answer, "power-not-recorded") == {"sweeps": 1}
    assert "power-not-recorded" not in codes(balance([made_peaks([UNEVEN])]))


def test_power_that_nobody_recorded_can_be_the_largest_uncertainty() -> None:
    unseen = made_sweep(pressure=None, speed=None)
    largest = said(balance([made_peaks([UNEVEN], sweeps=(unseen,))]), "largest-uncertainty")
    assert (largest["source"], largest["remedy"]) == ("unknown-power", "record-power")


def test_a_cylinder_within_its_uncertainty_of_the_mean_runs_neither_lean_nor_rich() -> None:
    even = balance([made_peaks([[12.003, 12.0, 11.999, 12.001]], u=0.002)])
    assert said(even, "leanest-cylinder")["side"] == "mean"
    assert said(even, "richest-cylinder")["side"] == "mean"
    uneven = balance([made_peaks([UNEVEN])])
    assert [said(uneven, f"{one}-cylinder")["side"] for one in ("leanest", "richest")] == ["lean", "rich"]


def test_a_goal_that_follows_from_the_flow_is_explained_and_one_that_was_set_is_not() -> None:
    small = made_peaks([[8.4, 8.0, 8.1, 8.2]])
    assert said(balance([small]), "goal-by-flow") == {"goal_gph": pytest.approx(0.5 * 8.175 / 12.0, rel=1e-3)}
    assert "goal-by-flow" not in codes(balance([small], goal_gph=0.3))
    assert "goal-by-flow" not in codes(balance([made_peaks([[14.4, 14.0, 14.1, 14.2]])]))


def test_one_cylinder_alone_is_told_that_a_spread_needs_two() -> None:
    answer = balance([made_peaks([[12.0]])])
    assert "one-peak" in [statement.code for statement in answer.reasons]
    assert "one-peak" not in [statement.code for statement in balance([made_peaks([[12.0, 12.5]])]).reasons]
