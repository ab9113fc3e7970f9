"""The page of promises is what the promises, their tests and the figures kept make; nothing in it is made up."""

import json
from pathlib import Path

import pytest

from tests.faults import measure, promises
from tests.faults.promises import LANES


def test_the_page_is_up_to_date() -> None:
    kept = json.loads(measure.FIGURES.read_text("utf-8"))
    assert measure.PAGE.read_text("utf-8") == measure.page(kept, measure.held_by()), (
        "python dev.py faults --page"
    )


def test_every_promise_is_in_a_lane_and_every_mark_names_a_promise() -> None:
    known = promises.promises()
    assert {promise.lane for promise in known.values()} == set(LANES)
    assert set(measure.held_by()) <= set(known)


def test_figures_of_several_tests_of_one_promise_are_put_together() -> None:
    lines = [
        {"promise": "D3", "long": False, "figure": figure, "trials": made, "seed": 1, "date": "2031-05-03"}
        for figure, made in (("0 lost", 30), ("0 lost", 20), ("0 doubled", 1))
    ]
    made = measure.with_figures({}, [json.dumps(line) for line in lines])
    assert made == {
        "D3 sample": {
            "promise": "D3",
            "long": False,
            "figure": "0 doubled; 0 lost",
            "trials": 51,
            "seed": 1,
            "date": "2031-05-03",
        }
    }
    assert "- Measured in a sample on 2031-05-03, 51 trials, seed 1: 0 doubled; 0 lost" in measure.page(
        made, {}
    )


def test_a_run_draws_the_same_faults_again_from_its_seed() -> None:
    run = promises.trial_run("N3")
    assert run.random(3).random() == run.random(3).random() != run.random(4).random()


def test_lanes_and_single_promises_are_run_as_named_and_every_lane_if_none_is() -> None:
    assert measure.chosen(["ledger"], ["D1", "D4"]) == [("ledger", ""), ("", "D1"), ("", "D4")]
    assert measure.chosen([], []) == [(lane, "") for lane in LANES]


def test_fewer_trials_are_made_where_they_are_asked_for_and_the_page_says_how_many(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv(promises.TRIALS_VARIABLE, "70")
    monkeypatch.setenv(promises.LONG_VARIABLE, "1")
    monkeypatch.setenv(promises.FIGURES_VARIABLE, str(tmp_path / "figures"))
    run = promises.trial_run("D1")
    assert run.trials == 70
    run.measured("0 lost", run.trials)
    kept = measure.with_figures({}, (tmp_path / "figures").read_text("utf-8").splitlines())
    assert "- Measured in the long run on" in measure.page(kept, {})
    assert ", 70 trials, seed 1: 0 lost" in measure.page(kept, {})


def test_a_test_that_fails_or_dies_takes_the_figures_of_the_promises_of_its_file_and_of_no_other() -> None:
    tests = {
        "D1": ["tests/a/test_one.py", "tests/test_two.py"],
        "D2": ["tests/a/test_one.py"],
        "D3": ["tests/test_three.py"],
    }
    lines = [json.dumps({"promise": name, "figure": "0 lost"}) for name in tests]
    passed = '<testcase classname="tests.test_three" name="test_c"/>'

    def told(inside: str) -> str:
        return f'<testsuites><testsuite><testcase classname="tests.test_two" name="test_b">{inside}</testcase>{passed}</testsuite></testsuites>'

    assert measure.outcome(lines, told(""), tests) == measure.Outcome(lines, [])
    for what in ("failure", "error"):
        assert measure.outcome(lines, told(f"<{what}/>"), tests) == measure.Outcome(lines[1:], ["D1"])
    assert measure.outcome(
        lines, told("<failure/>").replace("test_two", "a.test_one"), tests
    ) == measure.Outcome(lines[2:], ["D1", "D2"])
