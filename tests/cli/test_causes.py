"""``leanwright causes`` from outside: its JSON, its exit codes, its sentences."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from leanwright.workbench.cause_files import BOTTLE_TEST
from leanwright.workbench.invent import simulate_into
from tests.cli.conftest import Outcome

Leanwright = Callable[..., Outcome]
NAMES = {
    "nozzle-size", "nozzle-blocked", "nozzles-exchanged", "intake-leak", "air-bleed-blocked", "plug-dead",
    "ignition-weak", "low-airflow", "probe-slow", "probe-dead", "probes-exchanged", "flow-misscaled", "none",
}  # fmt: skip


@pytest.fixture(scope="module")
def flights(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    folder = tmp_path_factory.mktemp("flights")
    told = {}
    for name, fault, seed in (("leak", "intake-leak:3:0.1", 3), ("sound", "none", 3)):
        places = simulate_into(folder / name, seed=seed, cylinders=6, faults=(fault,), sweeps=4)
        told[name] = str(next(place for place in places if place.name != "truth.json"))
    return told


def test_the_document_holds_what_programs_rely_on(leanwright: Leanwright, flights: dict[str, str]) -> None:
    done = leanwright("causes", flights["leak"], "--json")
    assert done.code == 0
    document = json.loads(done.out)
    assert document["format"] == "leanwright/causes/1"
    assert {"causes", "undecided_between", "would_settle_it"} <= document.keys()
    chances = [one["probability"] for one in document["causes"]]
    assert chances == sorted(chances, reverse=True)
    assert all(0.05 <= chance <= 1.0 for chance in chances)
    for one in document["causes"]:
        assert {"cylinder", "cause", "probability", "for", "against"} <= one.keys()
        assert one["cause"] in NAMES
        assert isinstance(one["cylinder"], int | list | None)
    first = document["causes"][0]
    assert (first["cylinder"], first["cause"]) == (3, "intake-leak")
    assert any("leaner at" in sentence and " s to " in sentence for sentence in first["for"])


def test_the_first_sentence_says_where_to_look(leanwright: Leanwright, flights: dict[str, str]) -> None:
    done = leanwright("causes", flights["leak"], "--ascii", "--before", flights["sound"])
    assert done.code == 0
    assert done.out.startswith("Look elsewhere. The likeliest cause is an air leak at the intake, at 3")


def test_the_same_recording_earlier_and_now_has_no_answer(
    leanwright: Leanwright, flights: dict[str, str]
) -> None:
    done = leanwright("causes", flights["sound"], "--before", flights["sound"], "--json")
    assert done.code == 1
    document = json.loads(done.out)
    assert document["causes"] == []
    assert document["reasons"] == [
        "The same recording is named as earlier and as now: it tells nothing of a change."
    ]


def test_a_file_that_makes_no_sense_is_wrong_usage(
    leanwright: Leanwright, flights: dict[str, str], tmp_path: Path
) -> None:
    place = tmp_path / "bottles.toml"
    place.write_text(BOTTLE_TEST.example.replace("cylinder = 2", "cylinder = 1"), encoding="utf-8")
    done = leanwright("causes", flights["sound"], "--bottle", str(place))
    assert done.code == 2
    assert done.out == ""
    assert "cylinder 1 is there twice" in done.err
    assert "Traceback" not in done.err
