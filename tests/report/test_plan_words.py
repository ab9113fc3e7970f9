"""Sentences of plans and comparisons: the answer first, plain, with their numbers and units."""

import re

import pytest

from leanwright.engine.profile import opposed
from leanwright.findings import Statement
from leanwright.report.words import Voice, say
from leanwright.report.words.catalogue import load

ENGLISH = Voice(load("en"), "us", opposed(6))
LINE = {"document": "PG-9 (invented) B", "file_line": 6, "subject": "T-7"}
POWERS = {"manifold_pressure_high_inhg": 24.0, "manifold_pressure_low_inhg": 18.0}

SAID = [
    (
        Statement("plan-change", {"changes": 1, "cylinders_changed": (3,), "probability_within_goal": 0.93}),
        "Change one nozzle, in 3. The chance that one order is enough is 93 %.",
    ),
    (
        Statement("plan-change", {"changes": 2, "cylinders_changed": (3, 6), "probability_within_goal": 0.999}),
        "Change two nozzles, in 3 and 6. The chance that one order is enough is over 99 %.",
    ),
    (
        Statement("plan-exchange", {"cylinders_changed": (3, 6), "probability_within_goal": 0.95}),
        "Exchange the nozzles of 3 and 6 and buy nothing. The chance that this is enough is 95 %.",
    ),
    (
        Statement("plan-leave-even", {"goal_gph": 0.5, "probability_within_goal": 0.97}),
        "Leave the nozzles alone. The chance that all cylinders are within 0.5 gal/h is 97 %.",
    ),
    (
        Statement("plan-within-noise", {"better_probability": 0.6}),
        "Leave the nozzles alone. A change would help with a chance of only 60 %; that is within the noise.",
    ),
    (
        Statement("plan-fly-more", {"sweeps_more": 4, "u_now_gph": 0.16, "u_then_gph": 0.07}),
        "Fly more first: four more sweeps would bring the uncertainty from ± 0.16 to ± 0.07 gal/h; an order now would be a guess.",
    ),
    (
        Statement("plan-missing-peaks", {"cylinders_without_peak": (2,)}),
        "Cylinder 2 gave no peak, so nobody knows what it needs. Look at its probe, or pass its peak.",
    ),
    (Statement("plan-no-spread", {"peaked": 0}), "There is nothing to plan with: no cylinder gave a peak."),
    (Statement("plan-no-spread", {"peaked": 1}), "There is nothing to plan with: only one cylinder gave a peak."),
    (
        Statement("plan-not-sound", {"checks": ("compression", "plugs")}),
        "Look elsewhere. The checks of compression and plugs found something. Put that right first, then fly again.",
    ),
    (
        Statement("plan-other-cause", {"cause": "intake-leak", "cylinders_meant": (5,), "cause_probability": 0.88}),
        "Look elsewhere. At cylinder 5 the likeliest cause is an air leak at the intake (88 %), not its nozzle.",
    ),
    (
        Statement("plan-other-cause", {"cause": "flow-misscaled", "cylinders_meant": (), "cause_probability": 0.8}),
        "Look elsewhere. The likeliest cause is a misscaled flow reading (80 %), not a nozzle.",
    ),
    (
        Statement(
            "plan-cause-open",
            {"cause": "intake-leak", "cylinders_meant": (3,), "cause_probability": 0.41, "nozzle_probability": 0.44},
        ),
        "Find the cause first. At cylinder 3 it could be the nozzle (44 %) or an air leak at the intake (41 %).",
    ),
    (
        Statement(
            "plan-differs-with-power",
            {"cylinder": 3, "difference_percent": -2.0, "u_difference_percent": 0.2, **POWERS},
        ),
        "Look elsewhere. Cylinder 3 differs by 2.00 ± 0.20 % between 24.0 inHg and 18.0 inHg; a nozzle would not do that.",
    ),
    (
        Statement(
            "plan-predicted",
            {
                "predicted_spread_gph": 0.205, "u_predicted_spread_gph": 0.063, "spread_gph": 0.91,
                "total_flow_change_percent": -0.2, "leanest_change_percent": -3.6,
            },
        ),
        ("The spread then is likely 0.205 ± 0.063 gal/h; now it is 0.91 gal/h. The sum of the nozzles moves by −0.2 %; "
        "the leanest at full power by −3.6 %."),
    ),
    (
        Statement("plan-doing-less", {"changes": 1, "probability_within_goal": 0.47, "predicted_spread_gph": 0.48}),
        "With one change the chance is 47 %, and the spread likely 0.48 gal/h.",
    ),
    (
        Statement("plan-pays-back", {"hours": 50.4, "hours_low": 41.0, "hours_high": 66.0, "saving_gph": 0.5}),
        "Leaned by its leanest cylinder as before, the engine saves 0.50 gal/h. That pays back in 50 h (95 %: 41 to 66).",
    ),
    (
        Statement("plan-pays-back", {"hours": 50.4, "hours_low": 41.0, "hours_high": None, "saving_gph": 0.5}),
        "Leaned by its leanest cylinder as before, the engine saves 0.50 gal/h. That pays back in 50 h.",
    ),
    (
        Statement("plan-learned", {"rounds": 1, "came_percent": 93.0, "u_came_percent": 2.0}),
        "It counts with what the last round taught: a change shows by 93.0 ± 2.0 % of what the nozzles promise.",
    ),
    (
        Statement("plan-health-missing", {"checks": ("compression", "intake-leak", "break-in")}),
        ("Before any order, have the engine's health looked at. Nothing is on file for compression, the intake leak check "
        "and hours since new cylinders."),
    ),
    (
        Statement("approval-excluded", LINE),
        "Document PG-9 (invented) B does not cover this aircraft: line 6 of the file leaves it out.",
    ),
    (
        Statement("approval-serial-unknown", {**LINE, "subject": "engine"}),
        "A person must decide. Line 6 limits PG-9 (invented) B to some serial numbers, and the engine's is not known.",
    ),
    (
        Statement("approval-modification", LINE),
        "A person must decide. Line 6 covers the aircraft without other modifications; the records show: T-7.",
    ),
    (
        Statement(
            "compare-better",
            {
                "fall_gph": 0.69, "u_fall_gph": 0.075, "spread_gph": 0.217, "u_spread_gph": 0.021,
                "predicted_spread_gph": 0.205, "u_predicted_spread_gph": 0.063, "better_probability": 0.999,
            },
        ),
        "Better: the spread fell by 0.690 ± 0.075 gal/h, to 0.217 ± 0.021 gal/h. Predicted was 0.205 ± 0.063 gal/h.",
    ),
    (
        Statement(
            "compare-worse",
            {
                "fall_gph": -0.2, "u_fall_gph": 0.05, "spread_gph": None, "u_spread_gph": None,
                "predicted_spread_gph": None, "u_predicted_spread_gph": None, "better_probability": 0.001,
            },
        ),
        "Worse: the spread rose by 0.200 ± 0.050 gal/h.",
    ),
    (
        Statement(
            "compare-open",
            {
                "fall_gph": 0.01, "u_fall_gph": 0.05, "spread_gph": 0.4, "u_spread_gph": 0.03,
                "predicted_spread_gph": None, "u_predicted_spread_gph": None, "better_probability": 0.58,
            },
        ),
        "Cannot tell whether it is better (chance 58 %): the spread changed by 0.010 ± 0.050 gal/h, to 0.400 ± 0.030 gal/h.",
    ),
    (
        Statement("missed-prediction", {"cylinder": 6, "missed_gph": 0.31, "u_missed_gph": 0.06, "side": "lean"}),
        ("Cylinder 6 missed its prediction by 0.310 ± 0.060 gal/h, on the lean side. Check which nozzle is in it, whether it "
        "is clean, and its line and intake for a leak."),
    ),
    (
        Statement("missed-exchanged", {"cylinders_meant": (3, 5)}),
        "Cylinders 3 and 5 came out as if each had the other's nozzle. Read the markings in both.",
    ),
    (
        Statement("missed-in-proportion", {"came_percent": 71.3}),
        "All changes came out at 71 % of what the nozzles promise. The next plan can count with that.",
    ),
]  # fmt: skip


