"""The demo's desk: whoever opens the workbench finds its recordings, each with its engine, and the first answers in the book."""

from datetime import UTC, datetime
from itertools import islice
from pathlib import Path

from leanwright.simulate.story_years import write_years
from leanwright.workbench import desk as desks
from leanwright.workbench import desk_watch, records
from leanwright.workbench.answer_entry import latest_answers
from leanwright.workbench.demo_book import ENGINE, WATCHED, make_demo_book
from leanwright.workbench.demo_desk import lay_out
from leanwright.workbench.invent import write_first_flight, write_flight_after
from leanwright.workbench.on_the_round import stands
from leanwright.workbench.standing import status

NOW = datetime(2031, 7, 1, 12, 0, tzinfo=UTC)


def test_recordings_lie_there_with_their_engines_and_the_answers_are_entered_once(tmp_path: Path) -> None:
    flights = (write_first_flight(tmp_path), write_flight_after(tmp_path))
    years = list(islice(write_years(tmp_path), 2))
    make_demo_book(tmp_path / "book.sqlite")
    desk = desks.open_desk(tmp_path / "desk")
    book = records.open_book(str(tmp_path / "book.sqlite"))
    heads = []
    for _again in range(2):
        lay_out(desk, book, flights, years, now=NOW)
        heads.append(book.state().head_sequence)
    there = desks.everything(desk)
    found = {
        one.status["engine"]: one.step
        for one in stands(book.state(), status(book)["due"], latest_answers(book))
    }
    assert sorted((one.name, one.engine) for one in there) == [
        *((place.name, WATCHED) for place in years),
        ("first-flight.csv", ENGINE),
        ("flight-after.csv", ENGINE),
    ]
    assert heads[0] == heads[1]
    assert {name: one["verdict"] for name, one in latest_answers(book).items()} == {
        ENGINE: "uneven",
        WATCHED: "even",
    }
    assert (found[ENGINE], found[WATCHED]) == ("receive", "watch")
    assert desk_watch.not_looked_at(desk, desk_watch.of_engine(desk, WATCHED)) == ()
    book.close()


def test_a_book_of_an_earlier_version_without_the_watched_engine_is_left_as_it_is(tmp_path: Path) -> None:
    flights = [write_first_flight(tmp_path)]
    book = records.make_book(str(tmp_path / "book.sqlite"))
    desk = desks.open_desk(tmp_path / "desk")
    lay_out(desk, book, flights, [], now=NOW)
    assert latest_answers(book) == {}
    assert [one.engine for one in desks.everything(desk)] == [""]
    book.close()
