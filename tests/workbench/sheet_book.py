"""An invented book for the tests of sheets: eight cylinders, long names, names that are not ASCII, forty lines."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path

from leanwright.book import ledger
from leanwright.book.kinds import work
from leanwright.book.ledger import Ledger
from leanwright.book.stores import sqlite
from leanwright.workbench import fit, receive, records, release, returns
from leanwright.workbench.records import Said
from tests.book.job import FIGURES, enter_figures

NAME = "fedcba9876543210fedcba9876543210"
LONG = "Wörterbuch-Flugmotoren­gesellschaft Žďár Łódź İzmir " + "x" * 60
ADA = Said(by="Ada Öztürk-Exámple")
BEA = Said(by="Bea Example")
LONG_MARKING = "Q7-104-" + "0O1I5S8B" * 6
"""55 signs: the longest that a marking of the book may nearly be."""
MARKINGS = {
    8: "Q7-097",
    1: "Q7-104",
    3: "Q7-104",
    2: "Q7-095",
    4: "Q7-101",
    5: "Q7-102",
    6: "Q7-103",
    7: LONG_MARKING,
}


def clock() -> datetime:
    """The one moment of this book."""
    return datetime(2031, 5, 3, 12, 0, tzinfo=UTC)


@contextmanager
def new_book(folder: Path) -> Iterator[Ledger]:
    """An empty book in a file."""
    folder.chmod(0o700)
    store = sqlite.make_file(folder / "book.sqlite")
    try:
        yield ledger.make(store, NAME, clock, "leanwright test")
    finally:
        store.close()


def hangar(book: Ledger, *, cylinders: int = 6) -> None:
    """Persons, aircraft, engine, wrenches, set, order of forty lines."""
    nozzles = [
        {"marking": "Q7-097", "flow": "0.97", "groups": ["“forward ring”"]},
        *({"marking": one} for one in dict.fromkeys(MARKINGS.values()) if one != "Q7-097"),
        {"marking": "Q7-100", "flow": "1"},
    ]
    lines = [
        {"marking": "Q7-104", "cylinders": [3]},
        {"marking": "Q7-097", "cylinders": [6]},
        *({"marking": f"P-{one:02d}", "quantity": 2} for one in range(1, 39)),
    ]
    for kind, body in (
        ("owner", {"name": "Ólafur Owner"}),
        ("person", {"name": "Ada Öztürk-Exámple", "certificate_number": "1234567", "certificate_kind": "mechanic"}),
        ("aircraft", {"id": "ZZ-OAK", "type": "Hollowbrook Tarn (invented)", "serial": "T-0412", "owner": "owner"}),
        ("engine", {"id": "E1", "cylinders": cylinders, "numbering": "from-rear", "aircraft": "ZZ-OAK", "model": "Stonewick Six (invented)", "serial": "0047-X"}),
        ("tool", {"id": "TW-04", "low": "10", "high": "150", "unit": "in-lb", "calibrated": "2031-01-10", "calibration_due": "2032-01-09"}),
        ("nozzle-set", {"id": "Q7", "nozzles": nozzles,
                        "groups": [{"name": "“forward ring”", "rows": ["front"]}],
                        "approval": {"document": "QX-STC-9 (invented)", "revision": "B", "permission_on_file": True,
                                     "classification": "minor", "supplement": "FMS-7 (invented)"}}),
        ("order", {"id": "O-1", "engine": "E1", "set": "Q7", "supplier": LONG[:200], "lines": lines,
                   "ordered": "2031-04-14", "return_due": "2031-05-30", "deposit": "150.00", "currency": "EUR"}),
        *(("as-found", {"engine": "E1", "cylinder": one, "marking": "Q7-100", "source": "read"}) for one in range(1, cylinders + 1)),
    ):  # fmt: skip
        records.add(book, kind, body, ADA)
    records.add(
        book,
        "note",
        {"text": "hours", "engine": "E1"},
        Said(by=ADA.by, worked="2031-05-02", hours="1412.6"),
    )


def box(book: Ledger) -> None:
    """What came: two right, the others not, one of them entered wrong and corrected."""
    receive.receive_all(
        book,
        "O-1",
        receive.read_markings("Q7-104, 3, 20718\nQ7-102, 6\nP-01\nP-01\nP-01\nÜ-77"),
        ADA,
    )
    first = next(one for one in records.listed(book, "receipt"))
    records.correct(book, first["sequence"], {**first["body"], "serial": "20719"}, "misread", ADA)
    receive.quarantine(book, LONG_MARKING, "bent in the box; " + LONG, "S-1", ADA)


def begun(
    book: Ledger, cylinders: tuple[int, ...] = (3, 6), *, of: int = 6, markings: dict[int, str] | None = None
) -> None:
    """A job with its figures; nothing done yet."""
    hangar(book, cylinders=of)
    box(book)
    planned = markings or {3: "Q7-104", 6: "Q7-097"}
    job = {
        "id": "J-1", "engine": "E1", "set": "Q7", "order": "O-1", "document": "SI-77 (invented)", "revision": "C",
        "second_person": True, "positions": [{"cylinder": one, "marking": planned[one]} for one in cylinders],
    }  # fmt: skip
    fit.begin(book, job, ADA)
    enter_figures(book, {**FIGURES, "line-torque": ("3.4", "3.4", "N·m")}, by=ADA)
    records.add(
        book,
        "check",
        {"engine": "E1", "what": "compression", "result": "sound", "found": "all above 72 of 80"},
        ADA,
    )


def half_done(book: Ledger) -> None:
    """Cylinder 3 as far as its torque, then an interruption."""
    fit.do_step(book, {"job": "J-1", "step": "fuel-off", "seen": "selector off, gauge at nought"}, ADA)
    for step in work.CYLINDER_STEPS[: work.CYLINDER_STEPS.index("line-torqued-at-nozzle")]:
        if step == "old-nozzle-out":
            fit.remove(
                book,
                {
                    "job": "J-1",
                    "cylinder": 3,
                    "marking": "Q7-100",
                    "tag": "old-3",
                    "condition": "varnish in the bleed",
                },
                ADA,
            )
        elif step == "nozzle-torqued":
            fit.read_torque(
                book,
                {
                    "job": "J-1",
                    "step": step,
                    "cylinder": 3,
                    "reading": "33.5",
                    "unit": "in-lb",
                    "tool": "TW-04",
                },
                ADA,
            )
        else:
            more = (
                {"marking": "Q7-104", "serial": "20719"}
                if step == "marking-read"
                else {"seen": "looked at it"}
            )
            fit.do_step(book, {"job": "J-1", "step": step, "cylinder": 3, **more}, ADA)
    fit.pause(book, "J-1", "shift ends", ADA)


def drafted(book: Ledger, wording: str | None = None) -> int:
    """The draft of the record; its entry."""
    return release.draft(
        book, "J-1", completed=date(2031, 5, 3), performed_by="Ada Öztürk-Exámple", wording=wording, said=ADA
    ).sequence


def packed(book: Ledger, parts: int = 40) -> None:
    """A parcel of so many lines."""
    items = [{"marking": f"Q7-{one:03d}", "cylinder": one % 6 + 1} for one in range(1, parts + 1)]
    returns.pack(
        book,
        {"id": "P-1", "items": items, "to": LONG[:200], "due": "2031-05-30", "order": "O-1", "deposit": "150.00",
         "currency": "EUR"},
        ADA,
    )  # fmt: skip
