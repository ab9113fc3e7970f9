"""The whole round through both databases: the same head, the same state, the same papers, byte for byte; a spoiled page shows."""

import hashlib
import itertools
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from leanwright.book import ledger
from leanwright.book.ledger import Ledger
from leanwright.book.stores import postgresql, sqlite
from leanwright.book.verify import verify
from leanwright.workbench import fit, receive, records, release, returns, safekeeping, sheets, standing
from tests.book import job
from tests.book.cluster import Cluster
from tests.book.conftest import NAME, SetClock

SHEETS = ("receiving", "fitting", "record", "returns", "labels", "tags", "quarantine")


@contextmanager
def counted_keys(patch: pytest.MonkeyPatch) -> Iterator[None]:
    """Request keys that count up: a drawn one would make every book another."""
    numbers = itertools.count(1)
    with patch.context() as patched:
        patched.setattr(records, "new_request_key", lambda: f"key-{next(numbers)}")
        yield


def whole_round(book: Ledger) -> None:
    """A box with a wrong part, the fitting with a pause and a correction, the record, its signature, the parcel."""
    job.begun(book)
    receive.receive(book, "O-1", receive.Came("Q9-001"), job.ADA)
    job.step(book, "fuel-off")
    for cylinder in (3, 2):
        job.steps(book, ("line-off", "old-nozzle-out", "seat-inspected", "marking-read"), cylinder)
        job.steps(book, ("thread-compound", "started-by-hand", "nozzle-torqued"), cylinder)
        if cylinder == 3:
            paused(book)
        job.steps(
            book, ("line-torqued-at-nozzle", "line-torqued-at-divider", "line-marked", "clamp-back"), cylinder
        )
    for cylinder in (2, 3):
        job.step(book, "looked-at-again", cylinder)
    for step in ("leak-check-at-nozzles", "leak-check-at-divider", "idle-mixture", "idle-speed", "metered-pressure",
                 "unmetered-pressure", "full-power-flow", "ground-run", "look-after-run", "placard", "tools-counted",
                 "caps-counted", "cowling"):  # fmt: skip
        job.step(book, step)
    drafted = release.draft(book, "J-1", completed=date(2031, 5, 3), performed_by="Ada Example", said=job.ADA)
    release.take_signature(
        book, drafted.sequence, job.signature(release.checked(book, drafted.sequence)["text"]), job.BEA
    )
    returns.pack(
        book, {"id": "P-1", "order": "O-1", "items": [{"marking": "Q7-100", "quantity": 2}]}, job.ADA
    )


def paused(book: Ledger) -> None:
    """An interruption, in which a reading is put right."""
    fit.pause(book, "J-1", "telephone", job.ADA)
    number = book.state().jobs["J-1"].steps["nozzle-torqued", 3].latest
    body = records.parse_body(bytes(book.entry(number)[0].entry.body), "body")
    records.correct(book, number, {**body, "reading": "34"}, "misread", job.ADA)
    asked = fit.worksheet(book, "J-1")["touch_again"]
    fit.resume(book, "J-1", [(one["step"], one["cylinder"]) for one in asked], job.ADA)


def told(book: Ledger) -> dict[str, Any]:
    """Everything that the book tells: status, engine, worksheet, record, lists, calendar, and every sheet as PDF."""
    record = next(iter(book.state().records.values())).item.latest
    status = standing.status(book)
    return {
        "head": book.head(),
        "status": {name: value for name, value in status.items() if name not in {"place", "notes"}},
        "engine": standing.engine_at(book, "E1"),
        "engine before": standing.engine_at(book, "E1", day=date(2031, 5, 2)),
        "worksheet": fit.worksheet(book, "J-1"),
        "record": release.checked(book, record),
        "receiving": receive.receiving_list(book, "O-1"),
        "old parts": returns.old_parts(book, "J-1"),
        "calendar": returns.calendar(book),
        "list": records.list_document(book),
        **{
            f"sheet {kind}": hashlib.sha256(
                sheets.pdf(book, kind, of=None, language="de", paper="a4", printed_on=date(2031, 5, 3))
            ).hexdigest()
            for kind in SHEETS
        },
    }


def test_the_whole_round_says_the_same_through_both_databases(
    folder: Path, database: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = []
    for store in (sqlite.make_file(folder / "book.sqlite"), postgresql.open_address(database)):
        book = ledger.make(store, NAME, SetClock(), "leanwright test")
        with counted_keys(monkeypatch):
            whole_round(book)
        assert verify(store).problems == ()
        found.append(told(book))
        book.close()
    in_file, in_database = found
    assert in_file == in_database
    assert in_file["record"]["status"] == "released"
    assert in_file["status"]["engines"][0]["status"] == "no open work"


def test_a_book_goes_from_one_database_to_the_other_and_back_with_the_same_papers(
    folder: Path, cluster: Cluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = ledger.make(sqlite.make_file(folder / "book.sqlite"), NAME, SetClock(), "leanwright test")
    with counted_keys(monkeypatch):
        whole_round(book)
    before = told(book)
    safekeeping.export(book, folder / "plain")
    there = cluster.address(cluster.new_place())
    assert safekeeping.import_folder(folder / "plain", there).verified.head == book.head()
    book.close()
    moved = ledger.open_ledger(postgresql.open_address(there), SetClock(), "leanwright test")
    assert told(moved) == before
    safekeeping.back_up(moved, folder / "there.backup")
    moved.close()
    safekeeping.restore(folder / "there.backup", str(folder / "back.sqlite"))
    back = ledger.open_ledger(sqlite.open_file(folder / "back.sqlite"), SetClock(), "leanwright test")
    assert told(back)["list"] == before["list"]
    back.close()


@pytest.mark.parametrize("table", ["entries", "attachments"])
def test_a_spoiled_page_of_postgresql_is_told_and_never_taken_for_sound(cluster: Cluster, table: str) -> None:
    place = cluster.new_place()
    address = cluster.address(place)
    book = ledger.make(postgresql.open_address(address), NAME, SetClock(), "t")
    for number in range(40):
        said = records.Said(by="Ada Example", files=(records.attached("a.txt", b"%d" % number * 90),))
        records.add(book, "note", {"text": f"note {number} " * 20}, said)
    assert verify(book.store).sound
    book.close()
    cluster.spoil(place, table)
    found = safekeeping.check(address)
    assert "invalid page" in " ".join(found.problems)
    assert not found.sound


def test_the_checks_of_postgresql_itself_find_nothing_in_a_book_of_the_whole_round_and_find_a_spoiled_page(
    cluster: Cluster,
) -> None:
    # The PostgreSQL manual, appendix F "amcheck": bt_index_parent_check with heapallindexed, and verify_heapam.
    place = cluster.new_place()
    book = ledger.make(postgresql.open_address(cluster.address(place)), NAME, SetClock(), "leanwright test")
    whole_round(book)
    book.close()
    assert cluster.own_findings(place) == []
    leaf = 8192  # behind the first page, which tells where the root is
    cluster.spoil(place, "entries_pkey", at=2 * leaf - 200)
    (found,) = cluster.own_findings(place)
    assert found.startswith("entries_pkey: ")
