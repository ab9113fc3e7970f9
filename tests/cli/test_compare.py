"""``leanwright compare`` from end to end, with the plan that was carried out and the next one."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Outcome
from tests.cli.flown import fly

Call = Callable[..., Outcome]
FACTORS = {3: 1.04, 5: 0.96}


@pytest.fixture(scope="module")
def flights(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("flown")
    return {
        "before": fly(folder, "before", sweeps=2),
        "after": fly(folder, "after", factors=FACTORS, day=20, seed=6, sweeps=2),
        "wrong": fly(folder, "wrong", factors={3: 0.96, 5: 1.04}, day=20, seed=7, sweeps=2),
    }


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    """A plan that was kept: what these tests need of it."""
    cylinders = [
        {
            "cylinder": number,
            "flow_factor": FACTORS.get(number, 1.0),
            "u_flow_percent": 0.29 if number in FACTORS else 0.0,
        }
        for number in range(1, 7)
    ]
    place = tmp_path / "plan.json"
    place.write_text(
        json.dumps(
            {
                "format": "leanwright/plan/1",
                "cylinders": cylinders,
                "predicted_spread_gph": 0.14,
                "u_predicted_spread_gph": 0.02,
            }
        )
    )
    return place


def compared(outcome: Outcome) -> Any:
    assert outcome.err == ""
    return json.loads(outcome.out)


def test_the_document_holds_both_sides_and_what_changed(leanwright: Call, flights: dict[str, Path]) -> None:
    outcome = leanwright("compare", "--before", flights["before"], "--after", flights["after"], "--json")
    found = compared(outcome)
    assert (outcome.code, found["format"]) == (0, "leanwright/compare/1")
    assert found["before"]["format"] == found["after"]["format"] == "leanwright/balance/1"
    assert found["change_spread_gph"] == pytest.approx(
        found["after"]["spread_gph"] - found["before"]["spread_gph"], abs=0.01
    )
    assert found["probability_better"] > 0.99
    change = {
        one["cylinder"]: (one["offset_change_percent"], one["u_offset_change_percent"])
        for one in found["cylinders"]
    }
    # 3 gets 4 % more and 5 4 % less: offsets change by -ln k, less its mean over the six.
    for number, expected in ((3, -3.92 + 0.03), (5, 4.08 + 0.03), (1, 0.03)):
        assert change[number][0] == pytest.approx(expected, abs=5.0 * change[number][1])
    assert found["response"] is None


def test_several_recordings_may_follow_each_option(leanwright: Call, flights: dict[str, Path]) -> None:
    outcome = leanwright(
        "compare", "--before", flights["before"], flights["before"], "--json", "--after", flights["after"]
    )
    assert compared(outcome)["before"]["recordings"][0]["name"] == flights["before"].name


def test_what_came_is_held_against_the_plan(leanwright: Call, flights: dict[str, Path], kept: Path) -> None:
    outcome = leanwright(
        "compare", "--before", flights["before"], "--after", flights["after"], "--plan", kept
    )
    text = " ".join(outcome.out.split())
    assert outcome.code == 0
    assert text.startswith("Better: the spread fell by 0.8")
    assert "Predicted was 0.140 ± 0.020 gal/h." in text
    assert "missed" not in text
    assert "predicted, %" in text


def test_nozzles_in_each_others_place_are_recognised(
    leanwright: Call, flights: dict[str, Path], kept: Path
) -> None:
    found = compared(
        leanwright(
            "compare", "--before", flights["before"], "--after", flights["wrong"], "--plan", kept, "--json"
        )
    )
    assert "Cylinders 3 and 5 came out as if each had the other's nozzle." in found["reasons"][1]
    assert found["reasons"][0].startswith("Worse:")


def test_what_a_round_taught_goes_into_the_next_plan(
    leanwright: Call, flights: dict[str, Path], kept: Path, tmp_path: Path
) -> None:
    taught = tmp_path / "compared.json"
    arguments = (
        "compare",
        "--before",
        flights["before"],
        "--after",
        flights["after"],
        "--plan",
        kept,
        "--json",
    )
    taught.write_text(leanwright(*arguments).out, "utf-8")
    response = json.loads(taught.read_text("utf-8"))["response"]
    assert response["factor"] == pytest.approx(1.0, abs=0.15)
    assert response["rounds"] == 1
    found = json.loads(leanwright("plan", flights["before"], "--learned", taught, "--json").out)
    assert found["response"] == response
    assert leanwright("plan", flights["before"], "--learned", kept).code == 2


def test_what_a_round_taught_is_kept_and_the_next_plan_counts_with_it(
    leanwright: Call, flights: dict[str, Path], kept: Path, tmp_path: Path
) -> None:
    """Two rounds by commands, no file carried from one to the next but the plan."""

    def planned(*words: str | Path) -> Any:
        return json.loads(leanwright("plan", *words, "--json").out)

    nothing = {"factor": 1.0, "u_factor": 0.0, "rounds": 0}
    assert planned(flights["after"])["response"] == nothing
    round_1 = ("compare", "--before", flights["before"], "--after", flights["after"], "--plan", kept)
    found = compared(leanwright(*round_1, "--json"))
    assert any(reason.startswith("Kept for the next plan from these flights") for reason in found["reasons"])
    then = planned(flights["after"])
    assert (then["response"], then["response"]["rounds"]) == (found["response"], 1)
    assert planned(flights["before"])["response"] == nothing
    assert planned(flights["after"], "--as-promised")["response"] == nothing
    second = tmp_path / "second.json"
    second.write_text(
        json.dumps({**json.loads(kept.read_text("utf-8")), "response": then["response"]}), "utf-8"
    )
    round_2 = ("compare", "--before", flights["after"], "--after", flights["before"], "--plan", second)
    assert leanwright(*round_2).code == 1  # the wrong way round in time: nothing is learned
    assert planned(flights["before"])["response"] == nothing


def test_a_round_in_which_nozzles_went_astray_teaches_nothing(
    leanwright: Call, flights: dict[str, Path], kept: Path
) -> None:
    words = ("compare", "--before", flights["before"], "--after", flights["wrong"], "--plan", kept)
    found = compared(leanwright(*words, "--json"))
    assert found["response"]["rounds"] == 1
    then = json.loads(leanwright("plan", flights["wrong"], "--json").out)
    assert then["response"] == {"factor": 1.0, "u_factor": 0.0, "rounds": 0}


def test_what_was_kept_and_is_damaged_is_as_if_nothing_was_kept(
    leanwright: Call, flights: dict[str, Path], tmp_path: Path
) -> None:
    place = tmp_path / "data" / "leanwright" / "learned.json"
    place.parent.mkdir(parents=True)
    place.write_text('{"format": "leanwright/learned/1", "responses": {"a": 7}}', "utf-8")
    outcome = leanwright("plan", flights["after"], "--json")
    assert (outcome.code, outcome.err) == (0, "")


def test_before_and_after_the_wrong_way_round_is_said(leanwright: Call, flights: dict[str, Path]) -> None:
    outcome = leanwright("compare", "--before", flights["after"], "--after", flights["before"], "--json")
    found = compared(outcome)
    assert (outcome.code, found["change_spread_gph"], found["probability_better"]) == (1, None, None)
    assert found["reasons"][0].startswith(
        "Before and after are the wrong way round: the flight named as before is of 20 May 2031"
    )


def test_states_that_overlap_in_time_are_said(leanwright: Call, flights: dict[str, Path]) -> None:
    outcome = leanwright(
        "compare",
        "--before",
        flights["before"],
        flights["wrong"],
        "--after",
        flights["after"],
        flights["before"],
    )
    assert outcome.code == 1
    assert "is later than one named as after" in " ".join(outcome.out.split())


def test_two_engines_cannot_be_compared(leanwright: Call, flights: dict[str, Path], tmp_path: Path) -> None:
    four = tmp_path / "four.csv"
    four.write_text(
        "Time (s),EGT1 (F),EGT2 (F),EGT3 (F),EGT4 (F),FF (gal/h)\n"
        + "".join(f"{t},1400,1400,1400,1400,11.0\n" for t in range(60))
    )
    outcome = leanwright("compare", "--before", flights["before"], "--after", four, "--json")
    assert outcome.code == 1
    assert compared(outcome)["reasons"] == [
        "These are two engines: six cylinders before, four after. Name recordings of one engine."
    ]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("no JSON", "it is not JSON"),
        ("[1]", "it is no leanwright/plan/1 document"),
        ('{"format": "leanwright/balance/1"}', "it is no leanwright/plan/1 document"),
        ('{"format": "leanwright/plan/1"}', "it lacks something that a plan holds"),
        (
            '{"format": "leanwright/plan/1", "cylinders": [{"cylinder": 1, "flow_factor": -1}]}',
            "it lacks something that a plan holds (flow_factor is -1)",
        ),
    ],
)
def test_a_plan_that_cannot_be_used_exits_with_2(
    leanwright: Call, flights: dict[str, Path], tmp_path: Path, text: str, told: str
) -> None:
    place = tmp_path / "plan.json"
    place.write_text(text)
    outcome = leanwright(
        "compare", "--before", flights["before"], "--after", flights["after"], "--plan", place
    )
    assert (outcome.code, outcome.out, outcome.err.count("\n")) == (2, "", 1)
    assert told in outcome.err


def test_both_states_have_to_be_named(leanwright: Call, flights: dict[str, Path]) -> None:
    outcome = leanwright("compare", "--before", flights["before"])
    assert (outcome.code, outcome.out) == (2, "")
    assert "--after" in outcome.err
