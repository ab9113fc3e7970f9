"""The demo's book and its second flight: one story, all of it invented and said so, accepted by every rule of the book."""

from pathlib import Path

import pytest

from leanwright.workbench import records, safekeeping, standing
from leanwright.workbench.demo_book import ASH, ELM, OAK, make_demo_book
from leanwright.workbench.invent import write_first_flight, write_flight_after
from leanwright.workbench.measure import measure
from leanwright.workbench.open_book import OpenBook
from leanwright.workbench.opening import open_recordings


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("demo") / "book.sqlite"
    make_demo_book(made)
    return made


def test_one_aircraft_waits_for_its_box_one_for_a_signature_and_one_is_watched(place: Path) -> None:
    assert safekeeping.check(str(place)).sound
    book = records.open_book(str(place), read_only=True)
    engines = {one["aircraft"]: one for one in standing.status(book)["engines"]}
    assert list(engines) == [OAK, ELM, ASH]
    assert engines[ASH]["jobs"] == []
    oak, elm = (engines[name]["jobs"][0] for name in (OAK, ELM))
    assert (len(oak["open_steps"]), oak["record"]) == (38, None)
    assert (elm["open_steps"], elm["released"]) == ([], False)
    assert elm["record"] is not None
    assert [one["state"] for one in standing.status(book)["returns"]] == ["to-send"]
    book.close()


def test_the_book_says_that_it_is_invented_and_so_do_its_names(place: Path, tmp_path: Path) -> None:
    book = records.open_book(str(place), read_only=True)
    state = book.state()
    names = [
        *state.aircraft,
        *state.persons,
        *state.sets,
        *(one.body.model for one in state.engines.values()),
    ]
    assert [name for name in names if "(invented)" not in name] == []
    book.close()
    open_book = OpenBook(str(place))
    assert open_book.invented()
    open_book.close()
    other = records.make_book(str(tmp_path / "own.sqlite"))
    records.add(other, "note", {"text": "All data in this book are mine."})
    other.close()
    own = OpenBook(str(tmp_path / "own.sqlite"))
    assert not own.invented()
    own.close()


def test_the_flight_after_shows_what_the_new_nozzles_did(tmp_path: Path) -> None:
    before, after = (
        measure(open_recordings([str(write(tmp_path))]), numbering="from-rear").balance
        for write in (write_first_flight, write_flight_after)
    )
    assert (before.verdict, after.verdict) == ("uneven", "even")
    assert before.spread_gph is not None
    assert after.spread_gph is not None
    assert after.spread_gph < 0.25
    assert before.spread_gph > 0.8
