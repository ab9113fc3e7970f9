"""The lines below the header: each is a row that fits, or is skipped with its reason. None is lost."""

import itertools
import re
from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.errors import TooLargeError
from leanwright.recordings.cells import any_number, is_missing
from leanwright.recordings.column import ColumnBuilder
from leanwright.recordings.encoding import DAMAGED
from leanwright.recordings.label import read_label
from leanwright.recordings.last_cell import is_whole
from leanwright.recordings.layout import REMARK, Layout, header_names
from leanwright.recordings.limits import Limits
from leanwright.recordings.lines import LineBlock
from leanwright.recordings.quoting import QUOTE, QuotingError, split_cells, split_columns
from leanwright.recordings.regular import Cells, cut_cells
from leanwright.recordings.room import Room
from leanwright.recordings.table import BELOW_ANOTHER, SkippedLine, Table
from leanwright.told import Told

NUL: Final = "\0"
TAIL: Final = 200
PROBES: Final = 3
OTHER_HEADER: Final = 3
LONGEST_MARK: Final = 5
FIRST_ROWS: Final = 3
SPLIT: Final = "Export one flight at a time, and name that file."


class RowReader:
    """Takes the lines of a file block by block, and gives its table."""

    def __init__(
        self, name: str, layout: Layout, keep_texts: Iterable[bool], limits: Limits, expected_rows: int = 0
    ) -> None:
        self._name = name
        self._layout = layout
        self._limits = limits
        known: dict[str, str] = {}
        self._builders = [
            ColumnBuilder(column, layout.decimal, keep, kind, known, expected_rows=expected_rows)
            for column, keep, kind in zip(layout.names, keep_texts, layout.kinds, strict=True)
        ]
        # Up to so many columns of numbers show quickly that a line may be a header.
        self._probes = [place for place, kind in enumerate(layout.kinds) if kind == "number"][:PROBES]
        self._numbers: list[NDArray[np.int64]] = []
        self._rows = 0
        self._room = Room()
        self._skipped: list[SkippedLine] = []
        self._remarks: list[SkippedLine] = []
        self._headers: list[int] = []
        self._other_header: int | None = None
        self._after_header = False
        self._carried: list[str] = []
        self._carried_first = 0
        self._tail: Sequence[str] | Cells = ()
        self._cut_line: int | None = None
        self._no_line_end = False
        self._last_line = layout.first_data_line - 1
        self._header_lines: list[int] = []
        self._units_lines: list[int] = []
        self._remark_lines: list[int] = []
        self._continued: list[int] = []
        self._first_rows: list[tuple[int, tuple[str, ...]]] = []

    def add(self, block: LineBlock) -> None:
        """Take the next lines: all at once where they are regular, else with a closer look."""
        if block.raw is not None and not self._carried and self._add_regular(block.raw, block.first):
            return
        first = block.first - len(self._carried)
        lines = self._carried + block.lines if self._carried else block.lines
        self._carried = []
        behind = max(0, self._layout.first_data_line - first)
        if behind:
            lines, first = lines[behind:], first + behind
        if not lines:
            return
        self._last_line = first + len(lines) - 1
        if block.open_end:
            if len(lines) > 1:
                self._add_lines(lines[:-1], first, last=True)
            self._add_open_line(lines[-1], first + len(lines) - 1)
        else:
            self._add_lines(lines, first, last=False)

    def _add_regular(self, raw: bytes, first: int) -> bool:
        """Take a block whose lines below the header are all rows, cut and read at once; whether it was such a block."""
        layout = self._layout
        behind = layout.first_data_line - first
        if behind > 0:
            raw, first = _without_lines(raw, behind), layout.first_data_line
        if not raw or not self._is_settled:
            return False
        cells = cut_cells(raw, layout.delimiter, layout.cells, self._limits.cell_characters, self._room)
        if cells is None:
            return False
        if layout.cells > len(layout.names) and cells.fills_beyond(len(layout.names)):
            return False
        measured = [place for place, builder in enumerate(self._builders) if not builder.keep_texts]
        values, odd = cells.numbers(measured, layout.decimal)
        if self._may_be_headers(cells, measured, odd):
            return False
        self._count(np.arange(first, first + cells.rows, dtype=np.int64))
        self._last_line = first + cells.rows - 1
        for row in range(min(cells.rows, FIRST_ROWS - len(self._first_rows))):
            self._first_rows.append((first + row, tuple(cells.row(row)[: len(layout.names)])))
        self._tail = cells.last(len(layout.names) - 1, TAIL)
        for place, builder in enumerate(self._builders):
            if builder.keep_texts:
                column = cells.column(place)
                builder.add(column) if isinstance(column, list) else builder.add_codes(column)
        strange = np.logical_or.reduce(odd, axis=1).tolist()
        empty = np.logical_and.reduce(np.isnan(values), axis=1).tolist()
        for i, place in enumerate(measured):
            if strange[i]:
                which = np.flatnonzero(odd[i])
                self._builders[place].add_odd(values[i], which, cells.some(place, which))
            else:
                self._builders[place].add_read(values[i], empty=empty[i])
        return True

    @property
    def _is_settled(self) -> bool:
        """Whether nothing in the lines before says that the next ones are more than plain rows."""
        return not (self._remarks or self._other_header or self._after_header)

    def _may_be_headers(self, cells: Cells, measured: list[int], odd: NDArray[np.bool_]) -> bool:
        """As :meth:`_may_hold_header`, of a block that is cut already."""
        name = self._layout.header_rows[0][0]
        if name != "" and cells.are(0, name):
            return True
        probes = [place for place in self._probes if place in measured]
        if not probes:
            return bool(self._probes)
        suspects = np.flatnonzero(odd[[measured.index(place) for place in probes]].all(axis=0))
        rows = zip(*(cells.some(place, suspects) for place in probes), strict=True)
        return any(all(cell.lstrip()[:1].isalpha() for cell in row) for row in rows)

    def finish(self) -> Table:
        """The table of all lines taken."""
        if self._carried:
            self._add_one_by_one(self._carried, self._carried_first, last=True)
        self._skipped += self._remarks
        return Table(
            tuple(builder.finish() for builder in self._builders),
            np.concatenate(self._numbers) if self._numbers else np.empty(0, dtype=np.int64),
            sorted(self._skipped, key=lambda skipped: skipped.line),
            tuple(self._headers),
            self._cut_line,
            self._no_line_end,
            self._last_line,
            self._header_lines,
            self._units_lines,
            self._remark_lines,
            self._continued,
            self._first_rows,
        )

    def _add_lines(self, lines: list[str], first: int, *, last: bool) -> None:
        columns = self._plain_columns(lines)
        if columns is None:
            self._add_one_by_one(lines, first, last=last)
        else:
            self._take(columns, np.arange(first, first + len(lines), dtype=np.int64))

    def _plain_columns(self, lines: list[str]) -> list[Sequence[str]] | None:
        """The block's columns, if nothing in it asks for a closer look."""
        layout = self._layout
        text = "\n".join(lines)
        if NUL in text or DAMAGED in text or not self._is_settled:
            return None
        columns = split_columns(lines, layout.delimiter, layout.cells, quotes=QUOTE in text)
        if columns is None or self._may_hold_header(columns):
            return None
        longest = self._limits.cell_characters
        if max(map(len, lines)) > longest and any(
            len(cell) > longest for column in columns for cell in column
        ):
            return None
        beyond = itertools.chain.from_iterable(columns[len(layout.names) :])
        return None if any(map(str.strip, beyond)) else columns

    def _may_hold_header(self, columns: Sequence[Sequence[str]]) -> bool:
        """Whether a row begins like the header, or has words where the first rows had numbers."""
        name = self._layout.header_rows[0][0]
        if name and any(cell.strip() == name for cell in columns[0]):
            return True
        wordy = set(range(len(columns[0]))) if self._probes else set()
        for place in self._probes:
            wordy = {row for row in wordy if columns[place][row].lstrip()[:1].isalpha()}
        return bool(wordy)

    def _may_be_header(self, row: list[str]) -> bool:
        """Whether words stand where the first rows had numbers."""
        return all(place < len(row) and row[place].lstrip()[:1].isalpha() for place in self._probes)

    def _add_one_by_one(self, lines: list[str], first: int, *, last: bool) -> None:
        rows: list[list[str]] = []
        numbers: list[int] = []
        place = 0
        while place < len(lines):
            line = lines[place]
            number = first + place
            if not line.strip():
                place += 1
                continue
            cells, used = self._cells(lines, place)
            if cells is None and not last and place + self._limits.cell_lines > len(lines) and QUOTE in line:
                self._carried, self._carried_first = lines[place:], number
                break
            place += used
            reason = self._reason_to_skip(line, cells)
            if cells is not None and self._is_header(cells):
                self._take(list(zip(*rows, strict=True)), np.array(numbers, dtype=np.int64))
                rows, numbers = [], []
                self._begin_again(number, cells)
            elif self._after_header and cells is not None and self._is_units(cells):
                self._after_header = False
                self._units_lines.append(number)
            elif reason is None and cells is not None:
                self._settle_remarks()
                rows.append(cells)
                numbers.append(number)
                self._continued += range(number + 1, number + used)
            elif self._is_remark(line):
                self._remarks.append(SkippedLine(number, "it is a remark, not a row", is_text=True))
            else:
                self._settle_remarks()
                self._skipped.append(
                    SkippedLine(number, reason or "its quotes are not closed", self._is_words(line))
                )
        self._take(list(zip(*rows, strict=True)), np.array(numbers, dtype=np.int64))

    def _cells(self, lines: list[str], place: int) -> tuple[list[str] | None, int]:
        """The cells of a line, or of several where a quoted cell runs on; ``None`` if quotes are wrong."""
        try:
            return split_cells(lines[place], self._layout.delimiter), 1
        except QuotingError:
            pass
        for used in range(2, self._limits.cell_lines + 1):
            joined = lines[place : place + used]
            if len(joined) < used or any(self._fits(line) for line in joined[1:]):
                break
            try:
                cells = split_cells("\n".join(joined), self._layout.delimiter)
            except QuotingError:
                continue
            return (cells, used) if len(cells) == self._layout.cells else (None, 1)
        return None, 1

    def _fits(self, line: str) -> bool:
        try:
            return len(split_cells(line, self._layout.delimiter)) == self._layout.cells
        except QuotingError:
            return False

    def _reason_to_skip(self, line: str, cells: list[str] | None) -> Told | None:
        limits, layout = self._limits, self._layout
        if NUL in line:
            return Told("it holds NUL bytes, as a broken card leaves them")
        if DAMAGED in line:
            return Told("it holds bytes that are no characters")
        if len(line) > limits.row_bytes or len(line.encode()) > limits.row_bytes:
            return Told("it is longer than {most} KiB", most=limits.row_bytes // 1024)
        if cells is None:
            return Told("a quote in it is not closed, or stands inside a cell")
        if len(cells) != layout.cells:
            return Told(
                "it has 1 cell, not {cells}" if len(cells) == 1 else "it has {found} cells, not {cells}",
                found=len(cells),
                cells=layout.cells,
            )
        if any(cell.strip() for cell in cells[len(layout.names) :]):
            return Told("it has a cell beyond the last column")
        if max(map(len, cells)) > limits.cell_characters:
            return Told("a cell in it is longer than {most} characters", most=limits.cell_characters)
        if self._other_header is not None:
            return Told(BELOW_ANOTHER + " (line {header})", header=self._other_header)
        return None

    def _is_header(self, cells: list[str]) -> bool:
        """Whether a line is the header again, or another header."""
        if self._stands_again(cells):
            return True
        if not cells[0].strip():
            return False
        if cells[0].strip() != self._layout.names[0] and not (self._may_be_header(cells) and is_wordy(cells)):
            return False
        names = header_names(cells)
        known = sum(read_label(name).quantity is not None for name in names)
        return known >= max(OTHER_HEADER, len(names) // 2)

    def _stands_again(self, cells: list[str]) -> bool:
        """Whether a line is the header, or its first line, or the one that has to follow that."""
        rows = self._layout.header_rows
        names = header_names(cells)
        return names == rows[0] or (self._after_header and names in rows[1:])

    def _begin_again(self, line: int, cells: list[str]) -> None:
        """A header in mid-file begins a power-up; another header's rows cannot be read with the first one's names."""
        again = self._stands_again(cells)
        self._remark_lines += (remark.line for remark in self._remarks)
        self._remarks.clear()
        self._after_header = True
        self._header_lines.append(line)
        if again:
            self._other_header = None
            if self._rows and self._rows not in self._headers:
                self._headers.append(self._rows)
        else:
            self._other_header = line
            self._skipped.append(SkippedLine(line, "it is a header unlike the first"))

    def _is_units(self, cells: list[str]) -> bool:
        units = self._layout.units
        return units is not None and header_names(cells) == header_names(list(units))

    def _first_cell(self, line: str) -> str:
        """The first cell of a line that is no row, whose quotes may be wrong."""
        return line.split(self._layout.delimiter, 1)[0].strip()

    def _is_words(self, line: str) -> bool:
        """Whether a line that cannot be used begins like words, and not like a row."""
        first = self._first_cell(line)
        may_be_text = self._layout.kinds[:1] == ("text",) and self._layout.delimiter in line
        return first[:1].isalpha() and not is_missing(first) and not may_be_text

    def _is_remark(self, line: str) -> bool:
        """Whether a line that is no row may belong to the lines above a repeated header."""
        first = self._first_cell(line)
        if is_missing(first) and len(first) <= LONGEST_MARK:
            return False  # A row that was cut behind a mark for "missing", such as "---".
        mark = REMARK.match(line)
        if mark and mark.group().strip():
            return True
        text = line.strip()
        if not text[0].isalpha():
            return False
        key = remark_key(text)
        return any(remark_key(known) == key for known in self._layout.metadata)

    def _settle_remarks(self) -> None:
        self._after_header = False
        if self._remarks:
            self._skipped += self._remarks
            self._remarks = []

    def _take(self, columns: Sequence[Sequence[str]], numbers: NDArray[np.int64]) -> None:
        if not numbers.size:
            return
        self._count(numbers)
        for row in range(min(numbers.size, FIRST_ROWS - len(self._first_rows))):
            written = tuple(cells[row] for cells in columns[: len(self._builders)])
            self._first_rows.append((int(numbers[row]), written))
        self._tail = columns[len(self._builders) - 1][-TAIL:]
        for builder, cells in zip(self._builders, columns, strict=False):
            builder.add(cells)

    def _count(self, numbers: NDArray[np.int64]) -> None:
        self._rows += numbers.size
        if self._rows > self._limits.rows:
            raise TooLargeError(
                self._name, Told("It has more than {rows} rows.", rows=self._limits.rows), SPLIT
            )
        self._numbers.append(numbers)

    def _last_column(self) -> Sequence[str]:
        """The last rows' cells of the last column."""
        tail = self._tail
        return tail.some(0, np.arange(tail.rows)) if isinstance(tail, Cells) else tail

    def _add_open_line(self, line: str, number: int) -> None:
        """A last line without line end may be whole or cut; it is kept only if its last cell shows that it is whole."""
        cells, _ = self._cells([line], 0)
        if not line.strip() or (cells is not None and self._is_header(cells)):
            return
        reason = self._reason_to_skip(line, cells)
        if reason is None and cells is not None:
            ends = self._layout.cells > len(self._layout.names) or line.rstrip(" ").endswith(QUOTE)
            if ends or is_whole(cells[-1], self._last_column()):
                self._settle_remarks()
                self._no_line_end = True
                self._take([[cell] for cell in cells], np.array([number], dtype=np.int64))
                return
        self._skipped.append(SkippedLine(number, "the file ends before this line is whole"))
        self._cut_line = number


def _without_lines(raw: bytes, count: int) -> bytes:
    """The bytes behind so many lines."""
    place = 0
    for _ in range(count):
        place = raw.find(b"\n", place) + 1
        if not place:
            return b""
    return raw[place:]


def is_wordy(cells: Sequence[str]) -> bool:
    """Whether most cells that hold anything hold letters, and none is a number."""
    filled = [cell for cell in cells if cell.strip()]
    letters = [cell for cell in filled if any(c.isalpha() for c in cell)]
    return len(letters) > len(filled) / 2 and not any(any_number(cell) is not None for cell in filled)


def remark_key(text: str) -> str:
    """What a line of metadata is about: its text up to the first colon, equals sign or delimiter."""
    return re.split(r"[:=,;\t|]", REMARK.sub("", text, count=1), maxsplit=1)[0].strip().casefold()