@pytest.mark.parametrize(
    ("statement", "said"), SAID, ids=lambda one: one.code if isinstance(one, Statement) else ""
)
def test_a_statement_in_words(statement: Statement, said: str) -> None:
    assert say(statement, ENGLISH).replace("\u00a0", " ") == said


FIRST = re.compile(
    r"plan-(change|exchange|leave-even|within-noise|none-helps|no-step-helps|fly-more|not-injected)|compare-(better|worse)"
)


@pytest.mark.parametrize(
    ("statement", "said"),
    [one for one in SAID if FIRST.fullmatch(one[0].code)],
    ids=lambda one: getattr(one, "code", ""),
)
def test_a_first_sentence_has_at_most_25_words(statement: Statement, said: str) -> None:
    assert statement.code
    assert len([word for word in said.split() if re.search(r"\w", word)]) <= 25


def test_no_sentence_of_the_plan_calls_anything_safe_or_approved() -> None:
    texts = [
        text
        for code, entry in load("en").content["statement"].items()
        if code.startswith(("plan-", "approval-", "compare-", "missed-"))
        for text in ([entry] if isinstance(entry, str) else entry.values())
    ]
    assert [
        text for text in texts if re.search(r"\b(safe|approved|airworthy|good to go|seems|roughly)\b", text)
    ] == []


def test_metric_units_reach_the_plan() -> None:
    values = {"sweeps_more": 1, "u_now_gph": 0.1, "u_then_gph": 0.05}
    said = say(Statement("plan-fly-more", values), Voice(load("en"), "metric", opposed(6)))
    assert "from ± 0.38 to ± 0.19 L/h" in said.replace("\u00a0", " ")
