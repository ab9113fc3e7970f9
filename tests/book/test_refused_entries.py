"""What the ledger refuses it names whole: the code, the sentence with its values, and the next step; nothing is written.

Most of these were found missing by changing the ledger in one place at a time (tests/faults/changes.py).
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from leanwright.book import canonical, ledger, schema
from leanwright.book.entry import Author, Signature, Worked, decode
from leanwright.book.ledger import MOST_ATTACHMENT_BYTES, MOST_ATTACHMENTS, Draft, File, Ledger
from leanwright.book.stores import sqlite
from leanwright.book.stores.store import Store, UnknownOutcomeError
from leanwright.errors import RefusedEntryError, UnusableBookError, UnwritableBookError
from tests.book import job
from tests.book.conftest import Desk

ENGINE = {"id": "E1", "cylinders": 6, "numbering": "from-rear"}
MAY_1 = date(2031, 5, 1)
NO_ENTRY = ("no-such-entry", "There is no entry 7", "See leanwright book list.")


def refusal(error: RefusedEntryError) -> tuple[str, str, str]:
    """All that is told."""
    return error.code, str(error.reason), str(error.next_step)


def refused(desk: Desk, kind: str, body: dict[str, object], **more: Any) -> tuple[str, str, str]:
    """What is told, after checking that nothing was written."""
    before = desk.bodies()
    with pytest.raises(RefusedEntryError) as caught:
        desk.add(kind, body, **more)
    assert desk.bodies() == before
    return refusal(caught.value)


def draft(key: str, **more: Any) -> Draft:
    """A note of Ada's under a request key."""
    return Draft("note", {"text": "a"}, Author(name="Ada Example", identified_by="typed"), key, **more)


def test_an_entry_that_is_not_there_is_neither_shown_nor_corrected(file_desk: Desk) -> None:
    file_desk.add("note", {"text": "a"})
    assert refused(file_desk, "note", {"text": "b"}, supersedes=7, reason="why") == NO_ENTRY
    with pytest.raises(RefusedEntryError) as caught:
        file_desk.book.entry(7)
    assert refusal(caught.value) == NO_ENTRY


def test_hours_are_a_reading(file_desk: Desk) -> None:
    told = refused(file_desk, "note", {"text": "a"}, worked=Worked(date=MAY_1, hours="12h"))
    assert told == ("bad-hours", "'12h' is no reading of hours", 'Write it like "1234.5".')


@pytest.mark.parametrize(
    ("kind", "body", "told"),
    [
        (
            "torque-reading",
            {"job": "J-1", "step": "nozzle-torqued", "reading": "33"},
            (
                "torque-without-unit",
                "The torque '33' has no unit",
                'Give "unit" as in-lb, ft-lb, N·m or kgf·cm, as the wrench shows it.',
            ),
        ),
        (
            "resume",
            {"job": "J-1", "touched": [{"step": "marking-read", "cylinder": 7}]},
            ("no-such-cylinder", "Engine E1 has 4 cylinders; there is no 7", "Check the number."),
        ),
        (
            "engine",
            {"id": "E2", "cylinders": 4, "numbering": "from-rear"},
            (
                "other-name",
                "Other entries speak of engine 'E1' by that name; it cannot become 'E2'",
                "Keep the name, or take the entry back and enter another.",
            ),
        ),
    ],
)
def test_what_a_body_says_wrongly_is_told_with_its_values(
    file_desk: Desk, kind: str, body: dict[str, object], told: tuple[str, str, str]
) -> None:
    job.begun(file_desk.book)
    engine = next(one.entry.sequence for one, _ in file_desk.book.entries("engine"))
    more = {"supersedes": engine, "reason": "typing"} if kind == "engine" else {}
    assert refused(file_desk, kind, body, **more) == told


def test_what_is_no_json_is_told_with_its_place() -> None:
    with pytest.raises(RefusedEntryError) as caught:
        canonical.parse(b'{"a": 1,\n x}', "note.json")
    told = "note.json is not JSON from line 2, column 2 on"
    assert refusal(caught.value) == ("not-json", told, "Write the entry as JSON.")


@pytest.mark.parametrize("key", ["", "k" * 101, "Schlüssel", "two\nlines"])
def test_a_request_key_is_plain_and_short(file_desk: Desk, key: str) -> None:
    with pytest.raises(RefusedEntryError) as caught:
        file_desk.book.append(draft(key))
    assert refusal(caught.value) == (
        "bad-request-key", "The request key has to be 1 to 100 plain signs", "Use another one.",
    )  # fmt: skip
    assert file_desk.bodies() == []


