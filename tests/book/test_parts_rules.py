"""Rules of parts, case by case: what fits an order, which cylinders a nozzle may go to, how many there are."""

from typing import Any

import msgspec
import pytest

from leanwright.book import parts_rules
from leanwright.book.kinds import hangar, parts
from leanwright.book.parts_rules import Match
from tests.book.conftest import Desk

LINES = [
    {"marking": "A", "quantity": 2, "cylinders": [1, 2]},
    {"marking": "B", "cylinders": [3]},
    {"marking": "A", "cylinders": [4]},
    {"marking": "C"},
]


@pytest.fixture
def desk(quick_desk: Desk) -> Desk:
    """Two engines, a person, an order of several lines and another one."""
    quick_desk.add("engine", {"id": "E1", "cylinders": 6, "numbering": "from-rear"})
    quick_desk.add("engine", {"id": "E2", "cylinders": 6})
    quick_desk.add("person", {"name": "Ada Example"})
    quick_desk.add("order", {"id": "O-1", "engine": "E1", "lines": LINES})
    quick_desk.add("order", {"id": "O-2", "engine": "E1", "lines": [{"marking": "A"}]})
    return quick_desk


def came(desk: Desk, *markings: str, order: str = "O-1", result: str = "right") -> None:
    """Some nozzles came."""
    for marking in markings:
        desk.add("receipt", {"order": order, "marking": marking, "result": result})


@pytest.mark.parametrize(
    ("before", "marking", "cylinder", "wanted"),
    [
        ("", "A", 1, Match("right")),
        ("", "A", 4, Match("right")),
        ("", "A", None, Match("right")),
        ("", "A", 3, Match("wrong-row", "B")),
        ("", "A", 5, Match("wrong-row")),
        ("", "C", 5, Match("right")),
        ("", "C", 3, Match("right")),
        ("", "Z", 3, Match("wrong-number", "B")),
        ("", "Z", 4, Match("wrong-number", "A")),
        ("", "Z", 5, Match("not-ordered")),
        ("", "Z", None, Match("not-ordered")),
        ("AA", "A", 1, Match("right")),
        ("AAA", "A", 1, Match("double")),
        ("AAA", "A", 3, Match("wrong-row", "B")),
        ("C", "C", None, Match("double")),
        ("AAA", "B", 3, Match("right")),
    ],
)
def test_how_a_part_that_came_fits_its_order(
    desk: Desk, before: str, marking: str, cylinder: int | None, wanted: Match
) -> None:
    came(desk, *before)
    came(desk, "A", order="O-2")
    assert parts_rules.match(desk.book.state(), "O-1", marking, cylinder) == wanted


def test_what_is_missing_is_what_was_ordered_less_what_came_as_ordered(desk: Desk) -> None:
    assert parts_rules.missing(desk.book.state(), "O-1") == [("A", 3), ("B", 1), ("C", 1)]
    came(desk, "A", "C")
    came(desk, "A", order="O-2")
    came(desk, "Z", result="not-ordered")
    assert parts_rules.missing(desk.book.state(), "O-1") == [("A", 2), ("B", 1)]
    assert parts_rules.missing(desk.book.state(), "O-2") == []


GROUPS = [
    {"name": "all"},
    {"name": "two", "cylinders": [2, 9]},
    {"name": "front", "rows": ["front"]},
    {"name": "left", "banks": ["left"]},
    {"name": "rear right", "rows": ["rear"], "banks": ["right"]},
]


