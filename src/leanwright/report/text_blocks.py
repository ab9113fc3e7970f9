"""Blocks of text for a terminal: running text and tables, as wide as they are seen."""

import textwrap
from collections.abc import Callable, Sequence
from typing import Final

from leanwright.report.cleaning import ascii_only as to_ascii
from leanwright.report.numbers import NO_BREAK

Writer = Callable[[str], str]
WRAP: Final = 78
_KEPT: Final = "\x00"


def writer(*, ascii_only: bool) -> Writer:
    """What every text goes through before it is measured, so that widths are those that are seen."""
    return to_ascii if ascii_only else lambda text: text


def wrapped(sentences: Sequence[str], write: Writer, indent: str = "") -> list[str]:
    """Lines of running text; what a blank that does not break holds together stays together."""
    lines = textwrap.wrap(
        _KEPT.join(write(part) for part in " ".join(sentences).split(NO_BREAK)),
        WRAP,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(_KEPT, " ") for line in lines]


def table(head: Sequence[str], rows: Sequence[Sequence[str]], write: Writer, left: int) -> list[str]:
    """Columns two blanks apart, the empty ones left out; the first ``left`` are set to the left, the others right."""
    everything = [[write(cell).replace(NO_BREAK, " ") for cell in row] for row in (head, *rows)]
    kept = [column for column in range(len(head)) if any(row[column] for row in everything[1:])]
    widths = {column: max(len(row[column]) for row in everything) for column in kept}
    return [
        "  ".join(
            row[column].ljust(widths[column]) if column < left else row[column].rjust(widths[column])
            for column in kept
        ).rstrip()
        for row in everything
    ]
