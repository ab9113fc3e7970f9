"""What a store is, whichever database keeps it."""

from contextlib import AbstractContextManager
from typing import Protocol

import sqlalchemy as sa


class UnknownOutcomeError(Exception):
    """The connection was lost while saving: whether it was saved has to be asked before it is tried again."""


class Store(Protocol):
    """A database that holds a book.

    ``writing`` gives a transaction in which nobody else writes; when it ends without an exception all is durable.
    ``reading`` gives one in which nothing changes underfoot.
    """

    @property
    def place(self) -> str:
        """How people call it."""

    @property
    def notes(self) -> tuple[str, ...]:
        """What is worth knowing about how it was opened."""

    def writing(self) -> AbstractContextManager[sa.Connection]:
        """A transaction of the one writer."""

    def reading(self) -> AbstractContextManager[sa.Connection]:
        """A transaction that only reads, from one moment."""

    def migrating(self) -> AbstractContextManager[sa.Connection]:
        """A connection on which a migration begins its own transaction, as the one writer."""

    def problems(self) -> list[str]:
        """What the database's own check finds, and guards that are missing."""

    def close(self) -> None:
        """Let go of the database."""
