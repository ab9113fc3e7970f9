"""Entries are added, corrected and taken back, the same on both databases; nothing is ever changed."""

import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import sqlalchemy as sa

from leanwright.book.entry import Worked, clock_flag
from leanwright.book.ledger import MOST_ATTACHMENT_BYTES, File
from leanwright.book.stores import tables
from leanwright.book.verify import verify
from leanwright.errors import LeanwrightError, RefusedEntryError, UnwritableBookError
from tests.book import in_place
from tests.book.conftest import NOON, Desk
from tests.faults.promises import TrialRun

ENGINE = {"id": "E1", "cylinders": 6, "numbering": "from-rear"}


def refused(desk: Desk, kind: str, body: dict[str, object], **more: Any) -> str:
    """The code of a refusal, after checking that it is one plain sentence and that nothing was written."""
    before = desk.bodies()
    with pytest.raises(RefusedEntryError) as caught:
        desk.add(kind, body, **more)
    assert desk.bodies() == before
    assert "\n" not in str(caught.value)
    return caught.value.code


def all_rows(desk: Desk) -> list[list[Any]]:
    """Every row of each table."""
    with desk.book.store.reading() as connection:
        return [list(connection.execute(sa.select(table))) for table in tables.LEDGER_TABLES]


def test_entries_follow_one_another_and_the_head_is_the_last_hash(desk: Desk) -> None:
    first = desk.add("note", {"text": "eins"})
    second = desk.add("note", {"text": "zwei"})
    assert (first.sequence, second.sequence, desk.book.head()) == (1, 2, second.hash)
    assert verify(desk.book.store).problems == ()


def test_the_same_operations_give_the_same_head_on_both_databases(desk: Desk) -> None:
    desk.add("engine", ENGINE)
    desk.add(
        "note",
        {"text": "Grüße"},
        worked=Worked(date=date(2031, 5, 1), hours="12.5"),
        files=(File("a.txt", b"abc"),),
    )
    desk.clock.forward(minutes=5)
    desk.add("note", {"text": "besser"}, supersedes=2, reason="Tippfehler")
    # A regression test: the head that the SQLite store gave when it was written, by hand checked with verify_book.py.
    assert desk.book.head() == EXPECTED_HEAD


EXPECTED_HEAD = "8c4536351906a1c8895529819c2fe29fe00fc50864b945e5a7949971c248bc6f"


def test_a_repeated_request_gives_the_same_entry(desk: Desk) -> None:
    first = desk.add("note", {"text": "a"})
    desk.count -= 1
    again = desk.add("note", {"text": "a"})
    assert (again.sequence, again.hash, again.repeated) == (first.sequence, first.hash, True)
    desk.count -= 1
    assert refused(desk, "note", {"text": "something else"}) == "request-key-used"


def test_a_correction_stands_in_the_place_of_the_old_entry_which_stays_readable(desk: Desk) -> None:
    desk.add("engine", ENGINE)
    desk.add("engine", {**ENGINE, "cylinders": 4}, supersedes=1, reason="It has four.")
    (old, newer), (new, none) = desk.book.entries()
    assert (newer, none) == (2, None)
    assert (new.entry.supersedes, new.entry.supersedes_hash, new.entry.reason) == (
        1,
        old.hash,
        "It has four.",
    )
    assert desk.book.state().engines["E1"].body.cylinders == 4
    desk.add("engine", ENGINE, supersedes=2, reason="No, six.")
    assert desk.book.state().engines["E1"].body.cylinders == 6


def test_two_corrections_of_one_entry_are_one_too_many(desk: Desk) -> None:
    desk.add("note", {"text": "a"})
    desk.add("note", {"text": "b"}, supersedes=1, reason="why")
    assert refused(desk, "note", {"text": "c"}, supersedes=1, reason="why") == "superseded-already"
    assert refused(desk, "void", {}, supersedes=1, reason="why") == "superseded-already"


def test_what_is_taken_back_no_longer_counts_but_stays_readable(desk: Desk) -> None:
    desk.add("tool", {"id": "TW-04"})
    desk.add("void", {}, supersedes=1, reason="entered twice")
    assert desk.book.state().tools == {}
    assert desk.book.entry(1)[0].entry.kind == "tool"
    assert refused(desk, "void", {}, supersedes=2, reason="back") == "taken-back"


@pytest.mark.parametrize(
    ("kind", "supersedes", "reason", "code"),
    [
        ("note", 7, "why", "no-such-entry"),
        ("owner", 1, "why", "other-kind"),
        ("note", 1, "  ", "no-reason"),
        ("note", 1, None, "no-reason"),
    ],
)
def test_a_correction_has_to_fit(
    desk: Desk, kind: str, supersedes: int, reason: str | None, code: str
) -> None:
    desk.add("note", {"text": "a"})
    body: dict[str, object] = {"text": "b"} if kind == "note" else {"name": "Ada"}
    assert refused(desk, kind, body, supersedes=supersedes, reason=reason) == code


