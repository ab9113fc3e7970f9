"""How far a job is, step by step: what is open, what has to be touched again, who has to look."""

from typing import Any

import pytest

from leanwright.book.job_progress import open_steps, same_person, steps_before, to_touch
from leanwright.book.kinds import work
from leanwright.book.ledger import Ledger
from leanwright.workbench import fit
from leanwright.workbench.records import Said
from tests.book import job
from tests.book.conftest import Desk

LOOK = {"job": "J-1", "engine": "E1", "found": "as it should be"}
ENGINE = [(step, None) for step in work.ENGINE_STEPS]
WAITING = ("inspected-by-another", 3)


@pytest.fixture
def book(quick_desk: Desk) -> Ledger:
    """A job at two cylinders of which a second person looks at each; it is begun and nothing is done."""
    job.begun(quick_desk.book, second_person=True)
    return quick_desk.book


def left(book: Ledger) -> list[tuple[str, int | None]]:
    """What is open."""
    return open_steps(book.state().jobs["J-1"])


def looked(book: Ledger, by: str = "Bea Example", said: Said | None = None, **more: Any) -> None:
    """Somebody looks at a cylinder."""
    fit.inspect(book, {**LOOK, "by": by, "cylinder": 3, "result": "sound", **more}, said or Said(by=by))


def test_what_is_open_is_every_step_that_is_not_done_in_the_order_of_the_work(book: Ledger) -> None:
    whole = [
        *((step, 3) for step in work.CYLINDER_STEPS), WAITING,
        *((step, 2) for step in work.CYLINDER_STEPS), ("inspected-by-another", 2),
        *ENGINE,
    ]  # fmt: skip
    assert left(book) == whole
    job.step(book, "fuel-off")
    job.step(book, "line-off", 2)
    assert left(book) == [one for one in whole if one not in {("fuel-off", None), ("line-off", 2)}]


@pytest.mark.parametrize(
    ("reading", "is_open"), [("29.9", True), ("30", False), ("36", False), ("36.1", True), ("27", True)]
)
def test_a_reading_outside_the_instructions_leaves_its_step_open(
    book: Ledger, reading: str, *, is_open: bool
) -> None:
    job.up_to(book, "nozzle-torqued")
    job.step(book, "nozzle-torqued", 3, reading=reading)
    assert (("nozzle-torqued", 3) in left(book)) == is_open


@pytest.mark.parametrize(
    ("value", "is_open"), [("599", True), ("600", False), ("700", False), ("700.1", True)]
)
def test_a_value_outside_its_limits_leaves_its_step_open(book: Ledger, value: str, *, is_open: bool) -> None:
    job.step(book, "fuel-off")
    for cylinder in (3, 2):
        job.steps(book, work.CYLINDER_STEPS[:-1], cylinder)
    for cylinder in (2, 3):
        job.step(book, "looked-at-again", cylinder)
    job.steps(book, ("leak-check-at-nozzles", "leak-check-at-divider"))
    job.step(book, "idle-speed", value=value)
    assert (("idle-speed", None) in left(book)) == is_open


def test_the_last_three_steps_are_touched_again_of_fewer_all(book: Ledger) -> None:
    def touched() -> list[tuple[str, int | None]]:
        return to_touch(book.state().jobs["J-1"])

    assert touched() == []
    job.step(book, "fuel-off")
    assert touched() == [("fuel-off", None)]
    job.steps(book, work.CYLINDER_STEPS[:3], 3)
    assert touched() == [(step, 3) for step in work.CYLINDER_STEPS[:3]]
    # A step that is done once more stays where it was; a torque that is read anew comes last.
    job.step(book, "line-off", 3)
    assert touched() == [(step, 3) for step in work.CYLINDER_STEPS[:3]]
    fit.pause(book, "J-1", "telephone", job.ADA)
    assert (
        job.refusal(book, lambda: fit.resume(book, "J-1", [("line-off", 3), ("old-nozzle-out", 3)]))
        == "not-touched"
    )


def test_somebody_who_did_none_of_the_work_looks_after_all_of_it(book: Ledger) -> None:
    looked(book)
    assert WAITING in left(book), "nothing is done"
    job.step(book, "fuel-off")
    job.steps(book, work.CYLINDER_STEPS[:-1], 3)
    assert WAITING in left(book), "it was looked at before"
    for more in ({"by": "ada  EXAMPLE"}, {"result": "not-sound"}, {"cylinder": 2}, {"cylinder": None}):
        looked(book, **more)
        assert WAITING in left(book), more
    looked(book)
    assert WAITING not in left(book)
    job.step(book, "looked-at-again", 3)
    assert WAITING not in left(book), "the second look is no work"
    job.step(book, "line-marked", 3)
    assert WAITING in left(book)


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("Ada Example", "ada  example ", True),
        ("STRASSE", "straße", True),
        ("Ada", "Bea", False),
        ("AdaB", "Ada B", False),
    ],
)
def test_one_name_however_it_was_typed(one: str, other: str, *, same: bool) -> None:
    assert same_person(one, other) == same


def test_a_step_of_the_engine_waits_for_every_cylinder_and_one_of_a_cylinder_for_its_own(
    book: Ledger,
) -> None:
    plan = book.state().jobs["J-1"].item.body
    assert steps_before(plan, "line-off", 3) == [("fuel-off", None)]
    assert steps_before(plan, "clamp-back", 2) == [
        ("line-torqued-at-nozzle", 2),
        ("line-torqued-at-divider", 2),
    ]
    assert steps_before(plan, "leak-check-at-divider", None) == [
        ("looked-at-again", 3),
        ("looked-at-again", 2),
    ]
    assert steps_before(plan, "cowling", None) == [
        ("look-after-run", None),
        ("tools-counted", None),
        ("caps-counted", None),
    ]
    assert steps_before(plan, "fuel-off", None) == steps_before(plan, "placard", None) == []


def test_two_cylinders_may_be_looked_at_in_the_order_of_the_work(book: Ledger) -> None:
    job.step(book, "fuel-off")
    for cylinder in (3, 2):
        job.steps(book, work.CYLINDER_STEPS[:-1], cylinder)
    for cylinder in (3, 2):
        job.step(book, "looked-at-again", cylinder)
    assert [one for one in book.state().jobs["J-1"].done if one[0] == "looked-at-again"] == [
        ("looked-at-again", 3), ("looked-at-again", 2),
    ]  # fmt: skip
