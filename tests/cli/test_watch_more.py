"""``leanwright watch`` where more is known or less is right: work in a book, a twin, clocks that are wrong, another engine, no access."""

import json
import os
from collections.abc import Callable
from dataclasses import replace
from itertools import islice
from pathlib import Path
from typing import Any

import pytest

from leanwright.simulate.faults import Fault
from leanwright.simulate.flight import simulate_flight
from leanwright.simulate.history import draw_history, flights_of
from leanwright.simulate.write import write_flight
from tests.cli.conftest import Outcome

Leanwright = Callable[..., Outcome]
FLIGHTS, STARTS = 14, 10
PAST = 2025
"""Books take no work of a day that has not come: the flights are put into the past."""


@pytest.fixture(autouse=True)
def kept(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.getbasetemp() / "cache"))


def fly(folder: Path, fault: Fault | None, *, seed: int = 5, flights: int = FLIGHTS) -> list[Path]:
    """A history in 2025, in which a fault begins with the flight ``STARTS``."""
    folder.mkdir()
    places = []
    for number, spec in enumerate(flights_of(draw_history(seed, flights, fault, STARTS), seed)):
        flown = replace(spec, began=spec.began.replace(year=PAST))
        places.append(write_flight(simulate_flight(flown, number), folder, f"flight-{number:02d}")[0])
    (folder / "truth.json").unlink()
    return places


@pytest.fixture(scope="module")
def refitted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """From flight 10 on, cylinder 2 has a nozzle that flows 8 % less."""
    folder = tmp_path_factory.mktemp("hangar") / "refitted"
    fly(folder, Fault("nozzle-blocked", (2,), 8.0))
    return folder


def day_of(place: Path) -> str:
    return next(line for line in place.read_text().splitlines() if line.startswith("2025-"))[:10]


@pytest.fixture
def book(leanwright: Leanwright, tmp_path: Path) -> Callable[..., None]:
    """A book with one engine, to which entries are added."""
    place = tmp_path / "book.sqlite"

    def add(kind: str, body: dict[str, Any], *words: str) -> None:
        entry = tmp_path / "entry.json"
        entry.write_text(json.dumps(body))
        done = leanwright("book", "add", kind, "--json", entry, "--book", place, *words)
        assert done.code == 0, done.err

    assert leanwright("book", "init", "--book", place).code == 0
    add("aircraft", {"id": "X-TEST"})
    add(
        "engine",
        {
            "id": "E1",
            "cylinders": 6,
            "numbering": "from-rear",
            "aircraft": "X-TEST",
            "model": "invented",
            "serial": "1",
        },
    )
    return add


def watched(leanwright: Leanwright, *arguments: object) -> dict[str, Any]:
    done = leanwright("watch", *arguments, "--json", "--workers", 1)
    assert done.code == 0, done.err
    return dict(json.loads(done.out))


def test_a_nozzle_changed_in_the_book_begins_the_baseline_anew_and_raises_nothing(
    leanwright: Leanwright, refitted: Path, book: Callable[..., None], tmp_path: Path
) -> None:
    place = tmp_path / "book.sqlite"
    untold = watched(leanwright, refitted, "--book", place)
    assert [(one["cause"], one["cylinder"]) for one in untold["events"]] == [("nozzle-blocked", 2)]
    day = day_of(refitted / f"flight-{STARTS:02d}.csv")
    work = {"engine": "E1", "what": "nozzle", "cylinders": [2], "text": "another nozzle"}
    book("work", work, "--worked", day)
    assert watched(leanwright, refitted, "--book", place)["events"] == []
    page = tmp_path / "watch.html"
    assert leanwright("watch", refitted, "--book", place, "--html", page).code == 0
    assert "rung-broken" in page.read_text("utf-8")  # the line that marks the work


def test_work_on_another_cylinder_hides_nothing(
    leanwright: Leanwright, refitted: Path, book: Callable[..., None], tmp_path: Path
) -> None:
    day = day_of(refitted / f"flight-{STARTS:02d}.csv")
    book(
        "work", {"engine": "E1", "what": "egt-probe", "cylinders": [5], "text": "new probe"}, "--worked", day
    )
    told = watched(leanwright, refitted, "--book", tmp_path / "book.sqlite")
    assert [(one["cause"], one["cylinder"]) for one in told["events"]] == [("nozzle-blocked", 2)]


def test_a_book_of_several_engines_asks_which_is_meant(
    leanwright: Leanwright, refitted: Path, book: Callable[..., None], tmp_path: Path
) -> None:
    book(
        "engine",
        {
            "id": "E2",
            "cylinders": 6,
            "numbering": "from-rear",
            "aircraft": "X-TEST",
            "model": "invented",
            "serial": "2",
        },
    )
    place = tmp_path / "book.sqlite"
    for words in ((), ("--book-engine", "E9")):
        done = leanwright("watch", refitted, "--book", place, *words)
        assert (done.code, done.out, len(done.err.splitlines())) == (2, "", 1)
        assert "Name one of its engines with --book-engine (E1, E2)" in done.err
    assert leanwright("watch", refitted, "--book", place, "--book-engine", "E2").code == 0


