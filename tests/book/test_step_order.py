"""The order of the steps of a job: each waits for what it builds on, and only for that."""

from pathlib import Path

import pytest

from leanwright.book import ledger
from leanwright.book.job_progress import BEFORE
from leanwright.book.kinds import work
from leanwright.book.ledger import Ledger
from leanwright.book.stores import sqlite
from leanwright.errors import RefusedEntryError
from tests.book import job
from tests.book.conftest import NAME, SetClock

ORDER = ("fuel-off", *work.CYLINDER_STEPS, *work.ENGINE_STEPS[1:])
PAIRS = [(step, before) for step in ORDER for before in BEFORE.get(step, ())]


def begun(folder: Path, cylinders: tuple[int, ...] = (3,)) -> Ledger:
    """A job at some cylinders of which no step is done."""
    book = ledger.make(sqlite.make_file(folder / "book.sqlite"), NAME, SetClock(), "t")
    markings = {3: "Q7-104", 2: "Q7-097"}
    job.begun(book, positions=[{"cylinder": one, "marking": markings[one]} for one in cylinders])
    return book


def place_of(step: str, cylinder: int = 3) -> int | None:
    """The cylinder that a step is entered at, nothing for one of the engine."""
    return cylinder if step in work.CYLINDER_STEPS else None


def needs(step: str) -> set[str]:
    """Everything that comes before a step, at once or further back."""
    before = set(BEFORE.get(step, ()))
    return before | {further for one in before for further in needs(one)}


@pytest.mark.parametrize(("name", "missing"), PAIRS, ids=" after ".join)
def test_a_step_is_refused_while_one_that_it_comes_after_is_open(
    quick: Path, name: str, missing: str
) -> None:
    book = begun(quick)
    for step in ORDER:
        if step in needs(name) and step != missing and missing not in needs(step):
            job.step(book, step, place_of(step))
    refused = job.refusal(book, lambda: job.step(book, name, place_of(name)))
    assert refused == ("fuel-on" if missing == "fuel-off" else "out-of-order")
    book.close()


@pytest.mark.parametrize("name", ORDER)
def test_a_step_waits_for_nothing_else(quick: Path, name: str) -> None:
    book = begun(quick)
    for step in ORDER:
        if step in needs(name):
            job.step(book, step, place_of(step))
    job.step(book, name, place_of(name))
    assert (name, place_of(name)) in book.state().jobs["J-1"].steps
    book.close()


def test_every_step_but_the_first_and_the_placard_comes_after_something() -> None:
    assert [one for one in ORDER if not BEFORE.get(one)] == ["fuel-off", "placard"]


def test_the_engine_waits_for_every_cylinder_of_the_job(quick: Path) -> None:
    book = begun(quick, (3, 2))
    job.up_to(book, "looked-at-again", 3)
    job.step(book, "looked-at-again", 3)
    with pytest.raises(
        RefusedEntryError,
        match=r"^leak-check-at-nozzles comes after looked-at-again at 2, which is open\. Do looked-at-again",
    ):
        job.step(book, "leak-check-at-nozzles")
    book.close()
