"""One line → its cells. Quotes as in RFC 4180, section 2; what does not keep to it is said, never swallowed."""

import csv
import re
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


def split_lines(lines: list[str], delimiter: str, *, quotes: bool) -> list[list[str]] | None:
    """Cut many lines at once, a row a line; ``None`` where a quote asks for a closer look."""
    if not quotes:
        return [line.split(delimiter) for line in lines]
    try:
        rows = list(csv.reader(lines, delimiter=delimiter, skipinitialspace=True, strict=True))
    except csv.Error:
        return None
    return rows if len(rows) == len(lines) else None


@cache
def _padding(delimiter: str) -> re.Pattern[str]:
    return re.compile(r'"[ ]+(?=' + re.escape(delimiter) + "|$)")


def _strict(line: str, delimiter: str) -> list[str]:
    reader = csv.reader([line], delimiter=delimiter, skipinitialspace=True, strict=True)
    return next(reader)
