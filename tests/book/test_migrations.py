"""The tables of a book and what guards them, statement by statement, in a file and in a shop's database."""

import io
import logging
import shutil
from pathlib import Path
from typing import Final

import pytest
from alembic.migration import MigrationContext
from alembic.operations import Operations

from leanwright.book import schema
from leanwright.book.migrations.versions import v0001_ledger, v0002_events
from leanwright.book.stores import sqlite, tables
from leanwright.errors import UnusableBookError

REFUSE: Final = "BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END"
SQLITE: Final = f"""\
CREATE TABLE meta ( name TEXT NOT NULL, value TEXT NOT NULL, PRIMARY KEY (name) ) STRICT
CREATE TABLE entries ( sequence INTEGER NOT NULL, data BLOB NOT NULL, previous TEXT NOT NULL, hash TEXT NOT NULL,
 request_key TEXT NOT NULL, supersedes INTEGER, PRIMARY KEY (sequence), UNIQUE (previous), UNIQUE (request_key) ) STRICT
CREATE UNIQUE INDEX entries_supersedes ON entries (supersedes) WHERE supersedes IS NOT NULL
CREATE TABLE attachments ( sha256 TEXT NOT NULL, content BLOB NOT NULL, PRIMARY KEY (sha256) ) STRICT
CREATE TRIGGER meta_no_update BEFORE UPDATE ON meta {REFUSE}
CREATE TRIGGER meta_no_delete BEFORE DELETE ON meta {REFUSE}
CREATE TRIGGER entries_no_update BEFORE UPDATE ON entries {REFUSE}
CREATE TRIGGER entries_no_delete BEFORE DELETE ON entries {REFUSE}
CREATE TRIGGER attachments_no_update BEFORE UPDATE ON attachments {REFUSE}
CREATE TRIGGER attachments_no_delete BEFORE DELETE ON attachments {REFUSE}
CREATE TRIGGER entries_next_only BEFORE INSERT ON entries
 WHEN NEW.sequence <> (SELECT coalesce(max(sequence), 0) + 1 FROM entries)
 OR EXISTS (SELECT 1 FROM entries WHERE previous = NEW.previous)
 OR EXISTS (SELECT 1 FROM entries WHERE request_key = NEW.request_key)
 OR EXISTS (SELECT 1 FROM entries WHERE supersedes = NEW.supersedes) {REFUSE}
CREATE TRIGGER meta_once BEFORE INSERT ON meta WHEN EXISTS (SELECT 1 FROM meta WHERE name = NEW.name) {REFUSE}
CREATE TRIGGER attachments_once BEFORE INSERT ON attachments
 WHEN EXISTS (SELECT 1 FROM attachments WHERE sha256 = NEW.sha256) {REFUSE}
CREATE TABLE events ( sequence INTEGER NOT NULL, data BLOB NOT NULL, previous TEXT NOT NULL, hash TEXT NOT NULL,
 PRIMARY KEY (sequence), UNIQUE (previous) ) STRICT
CREATE TRIGGER events_no_update BEFORE UPDATE ON events {REFUSE}
CREATE TRIGGER events_no_delete BEFORE DELETE ON events {REFUSE}
CREATE TRIGGER events_next_only BEFORE INSERT ON events
 WHEN NEW.sequence <> (SELECT coalesce(max(sequence), 0) + 1 FROM events)
 OR EXISTS (SELECT 1 FROM events WHERE previous = NEW.previous) {REFUSE}
"""  # noqa: S608  what is wanted, no query
FUNCTION: Final = (
    "CREATE OR REPLACE FUNCTION leanwright_refuse() RETURNS trigger LANGUAGE plpgsql AS "
    "$$ BEGIN RAISE EXCEPTION 'the book is append-only'; END $$"
)
BY: Final = "FOR EACH STATEMENT EXECUTE FUNCTION leanwright_refuse()"
SHOP: Final = f"""\
CREATE TABLE meta ( name TEXT NOT NULL, value TEXT NOT NULL, PRIMARY KEY (name) )
CREATE TABLE entries ( sequence BIGINT NOT NULL, data BYTEA NOT NULL, previous TEXT NOT NULL, hash TEXT NOT NULL,
 request_key TEXT NOT NULL, supersedes BIGINT, PRIMARY KEY (sequence), UNIQUE (previous), UNIQUE (request_key) )
CREATE UNIQUE INDEX entries_supersedes ON entries (supersedes) WHERE supersedes IS NOT NULL
CREATE TABLE attachments ( sha256 TEXT NOT NULL, content BYTEA NOT NULL, PRIMARY KEY (sha256) )
{FUNCTION}
CREATE TRIGGER meta_no_change BEFORE UPDATE OR DELETE OR TRUNCATE ON meta {BY}
CREATE TRIGGER entries_no_change BEFORE UPDATE OR DELETE OR TRUNCATE ON entries {BY}
CREATE TRIGGER attachments_no_change BEFORE UPDATE OR DELETE OR TRUNCATE ON attachments {BY}
CREATE TABLE events ( sequence BIGINT NOT NULL, data BYTEA NOT NULL, previous TEXT NOT NULL, hash TEXT NOT NULL,
 PRIMARY KEY (sequence), UNIQUE (previous) )
{FUNCTION}
CREATE TRIGGER events_no_change BEFORE UPDATE OR DELETE OR TRUNCATE ON events {BY}
"""


