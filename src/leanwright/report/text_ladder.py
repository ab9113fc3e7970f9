"""The ladder in a terminal: one line a cylinder, every sign one column."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from leanwright.report import cells
from leanwright.report.beside import Beside
from leanwright.report.cleaning import ascii_only as to_ascii
from leanwright.report.ladder import Ladder, Row
from leanwright.report.numbers import NO_BREAK, plain, stripped
from leanwright.report.scale import Scale, ticks
from leanwright.report.words import Voice

_LABEL_COLUMNS = 15
_GAP = "  "
_OFFSET_COLUMNS = 7
_PLOT, _LEAST_PLOT = 39, 24
_LEAST_WITH_OFFSET = 80
_ARROW = 3
BOLD, PLAIN = "\x1b[1m", "\x1b[0m"


@dataclass(frozen=True, slots=True)
class Signs:
    """What the ladder is drawn with; each is one column wide."""

    rail: str
    inside: str
    beyond: str
    interval: tuple[str, str, str]
    dot: str
    bound: tuple[str, str]
    dash: str
    unclear: str
    before: str
    predicted: str
    value_columns: int


UNICODE: Final = Signs("┃", "─", "·", ("├", "━", "┤"), "●", ("◂", "▸"), "╌", "◇", "○", "╵", 14)
ASCII: Final = Signs("|", "-", ".", ("[", "=", "]"), "O", ("<", ">"), "-", "?", "o", "^", 15)


def text_ladder(
    ladder: Ladder,
    voice: Voice,
    *,
    width: int,
    ascii_only: bool,
    bold: bool,
    beside: Mapping[int, Beside] | None = None,
) -> list[str]:
    """The lines of the ladder: head, a row a cylinder, axis; with ``beside`` a line above each row shows that."""
    signs = ASCII if ascii_only else UNICODE
    write: Callable[[str], str] = to_ascii if ascii_only else lambda text: text.replace(NO_BREAK, " ")
    labels = {row.cylinder: write(cells.label(row, voice)) for row in ladder.rows}
    label_columns = max(_LABEL_COLUMNS, *(len(label) + 1 for label in labels.values()))
    values = {row.cylinder: write(cells.value(row, voice)) for row in ladder.rows}
    head = write(voice.label("flow-at-peak-short", unit=ladder.unit))
    value_columns = max(signs.value_columns, len(head), *(len(text) for text in values.values()))
    with_offset = width >= _LEAST_WITH_OFFSET
    offset_columns = max(_OFFSET_COLUMNS, len(write(voice.label("offset"))) + 1) if with_offset else 0
    rest = label_columns + len(_GAP) + value_columns + offset_columns
    unused = 3 - ascii_only if with_offset else 0  # of 80 columns the ladder fills 77, in ASCII 78
    columns = max(_LEAST_PLOT, width - rest - unused)
    columns = columns if with_offset else min(columns, _PLOT)
    scale = _scale(ladder, columns)
    head = head.ljust(value_columns) + (
        write(voice.label("offset")).rjust(offset_columns) if with_offset else ""
    )
    lines = [" " * label_columns + _head(ladder, voice, scale, write) + _GAP + head.rstrip()]
    for row in ladder.rows:
        label = labels[row.cylinder].ljust(label_columns)
        tail = values[row.cylinder].ljust(value_columns)
        if with_offset:
            tail += write(_offset(row, voice)).rjust(offset_columns)
        if beside is not None:
            above = _above(beside.get(row.cylinder, Beside()), ladder, scale, signs)
            lines.append((" " * label_columns + above).rstrip())
        line = (label + _rung(row, ladder, scale, signs, write(_nothing(row, voice))) + _GAP + tail).rstrip()
        lines.append(f"{BOLD}{line}{PLAIN}" if bold and row.outside else line)
    lines.append(write(_axis(ladder, voice, scale, label_columns, value_columns + offset_columns)))
    return lines


def _scale(ladder: Ladder, columns: int) -> Scale:
    """The axis in columns, widened where an arrow towards an unknown side needs room."""
    low, high = ladder.ends
    room = (_ARROW + 1) / (columns - 1) * (high - low)
    for row in ladder.rows:
        if row.bound is not None and row.bound_side == "below":
            low = min(low, row.bound - room)
        if row.bound is not None and row.bound_side == "above":
            high = max(high, row.bound + room)
    return Scale(low, high, 0, columns - 1)


def _above(beside: Beside, ladder: Ladder, scale: Scale, signs: Signs) -> str:
    """The line above a row: the rails go through, before wins over predicted."""
    cells = [" "] * (int(scale.last) + 1)
    for rail in ladder.rails:
        cells[_column(scale, rail)] = signs.rail
    for value, sign in ((beside.predicted, signs.predicted), (beside.before, signs.before)):
        if value is not None:
            cells[_column(scale, value)] = sign
    return "".join(cells)


def _column(scale: Scale, value: float) -> int:
    return min(max(round(scale(value)), 0), int(scale.last))


def _rung(row: Row, ladder: Ladder, scale: Scale, signs: Signs, nothing: str) -> str:
    """One row of the plot: rung, rails, then interval, then the dot, each over what was before.

    ``nothing`` is what stands on the rung of a cylinder of which nothing is known.
    """
    first, last = (_column(scale, rail) for rail in ladder.rails)
    cells = [signs.beyond] * (int(scale.last) + 1)
    cells[first + 1 : last] = [signs.inside] * max(last - first - 1, 0)
    cells[first] = cells[last] = signs.rail
    if row.flow is not None:
        _draw_dot(cells, row, scale, signs)
    elif row.bound is not None:
        _draw_bound(cells, row, scale, signs)
    elif row.possible is not None:
        start, end = (_column(scale, value) for value in row.possible)
        end = max(end, start + 2) if start + 2 < len(cells) else end
        cells[start : end + 1] = [signs.dash] * (end - start + 1)
        cells[start] = cells[end] = signs.unclear
    else:
        words = f" {nothing} "
        start = max((len(cells) - len(words)) // 2, 0)
        cells[start : start + len(words)] = list(words[: len(cells)])
    return "".join(cells)


def _draw_dot(cells: list[str], row: Row, scale: Scale, signs: Signs) -> None:
    centre = _column(scale, row.flow or 0.0)
    half = row.half_width or 0.0
    start = min(_column(scale, (row.flow or 0.0) - half), centre - 1)
    end = max(_column(scale, (row.flow or 0.0) + half), centre + 1)
    open_end, line, close_end = signs.interval
    for column in range(max(start, 0), min(end, len(cells) - 1) + 1):
        cells[column] = line
    if start >= 0:
        cells[start] = open_end
    if end < len(cells):
        cells[end] = close_end
    cells[centre] = signs.dot


def _draw_bound(cells: list[str], row: Row, scale: Scale, signs: Signs) -> None:
    at = _column(scale, row.bound or 0.0)
    step = -1 if row.bound_side == "below" else 1
    for distance in range(1, _ARROW):
        cells[at + step * distance] = signs.dash
    cells[at + step * _ARROW] = signs.bound[0 if step < 0 else 1]
    cells[at] = signs.rail


def _nothing(row: Row, voice: Voice) -> str:
    if row.status == "no-signal":
        return voice.label(row.silent_words, cylinder=row.cylinder)
    return voice.label("not-known")


def _offset(row: Row, voice: Voice) -> str:
    text = cells.short_offset(row, voice)
    return f"{text} %" if text else ""


def _head(ladder: Ladder, voice: Voice, scale: Scale, write: Callable[[str], str]) -> str:
    """The sides, and the goal over its rails; in a narrow plot the sides are said shorter, or the goal not at all."""
    columns = int(scale.last) + 1
    goal = write(voice.label("goal", goal=stripped(ladder.goal, 2, voice.marks)))
    full = write(voice.label("rich-side")), write(voice.label("lean-side"))
    short = write(voice.word("side", "rich")), write(voice.word("side", "lean"))
    fits = [sides for sides in (full, short) if len(f"{sides[0]} {goal} {sides[1]}") <= columns]
    rich, lean = fits[0] if fits else full
    cells = [" "] * columns
    _write(cells, 0, rich)
    _write(cells, columns - len(lean), lean)
    if fits:
        middle = (_column(scale, ladder.rails[0]) + _column(scale, ladder.rails[1])) / 2.0
        start = round(middle - (len(goal) - 1) / 2.0)
        _write(cells, min(max(start, len(rich) + 1), columns - len(lean) - 1 - len(goal)), goal)
    return "".join(cells)


def _axis(ladder: Ladder, voice: Voice, scale: Scale, label_columns: int, room: int) -> str:
    """Ticks, and what they are; the unit alone where the words have no room."""
    columns = label_columns + int(scale.last) + 1
    cells = [" "] * columns
    wanted = (int(scale.last) + 1) / 9.0
    while True:
        values, decimals = ticks(scale.low, scale.high, wanted)
        numbers = [plain(value, decimals, voice.marks) for value in values]
        starts = [
            label_columns + _column(scale, value) - (len(text) - 1) // 2
            for value, text in zip(values, numbers, strict=True)
        ]
        ends = [start + len(text) + 2 for start, text in zip(starts, numbers, strict=True)]
        if wanted < 1.0 or all(end <= start for end, start in zip(ends, starts[1:], strict=False)):
            break
        wanted -= 0.5
    for start, text in zip(starts, numbers, strict=True):
        if start + len(text) <= columns:
            _write(cells, start, text)
    caption = voice.label("fuel-flow-axis", unit=ladder.unit)
    return "".join(cells) + _GAP + (caption if len(caption) <= room else ladder.unit)


def _write(cells: list[str], start: int, text: str) -> None:
    cells[start : start + len(text)] = list(text)
