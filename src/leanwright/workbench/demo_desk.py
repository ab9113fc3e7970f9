"""The demo's desk: its invented recordings lie on it, each with its engine, and their first answers stand in the book."""

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Final

from leanwright.analysis.balance import Verdict
from leanwright.book.ledger import Ledger
from leanwright.simulate import story
from leanwright.simulate.story_years import FLIGHTS
from leanwright.workbench import desk as desks
from leanwright.workbench import desk_watch
from leanwright.workbench.answer_entry import enter_answer
from leanwright.workbench.demo_book import ENGINE, WATCHED
from leanwright.workbench.desk import About, Desk
from leanwright.workbench.desk_answers import Answers
from leanwright.workbench.desk_reading import read_file
from leanwright.workbench.find_engine import find_engine
from leanwright.workbench.preferences import Preferences
from leanwright.workbench.records import Said

RECORDINGS: Final = 2 + FLIGHTS
"""The first flight, the one after the change, and the two years."""
_LONG: Final = 600.0
"""Looking at the recordings takes seconds; it is not broken off before this [s]."""


def lay_out(
    desk: Desk, book: Ledger, flights: Sequence[Path], years: Sequence[Path], *, now: datetime
) -> None:
    """Put the recordings on the desk, and the answer of the first flight and of the first of the years into the book.

    What lies there already stays, and no answer is entered twice.

    Parameters
    ----------
    desk
        Where they are put.
    book
        The demo's book, which knows their aircraft.
    flights
        The first flight, then the one after the change.
    years
        The recordings of the two years, in order of time.
    now
        When they came.
    """
    first, *_ = [_put(desk, book, place, now) for place in flights]
    watched = [_put(desk, book, place, now) for place in years]
    desk_watch.look(desk, watched, _LONG)
    desk_watch.Watches(desk).begin(desk_watch.of_engine(desk, WATCHED), wait_s=_LONG)
    _enter(desk, book, ENGINE, [first])
    _enter(desk, book, WATCHED, watched, verdict="even")


def _enter(
    desk: Desk, book: Ledger, engine: str, abouts: Sequence[About], *, verdict: Verdict | None = None
) -> None:
    """Enter the first answer with that verdict, once; a book of an earlier version may lack the engine."""
    key = f"demo-answer-{engine}"
    if engine not in book.state().engines or book.requested(key) is not None:
        return
    answers = Answers(desk)
    for about in abouts:
        measured = answers.measured([about], Preferences(numbering="from-rear"))
        if verdict in {None, measured.balance.verdict}:
            enter_answer(book, engine, measured, Said(by=story.OWNER, request_key=key))
            return


def _put(desk: Desk, book: Ledger, place: Path, now: datetime) -> About:
    with place.open("rb") as stream:
        digest = desks.take_in(desk, stream.read)
    there = desks.of_file(desk, digest)
    if there is not None:
        return there
    readings = read_file(desks.file_of(desk, digest), name=place.name)
    state = book.state()
    return desks.keep(desk, digest, readings, added=now, engine_of=lambda one: find_engine(one, state, ()))[0]
