"""A block of lines that all have the same cells → its columns at once; anything odd is left to a closer look."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.recordings.digits import WIDTH, Bytes, Floats, Places, read_digits

LINE_END = ord("\n")
BEFORE = b" " * WIDTH


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """The cells of a block of lines, column by column."""

    written: str
    text: Bytes
    """The same, as bytes."""
    starts: Places
    """Where the text of each cell begins, by column and row."""
    ends: Places
    """And where it ends."""
    padded: bool
    """Whether there may be blanks around a cell."""

    @property
    def rows(self) -> int:
        """How many lines there are."""
        return int(self.starts.shape[1])

    def column(self, place: int) -> list[str]:
        """The cells of a column as they are written."""
        return self._texts(self.starts[place], self.ends[place])

    def some(self, place: int, rows: Places) -> list[str]:
        """Some cells of a column as they are written."""
        return self._texts(self.starts[place, rows], self.ends[place, rows])

    def numbers(self, places: list[int], decimal: str) -> tuple[Floats, NDArray[np.bool_]]:
        """Numbers of some columns, by column and row, NaN where there is none; and which cells need a closer look."""
        starts, ends = self.starts[places], self.ends[places]
        values, sound = read_digits(self.text, starts.ravel(), ends.ravel(), decimal, padded=self.padded)
        odd = ~sound.reshape(starts.shape)
        values = values.reshape(starts.shape)
        values[odd] = np.nan
        return values, odd & (ends > starts)

    def _texts(self, starts: Places, ends: Places) -> list[str]:
        return [self.written[start:end] for start, end in zip(starts.tolist(), ends.tolist(), strict=True)]


def cut_cells(raw: bytes, delimiter: str, cells: int, longest: int) -> Cells | None:
    """Cut whole lines into columns; ``None`` where a line has other cells, a quote, or what is no ASCII character.

    Every line ends with LF. ``longest`` is the most characters of a cell.
    """
    if not raw.isascii() or b'"' in raw or b"\0" in raw:
        return None
    padded = b" " in raw
    raw = BEFORE + raw
    text = np.frombuffer(raw, dtype=np.uint8)
    ends = np.flatnonzero((text == ord(delimiter)) | (text == LINE_END))
    lines = raw.count(b"\n")
    if ends.size != lines * cells or (text[ends[cells - 1 :: cells]] != LINE_END).any():
        return None
    starts = np.empty_like(ends)
    starts[0] = WIDTH
    starts[1:] = ends[:-1] + 1
    if int((ends - starts).max()) > longest:
        return None
    return Cells(
        raw.decode("ascii"),
        text,
        np.ascontiguousarray(starts.reshape(lines, cells).T),
        np.ascontiguousarray(ends.reshape(lines, cells).T),
        padded,
    )
