"""``leanwright watch`` from outside, on a year of an engine in which a plug dies."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from leanwright.simulate.faults import Fault
from leanwright.simulate.flight import simulate_flight
from leanwright.simulate.history import draw_history, flights_of
from leanwright.simulate.write import write_flight
from tests.cli.conftest import Outcome

Leanwright = Callable[..., Outcome]


@pytest.fixture(scope="module")
def engine(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("engine")
    history = draw_history(5, 14, Fault("plug-dead", (3,), 55.0), 10)
    for number, spec in enumerate(flights_of(history, 5)):
        write_flight(simulate_flight(spec, number), folder, f"flight-{number:02d}")
    (folder / "truth.json").unlink()
    (folder / "copy.csv").write_bytes((folder / "flight-03.csv").read_bytes())
    return folder


@pytest.fixture(autouse=True)
def kept(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.getbasetemp() / "cache"))


def test_the_document_holds_what_programs_rely_on(leanwright: Leanwright, engine: Path) -> None:
    done = leanwright("watch", engine, "--json")
    assert (done.code, done.err) == (0, "")
    document = json.loads(done.out)
    assert document["format"] == "leanwright/watch/1"
    assert document["recordings"] == len(document["trend"]) == 14
    (event,) = document["events"]
    assert (event["cause"], event["cylinder"], event["wait"]) == ("plug-dead", 3, "before the next flight")
    assert event["first_recording"] == event["raised_at_recording"] == "flight-10.csv"
    assert event["probability"] > 0.99
    assert event["message"].startswith("Cylinder 3 changed; the likeliest cause is a dead plug")
    assert [one["code"] for one in document["findings"]] == ["same-flight-twice"]
    for moment in document["trend"]:
        assert [one["cylinder"] for one in moment["cylinders"]] == [1, 2, 3, 4, 5, 6]
        assert {"offset_percent", "egt_residual_df", "cht_residual_df"} <= moment["cylinders"][0].keys()


def test_the_text_says_what_where_since_when_and_how_long_one_can_wait(
    leanwright: Leanwright, engine: Path
) -> None:
    done = leanwright("watch", engine, "--ascii", "--work", _work(engine.parent, "2031-03-05,nozzle,2"))
    assert done.code == 0
    assert done.out.startswith("One change in 14 recordings.\n\nCylinder 3 changed;")
    said = " ".join(done.out.split())
    assert "First seen in flight-10.csv, known at flight-10.csv. Due: before the next flight." in said


@pytest.mark.parametrize("language", ["de", "fr", "es", "it", "pt"])
def test_every_language_tells_it(leanwright: Leanwright, engine: Path, language: str) -> None:
    done = leanwright("watch", engine, "--language", language, "--units", "metric")
    assert done.code == 0
    assert "flight-10.csv" in done.out


def test_the_page_draws_every_cylinder(leanwright: Leanwright, engine: Path, tmp_path: Path) -> None:
    place = tmp_path / "watch.html"
    assert leanwright("watch", engine, "--html", place).code == 0
    page = place.read_text("utf-8")
    assert page.count("<svg") >= 3
    assert "One change in 14 recordings" in page
    assert "<script" not in page


def _work(folder: Path, *lines: str) -> Path:
    place = folder / "work.csv"
    place.write_text("\n".join(["date,work,cylinders", *lines]) + "\n")
    return place


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        (["2031-13-05,nozzle,2"], "Line 2: '2031-13-05' is no date such as 2031-04-12"),
        (["2031-03-05,magic,2"], "Line 2: 'magic' is none of nozzle,"),
        (["2031-03-05,nozzle"], "Line 2 has 2 cells, not 3"),
        (["2031-03-05,nozzle,two"], "Line 2: 'two' are no cylinder numbers"),
    ],
)
def test_a_work_file_that_cannot_be_used_is_one_sentence(
    leanwright: Leanwright, engine: Path, tmp_path: Path, lines: list[str], said: str
) -> None:
    done = leanwright("watch", engine, "--work", _work(tmp_path, *lines))
    assert done.code == 2
    assert said in done.err
    assert len(done.err.splitlines()) == 1


def test_a_folder_without_recordings_has_no_answer(leanwright: Leanwright, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    done = leanwright("watch", tmp_path / "empty", "--json")
    assert done.code == 1
    assert json.loads(done.out)["recordings"] == 0


def test_a_folder_in_which_nothing_can_be_read_has_a_page_that_says_so(
    leanwright: Leanwright, tmp_path: Path
) -> None:
    (tmp_path / "flown").mkdir()
    (tmp_path / "flown" / "letter.csv").write_text("This is a letter.\n", "utf-8")
    outcome = leanwright("watch", tmp_path / "flown", "--html", tmp_path / "page.html")
    assert outcome.code == 1
    assert "letter.csv" in (tmp_path / "page.html").read_text("utf-8")


def test_a_single_flight_has_nothing_to_be_held_against_and_a_page_all_the_same(
    leanwright: Leanwright, engine: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "one"
    folder.mkdir()
    (folder / "flight-00.csv").write_bytes((engine / "flight-00.csv").read_bytes())
    done = leanwright("watch", folder, "--html", tmp_path / "watch.html")
    assert done.code == 0, done.err
    assert done.out.startswith("Nothing changed. Recordings: 1.")
    assert "Nothing changed. Recordings: 1." in (tmp_path / "watch.html").read_text("utf-8")
