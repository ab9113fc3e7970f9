"""The work that the book knows of, as the watch asks for it: whoever keeps the book writes no second table."""

from leanwright.book.engine_work import done_to
from leanwright.book.ledger import Ledger
from leanwright.workbench.work_file import Work


def work_of(book: Ledger, engine: str) -> tuple[Work, ...]:
    """What was done to an engine, in the order of the work; nothing for an engine that the book does not know."""
    return tuple(Work(one.day, one.what, one.cylinders) for one in done_to(book.state(), engine))