def test_a_book_that_is_not_there_is_one_sentence(
    leanwright: Leanwright, refitted: Path, tmp_path: Path
) -> None:
    done = leanwright("watch", refitted, "--book", tmp_path / "none.sqlite")
    assert (done.code, done.out, len(done.err.splitlines())) == (2, "", 1)


OWN = ("EGT", "CHT", "FF", "RPM", "MAP")


def twin_of(first: Path, second: Path, place: Path) -> None:
    """One recording of two engines from two of one: the second one's own columns stand beside the first's."""
    tables = [
        [line.split(",") for line in one.read_text().splitlines() if not line.startswith("#")]
        for one in (first, second)
    ]
    names = tables[0][0]
    own = [column for column, name in enumerate(names) if name.startswith(OWN)]
    lines = [
        ",".join(
            [
                *(f"E1 {name}" if at in own else name for at, name in enumerate(names)),
                *(f"E2 {names[at]}" for at in own),
            ]
        )
    ]
    for mine, other in zip(tables[0][1:], tables[1][1:], strict=False):
        lines.append(",".join([*mine, *(other[at] for at in own)]))
    place.write_text("\n".join(lines) + "\n")


def test_the_second_engine_of_a_twin_is_watched_by_itself(leanwright: Leanwright, tmp_path: Path) -> None:
    sound, ill = fly(tmp_path / "sound", None), fly(tmp_path / "ill", Fault("probe-dead", (4,), 1.0))
    twins = tmp_path / "twins"
    twins.mkdir()
    for first, second in zip(sound, ill, strict=True):
        twin_of(first, second, twins / first.name)
    assert watched(leanwright, twins)["events"] == []
    (event,) = watched(leanwright, twins, "--engine", 2)["events"]
    assert (event["cause"], event["cylinder"], event["first_recording"]) == (
        "probe-dead",
        4,
        f"flight-{STARTS}.csv",
    )
    third = leanwright("watch", twins, "--engine", 3, "--json")
    assert third.code == 1
    assert [one["code"] for one in json.loads(third.out)["findings"]] == ["no-such-engine"]


@pytest.fixture
def few(tmp_path: Path) -> Path:
    fly(tmp_path / "few", None, flights=4)
    return tmp_path / "few"


def codes(document: dict[str, Any]) -> list[str]:
    return [one["code"] for one in document["findings"]]


def test_a_copy_with_other_lines_above_the_header_is_the_same_flight(
    leanwright: Leanwright, few: Path
) -> None:
    text = (few / "flight-01.csv").read_text()
    (few / "exported-again.csv").write_text("# Copied by hand\n" + text)
    document = watched(leanwright, few)
    assert (document["recordings"], codes(document)) == (4, ["same-flight-twice"])


def test_flights_that_overlap_because_a_clock_was_wrong_are_told(leanwright: Leanwright, few: Path) -> None:
    first, second = (few / f"flight-0{number}.csv" for number in (1, 2))
    began = [
        next(line for line in one.read_text().splitlines() if line.startswith("2025-"))[:14]
        for one in (first, second)
    ]
    second.write_text(second.read_text().replace(began[1], began[0]))
    assert "flights-overlap" in codes(watched(leanwright, few))


def test_another_engine_in_mid_history_is_told(leanwright: Leanwright, few: Path) -> None:
    for number, name in enumerate(("A", "A", "B", "B")):
        place = few / f"flight-0{number}.csv"
        place.write_text(f"# Engine serial: {name}\n" + place.read_text())
    document = watched(leanwright, few)
    assert codes(document) == ["several-engines-stated"]
    lines = (few / "flight-03.csv").read_text().splitlines()
    head = next(number for number, line in enumerate(lines) if line.startswith("Time"))
    four = [number for number, name in enumerate(lines[head].split(",")) if name[-1] not in "56"]
    cut = [",".join(line.split(",")[at] for at in four) for line in lines[head:]]
    (few / "flight-03.csv").write_text("\n".join(cut) + "\n")
    document = watched(leanwright, few)
    assert (document["recordings"], codes(document)) == (3, ["another-engine", "several-engines-stated"])


def test_circles_pictures_and_what_may_not_be_read_are_passed_over_and_told(
    leanwright: Leanwright, few: Path
) -> None:
    (few / "circle").symlink_to(few)
    (few / "nowhere.csv").symlink_to(few / "gone.csv")
    (few / "picture.csv").write_bytes(b"\x89PNG\r\n\x1a\n0000")
    locked = few / "locked.csv"
    locked.write_bytes(next(islice(few.glob("flight-*"), 1)).read_bytes())
    locked.chmod(0)
    document = watched(leanwright, few)
    told = {one["name"]: one["reason"] for one in document["unreadable"]}
    assert document["recordings"] == 4
    assert "It leads nowhere" in told["nowhere.csv"]
    assert "picture" in told["picture.csv"]
    if os.geteuid():  # the administrator may read everything
        assert "permission denied" in told["locked.csv"]
