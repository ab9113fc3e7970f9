"""What a save asks its tables: the newest entry, and the one that was written for the same request."""

import pytest

from leanwright.book.stores import tables
from leanwright.book.stores.sqlite import SqliteStore
from tests.book.conftest import Desk


def before(desk: Desk, key: str) -> tuple[int | None, int | None]:
    """The numbers of the newest entry and of the one of a request."""
    with desk.book.store.reading() as connection:
        newest, requested = tables.before(connection, key)
    return (None if newest is None else newest[0]), (None if requested is None else requested[0])


def test_an_empty_book_has_neither_a_newest_entry_nor_one_of_a_request(desk: Desk) -> None:
    assert before(desk, "a") == (None, None)


@pytest.mark.parametrize(
    ("key", "requested"), [("key-1", 1), ("key-2", 2), ("key-3", 3), ("key-4", None), ("", None)]
)
def test_the_newest_entry_stands_beside_that_of_the_request_wherever_it_lies(
    desk: Desk, key: str, requested: int | None
) -> None:
    for _ in range(3):
        desk.add("note", {"text": "looked at"})
    assert before(desk, key) == (3, requested)


def test_both_are_found_without_reading_the_entries_from_end_to_end(file_desk: Desk) -> None:
    store = file_desk.book.store
    assert isinstance(store, SqliteStore)
    asked: list[str] = []
    with store.reading() as connection:
        raw = connection.connection.dbapi_connection
        assert raw is not None
        raw.set_trace_callback(asked.append)
        tables.before(connection, "a")
        raw.set_trace_callback(None)
        (statement,) = asked
        steps = [str(row[3]) for row in raw.execute(f"EXPLAIN QUERY PLAN {statement}")]
    assert [step for step in steps if step.startswith("SCAN")] == []
    assert sum(step.startswith("SEARCH entries USING") for step in steps) == 2
