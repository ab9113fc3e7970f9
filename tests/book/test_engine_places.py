"""Where cylinders lie: rows and banks of an unusual engine, the rules that go by them, and what no entry may say."""

from typing import Any

import pytest

from leanwright.book.engine_places import place_words, profile
from leanwright.book.kinds import hangar
from leanwright.book.ledger import Ledger
from leanwright.workbench import engines, fit, records
from tests.book import job

DOWN_EACH_BANK = {
    "id": "E6",
    "cylinders": 6,
    "rows": [{"left": 4, "right": 1}, {"left": 5, "right": 2}, {"left": 6, "right": 3}],
    "firing_order": [1, 4, 2, 5, 3, 6],
    "hours_source": "hour-meter",
}
"""An invented engine whose numbers run down the right bank, then down the left."""


def test_an_engine_numbered_down_each_bank_is_entered_row_by_row(book: Ledger) -> None:
    records.add(book, "engine", DOWN_EACH_BANK, job.ADA)
    assert engines.shown(book, "E6") == {
        "engine": "E6",
        "entry": 1,
        "cylinders": 6,
        "layout": "opposed",
        "numbering": "from-front",
        "rows": DOWN_EACH_BANK["rows"],
        "rows_from": "entry",
        "firing_order": [1, 4, 2, 5, 3, 6],
        "firing_order_from": "entry",
        "hours_source": "hour-meter",
    }
    body = book.state().engines["E6"].body
    places = [place_words(body, number) for number in range(1, 7)]
    assert places == ["front right", "middle right", "rear right", "front left", "middle left", "rear left"]


def test_position_rules_and_refusals_follow_the_rows_that_were_entered(book: Ledger) -> None:
    job.hangar(book)
    records.add(book, "engine", DOWN_EACH_BANK, job.ADA)
    plan = {"id": "J-6", "engine": "E6", "set": "PG-set", "document": "SI", "revision": "A"}

    def refused(cylinder: int) -> str:
        body = {**plan, "positions": [{"cylinder": cylinder, "marking": "Q7-104"}]}
        return job.refusal(book, lambda: fit.begin(book, body, job.ADA))

    # Q7-104 is for the front pair: 1 and 4 here. By the usual numbering it would be 5 and 6.
    assert {refused(cylinder) for cylinder in (2, 3, 5, 6)} == {"position-rule"}
    fit.begin(book, {**plan, "positions": [{"cylinder": 4, "marking": "Q7-104"}]}, job.ADA)
    block = fit.worksheet(book, "J-6")["blocks"][0]
    assert (block["allowed_cylinders"], block["place"]) == ([1, 4], "front left")


def test_without_numbering_or_rows_no_place_is_guessed_and_no_rule_goes_by_one(book: Ledger) -> None:
    job.hangar(book)
    records.add(book, "engine", {"id": "E6", "cylinders": 6}, job.ADA)
    found = engines.shown(book, "E6")
    assert (found["numbering"], found["rows"], found["rows_from"], found["firing_order"]) == (
        None,
        [],
        None,
        [],
    )
    plan = {"id": "J-6", "engine": "E6", "set": "PG-set", "document": "SI", "revision": "A"}
    body = {**plan, "positions": [{"cylinder": 1, "marking": "Q7-104"}]}
    assert job.refusal(book, lambda: fit.begin(book, body, job.ADA)) == "places-unknown"
    fit.begin(book, {**plan, "positions": [{"cylinder": 1, "marking": "Q7-100"}]}, job.ADA)


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"rows": [{"left": 4, "right": 1}, {"left": 5, "right": 2}]}, "rows"),
        ({"rows": [{"left": 4, "right": 1}, {"left": 5, "right": 1}, {"left": 6, "right": 3}]}, "rows"),
        ({"rows": [{"left": 4, "right": 1}, {}, {"left": 5, "right": 2}, {"left": 6, "right": 3}]}, "rows"),
        ({"rows": [{"left": 7, "right": 1}, {"left": 5, "right": 2}, {"left": 6, "right": 3}]}, "rows"),
        ({"numbering": "from-rear"}, "rows-against-numbering"),
        ({"layout": "radial"}, "rows-of-a-layout"),
        ({"layout": "in-line"}, "rows-of-a-layout"),
        ({"firing_order": [1, 2, 3]}, "firing-order"),
        ({"cylinders": 8, "firing_order": []}, "rows"),
        ({"rows": [{"left": 0, "right": 1}]}, "not-of-its-kind"),
        ({"rows": [{"middle": 1}]}, "not-of-its-kind"),
    ],
)
def test_rows_that_do_not_fit_are_refused(book: Ledger, change: dict[str, Any], code: str) -> None:
    assert (
        job.refusal(book, lambda: records.add(book, "engine", {**DOWN_EACH_BANK, **change}, job.ADA)) == code
    )


def test_an_uneven_or_vee_engine_has_places_by_its_rows(book: Ledger) -> None:
    rows = [{"left": 1}, {"left": 2, "right": 3}]
    records.add(book, "engine", {"id": "E3", "cylinders": 3, "rows": rows}, job.ADA)
    records.add(book, "engine", {**DOWN_EACH_BANK, "layout": "vee"}, job.ADA)
    three, vee = (engines.shown(book, name) for name in ("E3", "E6"))
    assert three["rows"] == [{"left": 1, "right": None}, {"left": 2, "right": 3}]
    assert (vee["numbering"], vee["rows"]) == (None, DOWN_EACH_BANK["rows"])


