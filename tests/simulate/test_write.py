"""What lies in the folder after ``simulate``, and the story's first flight."""

import json
from pathlib import Path

import numpy as np
import pytest

from leanwright.errors import UnwritablePlaceError
from leanwright.simulate import story
from leanwright.simulate.draw import REFERENCE
from leanwright.simulate.faults import UnknownFaultError
from leanwright.simulate.layouts import LAYOUTS
from leanwright.simulate.truth import FORMAT, STATEMENT
from leanwright.simulate.virtual_engine import true_peaks
from leanwright.simulate.write import simulate_to


def test_the_recording_and_its_truth_are_written_and_the_same_seed_gives_the_same_bytes(
    tmp_path: Path,
) -> None:
    places = []
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        places.append(
            simulate_to(tmp_path / name, seed=3, cylinders=6, faults=["nozzle-blocked:4:8"], sweeps=4)
        )
    for one, other in zip(*places, strict=True):
        assert one.read_bytes() == other.read_bytes()


def test_the_truth_says_all_that_is_known_of_the_recording(tmp_path: Path) -> None:
    recording, truth = simulate_to(tmp_path, seed=0, cylinders=4, faults=["intake-leak:2"], sweeps=3)
    told = json.loads(truth.read_text(encoding="utf-8"))
    assert (told["format"], told["statement"], told["seed"]) == (FORMAT, STATEMENT, 0)
    assert told["recording"] == recording.name
    assert told["layout"] in LAYOUTS
    assert [c["cylinder"] for c in told["cylinders"]] == [1, 2, 3, 4]
    assert told["faults"] == [{"cause": "intake-leak", "cylinders": [2], "size": 0.0625}]
    assert [s["direction"] for s in told["sweeps"]] == ["leaning", "enriching", "leaning"]
    for sweep in told["sweeps"]:
        assert sweep["start_s"] < sweep["end_s"]
        flows = [c["fuel_flow_at_peak_gph"] for c in sweep["cylinders"]]
        assert np.exp(np.mean(np.log(flows))) == pytest.approx(sweep["mean_flow_gph"])
        assert sum(c["offset_percent"] for c in sweep["cylinders"]) == pytest.approx(0.0, abs=1e-9)
    assert len({s["manifold_pressure_inhg"] for s in told["sweeps"]}) == 2
    egt = [c for c in told["channels"] if c["quantity"] == "egt"]
    assert sorted(c["cylinder"] for c in egt) == [1, 2, 3, 4]


def test_a_flight_without_sweeps_has_a_truth_too(tmp_path: Path) -> None:
    _, truth = simulate_to(tmp_path, seed=1, cylinders=6, sweeps=0)
    told = json.loads(truth.read_text(encoding="utf-8"))
    assert told["sweeps"] == []
    assert len(told["cylinders"]) == 6


def test_layouts_go_through_the_corpus_with_the_seed(tmp_path: Path) -> None:
    layouts = set()
    for seed in range(len(LAYOUTS)):
        _, truth = simulate_to(tmp_path, seed=seed, cylinders=4, sweeps=1)
        layouts.add(json.loads(truth.read_text(encoding="utf-8"))["layout"])
    assert layouts == set(LAYOUTS)


def test_a_fault_that_cannot_be_leaves_nothing_behind(tmp_path: Path) -> None:
    with pytest.raises(UnknownFaultError, match="cylinder 5 is not one of 1 to 4"):
        simulate_to(tmp_path, seed=1, cylinders=4, faults=["nozzle-blocked:5"])
    assert list(tmp_path.iterdir()) == []


def test_a_truth_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    (tmp_path / "truth.json").mkdir()
    with pytest.raises(UnwritablePlaceError, match=r"Cannot write .*truth\.json"):
        simulate_to(tmp_path, seed=1, cylinders=4)


def test_the_storys_engine_has_one_lean_and_one_rich_cylinder_and_a_spread_of_about_0_9() -> None:
    truth = story.first_flight().truth
    assert truth.spread_gph == pytest.approx(0.9, abs=0.03)
    assert [int(np.argmax(truth.offset_percent)), int(np.argmin(truth.offset_percent))] == [2, 4]
    others = np.delete(truth.offset_percent, [2, 4])
    assert np.abs(others).max() < 1.0
    assert true_peaks(story.engine(), REFERENCE).spread_gph == pytest.approx(story.SPREAD_GPH, rel=1e-3)


def test_the_storys_first_flight_has_two_sweeps_at_each_of_two_powers() -> None:
    truth = story.first_flight().truth
    assert [s.direction for s in truth.sweeps] == ["leaning", "enriching"] * 2
    assert [s.manifold_pressure_inhg for s in truth.sweeps] == [22.0, 22.0, 19.0, 19.0]
    assert all(all(s.passed) for s in truth.sweeps)


def test_the_storys_recording_says_of_everyone_in_it_that_they_are_invented(tmp_path: Path) -> None:
    place = story.write_first_flight(tmp_path)
    head = place.read_text(encoding="utf-8").splitlines()[:8]
    assert STATEMENT in head[0]
    for name in (
        story.AIRCRAFT,
        story.AIRCRAFT_TYPE,
        story.ENGINE,
        story.NOZZLES,
        story.OWNER,
        story.MECHANIC,
    ):
        assert "(invented)" in name
        assert any(name in line for line in head)
