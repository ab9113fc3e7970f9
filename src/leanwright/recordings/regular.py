"""A block of lines that all have the same cells → its columns at once; anything odd is left to a closer look."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.recordings.digits import BLANK, WIDTH, Bytes, Floats, Places, read_columns, without_padding
from leanwright.recordings.lines import LINE_END

BEFORE = b" " * WIDTH


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """The cells of a block of lines."""

    raw: bytes
    """The lines, all in ASCII, behind a few blanks."""
    text: Bytes
    """The same as numbers."""
    starts: Places
    """Where the text of each cell begins, by row and column."""
    ends: Places
    """And where it ends."""
    padded: bool
    """Whether there may be blanks around a cell."""

    @property
    def rows(self) -> int:
        """How many lines there are."""
        return len(self.starts)

    def row(self, number: int) -> list[str]:
        """The cells of a line as they are written."""
        return self._texts(self.starts[number], self.ends[number])

    def column(self, place: int) -> list[str]:
        """The cells of a column as they are written."""
        return self._texts(self.starts[:, place], self.ends[:, place])

    def some(self, place: int, rows: Places) -> list[str]:
        """Some cells of a column as they are written."""
        if not rows.size:
            return []
        return self._texts(self.starts[rows, place], self.ends[rows, place])

    def fills_beyond(self, columns: int) -> bool:
        """Whether any line holds something behind so many columns."""
        return bool((self.ends[:, columns:] > self.starts[:, columns:]).any())

    def are(self, place: int, text: str) -> bool:
        """Whether any cell of a column is this text, white space around it left out."""
        starts, ends = self.starts[:, place], self.ends[:, place]
        first = self.text[starts]
        rows = np.flatnonzero(((first == ord(text[0])) | (first <= BLANK)) & (ends - starts >= len(text)))
        return any(cell.strip() == text for cell in self.some(place, rows))

    def numbers(self, places: list[int], decimal: str) -> tuple[Floats, NDArray[np.bool_]]:
        """Numbers of some columns, by column and row, NaN where there is none; and which cells need a closer look."""
        starts, ends = self.starts, self.ends
        if self.padded:
            starts, ends = without_padding(self.text, starts, ends)
        values, sound = read_columns(self.text, starts, ends, places, decimal)
        odd = ~sound
        if odd.any():
            values[odd] = np.nan
            odd &= (self.ends > self.starts).T[places]
        return values, odd

    def _texts(self, starts: Places, ends: Places) -> list[str]:
        written = self.raw.decode("ascii")
        return [written[start:end] for start, end in zip(starts.tolist(), ends.tolist(), strict=True)]


def cut_cells(raw: bytes, delimiter: str, cells: int, longest: int) -> Cells | None:
    """Cut whole lines into columns; ``None`` where a line has other cells, a quote, or what is no ASCII character.

    Every line ends with LF. ``longest`` is the most characters of a cell.
    """
    if not raw.isascii() or b'"' in raw or b"\0" in raw:
        return None
    raw = BEFORE + raw
    text = np.frombuffer(raw, dtype=np.uint8)
    marks = text == LINE_END
    lines = np.count_nonzero(marks)
    marks |= text == ord(delimiter)
    ends = np.flatnonzero(marks)
    if ends.size != lines * cells or (text[ends[cells - 1 :: cells]] != LINE_END).any():
        return None
    starts = np.empty_like(ends)
    starts[0] = WIDTH
    np.add(ends[:-1], 1, out=starts[1:])
    if int((ends - starts).max()) > longest:
        return None
    return Cells(
        raw, text, starts.reshape(lines, cells), ends.reshape(lines, cells), raw.find(b" ", WIDTH) >= 0
    )
