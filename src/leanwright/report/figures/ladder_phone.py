"""The ladder on a phone: the words in a line above each rung, the plot over the whole width."""

from collections.abc import Sequence
from xml.etree.ElementTree import Element

from leanwright.report import cells
from leanwright.report.figures.ladder import Beside, nothing_beside, scale_with_room
from leanwright.report.figures.marks import axis_marks, head_marks, row_marks
from leanwright.report.figures.svg import figure, line, rect, text, text_width
from leanwright.report.ladder import Ladder, Row
from leanwright.report.scale import Scale
from leanwright.report.words import Voice

WIDTH, ROW, HEAD, FOOT = 328.0, 51.0, 44.0, 52.0
_RUNG, _WORDS, _REACH, _MARGIN = 36.0, 16.0, 13.0, 6.0
_HALO = 5.0


def phone_ladder(
    ladder: Ladder,
    voice: Voice,
    *,
    label: str,
    described_by: str = "",
    beside: Beside = nothing_beside,
    definitions: Sequence[Element] = (),
) -> str:
    """The ladder for a screen narrower than the desktop form needs; ``beside`` and ``definitions`` as there."""
    bottom = HEAD + ROW * len(ladder.rows)
    scale = scale_with_room(ladder, _MARGIN, WIDTH - _MARGIN)
    children = [
        *definitions,
        *head_marks(ladder, voice, scale, label_y=14.0, arrow_y=28.0, top=HEAD, margin=_MARGIN),
    ]
    for number, row in enumerate(ladder.rows):
        top = HEAD + ROW * number
        children += [_thin(scale(rail), top, row, voice) for rail in ladder.rails]
        children += _row(row, ladder, voice, scale, top)
        children += beside(row, scale, top + _RUNG)
    children += axis_marks(scale, bottom, voice, voice.label("axis", unit=ladder.unit), 4.0, WIDTH)
    return figure(WIDTH, bottom + FOOT, children, label=label, described_by=described_by, form="ladder-phone")


def _thin(x: float, top: float, row: Row, voice: Voice) -> Element:
    """A rail beside a row, broken where the words above the rung would lie on it."""
    words = 18.0 + text_width(voice.place(row.cylinder), 15.0)
    value = WIDTH - text_width(cells.value(row, voice), 15.0)
    over = x < words + _HALO or x > value - _HALO
    return line("rail-thin", x, top + _WORDS + _HALO if over else top, x, top + ROW)


def _row(row: Row, ladder: Ladder, voice: Voice, scale: Scale, top: float) -> list[Element]:
    y = top + _RUNG
    low, high = (scale(rail) for rail in ladder.rails)
    out = "-out" if row.outside else ""
    return [
        rect("band", low, y - _REACH, high - low, 2.0 * _REACH),
        *(line("rail-phone", x, y - _REACH, x, y + _REACH) for x in (low, high)),
        *row_marks(row, ladder, voice, scale, y),
        text("t-value-out", 0.0, top + _WORDS, str(row.cylinder), haloed=True),
        text(f"t-place{out}", 18.0, top + _WORDS, voice.place(row.cylinder), haloed=True),
        text(f"t-value{out}", WIDTH, top + _WORDS, cells.value(row, voice), "end", haloed=True),
    ]
