"""What refuses every change of a written row, as SQL of both databases."""

from collections.abc import Iterable, Iterator
from typing import Final

WORDS: Final = "the book is append-only"
_REFUSE: Final = f"SELECT RAISE(ABORT, '{WORDS}')"
_POSTGRESQL_FUNCTION: Final = f"""\
CREATE OR REPLACE FUNCTION leanwright_refuse() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION '{WORDS}'; END $$"""


def sqlite_guards(tables: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Name and text of the triggers on SQLite.

    ``INSERT OR REPLACE`` deletes without asking the triggers of deletion unless a connection wants it so; therefore
    a row with a number that is there already is refused before it is inserted.
    """
    for table in tables:
        for action in ("UPDATE", "DELETE"):
            name = f"{table}_no_{action.lower()}"
            yield (
                name,
                f"CREATE TRIGGER {name} BEFORE {action} ON {table} BEGIN {_REFUSE}; END",
            )


def sqlite_order_guard(table: str, others: Iterable[str]) -> tuple[str, str]:
    """Name and text of the trigger that lets in the next number only, and nothing that would replace a row."""
    name = f"{table}_next_only"
    taken = "".join(f" OR EXISTS (SELECT 1 FROM {table} WHERE {other} = NEW.{other})" for other in others)  # noqa: S608  names of our own tables
    newest = f"(SELECT coalesce(max(sequence), 0) + 1 FROM {table})"  # noqa: S608  names of our own tables
    when = f"NEW.sequence <> {newest}{taken}"
    return name, f"CREATE TRIGGER {name} BEFORE INSERT ON {table} WHEN {when} BEGIN {_REFUSE}; END"


def sqlite_once_guard(table: str, column: str) -> tuple[str, str]:
    """Name and text of the trigger that refuses a second row of the same name, which could replace the first."""
    name = f"{table}_once"
    when = f"EXISTS (SELECT 1 FROM {table} WHERE {column} = NEW.{column})"  # noqa: S608  names of our own tables
    return name, f"CREATE TRIGGER {name} BEFORE INSERT ON {table} WHEN {when} BEGIN {_REFUSE}; END"


def postgresql_guards(tables: Iterable[str]) -> Iterator[str]:
    """The triggers on PostgreSQL, which hold for the owner of the tables too."""
    yield _POSTGRESQL_FUNCTION
    for table in tables:
        yield (
            f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION leanwright_refuse()"
        )
