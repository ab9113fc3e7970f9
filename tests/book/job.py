"""An invented job, step by step, for tests that need one: four cylinders, two nozzles changed."""

import hashlib
from collections.abc import Callable, Iterable, Mapping
from typing import Any

import pytest

from leanwright.book.kinds import work
from leanwright.book.ledger import Ledger
from leanwright.errors import RefusedEntryError
from leanwright.workbench import fit, receive, records
from leanwright.workbench.records import Said

ADA = Said(by="Ada Example")
BEA = Said(by="Bea Example")
SET = {
    "id": "PG-set",
    "groups": [
        {"name": "front pair", "rows": ["front"]},
        {"name": "rear pair", "rows": ["rear"]},
    ],
    "nozzles": [
        {"marking": "Q7-104", "flow": "1.04", "groups": ["front pair"]},
        {"marking": "Q7-097", "flow": "0.97", "groups": ["rear pair"]},
        {"marking": "Q7-100", "flow": "1"},
    ],
    "approval": {
        "document": "PG-STC-9 (invented)",
        "revision": "B",
        "permission_on_file": True,
        "classification": "minor",
    },
}
FIGURES = {
    "nozzle-torque": ("30", "36", "in-lb"),
    "line-torque": ("25", "50", "in-lb"),
    "idle-mixture": ("10", "50", "rpm"),
    "idle-speed": ("600", "700", "rpm"),
    "metered-pressure": ("16", "19", "psi"),
    "unmetered-pressure": ("28", "30", "psi"),
    "full-power-flow": ("18.5", "19.5", "gal/h"),
}
VALUES = {
    "idle-mixture": "30",
    "idle-speed": "650",
    "metered-pressure": "17.5",
    "unmetered-pressure": "29",
    "full-power-flow": "19",
}


def hangar(book: Ledger) -> None:
    """Owner, persons, aircraft, engine, wrench, set, order."""
    for kind, body in (
        ("owner", {"name": "Olivia Owner"}),
        ("person", {"name": "Ada Example", "certificate_number": "1234567", "certificate_kind": "mechanic"}),
        ("person", {"name": "Bea Example", "certificate_number": "7654321", "certificate_kind": "mechanic"}),
        ("aircraft", {"id": "X-TEST", "type": "Hollowbrook Tarn (invented)", "serial": "T-0412", "owner": "owner"}),
        ("engine", {"id": "E1", "cylinders": 4, "numbering": "from-rear", "aircraft": "X-TEST", "model": "Stonewick Four (invented)", "serial": "S4-7"}),
        ("tool", {"id": "TW-04", "low": "10", "high": "150", "unit": "in-lb", "calibrated": "2026-01-10", "calibration_due": "2035-01-09"}),
        ("nozzle-set", SET),
        ("order", {"id": "O-1", "engine": "E1", "set": "PG-set", "lines": [
            {"marking": "Q7-104", "cylinders": [3]}, {"marking": "Q7-097", "cylinders": [2]}]}),
        *(("as-found", {"engine": "E1", "cylinder": one, "marking": "Q7-100", "source": "read"}) for one in (1, 2, 3, 4)),
    ):  # fmt: skip
        records.add(book, kind, body, ADA)


def box(book: Ledger) -> None:
    """Both nozzles come as ordered."""
    receive.receive_all(book, "O-1", receive.read_markings("Q7-104, 3\nQ7-097, 2"), ADA)


def begun(book: Ledger, **more: Any) -> None:
    """The job, and the instructions' figures."""
    hangar(book)
    box(book)
    job = {
        "id": "J-1",
        "engine": "E1",
        "set": "PG-set",
        "order": "O-1",
        "document": "SI-77 (invented)",
        "revision": "C",
        "positions": [{"cylinder": 3, "marking": "Q7-104"}, {"cylinder": 2, "marking": "Q7-097"}],
        **more,
    }
    fit.begin(book, job, ADA)
    enter_figures(book)


def enter_figures(
    book: Ledger,
    figures: Mapping[str, tuple[str, str, str]] = FIGURES,
    document: str = "SI-77 (invented)",
    by: Said = ADA,
) -> None:
    """Every figure of the instructions, with where it stands."""
    for what, (low, high, unit) in figures.items():
        figure = {
            "job": "J-1",
            "what": what,
            "low": low,
            "high": high,
            "unit": unit,
            "document": document,
            "revision": "C",
        }
        fit.enter_figure(book, figure, by)


def refusal(book: Ledger, action: Callable[[], object]) -> str:
    """The code of a refusal, after checking that nothing was written."""
    before = book.head()
    with pytest.raises(RefusedEntryError) as caught:
        action()
    assert book.head() == before
    return caught.value.code


def step(book: Ledger, name: str, cylinder: int | None = None, **more: Any) -> None:
    """One step as a careful person enters it."""
    where = {"cylinder": cylinder} if cylinder is not None else {}
    if name == "old-nozzle-out":
        fit.remove(book, {"job": "J-1", **where, "marking": "Q7-100", "tag": f"old-{cylinder}", **more}, ADA)
    elif name in work.TORQUE_STEPS:
        reading = {
            "job": "J-1",
            "step": name,
            **where,
            "reading": "33",
            "unit": "in-lb",
            "tool": "TW-04",
            **more,
        }
        fit.read_torque(book, reading, ADA)
    elif name == "marking-read":
        marking = {3: "Q7-104", 2: "Q7-097"}[cylinder or 0]
        fit.do_step(book, {"job": "J-1", "step": name, **where, "marking": marking, **more}, ADA)
    elif name in VALUES:
        unit = FIGURES[name][2]
        fit.do_step(book, {"job": "J-1", "step": name, "value": VALUES[name], "unit": unit, **more}, ADA)
    else:
        fit.do_step(book, {"job": "J-1", "step": name, **where, "seen": f"looked: {name}", **more}, ADA)


def steps(book: Ledger, names: Iterable[str], cylinder: int | None = None) -> None:
    """Several steps."""
    for name in names:
        step(book, name, cylinder)


def up_to(book: Ledger, last: str, cylinder: int = 3) -> None:
    """Everything at one cylinder before a step."""
    step(book, "fuel-off")
    steps(book, work.CYLINDER_STEPS[: work.CYLINDER_STEPS.index(last)], cylinder)


def all_done(book: Ledger) -> None:
    """The whole job; the second look goes the other way round."""
    step(book, "fuel-off")
    for cylinder in (3, 2):
        steps(book, work.CYLINDER_STEPS[:-1], cylinder)
    for cylinder in (2, 3):
        step(book, "looked-at-again", cylinder)
    steps(book, work.ENGINE_STEPS[1:])


def signature(text: str, **more: Any) -> dict[str, Any]:
    """What a signer enters."""
    return {
        "name": "Bea Example",
        "certificate_number": "7654321",
        "certificate_kind": "mechanic",
        "meaning": "released",
        "shown_sha256": hashlib.sha256(text.encode()).hexdigest(),
        **more,
    }
