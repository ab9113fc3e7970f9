"""A block of lines that all have the same cells → its columns at once; anything odd is left to a closer look."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.recordings.digits import BLANK, WIDTH, Bytes, Floats, Places, read_columns, without_padding
from leanwright.recordings.lines import LINE_END
from leanwright.recordings.room import Room
from leanwright.recordings.texts import Codes

BEFORE = b" " * WIDTH


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """The cells of a block of lines."""

    raw: bytes
    """The lines, all in ASCII, behind a few blanks."""
    text: Bytes
    """The same as numbers."""
    ends: Places
    """Where the text of each cell ends, by row and column."""
    lengths: Places
    """How many characters it has."""
    padded: bool
    """Whether there are blanks around a cell."""
    room: Room

    @property
    def rows(self) -> int:
        """How many lines there are."""
        return len(self.ends)

    def row(self, number: int) -> list[str]:
        """The cells of a line as they are written."""
        return self._texts(self.ends[number], self.lengths[number])

    def column(self, place: int) -> list[str] | Codes:
        """The cells of a column as they are written, or as their codes where all are as long."""
        ends, lengths = self.ends[:, place], self.lengths[:, place]
        if (lengths == lengths[0]).all():
            codes: Codes = self.text[ends[:, np.newaxis] - np.arange(int(lengths[0]), 0, -1)]
            return codes
        return self._texts(ends, lengths)

    def some(self, place: int, rows: Places) -> list[str]:
        """Some cells of a column as they are written."""
        return self._texts(self.ends[rows, place], self.lengths[rows, place]) if rows.size else []

    def last(self, place: int, count: int) -> "Cells":
        """The last so many cells of a column, to be kept."""
        ends, lengths = self.ends[-count:, [place]].copy(), self.lengths[-count:, [place]].copy()
        return Cells(self.raw, self.text, ends, lengths, self.padded, self.room)

    def fills_beyond(self, columns: int) -> bool:
        """Whether any line holds something behind so many columns."""
        return bool(self.lengths[:, columns:].any())

    def are(self, place: int, text: str) -> bool:
        """Whether any cell of a column is this text, white space around it left out."""
        lengths = self.lengths[:, place]
        first = self.text[self.ends[:, place] - lengths]
        rows = np.flatnonzero(((first == ord(text[0])) | (first <= BLANK)) & (lengths >= len(text)))
        return any(cell.strip() == text for cell in self.some(place, rows))

    def numbers(self, places: list[int], decimal: str) -> tuple[Floats, NDArray[np.bool_]]:
        """Numbers of some columns, by column and row, NaN where there is none; and which cells need a closer look.

        They lie in the block's room, and are gone when the next block is cut.
        """
        ends, lengths = self.ends, self.lengths
        if self.padded:
            starts, ends = without_padding(self.text, ends - lengths, ends)
            lengths = ends - starts
        values, sound = read_columns(self.text, ends, lengths, places, decimal, self.room)
        odd = ~sound
        if odd.any():
            values[odd] = np.nan
            odd &= (self.lengths > 0).T[places]
        return values, odd

    def _texts(self, ends: Places, lengths: Places) -> list[str]:
        written = self.raw.decode("ascii")
        return [
            written[end - length : end] for end, length in zip(ends.tolist(), lengths.tolist(), strict=True)
        ]


def cut_cells(raw: bytes, delimiter: str, cells: int, longest: int, room: Room) -> Cells | None:
    """Cut whole lines into columns; ``None`` where a line has other cells, a quote, or what is no ASCII character.

    Every line ends with LF. ``longest`` is the most characters of a cell. The lengths of the cells lie in ``room``,
    and are gone with its next use.
    """
    if not raw.isascii() or b'"' in raw or b"\0" in raw:
        return None
    raw = BEFORE + raw
    text = np.frombuffer(raw, dtype=np.uint8)
    marks = np.equal(text, LINE_END, out=room.take("marks", text.shape, np.bool_))
    lines = np.count_nonzero(marks)
    marks |= text == ord(delimiter)
    ends = np.flatnonzero(marks)
    if ends.size != lines * cells or (text[ends[cells - 1 :: cells]] != LINE_END).any():
        return None
    lengths = room.take("lengths", ends.shape, np.int64)
    lengths[0] = ends[0] - WIDTH
    np.subtract(ends[1:], ends[:-1], out=lengths[1:])
    lengths[1:] -= 1
    if lengths.max() > longest:
        return None
    shape = lines, cells
    return Cells(raw, text, ends.reshape(shape), lengths.reshape(shape), _is_padded(raw, text, marks), room)


def _is_padded(raw: bytes, text: Bytes, marks: NDArray[np.bool_]) -> bool:
    """Whether a blank stands beside any mark that parts cells, or first of all."""
    if raw.find(b" ", WIDTH) < 0:
        return False
    blanks = text == BLANK
    return bool(blanks[WIDTH] or (blanks[1:] & marks[:-1]).any() or (blanks[:-1] & marks[1:])[WIDTH:].any())