def test_the_shortest_and_the_longest_request_key_are_taken_and_found_again(file_desk: Desk) -> None:
    for number, key in enumerate(("k", "k" * 100), 1):
        written = file_desk.book.append(draft(key))
        found = file_desk.book.requested(key)
        assert found is not None
        assert (found.entry.sequence, found.hash) == (number, written.hash)
    assert file_desk.book.requested("kk") is None


def test_a_request_key_that_said_something_else_is_told_with_its_entry(file_desk: Desk) -> None:
    file_desk.add("note", {"text": "a"})
    file_desk.count -= 1
    assert refused(file_desk, "note", {"text": "b"}) == (
        "request-key-used",
        "The request key 'key-1' belongs to entry 1, which says something else",
        "Use a new request key for a new entry.",
    )


def test_files_up_to_their_number_and_size_are_taken(file_desk: Desk) -> None:
    files = tuple(File(f"{number}.txt", b"a") for number in range(MOST_ATTACHMENTS + 1))
    assert refused(file_desk, "note", {"text": "a"}, files=files) == (
        "too-many-files", "21 files are too many for one entry", "Split them.",
    )  # fmt: skip
    large = File("large.bin", b"a" * (MOST_ATTACHMENT_BYTES + 1))
    assert refused(file_desk, "note", {"text": "a"}, files=(large,)) == (
        "attachment-too-large",
        "large.bin has 10,000,001 bytes; an attachment has at most 10,000,000",
        "Make it smaller, for example by scanning with fewer dots an inch.",
    )
    file_desk.add("note", {"text": "a"}, files=files[:-1])
    whole = replace(large, content=large.content[:-1])
    file_desk.add("note", {"text": "b"}, files=(whole,))
    (kept,) = file_desk.book.entry(2)[0].entry.attachments
    assert (kept.name, kept.size) == ("large.bin", MOST_ATTACHMENT_BYTES)


@pytest.mark.parametrize(
    ("where", "more"),
    [
        ("author.name", {"author": Author(name="Ada\x07", identified_by="typed")}),
        ("names[1]", {"files": (File("a.txt", b"a"), File("a\x07.txt", b"a"))}),
        ("reason", {"reason": "why\x07"}),
        ("signature.name", {"signature": Signature(name="Ada\x07", certificate_number="1", certificate_kind="mechanic", meaning="performed", time="2031-05-03T12:00:00Z", identified_by="typed-by-signer", shown_sha256="0" * 64)}),
    ],
    ids=["author", "file", "reason", "signature"],
)  # fmt: skip
def test_a_control_character_is_refused_wherever_somebody_can_write(
    file_desk: Desk, where: str, more: dict[str, Any]
) -> None:
    with pytest.raises(RefusedEntryError) as caught:
        file_desk.book.append(replace(draft("key"), **more))
    assert caught.value.code == "control-character"
    assert str(caught.value.reason).startswith(f"{where} holds the control character U+0007")
    assert file_desk.bodies() == []


def test_the_second_of_two_corrections_is_told_the_first(file_desk: Desk) -> None:
    file_desk.add("note", {"text": "a"})
    file_desk.add("note", {"text": "b"}, by="Bea Example", supersedes=1, reason="letter")
    assert refused(file_desk, "note", {"text": "c"}, supersedes=1, reason="why") == (
        "superseded-already",
        "Entry 1 was corrected already, by entry 2 ('letter', by Bea Example)",
        "Look at entry 2, and correct that one.",
    )
    file_desk.add("void", {}, supersedes=2, reason="nothing was seen")
    assert refused(file_desk, "void", {}, supersedes=2, reason="why") == (
        "superseded-already",
        "Entry 2 was taken back already, by entry 3 ('nothing was seen', by Ada Example)",
        "If it was right after all, write it anew.",
    )


def test_what_is_taken_back_is_judged_with_itself_still_there(file_desk: Desk) -> None:
    file_desk.add("aircraft", {"id": "X-TEST"})
    file_desk.add("engine", {**ENGINE, "aircraft": "X-TEST"})
    assert refused(file_desk, "void", {}, supersedes=1, reason="twice") == (
        "in-use", "Other entries speak of aircraft 'X-TEST'", "Correct it instead of taking it back.",
    )  # fmt: skip


def test_a_correction_is_judged_without_what_it_corrects(file_desk: Desk) -> None:
    file_desk.add("engine", ENGINE)
    file_desk.add("note", {"text": "a", "engine": "E1"}, worked=Worked(date=MAY_1, hours="100"))
    less = Worked(date=MAY_1, hours="90")
    told = refused(file_desk, "note", {"text": "b", "engine": "E1"}, worked=less)
    assert told[0] == "hours-go-back"
    file_desk.add("note", {"text": "a", "engine": "E1"}, worked=less, supersedes=2, reason="misread")
    assert file_desk.book.state().hours["E1"][-1][1] == 90


