"""The rows of a file that fit its header, and what became of all other lines below it."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.recordings.column import Column

BELOW_ANOTHER: Final = "it stands below another header"
"""How the reason begins for which the rows of a second table are skipped."""


@dataclass(frozen=True, slots=True)
class SkippedLine:
    """A line of data that could not be used."""

    line: int
    reason: str
    is_text: bool = False
    """Whether it begins like words, not like a row."""


@dataclass(slots=True)
class Table:
    """All rows of a file that fit its header."""

    columns: tuple[Column, ...]
    lines: NDArray[np.int64]
    skipped: list[SkippedLine]
    repeated_headers: tuple[int, ...]
    """Row before which a header stood again."""
    cut_line: int | None
    """Number of a last line that is not whole."""
    no_final_line_end: bool
    last_line: int
    """Number of the file's last line."""
    header_lines: list[int]
    """Lines at which a header stands again, or another one."""
    units_lines: list[int]
    remark_lines: list[int]
    """Lines that belong to a header which stands again."""
    continued_lines: list[int]
    """Lines that a quoted cell runs over, but for each row's first."""
    first_rows: list[tuple[int, tuple[str, ...]]]
    """Line and cells of the first rows."""