def one_line(text: str) -> str:
    """A statement without what only makes it readable."""
    return " ".join(text.split())


def statements(text: str) -> list[str]:
    """Statements of which each begins a line and may go on in indented ones."""
    return text.replace("\n ", " ").splitlines()


@pytest.mark.parametrize(
    ("dialect", "wanted"), [("sqlite", SQLITE), ("postgresql", SHOP)], ids=["file", "shop"]
)
def test_each_step_makes_these_tables_and_guards_and_no_others(dialect: str, wanted: str) -> None:
    script = io.StringIO()
    options = {"as_sql": True, "output_buffer": script}
    with Operations.context(MigrationContext.configure(dialect_name=dialect, opts=options)):
        v0001_ledger.upgrade()
        v0002_events.upgrade()
    assert [one_line(one) for one in script.getvalue().split(";\n\n") if one.strip()] == statements(wanted)


def test_a_new_book_holds_these_very_tables_and_guards(folder: Path) -> None:
    store = sqlite.make_file(folder / "book.sqlite")
    logging.getLogger("alembic").setLevel(logging.NOTSET)
    schema.migrate(store)
    assert logging.getLogger("alembic").level == logging.WARNING, "what it does is nobody's concern"
    with store.reading() as connection:
        made = connection.exec_driver_sql(
            "SELECT sql FROM sqlite_master WHERE sql IS NOT NULL AND name <> 'alembic_version'"
        )
        assert sorted(one_line(text) for text in made.scalars()) == sorted(statements(SQLITE))
    store.close()


def test_a_program_that_lies_in_a_folder_of_any_name_makes_a_book(
    quick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(schema.FOLDER, quick / "100%s" / "migrations")
    monkeypatch.setattr(schema, "FOLDER", quick / "100%s" / "migrations")
    store = sqlite.make_file(quick / "book.sqlite")
    assert schema.form_of(store) is None
    schema.migrate(store, "0001")
    assert (schema.form_of(store), schema.check(store)) == ("0001", False)
    schema.migrate(store)
    assert (schema.form_of(store), schema.check(store)) == (schema.NEWEST, True)
    store.close()


def test_a_database_that_is_no_book_or_a_newer_one_is_refused(quick: Path) -> None:
    store = sqlite.make_file(quick / "book.sqlite")

    def refused() -> str:
        with pytest.raises(UnusableBookError) as caught:
            schema.check(store)
        return str(caught.value)

    said = (
        "This is a database, but no book. Name the book, or make one in an empty place: leanwright book init."
    )
    assert refused() == f"{store.place}: {said}"
    schema.migrate(store)
    with store.writing() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '0003'")
    said = "This book has the form 0003, made by a newer leanwright; this one knows forms up to 0002. Use the newer program."
    assert refused() == f"{store.place}: {said}"
    store.close()


def test_the_tables_of_a_book_in_which_nothing_was_written_are_taken_away_whole(quick: Path) -> None:
    store = sqlite.make_file(quick / "book.sqlite")
    schema.migrate(store)
    with store.writing() as connection:
        tables.drop(connection)
        assert connection.exec_driver_sql("SELECT name FROM sqlite_master").all() == []
    store.close()
