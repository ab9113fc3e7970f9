"""From an empty book to the first step with a wrench, by forms alone."""

import pytest

from tests.book.job import FIGURES
from tests.web.forms import enter
from tests.web.wire import Browser

HANGAR = (
    ("person", {"name": "Ada Example", "certificate_number": "1234567", "certificate_kind": "mechanic"}),
    ("aircraft", {"id": "X-TEST", "type": "Hollowbrook Tarn (invented)", "serial": "T-0412"}),
    ("engine", {"id": "E1", "cylinders": "4", "aircraft": "X-TEST", "numbering": "from-rear", "firing_order": "1, 3, 2, 4"}),
    ("nozzle-set", {"id": "PG-set", "nozzles/0/marking": "Q7-104", "nozzles/0/flow": "1.04", "nozzles/0/groups": "front pair",
                    "nozzles/2/marking": "Q7-100", "nozzles/2/flow": "1", "groups/0/name": "front pair", "groups/0/rows": "front",
                    "approval/0/document": "PG-STC-9 (invented)", "approval/0/permission_on_file": "yes"}),
    ("order", {"id": "O-1", "engine": "E1", "set": "PG-set", "lines/0/marking": "Q7-104", "lines/0/quantity": "1",
               "lines/0/cylinders": "3"}),
    ("tool", {"id": "TW-04", "kind": "torque-wrench", "low": "10", "high": "150", "unit": "in-lb", "calibrated": "2026-01-10",
              "calibration_due": "2035-01-09"}),
    *(("as-found", {"engine": "E1", "cylinder": str(one), "marking": "Q7-100", "source": "read"}) for one in (1, 2, 3, 4)),
)  # fmt: skip


@pytest.fixture
def begun(fresh: Browser) -> Browser:
    fresh.post("/book/begin")
    for kind, typed in HANGAR:
        answer = enter(fresh, kind, typed)
        assert answer.status == 303, (kind, answer.text)
    return fresh


def test_a_new_user_begins_the_work_without_a_command(begun: Browser) -> None:
    begun.post("/receive", order="O-1", marking="Q7-104", cylinder="3", key="0" * 32, by="Ada Example")
    job = begun.get("/book/new/job?order=O-1").text
    assert 'value="Q7-104"' in job  # what the order plans stands in the form
    job_said = {"id": "J-1", "engine": "E1", "set": "PG-set", "order": "O-1", "document": "SI-77 (invented)", "revision": "C",
                "positions/0/cylinder": "3", "positions/0/marking": "Q7-104"}  # fmt: skip
    assert enter(begun, "job", job_said).status == 303
    for what, (low, high, unit) in FIGURES.items():
        told = {
            "job": "J-1",
            "what": what,
            "low": low,
            "high": high,
            "unit": unit,
            "document": "SI-77 (invented)",
            "revision": "C",
        }
        assert enter(begun, "figure", told).status == 303
    assert "Fuel off" in begun.get("/fit?job=J-1").text
    with begun.served.house.book.using() as book:
        state = book.state()
    engine, group = state.engines["E1"].body, state.sets["PG-set"].body.groups[0]
    assert (engine.cylinders, engine.firing_order) == (4, (1, 3, 2, 4))
    assert (group.name, group.rows) == ("front pair", ("front",))
    assert [one.marking for one in state.sets["PG-set"].body.nozzles] == ["Q7-104", "Q7-100"]
    assert state.jobs["J-1"].item.author == "Ada Example"


def test_what_is_missing_or_wrong_is_said_beside_the_field_and_nothing_is_lost(begun: Browser) -> None:
    with begun.served.house.book.using() as book:
        head = book.head()
    answer = enter(begun, "engine", {"id": "<b>E2</b>", "cylinders": "four"})
    assert answer.status == 422
    assert "“four” cannot be used here: it takes a whole number." in answer.text
    assert 'href="#f-0-cylinders"' in answer.text
    assert 'id="f-0-cylinders"' in answer.text
    assert 'value="&lt;b&gt;E2&lt;/b&gt;"' in answer.text
    assert "This is needed." in enter(begun, "engine", {"id": "E2"}).text
    refused = enter(begun, "engine", {"id": "E2", "cylinders": "4", "firing_order": "1, 1, 2, 3"})
    assert refused.status == 422
    with begun.served.house.book.using() as book:
        assert book.head() == head


def test_a_form_sent_twice_writes_once(begun: Browser) -> None:
    fields = {"place": ["/0/name"], "value": ["Bea Example"], "key": "b" * 32, "by": "Ada Example"}
    assert [begun.post("/book/new/person", **fields).status for _ in range(2)] == [303, 303]
    with begun.served.house.book.using() as book:
        assert sum(one.entry.kind == "person" for one, _ in book.entries()) == 2


def test_a_form_that_is_not_whole_or_of_another_kind_is_refused(begun: Browser) -> None:
    assert begun.post("/book/new/person", place=["/0/name"], value=[], key="c" * 32).status == 422
    assert begun.post("/book/new/person", other="1", key="c" * 32).status == 422
    assert begun.get("/book/new/signature").status == 404
    assert begun.post("/book/new/void", key="c" * 32).status == 404


def test_without_a_book_nothing_is_entered(fresh: Browser) -> None:
    assert fresh.get("/book/new/person").status == 409
    assert fresh.post("/book/new/person", key="c" * 32).status == 409
