"""How a file is laid out: delimiter, decimal mark, header, units row. Found by agreement between lines."""

import itertools
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from leanwright.errors import (
    EmptyRecordingError,
    LeanwrightError,
    NoHeaderError,
    NotDelimitedTextError,
    TooLargeError,
)
from leanwright.recordings.cells import CellKind, DecimalMark, decimal_mark, is_missing, kind
from leanwright.recordings.content import EXPORT
from leanwright.recordings.label import is_unit_cell, read_label
from leanwright.recordings.limits import Limits
from leanwright.recordings.quoting import QUOTE, QuotingError, split_cells
from leanwright.told import Told

DELIMITERS: Final = (",", ";", "\t", "|")
REMARK: Final = re.compile(r"^\s*(?:#+|//+|%+|!+|\*+|;+|'|--)\s*")
HEADER_MARK: Final = re.compile(r"^(?:#+|//+|!+|\*+|;+)\s*(?=[^\W\d])")
STRONG_MARK: Final = re.compile(r"^\s*(?:#|//)")
ENOUGH_ROWS: Final = 20
FEW_ROWS: Final = 3
PROOF_ROWS: Final = 50
WORDY: Final = 0.6
LIKELY_SHARE: Final = 0.3
HIGHEST_SCORE: Final = 64.0
"""So that a single line of very many numbers does not outweigh all rows."""
UNIT_SHARE: Final = 0.6
MORE_BY_JOINING: Final = 2
"""So many more columns have to be understood before two lines are taken for one header."""
PUT_A_HEADER: Final = "Put one line of column names above the rows, one name a column."


@dataclass(frozen=True, slots=True)
class Layout:
    """What holds for every row of a file."""

    delimiter: str
    decimal: DecimalMark
    names: tuple[str, ...]
    """One a column, as in the file, without padding, quotes and remark marks."""
    units: tuple[str, ...] | None
    """The units row, one a column, or ``None``."""
    cells: int
    """Cells of a row; more than there are names where rows end with a delimiter."""
    kinds: tuple[CellKind, ...]
    """What most cells of each column are in the first rows."""
    header_line: int
    first_data_line: int
    metadata: tuple[str, ...]
    metadata_lines: tuple[int, ...] = ()
    """Lines above and below the header that are neither blank nor part of it."""
    header_lines: int = 1
    """How many lines the header runs over."""
    units_line: int | None = None
    header_rows: tuple[tuple[str, ...], ...] = ()
    """The cells of each line of the header: of more than one where names stand below one another."""


@dataclass(frozen=True, slots=True)
class _Record:
    """A line (or the lines of a quoted cell) cut by one delimiter."""

    line: int
    lines: int
    cells: list[str]
    kinds: list[CellKind]
    """What each of them is; of a line of more cells than a table has columns, the first ones."""
    used: int
    """Cells up to the last one that is not empty."""
    good: int
    """Cells that hold a number or a time."""
    words: int
    score: float

    @property
    def is_wordy(self) -> bool:
        """Whether it could be a header: mostly words, in most of its columns."""
        filled = self.words + self.good
        return self.words >= max(1, WORDY * filled) and 2 * filled >= self.used and self.used > 1


