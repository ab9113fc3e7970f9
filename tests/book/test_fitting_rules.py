"""Which nozzle may go where, case by case: quarantine, how many there are, and no nozzle in two places."""

from typing import Any

import pytest

from leanwright.book import fitting_rules
from leanwright.book.kinds import work
from leanwright.book.state import State
from leanwright.errors import RefusedEntryError
from tests.book.conftest import Desk

PLAN = {"document": "SI", "revision": "C"}
THREE = [{"cylinder": cylinder, "marking": "A"} for cylinder in (1, 2, 3)]


def made(desk: Desk, *, received: int, held: tuple[str | None, ...] = (), order: str | None = "O") -> None:
    """Two engines with a job each, an order of which some nozzles came, and some that are in quarantine."""
    for engine in ("E1", "E2"):
        desk.add("engine", {"id": engine, "cylinders": 4})
    desk.add("person", {"name": "Ada Example"})
    desk.add("order", {"id": "O", "engine": "E1", "lines": [{"marking": "A", "quantity": 9}]})
    for _ in range(received):
        desk.add("receipt", {"order": "O", "marking": "A", "result": "right"})
    for serial in held:
        more = {"serial": serial} if serial else {}
        desk.add("quarantine", {"marking": "A", "because": "no papers", **more})
    for name, engine, positions in (("J", "E1", THREE), ("J2", "E2", THREE[:1])):
        body: dict[str, Any] = {"id": name, "engine": engine, "positions": positions, **PLAN}
        desk.add("job", {**body, **({"order": order} if order else {})})


def fitted(desk: Desk, name: str, cylinder: int, serial: str | None = None) -> None:
    """A nozzle goes in under a job."""
    here: dict[str, Any] = {"job": name, "cylinder": cylinder}
    if ("fuel-off", None) not in desk.book.state().jobs[name].steps:
        desk.add("fitting-step", {"job": name, "step": "fuel-off", "seen": "selector off"})
    desk.add("fitting-step", {**here, "step": "line-off", "seen": "capped"})
    desk.add("removal", {**here, "marking": "O", "tag": "old"})
    desk.add("fitting-step", {**here, "step": "seat-inspected", "seen": "clean"})
    more = {"serial": serial} if serial else {}
    desk.add("fitting-step", {**here, "step": "marking-read", "marking": "A", **more})


def judged(state: State, cylinder: int, serial: str | None = None) -> str:
    """What is said of a nozzle that is read at a cylinder; nothing if it may go in."""
    body = work.FittingStep(job="J", step="marking-read", cylinder=cylinder, marking="A", serial=serial)
    try:
        fitting_rules.check_marking(body, state.jobs["J"], state)
    except RefusedEntryError as error:
        return str(error.reason)
    return ""


@pytest.mark.parametrize(
    ("received", "held", "serial", "code"),
    [
        (0, (), None, False),
        (0, (None,), None, True),
        (1, (None,), None, False),
        (0, ("7",), None, True),
        (0, ("7",), "8", False),
        (0, ("7",), "7", True),
        (1, ("7",), None, False),
        (1, ("7",), "7", True),
        (1, ("7",), "8", False),
        (0, (None,), "8", True),
        (1, (None,), "8", False),
    ],
)
def test_a_nozzle_that_may_be_the_one_in_quarantine_stays_out(
    quick_desk: Desk, received: int, held: tuple[str | None, ...], serial: str | None, *, code: bool
) -> None:
    made(quick_desk, received=received, held=held)
    said = judged(quick_desk.book.state(), 1, serial)
    first = 5 + received
    assert said == (
        f"This nozzle is in quarantine since 2031-05-03 ('no papers', entry {first})" if code else ""
    )


def test_of_those_that_came_one_fewer_is_left_for_each_that_went_in(quick_desk: Desk) -> None:
    made(quick_desk, received=2, held=(None,))
    fitted(quick_desk, "J2", 1)
    assert judged(quick_desk.book.state(), 1) == ""
    fitted(quick_desk, "J", 1)
    # The place itself does not count: what is in it may be read once more.
    assert judged(quick_desk.book.state(), 1) == ""
    assert judged(quick_desk.book.state(), 2).startswith("This nozzle is in quarantine")


@pytest.mark.parametrize(
    ("received", "order", "said"),
    [
        (0, "O", "A is already in 1 of engine E2"),
        (1, "O", "A is already in 1 of engine E2"),
        (2, "O", ""),
        (0, None, ""),
    ],
)
def test_no_more_go_in_than_there_are(quick_desk: Desk, received: int, order: str | None, said: str) -> None:
    made(quick_desk, received=received, order=order)
    fitted(quick_desk, "J2", 1)
    assert judged(quick_desk.book.state(), 2) == said


def test_without_an_order_as_many_go_in_as_were_planned(quick_desk: Desk) -> None:
    made(quick_desk, received=0, order=None)
    fitted(quick_desk, "J", 1)
    fitted(quick_desk, "J", 2)
    assert judged(quick_desk.book.state(), 3) == ""
    fitted(quick_desk, "J", 3)
    assert judged(quick_desk.book.state(), 3) == ""
    with pytest.raises(RefusedEntryError, match="A is already in 1 of engine E1"):
        fitted(quick_desk, "J2", 1)


def test_a_serial_number_is_in_one_place_only(quick_desk: Desk) -> None:
    made(quick_desk, received=9)
    fitted(quick_desk, "J", 1, "7")
    state = quick_desk.book.state()
    assert (judged(state, 1, "7"), judged(state, 2, "8"), judged(state, 2)) == ("", "", "")
    assert judged(state, 2, "7") == "A is already in 1"


def test_what_came_out_is_what_was_there_until_the_new_one_is_in(quick_desk: Desk) -> None:
    made(quick_desk, received=9)
    quick_desk.add("as-found", {"engine": "E1", "cylinder": 1, "marking": "O", "source": "read"})

    def removing(marking: str, cylinder: int = 1) -> str:
        state = quick_desk.book.state()
        body = work.Removal(job="J", cylinder=cylinder, marking=marking, tag="old")
        try:
            fitting_rules.check_was_there(body, state.jobs["J"], state)
        except RefusedEntryError as error:
            return str(error.reason)
        return ""

    found = quick_desk.bodies()[-1][0]
    assert (removing("O"), removing("X", 2)) == ("", "")
    assert removing("X") == f"The book has O in cylinder 1 (entry {found}), not X"
    fitted(quick_desk, "J", 1)
    assert (removing("O"), removing("X")) == ("", "")
    quick_desk.add("as-found", {"engine": "E1", "cylinder": 1, "marking": "Y", "source": "read"})
    assert removing("X") == f"The book has Y in cylinder 1 (entry {quick_desk.bodies()[-1][0]}), not X"
