"""``leanwright pack``: everything in one file, the same bytes twice, and nothing that names anybody unless asked for."""

import hashlib
import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import Outcome
from tests.cli.flown import fly

Call = Callable[..., Outcome]
AIRCRAFT = (
    'format = "leanwright/aircraft/1"\n[aircraft]\ntype = "Tarn (invented)"\nserial = "T-0412"\n[engine]\n'
    'model = "Six (invented)"\nserial = "S6-1177"\n[[fitted]]\ncylinder = 3\nstep_percent = 0\nmarking = "P-100"\n'
    "[prices]\npart = 48.0\nlabour = 60.0\nfuel_per_gallon = 7.5\nhours_per_year = 120.0\n"
)


@pytest.fixture(scope="module")
def flight(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("flown")
    return fly(folder, "J-Doe-T-0412", sweeps=2)


@pytest.fixture
def aircraft(tmp_path: Path) -> Path:
    place = tmp_path / "aircraft.toml"
    place.write_text(AIRCRAFT, "utf-8")
    return place


def opened(place: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(place) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def test_made_twice_it_is_the_same_bytes(
    leanwright: Call, flight: Path, aircraft: Path, tmp_path: Path
) -> None:
    one, other = tmp_path / "one.zip", tmp_path / "other.zip"
    for place in (one, other):
        outcome = leanwright("pack", flight, "--aircraft", aircraft, "--out", place)
        assert (outcome.code, outcome.out) == (0, "")
    assert one.read_bytes() == other.read_bytes()


def test_the_pack_proves_itself(leanwright: Call, flight: Path, aircraft: Path, tmp_path: Path) -> None:
    """What is in the pack gives the result in the pack, and the result is that of the original."""
    place = tmp_path / "pack.zip"
    leanwright("pack", flight, "--aircraft", aircraft, "--out", place)
    members = opened(place)
    assert set(members) == {"recordings/recording-1.csv", "result.json", "engine-state.json", "page.txt"}
    again = tmp_path / "recording-1.csv"
    again.write_bytes(members["recordings/recording-1.csv"])
    found = json.loads(leanwright("balance", again, "--json").out)
    assert found == json.loads(members["result.json"])
    original = json.loads(leanwright("balance", flight, "--json").out)
    for mine, theirs in zip(found["cylinders"], original["cylinders"], strict=True):
        assert mine["offset_percent"] == pytest.approx(theirs["offset_percent"], abs=0.02)
    page = members["page.txt"].decode()
    for name in ("recordings/recording-1.csv", "result.json", "engine-state.json"):
        assert f"{hashlib.sha256(members[name]).hexdigest()}  {name}" in page


def test_nothing_in_it_names_anybody(leanwright: Call, flight: Path, aircraft: Path, tmp_path: Path) -> None:
    place = tmp_path / "pack.zip"
    leanwright("pack", flight, "--aircraft", aircraft, "--out", place)
    everything = b"\n".join([*(name.encode() for name in opened(place)), *opened(place).values()])
    for personal in (b"J-Doe", b"T-0412", b"S6-1177", b"2031", b"atitude", b"60.0"):
        assert personal not in everything
    assert b"P-100" in everything


def test_asked_for_it_holds_the_recording_as_the_panel_wrote_it(
    leanwright: Call, flight: Path, aircraft: Path, tmp_path: Path
) -> None:
    place = tmp_path / "pack.zip"
    leanwright("pack", flight, "--aircraft", aircraft, "--personal", "--out", place)
    members = opened(place)
    assert members[f"recordings/1-{flight.name}"] == flight.read_bytes()
    assert json.loads(members["engine-state.json"])["aircraft"]["serial"] == "T-0412"


def test_a_recording_without_a_sweep_is_packed_with_the_reason(leanwright: Call, tmp_path: Path) -> None:
    place = tmp_path / "pack.zip"
    outcome = leanwright("pack", fly(tmp_path, "none", sweeps=0), "--out", place)
    assert outcome.code == 1
    reasons = json.loads(opened(place)["result.json"])["reasons"]
    assert reasons
    assert reasons[0] in " ".join(outcome.err.replace("\N{NO-BREAK SPACE}", " ").split())


def test_recordings_of_two_engines_are_packed_with_a_word_that_they_are(
    leanwright: Call, flight: Path, tmp_path: Path
) -> None:
    leanwright("simulate", "--cylinders", "4", "--seed", "3", "--out", tmp_path / "other")
    other = next(one for one in (tmp_path / "other").iterdir() if one.name != "truth.json")
    outcome = leanwright("pack", flight, other, "--out", tmp_path / "pack.zip")
    assert outcome.code == 1
    assert "These recordings cannot be of one engine" in outcome.err


def test_a_place_that_cannot_be_written_exits_with_2(leanwright: Call, flight: Path, tmp_path: Path) -> None:
    outcome = leanwright("pack", flight, "--out", tmp_path / "nowhere" / "pack.zip")
    assert (outcome.code, outcome.out, outcome.err.count("\n")) == (2, "", 1)
    assert "pack.zip" in outcome.err


def test_the_reader_takes_back_every_column(leanwright: Call, flight: Path, tmp_path: Path) -> None:
    place, again = tmp_path / "pack.zip", tmp_path / "recording-1.csv"
    leanwright("pack", flight, "--out", place)
    again.write_bytes(opened(place)["recordings/recording-1.csv"])

    def told(recording: Path) -> set[tuple[str, int | None]]:
        channels = json.loads(leanwright("channels", recording, "--json").out)["channels"]
        left_out = {"time", "date", "latitude", "longitude", "engine_hours", "summary", "text", "unknown"}
        return {(one["quantity"], one["cylinder"]) for one in channels if one["quantity"] not in left_out}

    assert told(again) == told(flight)