@pytest.mark.parametrize(
    ("kind", "body", "more", "code"),
    [
        ("note", {"text": "a", "engine": "E9"}, {}, "no-such-engine"),
        ("note", {"text": "a"}, {"worked": Worked(date=date(2031, 5, 4))}, "in-the-future"),
        ("tool", {"id": "T", "calibrated": "2031-05-04"}, {}, "in-the-future"),
        (
            "note",
            {"text": "a", "engine": "E1"},
            {"worked": Worked(date=date(2031, 5, 3), hours="99.9")},
            "hours-go-back",
        ),
        (
            "as-found",
            {"engine": "E1", "cylinder": 7, "marking": "Q", "source": "read"},
            {},
            "no-such-cylinder",
        ),
        ("torque-reading", {"job": "J", "reading": "33"}, {}, "torque-without-unit"),
        ("note", {"text": "bell \x07"}, {}, "control-character"),
        ("note", {"text": "a", "colour": "red"}, {}, "not-of-its-kind"),
        ("note", {}, {}, "not-of-its-kind"),
        ("poem", {"text": "a"}, {}, "unknown-kind"),
        ("note", {"text": "a"}, {"files": (File("big", bytes(20_000_000)),)}, "attachment-too-large"),
        ("engine", {"id": "E2", "cylinders": 5}, {}, "odd-opposed"),
        ("engine", {"id": "E2", "cylinders": 4, "firing_order": [1, 2, 3, 3]}, {}, "firing-order"),
        ("engine", {"id": "E2", "cylinders": 4, "aircraft": "N-0"}, {}, "no-such-aircraft"),
    ],
)
def test_bad_input_is_refused_with_a_sentence_and_nothing_is_written(
    desk: Desk, kind: str, body: dict[str, object], more: dict[str, object], code: str
) -> None:
    desk.add("engine", ENGINE)
    desk.add("note", {"text": "a", "engine": "E1"}, worked=Worked(date=date(2031, 5, 2), hours="100.0"))
    assert refused(desk, kind, body, **more) == code


def test_a_late_entry_keeps_both_times_and_its_hours_fit_in_between(desk: Desk) -> None:
    from leanwright.book.entry import days_late

    desk.add("engine", ENGINE)
    for day, hours in ((1, "100"), (3, "110")):
        desk.add("note", {"text": "a", "engine": "E1"}, worked=Worked(date=date(2031, 5, day), hours=hours))
    desk.add("note", {"text": "late", "engine": "E1"}, worked=Worked(date=date(2031, 5, 2), hours="105.5"))
    late = desk.book.entry(4)[0].entry
    assert (late.worked, late.recorded, days_late(late)) == (
        Worked(date=date(2031, 5, 2), hours="105.5"),
        "2031-05-03T12:00:00Z",
        1,
    )
    more = {"worked": Worked(date=date(2031, 5, 2), hours="111")}
    assert refused(desk, "note", {"text": "late", "engine": "E1"}, **more) == "hours-go-back"


def test_a_new_meter_begins_anew(desk: Desk) -> None:
    desk.add("engine", ENGINE, worked=Worked(date=date(2031, 5, 1), hours="1500"))
    desk.add("engine", {**ENGINE, "new_meter": True}, worked=Worked(date=date(2031, 5, 2), hours="0"))
    desk.add("note", {"text": "a", "engine": "E1"}, worked=Worked(date=date(2031, 5, 3), hours="1.5"))
    assert [str(hours) for _, hours, _ in desk.book.state().hours["E1"]] == ["1.5"]


@pytest.mark.promise("D9")
@pytest.mark.parametrize(
    "moment",
    [
        NOON - timedelta(days=2),
        NOON - timedelta(days=3650),
        datetime(1970, 1, 1, tzinfo=UTC),
        datetime(2038, 1, 19, 3, 14, 8, tzinfo=UTC),
        datetime(9999, 12, 31, 23, 59, 59, tzinfo=UTC),
        NOON,
    ],
)
def test_a_wrong_clock_refuses_nothing_and_is_flagged(desk: Desk, moment: datetime) -> None:
    desk.add("note", {"text": "before"})
    desk.clock.now = moment
    desk.add("note", {"text": "a"}, worked=Worked(date=date(2031, 5, 2)))
    desk.add("engine", ENGINE)
    assert verify(desk.book.store).sound
    flag = clock_flag(desk.book.entry(2)[0].entry.recorded, "2031-05-03T12:00:00Z")
    assert (flag is None) == (moment in {NOON, datetime(2038, 1, 19, 3, 14, 8, tzinfo=UTC)})


