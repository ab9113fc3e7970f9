"""The work that the book knows of, as the watch asks for it: whoever keeps the book writes no second table."""

from pathlib import Path

from leanwright.book.engine_work import done_to
from leanwright.book.ledger import Ledger
from leanwright.errors import UnusableBookError
from leanwright.told import Told
from leanwright.workbench.records import open_book
from leanwright.workbench.work_file import Work, read_work


def work_of(book: Ledger, engine: str) -> tuple[Work, ...]:
    """What was done to an engine, in the order of the work; nothing for an engine that the book does not know."""
    return tuple(Work(one.day, one.what, one.cylinders) for one in done_to(book.state(), engine))


def known_work(work: Path | None, place: str | None, name: str | None = None) -> tuple[Work, ...]:
    """What a file and a book know of an engine, in order of the day.

    ``name`` is the engine's in the book; without it the book has to hold one engine only.
    """
    known = [
        *(read_work(work) if work is not None else ()),
        *(_in_book(place, name) if place is not None else ()),
    ]
    return tuple(sorted(known, key=lambda one: one.day))


def _in_book(place: str, name: str | None) -> tuple[Work, ...]:
    book = open_book(place, read_only=True)
    try:
        engines = sorted(book.state().engines)
        if name is None and len(engines) == 1:
            return work_of(book, engines[0])
        if name is None or name not in engines:
            there = ", ".join(engines) or Told("none yet")
            raise UnusableBookError(
                place,
                Told("It does not tell which engine is meant")
                if name is None
                else Told("It holds no engine {engine!r}", engine=name),
                Told("Name one of its engines with --book-engine ({there}).", there=there),
            )
        return work_of(book, name)
    finally:
        book.store.close()
