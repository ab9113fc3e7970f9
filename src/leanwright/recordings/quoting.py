"""One line → its cells. Quotes as in RFC 4180, section 2; what does not keep to it is said, never swallowed."""

import csv
import re
from collections.abc import Sequence
from functools import cache
from typing import Final

QUOTE: Final = '"'


class QuotingError(ValueError):
    """A quote that is never closed, or stands where none may."""


def split_cells(line: str, delimiter: str) -> list[str]:
    r"""Cut a line into cells.

    >>> split_cells('a,"b,c", "d ""e"" f" ,g', ",")
    ['a', 'b,c', 'd "e" f', 'g']
    >>> split_cells('1,"2,3', ",")
    Traceback (most recent call last):
    leanwright.recordings.quoting.QuotingError: a quote is not closed
    """
    if QUOTE not in line:
        return line.split(delimiter)
    try:
        return _strict(line, delimiter)
    except csv.Error:
        # Blanks between a closing quote and the delimiter are padding, which the library refuses.
        try:
            return _strict(_padding(delimiter).sub(QUOTE, line), delimiter)
        except csv.Error:
            raise QuotingError(
                "a quote is not closed" if line.count(QUOTE) % 2 else "a quote stands inside a cell"
            ) from None


def split_columns(
    lines: list[str], delimiter: str, cells: int, *, quotes: bool
) -> list[Sequence[str]] | None:
    """Cut many lines at once into columns; ``None`` where a quote or a line of another width asks for a closer look."""
    if not quotes:
        if any(line.count(delimiter) != cells - 1 for line in lines):
            return None
        every = delimiter.join(lines).split(delimiter)
        return [every[place::cells] for place in range(cells)]
    try:
        rows = list(csv.reader(lines, delimiter=delimiter, skipinitialspace=True, strict=True))
    except csv.Error:
        return None
    if len(rows) != len(lines) or any(len(row) != cells for row in rows):
        return None
    return list(zip(*rows, strict=True))


@cache
def _padding(delimiter: str) -> re.Pattern[str]:
    return re.compile(r'"[ ]+(?=' + re.escape(delimiter) + "|$)")


def _strict(line: str, delimiter: str) -> list[str]:
    reader = csv.reader([line], delimiter=delimiter, skipinitialspace=True, strict=True)
    return next(reader)
