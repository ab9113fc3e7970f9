"""One column's cells, block by block: numbers as numbers, and what was not one, so that nothing is lost unsaid."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.recordings.cells import (
    GROUPED,
    OTHER,
    CellKind,
    DecimalMark,
    is_missing,
    read_number,
    split_unit,
    without_groups,
)
from leanwright.recordings.texts import Codes, Texts
from leanwright.recordings.vocabulary import squash, vocabulary

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]
Verdict = float | Literal["missing", "word", "other-mark", "garbled"]
MISSING: Final = "nan"
MOST_WORDS: Final = 50
MOST_GARBLED: Final = 20
LOOK_AT: Final = 200
THOUSAND: Final = 1000.0
LARGEST: Final = 1e30
"""No instrument measures more, and what comes after may square it."""


@dataclass(slots=True)
class Column:
    """What the cells of one column hold, a row each.

    ``values`` are the numbers as written, NaN where there is none.
    """

    name: str
    values: Floats
    words: tuple[str, ...]
    """Different cells that are words."""
    word_count: int
    garbled: dict[int, str]
    """Row and text of the first cells that hold digits and are no number."""
    garbled_count: int
    texts: Texts | None
    """Every cell as written, where they were kept."""
    first_kind: CellKind = "number"
    """What most cells of the first rows are."""
    cell_unit: str | None = None
    """The unit that the cells themselves state."""

    @property
    def filled(self) -> int:
        """Cells that hold something other than a mark for "missing"."""
        return int(np.count_nonzero(np.isfinite(self.values))) + self.word_count + self.garbled_count


@dataclass(slots=True)
class ColumnBuilder:
    """Takes a column's cells in blocks."""

    name: str
    decimal: DecimalMark
    keep_texts: bool
    first_kind: CellKind = "number"
    known: dict[str, str] = field(default_factory=dict)
    """Texts that stand for "missing", shared by all columns of a file."""
    cell_unit: str | None = None
    """The unit that the first cell with one states."""
    expected_rows: int = 0
    """How many rows there may be; more are taken too."""
    _values: Floats | None = None
    """The numbers so far, with room for more; ``None`` as long as there is none."""
    _texts: Texts = field(default_factory=Texts)
    _words: dict[str, None] = field(default_factory=dict)
    _word_count: int = 0
    _other: dict[int, str] = field(default_factory=dict)
    """Cells with the mark that is not the file's decimal mark: what they are is told by the whole column."""
    _garbled: dict[int, str] = field(default_factory=dict)
    _garbled_count: int = 0
    _rows: int = 0

    def add(self, cells: Sequence[str]) -> None:
        """Take the next rows' cells."""
        if self.keep_texts:
            self._texts.add(cells)
            self._rows += len(cells)
        else:
            values = self._numbers(cells, np.arange(self._rows, self._rows + len(cells)))
            self.add_read(values, empty=bool(np.isnan(values).all()))

    def add_codes(self, codes: Codes) -> None:
        """Take the next rows' cells, to be kept, as their ASCII codes by row and character."""
        self._texts.add_codes(codes)
        self._rows += len(codes)

    def add_read(self, values: Floats, *, empty: bool) -> None:
        """Take the next rows, which are read already."""
        first, kept = self._rows, self._values
        self._rows = last = first + values.size
        if kept is not None and last <= kept.size:
            kept[first:last] = values
        elif not empty or kept is not None:
            self._with_room()[first:last] = values

    def add_odd(self, values: Floats, odd: Rows, cells: Sequence[str]) -> None:
        """Take the next rows, of which all but the odd ones are read; ``cells`` are the odd ones as written."""
        values[odd] = self._numbers(cells, odd + self._rows)
        self.add_read(values, empty=bool(np.isnan(values).all()))

    def _with_room(self) -> Floats:
        """The numbers, with room for all rows so far; what was never put there is NaN."""
        values = self._values
        if values is None:
            self._values = values = np.empty(max(self._rows, self.expected_rows))
            values[: self._rows] = np.nan
        elif values.size < self._rows:
            wider = self._values = np.empty(max(self._rows, 2 * values.size))
            wider[: values.size] = values
            return wider
        return values

    def _numbers(self, cells: Sequence[str], rows: Rows) -> Floats:
        text = "".join(cells)
        # float() takes "1_0" and digits of other scripts, which no instrument writes as a number; and a point is no
        # decimal mark of a file that writes commas.
        if text.isascii() and "_" not in text and (self.decimal == "." or "." not in text):
            values = _all_numbers(cells)
            if values is None:
                known = self.known
                texts = [known.get(cell, cell) for cell in cells]
                if self.decimal == ",":
                    texts = [text.replace(",", ".") if text.count(",") == 1 else text for text in texts]
                values = _all_numbers(texts)
            if values is not None:
                self._note_overflow(values, cells, rows)
                return values
        return self._one_by_one(cells, rows)

    def _one_by_one(self, cells: Sequence[str], rows: Rows) -> Floats:
        """Each cell by itself; what the same text means is told once."""
        values = np.full(len(cells), np.nan)
        judged: dict[str, Verdict] = {}
        for i, cell in enumerate(cells):
            if cell in self.known:
                continue
            verdict = judged.get(cell)
            if verdict is None:
                verdict = judged[cell] = self._verdict(cell)
            if isinstance(verdict, float):
                values[i] = verdict
            elif verdict == "word":
                self._word_count += 1
                if len(self._words) < MOST_WORDS:
                    self._words[cell.strip()] = None
            elif verdict == "other-mark":
                self._other[int(rows[i])] = cell.strip()
            elif verdict == "garbled":
                self._note_garbled(int(rows[i]), cell)
        self._note_overflow(values, cells, rows)
        return values

    def _verdict(self, cell: str) -> Verdict:
        """What a cell is: its number, or what it is instead of one."""
        number = read_number(cell, self.decimal)
        if number is not None:
            return number
        if is_missing(cell) or squash(cell) in vocabulary().missing:
            self._remember_missing(cell)
            return "missing"
        if not any(c.isdigit() for c in cell):
            return "word"
        return (
            found
            if (found := self._with_unit(cell)) is not None
            else ("other-mark" if OTHER[self.decimal] in cell else "garbled")
        )

    def _with_unit(self, cell: str) -> Verdict | None:
        """The number of a cell that states the column's unit; one with another unit is no number of this column."""
        found = split_unit(cell)
        number = None if found is None else read_number(found[0], self.decimal)
        if found is None or number is None:
            return None
        self.cell_unit = self.cell_unit or found[1]
        return number if found[1] == self.cell_unit else "garbled"

    def _note_overflow(self, values: Floats, cells: Sequence[str], rows: Rows) -> None:
        """Numbers too large to be measured count as missing, and as cells that could not be read."""
        for place in map(int, np.flatnonzero(np.abs(values) > LARGEST)):
            values[place] = np.nan
            if not is_missing(cells[place]):
                self._note_garbled(int(rows[place]), cells[place])

    def _note_garbled(self, row: int, cell: str) -> None:
        self._garbled_count += 1
        if len(self._garbled) < MOST_GARBLED:
            self._garbled[row] = cell.strip()

    def _remember_missing(self, cell: str) -> None:
        if len(self.known) < 10_000:
            self.known[cell] = MISSING

    def finish(self) -> Column:
        """The whole column."""
        if self.keep_texts:
            values = _numbers_of(self._texts, self.decimal)
        else:
            # A column without any number takes no room.
            empty = self._values is None and not self._other
            values = np.broadcast_to(np.nan, (self._rows,)) if empty else self._with_room()[: self._rows]
            self._fill_other_numbers(values)
            for row, cell in self._other.items():
                self._note_garbled(row, cell)
        return Column(
            self.name,
            values,
            tuple(self._words),
            self._word_count,
            dict(sorted(self._garbled.items())),
            self._garbled_count,
            self._texts if self.keep_texts else None,
            self.first_kind,
            self.cell_unit,
        )

    def _fill_other_numbers(self, values: Floats) -> None:
        """Read cells that hold the other mark as the whole column says: marks between thousands, or decimal marks.

        What the column leaves open stays unread: a wrong number would be worse than none.
        """
        mark, other = self.decimal, OTHER[self.decimal]
        cells = self._other
        if not cells:
            return
        whole = values[np.isfinite(values)]
        fractions = bool((whole != np.round(whole)).any())
        if all(GROUPED[mark].fullmatch(text) for text in cells.values()):
            if (
                mark == "."
                or fractions
                or bool((np.abs(whole) < THOUSAND).any())
                or _has_two_groups(cells.values(), other)
            ):
                self._fill(values, {row: without_groups(text, mark) for row, text in cells.items()})
        elif not fractions:
            numbers = {row: read_number(text, other) for row, text in cells.items()}
            self._fill(values, {row: number for row, number in numbers.items() if number is not None})

    def _fill(self, values: Floats, numbers: Mapping[int, float]) -> None:
        for row, number in numbers.items():
            values[row] = number
            del self._other[row]


def _has_two_groups(texts: Iterable[str], mark: DecimalMark) -> bool:
    return any(text.count(mark) > 1 for text in texts)


def _all_numbers(cells: Sequence[str]) -> Floats | None:
    try:
        return np.fromiter(map(float, cells), np.float64, len(cells))
    except ValueError:
        return None


def _numbers_of(texts: Sequence[str], decimal: DecimalMark) -> Floats:
    """Numbers of a column whose cells were kept as text; all NaN where they are clocks or words."""
    filled = [text for text in texts[:LOOK_AT] if not is_missing(text)]
    marks = (decimal, OTHER[decimal])
    # Most of such columns are clocks.
    plain = [text for text in filled if ":" not in text]
    fitting = [sum(read_number(text, mark) is not None for text in plain) for mark in marks]
    if not filled or max(fitting) < len(filled) / 2:
        return np.full(len(texts), np.nan)
    mark = marks[fitting.index(max(fitting))]
    values = _all_numbers(texts) if mark == "." and "_" not in "".join(texts) else None
    if values is None:
        numbers = (read_number(text, mark) for text in texts)
        values = np.array([np.nan if number is None else number for number in numbers], dtype=np.float64)
    values[np.abs(values) > LARGEST] = np.nan
    return values
