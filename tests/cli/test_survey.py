"""``leanwright survey`` from outside: its JSON, its tables, its exit codes, its sentences."""

import csv
import json
import os
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest

from leanwright.cli.survey import Teller
from leanwright.survey.run import Progress
from leanwright.workbench.invent import simulate_into
from tests.cli.conftest import Outcome
from tests.structure.sources import ROOT

Leanwright = Callable[..., Outcome]
FILES = 80
"""Some seconds of work: on a busy machine the signal comes late."""


@pytest.fixture(scope="module")
def hangar(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two engines, a picture, a copy, and a link in a circle."""
    folder = tmp_path_factory.mktemp("hangar")
    for name, seed, sweeps in (("north", 3, 2), ("south", 4, 1)):
        simulate_into(folder / name, seed=seed, cylinders=6, faults=(), sweeps=sweeps)
        (folder / name / "truth.json").unlink()
    (folder / "picture.csv").write_bytes(b"\x89PNG\r\n\x1a\n0000")
    flight = next((folder / "south").iterdir())
    (folder / "south" / f"copy-{flight.name}").write_bytes(flight.read_bytes())
    (folder / "south" / "circle").symlink_to(folder)
    return folder


@pytest.fixture
def kept(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.mark.usefixtures("kept")
def test_the_numbers_are_those_of_balance(leanwright: Leanwright, hangar: Path) -> None:
    done = leanwright("survey", hangar, "--json", "--workers", 2)
    assert (done.code, done.err) == (0, "")
    document = json.loads(done.out)
    assert document["format"] == "leanwright/survey/1"
    assert document["recordings"] == len(document["rows"]) == 3
    assert [one["name"] for one in document["unreadable"]] == ["picture.csv"]
    for row in document["rows"]:
        alone = json.loads(leanwright("balance", hangar / row["name"], "--json").out)
        offsets = {
            str(c["cylinder"]): c["offset_percent"] for c in alone["cylinders"] if c["status"] == "peaked"
        }
        assert row["offset_percent"] == pytest.approx(offsets, abs=0.01)
        assert row["spread_gph"] == pytest.approx(alone["spread_gph"], rel=1e-4)
        assert row["verdict"] == alone["verdict"]
        recording = alone["recordings"][0]
        assert (row["rows_kept"], row["rows_skipped"]) == (recording["rows_kept"], recording["rows_skipped"])
        assert row["sweeps"] == sum(sweep["used"] for sweep in recording["sweeps"])
    assert [row["findings"].count("same-flight-twice") for row in document["rows"]] == [0, 0, 1]


@pytest.mark.usefixtures("kept")
def test_a_second_run_reads_nothing_and_says_the_same(
    leanwright: Leanwright, hangar: Path, tmp_path: Path
) -> None:
    first = json.loads(leanwright("survey", hangar, "--json", "--workers", 1).out)
    second = json.loads(leanwright("survey", hangar, "--json", "--workers", 1).out)
    assert (first.pop("read_now"), second.pop("read_now")) == (4, 0)
    assert first == second
    table = tmp_path / "fleet.csv"
    assert leanwright("survey", hangar, "--out", table).code == 0
    lines = list(csv.DictReader(table.read_text("utf-8").splitlines()))
    assert [line["name"] for line in lines] == [row["name"] for row in first["rows"]]
    parquet = tmp_path / "fleet.parquet"
    assert leanwright("survey", hangar, "--out", parquet).code == 0
    assert parquet.read_bytes()[:4] == parquet.read_bytes()[-4:] == b"PAR1"


@pytest.mark.usefixtures("kept")
def test_the_text_has_the_worst_engine_first_and_what_was_not_read(
    leanwright: Leanwright, hangar: Path
) -> None:
    flight = next(place.name for place in (hangar / "north").iterdir())
    done = leanwright("survey", hangar, "--ascii", "--engine-of", f"north/{flight}=Northern")
    assert done.code == 0
    verdicts = Counter(
        engine["verdict"] for engine in json.loads(leanwright("survey", hangar, "--json").out)["engines"]
    )
    first, second = done.out.splitlines()[:2]
    assert first.startswith(
        f"Engines uneven: {verdicts['uneven']}; even: {verdicts['even']}; cannot tell: {verdicts['cannot-tell']}."
    )
    assert "Recordings: 3; engines: 2; files not read: 1. Worst first." in f"{first} {second}"
    assert "Northern" in done.out
    assert "picture.csv: It is a picture, not a recording." in done.out


@pytest.mark.usefixtures("kept")
@pytest.mark.parametrize("run", ["first", "from what is kept"])
def test_what_was_not_read_and_what_counts_once_is_said_in_the_readers_language(
    leanwright: Leanwright, hangar: Path, run: str
) -> None:
    if run != "first":
        assert leanwright("survey", hangar).code == 0
    flight = next(place.name for place in (hangar / "north").iterdir())
    said = " ".join(leanwright("survey", hangar, "--language", "de").out.split())
    assert "picture.csv: Das ist ein Bild, keine Aufzeichnung." in said
    copy, other = sorted(place.name for place in (hangar / "south").iterdir() if place.is_file())
    assert copy == f"copy-{other}"
    assert f"south/{other} ist derselbe Flug wie south/{copy} und zählt einmal." in said
    assert flight not in said


@pytest.mark.usefixtures("kept")
def test_the_page_draws_the_distribution_and_lists_the_engines(
    leanwright: Leanwright, hangar: Path, tmp_path: Path
) -> None:
    place = tmp_path / "fleet.html"
    assert leanwright("survey", hangar, "--html", place).code == 0
    page = place.read_text("utf-8")
    assert page.count("<svg") >= 3
    assert all(name in page for name in ("north", "south", "picture.csv"))
    assert "Not read: picture.csv. It is a picture, not a recording." in page
    assert page.count("is the same flight as") == 1
    assert "<script" not in page


@pytest.mark.usefixtures("kept")
def test_wrong_use_is_one_plain_sentence(leanwright: Leanwright, hangar: Path, tmp_path: Path) -> None:
    for arguments, said in (
        ((tmp_path / "nowhere",), "There is no such folder."),
        ((hangar / "picture.csv",), "It is no folder."),
        ((hangar, "--workers", "2", "--cluster", "x:1"), "Name either --workers or --cluster."),
        ((hangar, "--out", tmp_path / "fleet.xls"), "its ending is none of .parquet, .csv, .json"),
        ((hangar, "--out", tmp_path / "none" / "fleet.csv"), "Cannot write"),
        ((hangar, "--engine-of", "x"), "is not written as FILE=NAME."),
    ):
        done = leanwright("survey", *arguments)
        assert done.code == 2
        assert said in done.err
        assert len(done.err.splitlines()) == 1
        assert done.out == ""


@pytest.mark.usefixtures("kept")
def test_a_folder_of_pictures_has_no_answer_but_a_document(leanwright: Leanwright, tmp_path: Path) -> None:
    (tmp_path / "pictures").mkdir()
    (tmp_path / "pictures" / "a.png").write_bytes(b"\x89PNG\r\n\x1a\n0000")
    done = leanwright("survey", tmp_path / "pictures", "--json")
    assert done.code == 1
    document = json.loads(done.out)
    assert (document["recordings"], document["rows"], len(document["unreadable"])) == (0, [], 1)


def test_ctrl_c_stops_cleanly_and_the_next_run_goes_on(hangar: Path, kept: Path, tmp_path: Path) -> None:
    many = tmp_path / "many"
    many.mkdir()
    flight = next(place for place in (hangar / "north").iterdir()).read_bytes()
    for number in range(FILES):
        (many / f"{number:02d}.csv").write_bytes(flight + b"\n" * number)
    # Where the tests run in the background, the shell has Ctrl-C ignored, and a program leaves that as it is.
    heard = "import runpy, signal; signal.signal(signal.SIGINT, signal.default_int_handler); runpy.run_module('leanwright', run_name='__main__')"
    command = [sys.executable, "-c", heard, "survey", str(many), "--workers", "1", "--json"]
    variables = {**os.environ, "XDG_CACHE_HOME": str(kept), "PYTHONPATH": str(ROOT / "src")}
    with subprocess.Popen(
        command, env=variables, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True
    ) as running:
        for _ in range(600):
            if any(place.stat().st_size for place in kept.glob("*/*.jsonl")):
                break
            time.sleep(0.05)
        os.killpg(running.pid, signal.SIGINT)
        out, err = running.communicate(timeout=60)
    assert (running.returncode, out) == (130, b"")
    assert b"run the same again to go on" in err
    assert b"Traceback" not in err
    again = subprocess.run(command, env=variables, capture_output=True, check=True, timeout=120)
    document = json.loads(again.stdout)
    assert document["recordings"] == FILES
    assert 0 < document["read_now"] < FILES


def test_progress_and_the_time_left_are_said_in_the_readers_language() -> None:
    seconds = iter((0.0, 10.0))
    assert Teller("de", lambda: next(seconds)).line(Progress(2, 8, 100, 400)) == "2 von 8 gelesen, noch 0:30"


def test_nothing_heavy_is_loaded_for_workers() -> None:
    code = (
        "import sys, leanwright.workbench.survey, leanwright.cli.survey, leanwright.survey.cluster;"
        "print(*{name.partition('.')[0] for name in sys.modules})"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert {"numpy", "scipy", "arro3", "distributed", "jinja2", "typst"}.isdisjoint(done.stdout.split())
