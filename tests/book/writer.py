"""A writer as a program of its own, under whatever a test puts it: ``python -m tests.book.writer FILE VERSION COUNT PREFIX``.

It opens a book, appends notes, and says each one's number once it is durable; what it could not do it says too.
"""

import sys
from pathlib import Path

from leanwright.book import ledger
from leanwright.book.stores import sqlite
from leanwright.errors import LeanwrightError
from tests.book.conftest import SetClock
from tests.book.killing import write


def main(file: str, version: str, count: str, prefix: str) -> int:
    """Write, and say what was written."""
    wanted = tuple(map(int, version.split(".")))
    try:
        store = sqlite.open_file(Path(file), version=wanted)  # type: ignore[arg-type]  # three numbers
        book = ledger.open_ledger(store, SetClock(), "t")
        for number in range(int(count)):
            written = write(book, f"{prefix}-{number}")
            sys.stdout.write(f"{written.sequence} {prefix}-{number} .\n")
            sys.stdout.flush()
        book.close()
    except LeanwrightError as error:
        sys.stderr.write(f"told: {error}\n")
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