SUMMER_AND_WINTER = "CET-1CEST,M3.5.0,M10.5.0/3"
"""Central European Time by the rule of POSIX, without a table of zones: an hour back at 01:00 UTC on 26 October 2031."""
STEPS = {
    "an hour back": datetime(2031, 10, 26, 1, tzinfo=UTC),
    "an hour on": datetime(2031, 3, 30, 1, tzinfo=UTC),
}


@pytest.fixture
def a_zone_with_a_step(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The zone of this process is one in which the clock on the wall steps twice a year."""
    monkeypatch.setenv("TZ", SUMMER_AND_WINTER)
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.promise("D9")
@pytest.mark.usefixtures("a_zone_with_a_step")
@pytest.mark.parametrize("name", STEPS)
def test_the_step_of_daylight_saving_is_no_jump_and_keeps_the_order(desk: Desk, name: str) -> None:
    moments = [STEPS[name] + timedelta(minutes=minutes) for minutes in (-1, 1)]
    for moment in moments:
        desk.clock.now = moment.astimezone()
        desk.add("note", {"text": "a"}, worked=Worked(date=desk.clock.now.date()))
    before, after = (sealed.entry for sealed, _ in desk.book.entries())
    assert [before.recorded, after.recorded] == [f"{moment:%Y-%m-%dT%H:%M:%SZ}" for moment in moments]
    steps = after.offset_minutes - before.offset_minutes
    assert steps == (-60 if name == "an hour back" else 60), "canary: the clock on the wall steps"
    assert clock_flag(after.recorded, before.recorded) is None
    assert verify(desk.book.store).sound


@pytest.mark.promise("L3")
def test_nothing_updates_or_deletes_a_row(desk: Desk, trial_run: TrialRun) -> None:
    desk.add("note", {"text": "a"}, files=(File("a", b"abc"),))
    desk.book.note_event("test", {})
    before = all_rows(desk)
    assert all(before), "canary: there is a row in each table"
    statements = in_place.ways(desk.book.store)
    for statement in statements:
        with (
            pytest.raises(UnwritableBookError, match="append-only"),
            desk.book.store.writing() as connection,
        ):
            connection.exec_driver_sql(statement)
    assert all_rows(desk) == before
    assert desk.add("note", {"text": "canary: adding is allowed"}).sequence == 2
    kind = type(desk.book.store).__name__.removesuffix("Store")
    trial_run.measured(f"{kind}: each of {len(statements)} statements refused by a guard", len(statements))


def test_a_row_out_of_its_order_is_refused_by_sqlite_itself(file_desk: Desk) -> None:
    file_desk.add("note", {"text": "a"})
    values = {"data": b"{}", "previous": "p", "hash": "h", "request_key": "k", "supersedes": None}
    for more in ({"sequence": 5}, {"sequence": 1}, {"sequence": 2, "request_key": "key-1"}):
        with pytest.raises(LeanwrightError), file_desk.book.store.writing() as connection:
            tables.insert(connection, [values | more])


def test_an_attachment_is_kept_under_its_digest(desk: Desk) -> None:
    desk.add(
        "attachment",
        {"text": "scan"},
        files=(File("scan é.pdf", b"%PDF"), File("b", b"x" * MOST_ATTACHMENT_BYTES)),
    )
    one = desk.book.entry(1)[0].entry.attachments[0]
    assert (one.name, one.size, desk.book.attachment(one.sha256)) == ("scan é.pdf", 4, b"%PDF")
    assert verify(desk.book.store).sound


def test_the_state_grows_with_each_entry_as_if_it_were_made_anew(desk: Desk) -> None:
    from leanwright.book.ledger import open_ledger

    desk.add("engine", ENGINE)
    desk.book.state()
    for cylinder in (1, 2, 3):
        body: dict[str, object] = {"engine": "E1", "cylinder": cylinder, "marking": "Q0", "source": "read"}
        desk.add("as-found", body, worked=Worked(date=date(2031, 5, cylinder), hours=str(100 + cylinder)))
    desk.add("void", {}, supersedes=3, reason="not looked at")
    fresh = open_ledger(desk.book.store, desk.clock, "leanwright test")
    assert desk.book.state() == fresh.state()
    assert sorted(desk.book.state().fitted["E1"]) == [1, 3]
    assert sorted(desk.book.state_at(day=date(2031, 5, 1)).fitted["E1"]) == [1]
    assert sorted(desk.book.state_at(engine="E1", hours=101).fitted["E1"]) == [1]
