"""Blocks of text for a terminal: running text and tables, as wide as they are seen."""

import textwrap
from collections.abc import Callable, Sequence
from typing import Final

from leanwright.report.cleaning import ascii_only as to_ascii
from leanwright.report.numbers import NO_BREAK

Writer = Callable[[str], str]
_WRAP: Final = 78
_WIDEST_TABLE: Final = 80
_KEPT: Final = "\x00"


def writer(*, ascii_only: bool) -> Writer:
    """What every text goes through before it is measured, so that widths are those that are seen."""
    return to_ascii if ascii_only else lambda text: text


def wrapped(sentences: Sequence[str], write: Writer, indent: str = "") -> list[str]:
    """Lines of running text; what a blank that does not break holds together stays together."""
    lines = textwrap.wrap(
        _KEPT.join(write(part) for part in " ".join(sentences).split(NO_BREAK)),
        _WRAP,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(_KEPT, " ") for line in lines]


def table(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    write: Writer,
    left: int,
    spare: int | None = None,
    *,
    drop_empty: bool = False,
) -> list[str]:
    """Columns two blanks apart; the first ``left`` of them are set to the left, the others to the right.

    Where the table is wider than 80 columns, the column ``spare`` is left out: what it says stands elsewhere too. With
    ``drop_empty`` a column in which nothing stands is left out as well.
    """
    everything = [[write(cell).replace(NO_BREAK, " ") for cell in row] for row in (head, *rows)]
    kept = [
        column for column in range(len(head)) if not drop_empty or any(row[column] for row in everything[1:])
    ]
    lines = _set(everything, kept, left)
    if spare is None or max(map(len, lines)) <= _WIDEST_TABLE:
        return lines
    return _set(everything, [column for column in kept if column != spare], left)


def _set(everything: Sequence[Sequence[str]], kept: Sequence[int], left: int) -> list[str]:
    widths = {column: max(len(row[column]) for row in everything) for column in kept}
    return [
        "  ".join(
            row[column].ljust(widths[column]) if column < left else row[column].rjust(widths[column])
            for column in kept
        ).rstrip()
        for row in everything
    ]
