"""The ladder in little: numbers only, for lists and for one sweep beside its table."""

from xml.etree.ElementTree import Element

from leanwright.report.figures.svg import circle, figure, line, rect, text
from leanwright.report.ladder import Ladder, Row
from leanwright.report.scale import Scale

WIDTH, ROW = 220.0, 17.0
_PLOT_X, _EDGE = 24.0, 4.0


def small_ladder(ladder: Ladder, *, label: str, width: float = WIDTH) -> str:
    """Rails, dots and intervals; what could not be had leaves its rung empty."""
    low, high = ladder.ends
    scale = Scale(low, high, _PLOT_X, width - _EDGE)
    bottom = ROW * len(ladder.rows)
    left, right = (scale(rail) for rail in ladder.rails)
    children: list[Element] = [
        rect("band", left, 0.0, right - left, bottom),
        line("rail-small", left, 0.0, left, bottom),
        line("rail-small", right, 0.0, right, bottom),
    ]
    for number, row in enumerate(ladder.rows):
        children += _row(row, scale, ROW * (number + 0.5), (left, right))
    return figure(width, bottom, children, label=label, form="ladder-small")


def _row(row: Row, scale: Scale, y: float, rails: tuple[float, float]) -> list[Element]:
    out = "-out" if row.outside else ""
    marks = [text("t-head" if row.outside else "t-note", 0.0, y + 4.5, str(row.cylinder))]
    if row.flow is None:
        return [*marks, line("rung-broken", scale.first, y, scale.last, y)]
    marks.append(line("rung-in", rails[0], y, rails[1], y))
    if row.half_width:
        ends = [scale(row.flow + sign * row.half_width) for sign in (-1.0, 1.0)]
        marks.append(line(f"whisker-small{out}", ends[0], y, ends[1], y))
    marks.append(circle(f"dot{out}", scale(row.flow), y, 3.8))
    return marks
