"""Which form the tables have, and how an older form becomes the present one: forward only, after a verified copy."""

import logging
from pathlib import Path
from typing import Final

import sqlalchemy as sa

from leanwright.book.stores.sqlite import SqliteStore
from leanwright.book.stores.store import Store
from leanwright.errors import UnusableBookError
from leanwright.told import Told

STEPS: Final = ("0001", "0002")
NEWEST: Final = STEPS[-1]
FOLDER: Final = Path(__file__).parent / "migrations"


def form_of(store: Store) -> str | None:
    """The number of the form that a book's tables have; ``None`` if there are none."""
    with store.reading() as connection:
        if not sa.inspect(connection).has_table("alembic_version"):
            return None
        return connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()


def check(store: Store) -> bool:
    """Whether the form is the present one; raises :class:`UnusableBookError` for a newer one or none at all."""
    form = form_of(store)
    if form is None:
        raise UnusableBookError(
            store.place,
            Told("This is a database, but no book"),
            Told("Name the book, or make one in an empty place: leanwright book init."),
        )
    if form > NEWEST:
        raise UnusableBookError(
            store.place,
            Told(
                "This book has the form {form}, made by a newer leanwright; this one knows forms up to {newest}",
                form=form,
                newest=NEWEST,
            ),
            Told("Use the newer program."),
        )
    return form == NEWEST


def migrate(store: Store, target: str = NEWEST) -> None:
    """Bring the tables to a form, each step in one transaction with its number."""
    from alembic import command
    from alembic.config import Config

    logging.getLogger("alembic").setLevel(logging.WARNING)
    config = Config()
    config.set_main_option("script_location", str(FOLDER).replace("%", "%%"))
    for step in STEPS:
        if step > target:
            return
        with store.migrating() as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, step)


def copy_before(store: Store, form: str) -> Path | None:
    """A copy of an SQLite book beside it before its form changes; ``None`` for a database that has no file."""
    if not isinstance(store, SqliteStore):
        return None
    place = store.file.with_name(f"{store.file.name}.form-{form}")
    number = 1
    while place.exists():
        number += 1
        place = store.file.with_name(f"{store.file.name}.form-{form}-{number}")
    store.copy_to(place)
    return place