def find_layout(name: str, lines: Sequence[str], limits: Limits) -> Layout:
    """Find the layout from the first lines of a file; many of them are needed only where the header stands late."""
    few = lines[: limits.header_lines // 8]
    if len(few) < len(lines):
        try:
            layout = _find_layout(name, few, limits)
        except LeanwrightError:
            return _find_layout(name, lines, limits)
        measured = {"number", "time"} & set(layout.kinds)
        if measured and layout.first_data_line + ENOUGH_ROWS <= len(few):
            return layout
    return _find_layout(name, lines, limits)


def _find_layout(name: str, lines: Sequence[str], limits: Limits) -> Layout:
    cuts = [
        cut
        for delimiter in DELIMITERS
        if any(delimiter in line for line in lines)
        for cut in _cuts(delimiter, _records(lines, delimiter, limits))
    ]
    if not cuts:
        raise NotDelimitedTextError(
            name, "It has no columns: no comma, semicolon, tab or bar parts its lines.", EXPORT
        )
    cuts.sort(key=lambda cut: cut.score, reverse=True)
    likely = [cut for cut in cuts if cut.score >= LIKELY_SHARE * cuts[0].score]
    best = next((cut for cut in likely if _fitting(cut)), cuts[0])
    delimiter, width, records = best.delimiter, best.width, best.records
    if width > limits.columns + 1:
        raise TooLargeError(name, Told("It has more than {columns} columns.", columns=limits.columns), EXPORT)
    header = _header(name, best)
    unit_record = _units_after(records, header)
    last = _remarks_after(records, unit_record or header)
    head = _head(records, header, width)
    if head[-1].line > header.line:
        unit_record = _units_after(records, head[-1])
        last = _remarks_after(records, unit_record or head[-1])
    names = _padded(_joined_names(head), max(_named_columns(record, best.rows) for record in head))
    before = [place for place, line in enumerate(lines[: head[0].line - 1]) if line.strip()]
    below = [record.line for record in records if (unit_record or head[-1]).line < record.line <= last.line]
    return Layout(
        delimiter,
        _decimal(best, header),
        names,
        None if unit_record is None else _padded(header_names(unit_record.cells), len(names)),
        width,
        _kinds(records, last, width, len(names)),
        head[0].line,
        last.line + last.lines,
        tuple(REMARK.sub("", lines[place], count=1).strip() for place in before),
        (*(place + 1 for place in before), *below),
        head[-1].line + head[-1].lines - head[0].line,
        None if unit_record is None else unit_record.line,
        tuple(header_names(record.cells) for record in head),
    )


def _records(lines: Sequence[str], delimiter: str, limits: Limits) -> list[_Record]:
    """All lines that can be cut, blank ones left out; a quoted cell may run over several."""
    records = []
    place = 0
    while place < len(lines):
        cells, used = _cut(lines, place, delimiter, limits)
        if cells is not None and any(cell.strip() for cell in cells):
            records.append(_record(place + 1, used, cells))
        place += used
    return records


def _cut(lines: Sequence[str], place: int, delimiter: str, limits: Limits) -> tuple[list[str] | None, int]:
    tries, quotes = 0, 0
    for used in range(1, limits.name_lines + 1):
        if used > 1 and (place + used > len(lines) or QUOTE not in lines[place]):
            break
        quotes += lines[place + used - 1].count(QUOTE)
        # Over several lines a cell is open as long as the number of its quotes is odd.
        if used == 1 or quotes % 2 == 0:
            try:
                return split_cells("\n".join(lines[place : place + used]), delimiter), used
            except QuotingError:
                tries += 1
        if tries == limits.cell_lines:
            break
    return None, 1


def _record(line: int, lines: int, cells: list[str]) -> _Record:
    kinds = [kind(cell) for cell in cells[:1024]]
    good = kinds.count("number") + kinds.count("time")
    words = kinds.count("text")
    used = next((place for place in range(len(cells), 0, -1) if cells[place - 1].strip()), 0)
    score = min(good * good / (good + words), HIGHEST_SCORE) if good else 0.0
    return _Record(line, lines, cells, kinds, used, good, words, score if len(cells) > 1 else 0.0)


@dataclass(frozen=True, slots=True)
class _Cut:
    """One way to cut the lines, and how much of their content agrees on one number of cells."""

    delimiter: str
    width: int
    score: float
    records: list[_Record]

    @property
    def rows(self) -> list[_Record]:
        """The lines of that width that hold something measured."""
        return [record for record in self.records if len(record.cells) == self.width and record.good]


def _cuts(delimiter: str, records: list[_Record]) -> list[_Cut]:
    """One for each number of cells."""
    scores: dict[int, float] = {}
    for record in records:
        if len(record.cells) > 1:
            # The small part lets files without any number agree on a width too.
            scores[len(record.cells)] = (
                scores.get(len(record.cells), 0.0) + record.score + 1e-6 * len(record.cells)
            )
    return [_Cut(delimiter, width, score, records) for width, score in scores.items()]


def _fitting(cut: _Cut) -> list[_Record]:
    """The lines that could be the header of the rows."""
    rows = cut.rows
    return [
        record
        for record in cut.records
        if record.is_wordy and record.used <= cut.width and _covers(record, rows)
    ]


def _header(name: str, cut: _Cut) -> _Record:
    """The line of names above the rows: the one whose words the vocabulary knows best."""
    records, width, rows = cut.records, cut.width, cut.rows
    wordy = [record for record in records if record.is_wordy]
    fitting = _fitting(cut)
    if not fitting:
        if not rows and not wordy:
            raise NotDelimitedTextError(name, "It holds no table of columns.", EXPORT)
        above = [record for record in wordy if not rows or record.line < rows[-1].line]
        if above and rows:
            nearest = max(above, key=lambda record: (_known(record), record.line))
            raise NoHeaderError(
                name,
                Told(
                    "Line {line} has {used} names, but the rows have {width} cells.",
                    line=nearest.line,
                    used=nearest.used,
                    width=width,
                ),
                "Give every column one name, and every row one cell a column.",
            )
        raise NoHeaderError(name, "It has rows but no line of column names above them.", PUT_A_HEADER)
    measured = _measured_columns(rows, width)

    def rank(record: _Record) -> tuple[bool, int, int, bool]:
        contrast = sum(record.kinds[place] == "text" for place in measured if place < record.used)
        follows = any(row.line > record.line for row in rows)
        return follows, _known(record), contrast, not _is_units_row(record)

    ranks = [rank(record) for record in fitting]
    highest = max(ranks)
    alike = [record for record, own in zip(fitting, ranks, strict=True) if own == highest]
    best = alike[0] if highest[1] else _last_before_rows(alike, rows)
    if not _known(best) and not any(row.line > best.line for row in rows):
        raise NotDelimitedTextError(name, "It holds no table of columns.", EXPORT)
    if not any(record.line > best.line for record in records):
        raise EmptyRecordingError(
            name, "It has a line of names but no rows.", "Copy the whole file from the panel again."
        )
    return best


def _head(records: Sequence[_Record], header: _Record, width: int) -> list[_Record]:
    """The header, with the line above or below it where only both together name the columns, as "EGT" above "1"."""
    widest = min(width, len(header.cells))
    place = records.index(header)
    alone = _meanings(header_names(header.cells))
    best, most = [header], len(alone) + MORE_BY_JOINING - 1
    for first, second in ((place - 1, place), (place, place + 1)):
        if first < 0 or second >= len(records):
            continue
        one, two = records[first], records[second]
        if two.line != one.line + one.lines or max(one.used, two.used) > widest:
            continue
        found = len(_meanings(_joined_names([one, two]))) if not _is_units_row(two) else 0
        if found > most:
            best, most = [one, two], found
    return best


def _joined_names(head: Sequence[_Record]) -> tuple[str, ...]:
    """The names of a header; of one of two lines each upper cell holds for the empty ones to its right."""
    if len(head) == 1:
        return header_names(head[0].cells)
    upper, lower = (header_names(record.cells) for record in head)
    names, above = [], ""
    for place in range(max(len(upper), len(lower))):
        above = (upper[place] if place < len(upper) else "") or above
        below = lower[place] if place < len(lower) else ""
        names.append(f"{above} {below}".strip())
    return tuple(names)


def _meanings(names: Sequence[str]) -> set[tuple[object, ...]]:
    """The different things that names say."""
    labels = map(read_label, names)
    return {
        (label.quantity, label.number, label.engine, label.side)
        for label in labels
        if label.quantity is not None
    }


def _measured_columns(rows: Sequence[_Record], width: int) -> list[int]:
    """Columns that hold numbers or times in most rows."""
    kinds = list(zip(*(row.kinds for row in rows), strict=True)) or [()] * width
    return [
        place
        for place, column in enumerate(kinds)
        if 2 * (column.count("number") + column.count("time")) > len(rows)
    ]


def _last_before_rows(alike: Sequence[_Record], rows: Sequence[_Record]) -> _Record:
    """Of lines that are equally good headers in no known words the last before the rows begin; without rows the first."""
    best = alike[0]
    for record in alike[1:]:
        between = sum(best.line < row.line < record.line for row in rows)
        if not rows or record.cells == best.cells or between > FEW_ROWS:
            break
        best = record
    return best


def _covers(record: _Record, rows: Sequence[_Record]) -> bool:
    """Whether the line reaches to the last column that rows below fill; a few damaged rows may go beyond."""
    below = [row.used <= max(record.used, len(record.cells)) for row in rows if row.line > record.line]
    return 2 * sum(below) >= len(below)


def _known(record: _Record) -> int:
    """How many cells name something that the program knows; in a row of units a bare unit is no name."""
    names = header_names(record.cells)
    if _is_units_row(record):
        names = tuple(name for name in names if not is_unit_cell(name))
    return sum(read_label(name).quantity is not None for name in names)


def _is_units_row(record: _Record) -> bool:
    filled = [name for name in header_names(record.cells) if not is_missing(name)]
    return len(filled) > 0 and sum(map(is_unit_cell, filled)) >= UNIT_SHARE * len(filled)


def _units_after(records: Sequence[_Record], header: _Record) -> _Record | None:
    """The row of units directly under the header, if there is one."""
    following = next((record for record in records if record.line > header.line), None)
    if (
        following is None
        or following.used > max(header.used, len(header.cells))
        or not _is_units_row(following)
    ):
        return None
    return following if 2 * following.good <= following.words else None


def header_names(cells: Sequence[str]) -> tuple[str, ...]:
    """The cells of a header or units row without padding, remark marks and empty ends."""
    names = [" ".join(cell.split()) for cell in cells]
    names[0] = HEADER_MARK.sub("", names[0], count=1)
    while names and not names[-1]:
        names.pop()
    return tuple(names)


def _remarks_after(records: Sequence[_Record], last: _Record) -> _Record:
    """The last of the marked lines that stand directly under the header, or the header itself."""
    for record in records:
        if record.line > last.line:
            if not STRONG_MARK.match(record.cells[0]) or record.good > record.words:
                break
            last = record
    return last


def _decimal(cut: _Cut, header: _Record) -> DecimalMark:
    """The decimal mark that the rows prove; where they prove none, a comma if it is not the delimiter."""
    rows = [row.cells for row in cut.rows if row.line > header.line]
    proven = decimal_mark(itertools.chain.from_iterable(rows[:PROOF_ROWS]))
    return proven or ("." if cut.delimiter == "," else ",")


def _named_columns(header: _Record, rows: Sequence[_Record]) -> int:
    """Columns up to the last one that has a name, or that most rows fill though it has none."""
    below = [row.used for row in rows if row.line > header.line]
    filled = sorted(below)[(len(below) - 1) // 2] if below else 0
    return max(header.used, min(filled, len(header.cells)))


def _padded(cells: tuple[str, ...], count: int) -> tuple[str, ...]:
    return (*cells, *("",) * (count - len(cells)))[:count]


def _kinds(records: Sequence[_Record], last: _Record, width: int, count: int) -> tuple[CellKind, ...]:
    rows = [record.kinds for record in records if record.line > last.line and len(record.cells) == width]
    found: list[CellKind] = []
    for place in range(count):
        kinds = [row[place] for row in rows[:ENOUGH_ROWS]]
        filled = [k for k in kinds if k != "missing"]
        found.append(Counter(filled).most_common(1)[0][0] if filled else "missing")
    return tuple(found)
