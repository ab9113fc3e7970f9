"""No statement for a database is put together from text, and none changes a row: each is written out, or made by the library."""

import ast
import re
from collections.abc import Iterator

import pytest

from tests.faults.promises import TrialRun
from tests.structure.sources import Source, source, sources

LIBRARY = "sa"
TAKES_TEXT = {"execute", "executemany", "executescript", "exec_driver_sql"}
LIBRARY_TAKES_TEXT = {"text", "literal_column", "DDL"}
IN_PLACE = re.compile(r"\s*(UPDATE|DELETE|TRUNCATE|REPLACE|MERGE|INSERT\s+OR)\s", re.IGNORECASE)
IN_PLACE_BY_LIBRARY = re.compile(r"(sa|(tables\.)?[A-Z]+)\.(update|delete)")
SETTING = "a setting takes no value apart from its words; its name and value stand in our code"
GUARD = "what guards a table names the table and its columns, which are our own"
RIGHT = "a right takes no value apart from its words; the library of statements quotes the name of the role"
COMPILED = "the library of statements made it, and the values go apart"
REASONS = {
    "leanwright.book.migrations.env": {"f'SELECT pg_advisory_xact_lock({LOCK})'": "a number of our own"},
    "leanwright.book.migrations.versions.v0001_ledger": {
        "text": GUARD,
        "sqlite_once_guard(table, column)[1]": GUARD,
        "sqlite_order_guard(table, others)[1]": GUARD,
    },
    "leanwright.book.stores.postgresql": {
        "f'SET {name} = {value}'": SETTING,
        "f'SHOW {name}'": SETTING,
        "f'REVOKE ALL ON {table.name} FROM PUBLIC'": RIGHT,
        "f'GRANT SELECT, INSERT ON {table.name} TO {quoted}'": RIGHT,
        "f'GRANT SELECT ON alembic_version TO {quoted}'": RIGHT,
        "f'GRANT USAGE ON SCHEMA {quoted_schema} TO {quoted}'": RIGHT,
    },
    "leanwright.book.stores.sqlite": {
        "f'PRAGMA {name} = {value}'": SETTING,
        "f'PRAGMA {name}'": SETTING,
        "f'PRAGMA busy_timeout = {int(BUSY_S * 1000)}'": SETTING,
    },
    "leanwright.book.stores.tables": {"text": COMPILED, "f'DROP TABLE {name}'": "a table of our own"},
}


def asks(module: Source) -> bool:
    """Whether a module may hand over a statement at all; most have nothing to do with a database."""
    return any(word in module.text for word in ("sqlalchemy", *TAKES_TEXT))


def statements(module: Source) -> Iterator[ast.expr]:
    """What a module hands over as the words of a statement."""
    for node in ast.walk(module.tree):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.args):
            continue
        of_library = ast.unparse(node.func.value) == LIBRARY
        if node.func.attr in (LIBRARY_TAKES_TEXT if of_library else TAKES_TEXT):
            yield node.args[0]


def bindings(module: Source) -> dict[str, list[ast.expr]]:
    """Everything that each name of a module is set to."""
    bound: dict[str, list[ast.expr]] = {}
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
            for target in node.targets if isinstance(node, ast.Assign) else [node.target]:
                bound.setdefault(ast.unparse(target), []).append(node.value)
    return bound


def is_fixed(node: ast.expr, bound: dict[str, list[ast.expr]]) -> bool:
    """Whether the words of a statement are written out, or made by the library, whatever its values are."""
    if isinstance(node, ast.Name):
        return node.id in bound and all(is_fixed(value, bound) for value in bound[node.id])
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
        made_by = node.func.value
        return ast.unparse(made_by) == LIBRARY or (
            not isinstance(made_by, ast.Constant) and is_fixed(made_by, bound)
        )
    return isinstance(node, ast.Constant)