@pytest.mark.parametrize(
    ("groups", "wanted"),
    [
        ([], {1, 2, 3, 4, 5, 6}),
        (["all"], {1, 2, 3, 4, 5, 6}),
        (["two"], {2}),
        (["front"], {5, 6}),
        (["left"], {2, 4, 6}),
        (["rear right"], {1}),
        (["two", "front", "rear right"], {1, 2, 5, 6}),
        (["front", "all"], {1, 2, 3, 4, 5, 6}),
    ],
)
def test_the_cylinders_that_a_nozzle_may_go_to(groups: list[str], wanted: set[int]) -> None:
    """Six cylinders numbered from the rear, the odd ones on the right: 1 and 2 in the rear row, 5 and 6 in front."""
    body: dict[str, Any] = {
        "id": "S",
        "groups": GROUPS,
        "nozzles": [{"marking": "O"}, {"marking": "N", "groups": groups}],
    }
    chosen = msgspec.convert(body, parts.NozzleSet)
    engine = hangar.Engine(id="E", cylinders=6, numbering="from-rear")
    assert parts_rules.allowed_cylinders(chosen, "N", engine) == frozenset(wanted)
    assert parts_rules.allowed_cylinders(chosen, "Z", engine) is None


def test_what_is_held_in_stock_and_in_place(desk: Desk) -> None:
    came(desk, "A", "A", "B")
    came(desk, "Z", result="not-ordered")
    first = desk.add("quarantine", {"marking": "A", "because": "no papers", "serial": "7"}).sequence
    desk.add("quarantine", {"marking": "A", "because": "no papers"})
    desk.add("quarantine", {"marking": "B", "because": "no papers", "serial": "7"})
    places = [("E1", 1, "A", "7"), ("E1", 2, "A", None), ("E2", 1, "A", "7"), ("E2", 2, "Z", None)]
    for engine, cylinder, marking, serial in places:
        body: dict[str, object] = {
            "engine": engine,
            "cylinder": cylinder,
            "marking": marking,
            "source": "read",
        }
        desk.add("as-found", {**body, **({"serial": serial} if serial else {})})
    state = desk.book.state()

    def held(marking: str, serial: str | None) -> list[int]:
        return [one.item.sequence for one in parts_rules.held(state, marking, serial)]

    assert held("A", None) == held("A", "7") == [first, first + 1]
    assert (held("A", "8"), held("B", None), held("B", "8"), held("C", None)) == (
        [first + 1],
        [first + 2],
        [],
        [],
    )
    assert [parts_rules.stock(state, marking) for marking in "ABCZ"] == [5, 1, 0, 1]
    assert parts_rules.where_fitted(state, "A") == [("E1", 1), ("E1", 2), ("E2", 1)]
    assert parts_rules.where_fitted(state, "A", "7") == [("E1", 1), ("E2", 1)]
    assert parts_rules.where_fitted(state, "A", "8") == []
    for entry in (first, first + 2):
        desk.add("quarantine-release", {"quarantine": entry, "by": "Ada Example", "because": "papers came"})
    state = desk.book.state()
    assert (held("A", None), held("B", None)) == ([first + 1], [])
    assert [parts_rules.stock(state, marking) for marking in "ABCZ"] == [6, 2, 0, 1]


@pytest.mark.parametrize(
    ("states", "taken"),
    [
        (("to-send", "sent", "credited"), True),
        (("to-send", "credited"), True),
        (("to-send", "to-send"), True),
        (("sent", "sent"), True),
        (("sent", "to-send"), False),
        (("to-send", "credited", "sent"), False),
    ],
)
def test_a_parcel_goes_one_way(desk: Desk, states: tuple[str, ...], *, taken: bool) -> None:
    items = {"items": [{"marking": "A"}]}
    for number, one in enumerate(states[:-1]):
        desk.add("parcel", {"id": "P", "state": one, **(items if number == 0 else {})})
    body: dict[str, object] = {"id": "P", "state": states[-1]}
    if taken:
        desk.add("parcel", body)
        return
    with pytest.raises(Exception, match="already"):
        desk.add("parcel", body)
    # What was entered wrongly is corrected, whichever way that goes.
    desk.add(
        "parcel",
        {**body, **(items if len(states) == 2 else {})},
        supersedes=len(desk.bodies()),
        reason="typing",
    )
