"""A book that stays open while a program runs: folded once, used by one caller at a time."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import msgspec

from leanwright.book.ledger import Ledger
from leanwright.workbench import records
from leanwright.workbench.invented import SAYS


class OpenBook:
    """The book of a place; opened when it is first needed."""

    def __init__(self, place: str) -> None:
        self.place = place
        self._ledger: Ledger | None = None
        self._invented: bool | None = None
        self._lock = threading.RLock()

    def is_there(self) -> bool:
        """Whether there is something in its place; a database is taken to be there."""
        return "://" in self.place or Path(self.place).expanduser().exists()

    @contextmanager
    def using(self) -> Iterator[Ledger]:
        """The book, for one caller at a time."""
        with self._lock:
            if self._ledger is None:
                self._ledger = records.open_book(self.place)
            yield self._ledger

    def invented(self) -> bool:
        """Whether the book says in its first entry that all of it is invented; asked once."""
        if self._invented is None:
            with self.using() as book:
                first = book.entry(1)[0].entry if book.state().head_sequence else None
            if first is None:
                return False
            said = msgspec.json.decode(first.body)
            self._invented = first.kind == "note" and said.get("text") == SAYS
        return self._invented

    def make(self) -> None:
        """Make a new book where there is none."""
        with self._lock:
            self._ledger = records.make_book(self.place)

    def close(self) -> None:
        """Close it."""
        with self._lock:
            if self._ledger is not None:
                self._ledger.store.close()
                self._ledger = None
