"""The order in which entries count, entry by entry: the date of the work, and nothing before what it builds on."""

from datetime import date
from types import SimpleNamespace
from typing import Any

import pytest

from leanwright.book.state import Item
from leanwright.book.work_order import in_order


def item(sequence: int, day: int, kind: str, latest: int | None = None, **body: Any) -> Item:
    """An entry of which only what counts here is said."""
    return Item(sequence, latest or sequence, kind, SimpleNamespace(**body), date(2031, 5, day), "Ada")


OF_A_JOB = ("figure", "fitting-step", "inspection", "pause", "record", "removal", "resume", "torque-reading")


def test_entries_count_by_the_date_of_the_work_then_by_their_number() -> None:
    entries = [item(3, 1, "note"), item(1, 2, "note"), item(2, 1, "job", id="J"), item(4, 2, "note")]
    assert [one.sequence for one in in_order(entries)] == [2, 3, 1, 4]


@pytest.mark.parametrize("kind", OF_A_JOB)
def test_what_is_dated_before_its_job_counts_from_the_job_on(kind: str) -> None:
    entries = [
        item(1, 1, kind, job="other"),
        item(2, 5, "job", id="J"),
        item(3, 1, kind, job="J"),
        item(4, 6, kind, job="J"),
        item(5, 5, "note"),
        item(6, 1, "note"),
    ]
    assert [one.sequence for one in in_order(entries)] == [1, 6, 2, 3, 5, 4]


@pytest.mark.parametrize(
    ("kind", "of", "name"),
    [("quarantine-release", "quarantine", "quarantine"), ("quarantine-release", "receipt", "quarantine"),
     ("signature", "record", "record"), ("squawk", "squawk", "closes")],
)  # fmt: skip
def test_what_is_dated_before_the_entry_that_it_builds_on_counts_from_that_on(
    kind: str, of: str, name: str
) -> None:
    # An entry is named by the number of its first version, or by that of the one that holds.
    first = item(1, 5, of, latest=2, job="none", closes=None)
    for number in (1, 2):
        upon: dict[str, Any] = {"job": "none", name: number}
        built, note = item(3, 1, kind, **upon), item(4, 4, "note")
        assert [one.sequence for one in in_order([built, note, first])] == [4, 1, 3]
    upon = {"job": "none", name: 9}
    stranger = item(3, 1, kind, **upon)
    assert [one.sequence for one in in_order([stranger, first])] == [3, 1]


def test_what_was_moved_moves_what_builds_on_it() -> None:
    entries = [
        item(1, 5, "job", id="J"),
        item(2, 1, "record", job="J"),
        item(3, 1, "signature", record=2),
        item(4, 4, "note"),
    ]
    assert [one.sequence for one in in_order(entries)] == [4, 1, 2, 3]


def test_of_a_job_that_is_corrected_the_date_of_the_first_entry_with_it_counts_for_what_follows_only() -> (
    None
):
    entries = [
        item(1, 5, "job", id="J"),
        item(2, 7, "job", id="J"),
        item(3, 1, "pause", job="J"),
        item(4, 6, "note"),
    ]
    assert [one.sequence for one in in_order(entries)] == [1, 4, 2, 3]