def test_the_usual_rows_entered_by_hand_are_the_same_engine(book: Ledger) -> None:
    for name, numbering in (("E4", "from-rear"), ("E5", "from-front")):
        records.add(book, "engine", {"id": f"{name}u", "cylinders": 6, "numbering": numbering}, job.ADA)
        rows = engines.shown(book, f"{name}u")["rows"]
        records.add(book, "engine", {"id": name, "cylinders": 6, "rows": rows}, job.ADA)
        state = book.state()
        by_hand, usual = (engines.profile_of(state, one) for one in (name, f"{name}u"))
        assert (by_hand.places, by_hand.numbering) == (usual.places, usual.numbering)
        # A firing order is usual only where the numbering is.
        assert (by_hand.firing_order, len(usual.firing_order)) == ((), 6)


def test_a_corrected_engine_moves_the_rules_with_it(book: Ledger) -> None:
    job.hangar(book)
    made = records.add(book, "engine", {"id": "E6", "cylinders": 6, "numbering": "from-rear"}, job.ADA)
    plan = {"id": "J-6", "engine": "E6", "set": "PG-set", "document": "SI", "revision": "A"}
    body = {**plan, "positions": [{"cylinder": 1, "marking": "Q7-104"}]}
    assert job.refusal(book, lambda: fit.begin(book, body, job.ADA)) == "position-rule"
    records.correct(book, made.sequence, DOWN_EACH_BANK, "numbered down each bank", job.ADA)
    fit.begin(book, body, job.ADA)


def test_a_row_that_no_engine_has_is_told_of_the_set(book: Ledger) -> None:
    records.add(book, "engine", DOWN_EACH_BANK, job.ADA)
    nozzles = [{"marking": "Q", "groups": ["odd"]}]
    records.add(
        book, "nozzle-set", {"id": "S", "groups": [{"name": "odd", "rows": ["sideways"]}], "nozzles": nozzles}
    )
    body = {"id": "J", "engine": "E6", "set": "S", "document": "SI", "revision": "A"}
    body["positions"] = [{"cylinder": 1, "marking": "Q"}]  # type: ignore[assignment]  # one list among texts
    assert job.refusal(book, lambda: fit.begin(book, body, job.ADA)) == "bad-group"


# Odd numbers on the right, counted from the rear or the front; the left bank of each row has the next number.
USUAL = {
    (4, "from-rear"): "rear right, rear left, front right, front left",
    (6, "from-front"): "front right, front left, middle right, middle left, rear right, rear left",
    (8, "from-rear"): "rear right, rear left, rear mid right, rear mid left, front mid right, front mid left, front right, front left",
    (10, "from-front"): ", ".join(f"row {row} {bank}" for row in range(1, 6) for bank in ("right", "left")),
}  # fmt: skip


@pytest.mark.parametrize(("cylinders", "numbering"), USUAL)
def test_a_place_in_words(cylinders: int, numbering: Any) -> None:
    engine = hangar.Engine(id="E", cylinders=cylinders, numbering=numbering)
    places = [place_words(engine, number) for number in range(1, cylinders + 1)]
    assert ", ".join(places) == USUAL[cylinders, numbering]
    assert place_words(engine, cylinders + 1) == ""


@pytest.mark.parametrize(
    ("more", "wanted"),
    [
        ({"numbering": "from-rear"}, ("from-rear", 4, (1, 3, 2, 4))),
        ({"numbering": "from-front", "firing_order": (1, 2, 4, 3)}, ("from-front", 4, (1, 2, 4, 3))),
        ({}, (None, 0, ())),
        ({"firing_order": (1, 4, 2, 3)}, (None, 0, (1, 4, 2, 3))),
        ({"layout": "in-line", "numbering": "from-rear"}, (None, 0, ())),
        ({"layout": "radial", "firing_order": (1, 3, 2, 4)}, (None, 0, (1, 3, 2, 4))),
        ({"rows": ((3, 4), (1, 2))}, ("from-rear", 4, ())),
        ({"rows": ((3, 4), (1, 2)), "firing_order": (1, 4, 2, 3)}, ("from-rear", 4, (1, 4, 2, 3))),
        ({"rows": ((3, 4), (1, 2)), "layout": "vee"}, (None, 4, ())),
    ],
)
def test_the_profile_of_an_engine_is_what_its_entry_tells(
    more: dict[str, Any], wanted: tuple[Any, ...]
) -> None:
    rows = tuple(hangar.EngineRow(left=left, right=right) for left, right in more.get("rows", ()))
    found = profile(hangar.Engine(id="E", cylinders=4, **{**more, "rows": rows}))
    assert (found.cylinders, found.numbering, len(found.places), tuple(found.firing_order)) == (4, *wanted)
    if rows:
        places = [(found.places[number].row, found.places[number].bank) for number in range(1, 5)]
        assert places == [(1, "left"), (1, "right"), (0, "left"), (0, "right")]