def test_what_another_window_wrote_is_judged_by(file_desk: Desk) -> None:
    window = Desk(
        ledger.open_ledger(file_desk.book.store, file_desk.clock, "leanwright test"), file_desk.clock, 100
    )
    assert window.book.state().engines == {}
    file_desk.add("engine", ENGINE)
    window.add("note", {"text": "a", "engine": "E1"})
    assert set(window.book.state().engines) == {"E1"}
    assert refused(window, "note", {"text": "a", "engine": "E2"})[0] == "no-such-engine"
    for hours in ("100", "110"):
        file_desk.add("note", {"text": "a", "engine": "E1"}, worked=Worked(date=MAY_1, hours=hours))
        assert window.book.state() == file_desk.book.state()
    assert [hours for _, hours, _ in window.book.state().hours["E1"]] == [100, 110]


def test_an_entry_is_read_back_with_its_bytes(file_desk: Desk) -> None:
    file_desk.add("note", {"text": "a"})
    ((listed, _),) = file_desk.book.entries()
    read, newer = file_desk.book.entry(1)
    assert (read, newer) == (listed, None)
    assert decode(read.data) == read.entry


def test_an_event_is_written_down_whole(file_desk: Desk) -> None:
    file_desk.book.note_event("backup", {"place": "here"})
    file_desk.book.note_event("check", {})
    told = {
        "event": "backup",
        "offset_minutes": 0,
        "place": "here",
        "recorded": "2031-05-03T12:00:00.000Z",
        "sequence": 1,
    }
    (found,) = file_desk.book.events("backup")
    assert found | {"recorded": ""} == told | {"recorded": ""}
    assert found["recorded"].startswith("2031-05-03T12:00:00")
    assert [one["sequence"] for one in file_desk.book.events("check")] == [2]


class Lossy:
    """A store whose connection is lost at the end of so many savings; what was saved is there, or not."""

    def __init__(self, store: Store, losses: int, *, saved: bool) -> None:
        self.store = store
        self.place = store.place
        self.losses = losses
        self.saved = saved

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """Write, and lose the connection."""
        with self.store.writing() as connection:
            yield connection
            if self.losses and not self.saved:
                connection.rollback()
                self.losses -= 1
                raise UnknownOutcomeError
        if self.losses:
            self.losses -= 1
            raise UnknownOutcomeError

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """Read."""
        with self.store.reading() as connection:
            yield connection


@pytest.mark.parametrize("saved", [True, False])
def test_after_a_lost_connection_it_is_asked_what_became_of_the_entry(
    file_desk: Desk, *, saved: bool
) -> None:
    lossy = Lossy(file_desk.book.store, 1, saved=saved)
    book = Ledger(lossy, file_desk.clock, "leanwright test", file_desk.book.name)  # type: ignore[arg-type]  # what appending needs of a store
    written = book.append(draft("key"))
    assert (written.sequence, written.repeated) == (1, saved)
    assert len(file_desk.bodies()) == 1


def test_a_connection_that_is_lost_twice_is_told(file_desk: Desk) -> None:
    lossy = Lossy(file_desk.book.store, 2, saved=False)
    book = Ledger(lossy, file_desk.clock, "leanwright test", file_desk.book.name)  # type: ignore[arg-type]  # what appending needs of a store
    with pytest.raises(UnwritableBookError) as caught:
        book.append(draft("key"))
    told = (caught.value.place, str(caught.value.reason))
    assert told == (lossy.place, "The connection was lost twice while saving")
    assert file_desk.bodies() == []


def test_a_book_is_made_once_and_whole(file_desk: Desk, folder: Path) -> None:
    store = file_desk.book.store
    with pytest.raises(RefusedEntryError) as caught:
        ledger.make(store, "f" * 32, file_desk.clock, "leanwright test")
    assert refusal(caught.value) == (
        "book-there", f"{store.place}: there is a book already", "Name another place.",
    )  # fmt: skip
    unnamed = sqlite.make_file(folder / "unnamed.sqlite")
    schema.migrate(unnamed)
    with pytest.raises(UnusableBookError) as unmade:
        ledger.open_ledger(unnamed, file_desk.clock, "leanwright test")
    assert (unmade.value.place, unmade.value.reason, unmade.value.next_step) == (
        unnamed.place, "The book was not made to the end", "Remove it, and make one: leanwright book init.",
    )  # fmt: skip
    unnamed.close()