def made_of_text(module: Source) -> list[str]:
    """The statements of a module whose words are made when it runs; and the library under a name that is not looked for."""
    bound = bindings(module)
    strange = [
        ast.unparse(node)
        for node in ast.walk(module.tree)
        if (isinstance(node, ast.ImportFrom) and node.module == "sqlalchemy")
        or (
            isinstance(node, ast.Import)
            and any(one.name == "sqlalchemy" and one.asname != LIBRARY for one in node.names)
        )
    ]
    return strange + [ast.unparse(one) for one in statements(module) if not is_fixed(one, bound)]


@pytest.mark.promise("Q3")
def test_every_statement_is_written_out_or_stands_here_with_its_reason(trial_run: TrialRun) -> None:
    asking = [module for module in sources() if asks(module)]
    found = {module.name: set(made_of_text(module)) for module in asking}
    assert {name: words for name, words in found.items() if words} == {
        name: set(reasons) for name, reasons in REASONS.items()
    }
    total = sum(len(list(statements(module))) for module in asking)
    reasoned = sum(map(len, REASONS.values()))
    trial_run.measured(
        f"{total} statements for a database; {reasoned} with words of our own names or settings, each with its reason",
        total,
    )


@pytest.mark.promise("Q3")
@pytest.mark.parametrize(
    "text",
    [
        "connection.execute(f'SELECT {name} FROM entries')",
        "connection.execute(sa.text(f'SELECT * FROM entries WHERE hash = {wanted!r}'))",
        "connection.exec_driver_sql('SELECT ' + name)",
        "connection.exec_driver_sql('SELECT %s' % name)",
        "cursor.executemany('INSERT INTO {}'.format(name), rows)",
        "cursor.executescript(' '.join(parts))",
        "wanted = f'SELECT {name}'\nconnection.execute(wanted)",
        "def ask(wanted):\n    connection.execute(wanted)",
        "connection.execute(sa.select(sa.literal_column(name)))",
        "from sqlalchemy import text",
        "import sqlalchemy",
    ],
)  # fmt: skip
def test_canary_a_statement_that_is_made_of_text_is_found(text: str) -> None:
    assert len(made_of_text(source("leanwright.book.planted", text))) == 1


def changes(module: Source) -> list[str]:
    """What in a module would change or delete a row: words of SQL, or what the library makes such words of."""
    return [
        ast.unparse(node)
        for node in ast.walk(module.tree)
        if (isinstance(node, ast.Constant) and isinstance(node.value, str) and IN_PLACE.match(node.value))
        or (isinstance(node, ast.Call) and IN_PLACE_BY_LIBRARY.fullmatch(ast.unparse(node.func)))
    ]


@pytest.mark.promise("L3")
def test_no_statement_of_the_program_changes_or_deletes_a_row(trial_run: TrialRun) -> None:
    asking = [module for module in sources() if asks(module)]
    assert [one for module in asking for one in changes(module)] == []
    trial_run.measured(f"{len(asking)} modules that ask a database, none to change a row", len(asking))


@pytest.mark.promise("L3")
@pytest.mark.parametrize(
    "text",
    [
        "connection.exec_driver_sql('UPDATE entries SET data = NULL')",
        "connection.exec_driver_sql(f'DELETE FROM {table}')",
        "connection.execute(sa.update(ENTRIES))",
        "connection.execute(tables.ENTRIES.delete())",
    ],
)
def test_canary_a_statement_that_changes_a_row_is_found(text: str) -> None:
    assert len(changes(source("leanwright.book.planted", text))) == 1


@pytest.mark.parametrize(
    "text",
    [
        "connection.execute(sa.text('SELECT :wanted'), {'wanted': wanted})",
        "connection.execute(sa.select(ENTRIES).where(ENTRIES.c.hash == wanted))",
        "_LAST = sa.select(ENTRIES)\nconnection.execute(_LAST.limit(1))",
        "connection.exec_driver_sql('SELECT current_schema()')",
        "import sqlalchemy as sa",
    ],
)
def test_a_statement_whose_values_go_apart_is_let_pass(text: str) -> None:
    assert made_of_text(source("leanwright.book.planted", text)) == []
