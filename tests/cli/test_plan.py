"""``leanwright plan`` from end to end: the document, the sentence, the files, the exit codes."""

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Outcome
from tests.cli.flown import fly

Call = Callable[..., Outcome]
KEYS = {
    "format", "action", "cylinders", "predicted_spread_gph", "u_predicted_spread_gph", "probability_within_goal",
    "leanest_at_full_power_change_percent", "total_flow_change_percent", "choices", "reasons", "next_flight",
}  # fmt: skip
SET = """\
format = "leanwright/nozzle-set/1"
name = "Pennygill set (invented)"
[groups.MR]
rows = ["middle"]
banks = ["right"]
[groups.R]
rows = ["rear"]
[groups.ALL]
cylinders = [1, 2, 3, 4, 5, 6]
"""


@pytest.fixture(scope="module")
def flight(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return fly(tmp_path_factory.mktemp("flown"), "before")


@pytest.fixture
def write(tmp_path: Path) -> Callable[[str, str], Path]:
    def made(name: str, text: str) -> Path:
        place = tmp_path / name
        place.write_text(text, "utf-8")
        return place

    return made


Write = Callable[[str, str], Path]


def planned(outcome: Outcome) -> Any:
    assert outcome.err == ""
    return json.loads(outcome.out)


def test_the_document_holds_the_agreed_keys_and_a_right_plan(leanwright: Call, flight: Path) -> None:
    outcome = leanwright("plan", flight, "--json")
    found = planned(outcome)
    assert outcome.code == 0
    assert found.keys() >= KEYS
    assert (found["format"], found["action"], found["next_flight"]) == ("leanwright/plan/1", "change", None)
    assert [one["cylinder"] for one in found["cylinders"]] == [1, 2, 3, 4, 5, 6]
    changed = {one["cylinder"]: one["flow_factor"] for one in found["cylinders"] if one["flow_factor"] != 1.0}
    # The invented engine runs 4.2 parts lean at 3 and 3.6 rich at 5 (see the story's pattern).
    assert changed.keys() == {3, 5}
    assert changed[3] > 1.0 > changed[5]
    assert {one["nozzle"] for one in found["cylinders"]} == {None}
    assert found["probability_within_goal"] >= 0.9
    assert found["leanest_at_full_power_change_percent"] <= 0.0
    assert abs(found["total_flow_change_percent"]) <= 1.0
    assert [one["changes"] for one in found["choices"]][:2] == [0, 1]
    assert all(
        {"changes", "predicted_spread_gph", "probability_within_goal", "cylinders"} <= one.keys()
        for one in found["choices"]
    )
    assert found["order"] == [
        {"nozzle": None, "flow_factor": changed[number], "quantity": 1, "cylinders": [number]}
        for number in (5, 3)
    ]


def test_the_first_sentence_says_what_to_do(leanwright: Call, flight: Path) -> None:
    outcome = leanwright("plan", flight)
    text = " ".join(outcome.out.split())
    assert outcome.code == 0
    assert text.startswith(
        "Change two nozzles, in 3 and 5. The chance that one order is enough is over 99 %."
    )
    assert "Recommended: two changes." in text
    assert "Clean the nozzles and fly again before buying" in text
    assert text.endswith("licensed people win over it.")
    assert max(len(line) for line in outcome.out.splitlines()) <= 80
    assert leanwright("plan", flight, "--ascii").out.isascii()


def test_a_wider_goal_leaves_the_nozzles_alone(leanwright: Call, flight: Path) -> None:
    found = planned(leanwright("plan", flight, "--goal-gph", "2", "--json"))
    assert (found["action"], found["goal_gph"]) == ("leave", 2.0)
    assert {one["flow_factor"] for one in found["cylinders"]} == {1.0}
    assert found["reasons"][0].startswith("Leave the nozzles alone.")


def test_one_sweep_orders_nothing(leanwright: Call, tmp_path: Path) -> None:
    found = planned(leanwright("plan", fly(tmp_path, "one", sweeps=1), "--json"))
    assert found["action"] == "fly-more"
    assert found["next_flight"]["sweeps"] >= 1
    assert found["next_flight"]["expected_u_spread_gph"] < found["u_spread_gph"]
    assert found["reasons"][0].startswith("Fly more first:")


def test_without_a_sweep_there_is_no_plan(leanwright: Call, tmp_path: Path) -> None:
    outcome = leanwright("plan", fly(tmp_path, "none", sweeps=0), "--json")
    found = planned(outcome)
    assert (outcome.code, found["action"], found["predicted_spread_gph"]) == (1, "fly-more", None)
    assert found["next_flight"] == {"sweeps": 4, "expected_u_spread_gph": None}


def test_recordings_of_two_engines_are_not_mixed(leanwright: Call, flight: Path, write: Write) -> None:
    head = "Time (s),EGT1 (F),EGT2 (F),EGT3 (F),EGT4 (F),FF (gal/h)\n"
    four = write("four.csv", head + "".join(f"{t},1400,1400,1400,1400,11.0\n" for t in range(60)))
    outcome = leanwright("plan", flight, four, "--json")
    found = planned(outcome)
    assert (outcome.code, found["choices"], found["next_flight"]) == (1, [], None)
    assert found["reasons"][0].startswith("These recordings cannot be of one engine")


def test_a_set_a_shelf_an_aircraft_and_an_approval(leanwright: Call, flight: Path, write: Write) -> None:
    nozzles = write(
        "set.toml",
        SET
        + '[[nozzle]]\nmarking = "P-104"\nstep_percent = 4\ngroups = ["MR"]\n'
        + '[[nozzle]]\nmarking = "P-096"\nstep_percent = -4\n'
        + '[[nozzle]]\nmarking = "P-095"\nstep_percent = -5\ngroups = ["R"]\n',
    )
    stock = write(
        "stock.toml", 'format = "leanwright/stock/1"\n[[nozzle]]\nmarking = "P-096"\nquantity = 1\n'
    )
    aircraft = write(
        "aircraft.toml",
        'format = "leanwright/aircraft/1"\n[aircraft]\ntype = "Tarn (invented)"\nserial = "T-1"\n[engine]\n'
        'numbered_from = "rear"\nmodel = "Six (invented)"\nserial = "S-1"\n[[check]]\nwhat = "compression"\ndate = "2031-05-02"\nresult = "sound"\n'
        "[prices]\npart = 50.0\nlabour = 60.0\nfuel_per_gallon = 8.0\nhours_per_year = 100.0\n",
    )
    approval = write(
        "approval.toml",
        'format = "leanwright/approval/1"\ndocument = "PG-9 (invented)"\npermission_on_file = true\n'
        '[[covers]]\naircraft = "Tarn (invented)"\nengine = "Six (invented)"\n',
    )
    arguments = (
        "plan",
        flight,
        "--nozzles",
        nozzles,
        "--stock",
        stock,
        "--aircraft",
        aircraft,
        "--approval",
        approval,
    )
    found = planned(leanwright(*arguments, "--json"))
    assert found["action"] == "change"
    got = {one["cylinder"]: (one["nozzle"], one["origin"]) for one in found["cylinders"] if one["nozzle"]}
    assert got == {3: ("P-104", "order"), 5: ("P-096", "shelf")}
    assert found["order"] == [{"nozzle": "P-104", "flow_factor": 1.04, "quantity": 1, "cylinders": [3]}]
    assert (found["approval"]["answer"], found["approval"]["line"]) == ("covered", 4)
    chosen = next(one for one in found["choices"] if one["changes"] == 2)
    assert chosen["payback"]["cost"] == 50.0 + 2 * 60.0
    assert any("Nothing is on file for the intake leak check" in one for one in found["reasons"])
    text = leanwright(*arguments).out
    assert "P-096 (shelf)" in text
    assert "Order: 1 × P-104 for 3." in text
    assert "paid in, h" in text


@pytest.mark.parametrize(
    ("nozzle", "told"),
    [
        (
            '[[nozzle]]\nmarking = "A"\nstep_percent = 4\ngroups = ["Q"]\n',
            "position group 'Q', which the set does not have",
        ),
        (
            '[[nozzle]]\nmarking = "A"\nstep_percent = 4\ngroups = ["N"]\n',
            "may go to no position of this engine",
        ),
        ('[[nozzle]]\nmarking = "A"\nstep_percent = -104\n', "a nozzle passes more than nothing"),
        (2 * '[[nozzle]]\nmarking = "A"\nstep_percent = 4\n', "two nozzles bear the marking 'A'"),
    ],
)
def test_a_set_that_cannot_be_used_exits_with_2_and_one_sentence(
    leanwright: Call, flight: Path, write: Write, nozzle: str, told: str
) -> None:
    place = write("set.toml", SET + '[groups.N]\nrows = ["front mid"]\n' + nozzle)
    outcome = leanwright("plan", flight, "--nozzles", place, "--numbered-from", "rear", "--json")
    assert (outcome.code, outcome.out, outcome.err.count("\n")) == (2, "", 1)
    assert outcome.err.startswith("leanwright: set.toml: ")
    assert told in outcome.err


def test_a_mistake_in_a_set_is_told_before_a_recording_is_opened(leanwright: Call, write: Write) -> None:
    outcome = leanwright("plan", "nowhere.csv", "--nozzles", write("set.toml", "format = 3"))
    assert outcome.code == 2
    assert "set.toml" in outcome.err


def test_where_no_nozzle_that_is_allowed_helps_it_says_so_and_exits_with_1(
    leanwright: Call, flight: Path, write: Write
) -> None:
    place = write("set.toml", SET + '[[nozzle]]\nmarking = "A"\nstep_percent = 4\ngroups = ["R"]\n')
    outcome = leanwright("plan", flight, "--nozzles", place, "--numbered-from", "rear", "--json")
    found = planned(outcome)
    assert (outcome.code, found["action"]) == (1, "leave")
    assert "No nozzle that can be had and may go there" in found["reasons"][0]


@pytest.mark.parametrize(("field", "value"), [("fuel_system", "carburetted"), ("fuel_system", "electronic")])
def test_no_nozzle_is_ordered_for_another_fuel_system(
    leanwright: Call, flight: Path, write: Write, field: str, value: str
) -> None:
    place = write("aircraft.toml", f'format = "leanwright/aircraft/1"\n[engine]\n{field} = "{value}"\n')
    found = planned(leanwright("plan", flight, "--aircraft", place, "--json"))
    assert (found["action"], found["order"]) == ("look-elsewhere", [])


def test_what_was_found_unsound_comes_before_any_order(leanwright: Call, flight: Path, write: Write) -> None:
    place = write(
        "aircraft.toml",
        'format = "leanwright/aircraft/1"\n[[check]]\nwhat = "plugs"\ndate = "2031-05-01"\nresult = "sound"\n'
        '[[check]]\nwhat = "plugs"\ndate = "2031-05-09"\nresult = "not sound"\n',
    )
    found = planned(leanwright("plan", flight, "--aircraft", place, "--json"))
    assert found["action"] == "look-elsewhere"
    assert "plugs" in found["reasons"][0]


def test_a_plan_takes_less_than_a_second_beside_the_measuring(leanwright: Call, flight: Path) -> None:
    began = time.process_time()
    leanwright("balance", flight, "--json")
    measured = time.process_time() - began
    leanwright("plan", flight, "--json")
    assert time.process_time() - began - 2.0 * measured < 1.0


def test_groups_by_row_need_to_know_from_which_end_the_cylinders_are_counted(
    leanwright: Call, flight: Path, write: Write
) -> None:
    by_row = write("rows.toml", SET + '[[nozzle]]\nmarking = "A"\nstep_percent = 4\ngroups = ["MR"]\n')
    outcome = leanwright("plan", flight, "--nozzles", by_row)
    assert (outcome.code, outcome.out, outcome.err.count("\n")) == (2, "", 1)
    assert "--numbered-from" in outcome.err
    by_number = write(
        "numbers.toml",
        SET
        + '[[nozzle]]\nmarking = "A"\nstep_percent = 4\ngroups = ["ALL"]\n'
        + '[[nozzle]]\nmarking = "B"\nstep_percent = -4\n',
    )
    found = planned(leanwright("plan", flight, "--nozzles", by_number, "--json"))
    assert {one["cylinder"]: one["nozzle"] for one in found["cylinders"] if one["nozzle"]} == {3: "A", 5: "B"}


def test_an_air_leak_is_never_answered_with_a_nozzle(leanwright: Call, tmp_path: Path) -> None:
    leanwright("simulate", "--seed", "11", "--sweeps", "4", "--fault", "intake-leak:3:0.1", "--out", tmp_path)
    recording = next(place for place in tmp_path.iterdir() if place.suffix != ".json")
    found = planned(leanwright("plan", recording, "--json"))
    assert found["action"] in {"look-elsewhere", "fly-more", "leave"}
    assert found["order"] == []
    assert found["causes"]


def test_a_leak_in_an_engine_that_is_even_enough_is_said_beside_leave(
    leanwright: Call, tmp_path: Path
) -> None:
    leanwright(
        "simulate", "--seed", "11", "--sweeps", "4", "--fault", "intake-leak:3:0.09", "--out", tmp_path
    )
    outcome = leanwright("plan", *tmp_path.glob("flight-11*"), "--goal-gph", "0.6")
    text = " ".join(outcome.out.split())
    assert text.startswith("Leave the nozzles alone.")
    assert "The likeliest cause is an air leak at the intake, at 3 " in text


def test_two_nozzles_that_may_sit_in_each_others_place_are_looked_at_before_buying(
    leanwright: Call, flight: Path
) -> None:
    """The invented engine is lean at 3 by as much as it is rich at 5."""
    found = planned(leanwright("plan", flight, "--json"))
    assert any(
        one.startswith("The nozzles of 3 and 5 may sit in each other's place") for one in found["reasons"]
    )


def test_earlier_recordings_of_another_engine_give_no_plan(
    leanwright: Call, flight: Path, write: Write
) -> None:
    head = "Time (s),EGT1 (F),EGT2 (F),EGT3 (F),EGT4 (F),FF (gal/h)\n"
    four = write("four.csv", head + "".join(f"{t},1400,1400,1400,1400,11.0\n" for t in range(60)))
    outcome = leanwright("plan", flight, "--json", "--before", four)
    found = planned(outcome)
    assert (outcome.code, found["choices"], len(found["reasons"])) == (1, [], 1)


def test_earlier_recordings_that_are_later_give_no_plan(
    leanwright: Call, flight: Path, tmp_path: Path
) -> None:
    later = fly(tmp_path, "later", day=25, seed=8, sweeps=2)
    outcome = leanwright("plan", flight, "--json", "--before", later)
    found = planned(outcome)
    assert (outcome.code, found["choices"]) == (1, [])
    assert "25 May 2031" in found["reasons"][0]


def test_a_bottle_test_that_misses_the_metered_flow_is_said_beside_the_plan(
    leanwright: Call, flight: Path, write: Write
) -> None:
    catches = "".join(f"{number},100,100\n" for number in range(1, 7))
    bottle = write("bottle.csv", f"cylinder,mL,mL\n{catches}metered,700,\n")
    found = planned(leanwright("plan", flight, "--bottle", bottle, "--json"))
    assert any("metered" in one for one in found["reasons"])


def test_the_plan_is_written_as_a_page(leanwright: Call, flight: Path, tmp_path: Path) -> None:
    place = tmp_path / "plan.html"
    assert leanwright("plan", flight, "--html", place).code == 0
    assert "<svg" in place.read_text("utf-8")


@pytest.mark.parametrize("kind", ["carburetted", "electronic", "automatic"])
def test_an_engine_without_nozzles_of_its_own_is_measured_and_never_planned_for(
    leanwright: Call, flight: Path, kind: str
) -> None:
    planned = json.loads(leanwright("plan", "--fuel-system", kind, "--json", str(flight)).out)
    assert planned["action"] == "look-elsewhere"
    assert "no nozzle is ordered for it" in planned["reasons"][0] + planned["reasons"][1]
    measured = json.loads(leanwright("balance", "--fuel-system", kind, "--json", str(flight)).out)
    assert measured["fuel_system"] == kind
    assert measured["spread_gph"] is not None
    assert any("no nozzle is ordered for it" in reason for reason in measured["reasons"])
