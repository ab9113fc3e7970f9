"""A worksheet comes back from a phone: every step is held against the book again, and nothing is entered twice."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest

from leanwright.book.ledger import Ledger
from leanwright.errors import UnusableFileError
from leanwright.workbench import fit, records, safekeeping
from leanwright.workbench.hand_in import document, hand_in
from leanwright.workbench.hand_in_words import hand_in_behind, hand_in_lines, hand_in_title
from tests.book.job import ADA, begun, step

STEPS: list[tuple[str, dict[str, Any]]] = [
    ("fitting-step", {"step": "fuel-off", "seen": "lever back"}),
    ("fitting-step", {"step": "line-off", "cylinder": 3, "seen": "capped"}),
    ("removal", {"cylinder": 3, "marking": "Q7-100", "tag": "old-3"}),
    ("fitting-step", {"step": "seat-inspected", "cylinder": 3, "seen": "clean"}),
    ("fitting-step", {"step": "marking-read", "cylinder": 3, "marking": "Q7-104"}),
]


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Ledger]:
    made = records.make_book(str(tmp_path / "book.sqlite"))
    begun(made)
    yield made
    made.close()


def result(book: Ledger, steps: list[tuple[str, dict[str, Any]]] = STEPS, **more: Any) -> bytes:
    today = book.clock().date().isoformat()
    whole = {
        "format": "leanwright/worksheet-result/1",
        "sheet": "a" * 32,
        "ledger": book.name,
        "job": "J-1",
        "left": {"sequence": book.state().head_sequence, "hash": book.head()},
        "steps": [
            {
                "key": f"{number:032x}",
                "kind": kind,
                "body": {"job": "J-1", **body},
                "by": "Ada Example",
                "time": f"{today}T10:00:00Z",
                "date": today,
            }
            for number, (kind, body) in enumerate(steps, 1)
        ],
    }
    return json.dumps(whole | more).encode()


def test_every_step_is_entered_with_its_person_and_its_day(book: Ledger) -> None:
    before = book.state().head_sequence
    returned = hand_in(book, result(book))
    assert [one.entry for one in returned.steps] == [before + number for number in range(1, 6)]
    assert (returned.refused, returned.since, returned.since_of_job) == (0, 0, 0)
    entry = book.entry(before + 5)[0].entry
    assert (entry.kind, entry.author.name, entry.author.identified_by) == (
        "fitting-step", "Ada Example", "typed",
    )  # fmt: skip
    assert entry.worked is not None
    assert entry.worked.date == book.clock().date()
    assert book.state().fitted["E1"][3].marking == "Q7-104"


def test_handed_in_twice_is_entered_once(book: Ledger) -> None:
    content = result(book)
    first = hand_in(book, content)
    head = book.head()
    again = hand_in(book, content)
    assert book.head() == head
    assert [one.entry for one in again.steps] == [one.entry for one in first.steps]
    assert [one.before for one in again.steps] == [True] * 5
    assert hand_in_title(document(again)) == "0 of 5 steps are entered. 5 were in the book already."
    assert again.since == 0


def test_a_longer_result_of_the_same_sheet_adds_only_what_is_new(book: Ledger) -> None:
    left = msgspec.json.decode(result(book))["left"]
    hand_in(book, result(book, STEPS[:2]))
    returned = hand_in(book, result(book, left=left))
    assert [one.before for one in returned.steps] == [True, True, False, False, False]
    assert returned.refused == 0


def test_a_refusal_stands_beside_its_step_and_the_others_are_entered(book: Ledger) -> None:
    wrong = [*STEPS[:4], ("fitting-step", {"step": "marking-read", "cylinder": 3, "marking": "Q7-097"})]
    returned = hand_in(book, result(book, wrong))
    assert [one.refused.code if one.refused else None for one in returned.steps] == [None] * 4 + [
        "position-rule"
    ]
    lines = hand_in_lines(document(returned))
    assert lines[0] == "4 of 5 steps are entered. 1 is refused."
    assert "marking-read at 3, Ada Example: Not in this place. Q7-097 may go to 1 and 2 only" in lines[-1]


def test_a_step_out_of_its_order_or_of_no_such_form_is_refused(book: Ledger) -> None:
    steps: list[tuple[str, dict[str, Any]]] = [
        ("fitting-step", {"step": "line-off", "cylinder": 3, "seen": "before the fuel was off"}),
        ("torque-reading", {"step": "nozzle-torqued", "cylinder": 3, "reading": "33", "unit": "stone", "tool": "TW-04"}),
        ("fitting-step", {"step": "fuel-off", "seen": "ok", "colour": "blue"}),
    ]  # fmt: skip
    before = book.head()
    returned = hand_in(book, result(book, steps))
    assert returned.refused == 3
    assert book.head() == before


def test_a_key_that_said_something_else_before_is_refused(book: Ledger) -> None:
    hand_in(book, result(book, STEPS[:1]))
    other = hand_in(book, result(book, [("fitting-step", {"step": "fuel-off", "seen": "another story"})]))
    assert [one.refused.code if one.refused else None for one in other.steps] == ["request-key-used"]


def test_a_sheet_for_an_older_head_is_told_what_came_since(book: Ledger) -> None:
    content = result(book)
    records.add(book, "note", {"text": "about something else"}, ADA)
    step(book, "fuel-off")
    returned = hand_in(book, content)
    assert (returned.since, returned.since_of_job, returned.refused) == (2, 1, 0)
    assert hand_in_behind(document(returned)).startswith("2 entries have come into the book since")
    assert "1 of them about this job" in hand_in_behind(document(returned))


def test_what_changed_in_the_book_meanwhile_counts(book: Ledger) -> None:
    body = {"step": "marking-read", "cylinder": 3, "marking": "Q7-104", "serial": "S-1"}
    content = result(book, [*STEPS[:4], ("fitting-step", body)])
    records.add(
        book, "quarantine", {"marking": "Q7-104", "serial": "S-1", "because": "fell on the floor"}, ADA
    )
    returned = hand_in(book, content)
    assert [one.refused.code if one.refused else None for one in returned.steps] == [None] * 4 + [
        "in-quarantine"
    ]
    assert returned.since == 1


def test_a_sheet_of_another_book_is_refused_whole(book: Ledger, tmp_path: Path) -> None:
    other = records.make_book(str(tmp_path / "other.sqlite"))
    begun(other)
    with pytest.raises(UnusableFileError, match="left from another book"):
        hand_in(other, result(book))
    other.close()


def test_a_sheet_that_left_after_the_backup_that_was_restored_is_refused_whole(
    book: Ledger, tmp_path: Path
) -> None:
    safekeeping.back_up(book, tmp_path / "old.backup")
    step(book, "fuel-off")
    content = result(book, STEPS[1:])
    safekeeping.restore(tmp_path / "old.backup", str(tmp_path / "restored.sqlite"))
    restored = records.open_book(str(tmp_path / "restored.sqlite"))
    with pytest.raises(UnusableFileError, match="not the one that this worksheet left from"):
        hand_in(restored, content)
    fit.do_step(restored, {"job": "J-1", "step": "fuel-off", "seen": "told otherwise"}, ADA)
    with pytest.raises(UnusableFileError, match="not the one that this worksheet left from"):
        hand_in(restored, content)
    restored.close()


@pytest.mark.parametrize(
    "content",
    [
        b"", b"nothing", b"[]", b"{}", b"\xff\xfe", b'{"format": "leanwright/worksheet-result/1"}', b"{" * 5000, b" " * (2 << 20),
        b'{"format": "leanwright/balance/1"}',
    ],
    ids=range(9),
)  # fmt: skip
def test_what_is_no_result_is_told_and_writes_nothing(book: Ledger, content: bytes) -> None:
    before = book.head()
    with pytest.raises(UnusableFileError):
        hand_in(book, content)
    assert book.head() == before


@pytest.mark.parametrize(
    "change",
    [{"kind": "signature"}, {"kind": "record"}, {"key": "short"}, {"by": ""}, {"date": "soon"}, {"more": 1}],
    ids=lambda change: next(iter(change)),
)
def test_a_file_that_was_meddled_with_is_no_result(book: Ledger, change: dict[str, Any]) -> None:
    whole = msgspec.json.decode(result(book))
    whole["steps"][0] |= change
    with pytest.raises(UnusableFileError):
        hand_in(book, msgspec.json.encode(whole))


def test_a_step_of_another_job_and_of_tomorrow_is_refused(book: Ledger) -> None:
    whole = msgspec.json.decode(result(book, STEPS[:2]))
    whole["steps"][0]["body"]["job"] = "J-2"
    whole["steps"][1]["date"] = "2199-01-01"
    returned = hand_in(book, msgspec.json.encode(whole))
    assert [one.refused.code if one.refused else None for one in returned.steps] == [
        "other-job",
        "in-the-future",
    ]
