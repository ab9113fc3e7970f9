"""The ladder in little: numbers only, for lists and for one sweep beside its table."""

from collections.abc import Collection
from xml.etree.ElementTree import Element

from leanwright.report.beside import Beside, Compared
from leanwright.report.figures.svg import circle, figure, line, rect, text
from leanwright.report.ladder import Ladder, Row
from leanwright.report.scale import Scale

WIDTH, ROW = 220.0, 17.0
_PLOT_X, _EDGE = 24.0, 4.0
_FAR = 7.0
"""From this distance on the way from now to then is drawn [px]."""


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


def small_plan(compared: Compared, changed: Collection[int], *, label: str, width: float = WIDTH) -> str:
    """Where a choice is likely to bring each cylinder: hollow dots; a small dot where it is now; changed numbers bold."""
    ladder = compared.ladder
    scale = Scale(*ladder.ends, _PLOT_X, width - _EDGE)
    bottom = ROW * len(ladder.rows)
    left, right = (scale(rail) for rail in ladder.rails)
    children: list[Element] = [
        rect("band", left, 0.0, right - left, bottom),
        line("rail-small", left, 0.0, left, bottom),
        line("rail-small", right, 0.0, right, bottom),
    ]
    for number, row in enumerate(ladder.rows):
        y = ROW * (number + 0.5)
        beside = compared.beside.get(row.cylinder, Beside())
        children.append(
            text("t-head" if row.cylinder in changed else "t-note", 0.0, y + 4.5, str(row.cylinder))
        )
        children += _planned(row, beside, scale, y, (left, right))
    return figure(width, bottom, children, label=label, form="ladder-small")


def _planned(row: Row, beside: Beside, scale: Scale, y: float, rails: tuple[float, float]) -> list[Element]:
    if row.flow is None or beside.predicted is None:
        return [line("rung-broken", scale.first, y, scale.last, y)]
    now, then = scale(row.flow), scale(beside.predicted)
    marks = [line("rung-in", rails[0], y, rails[1], y)]
    if abs(now - then) > _FAR:
        marks += [line("planned-way", now, y, then, y), circle("dot", now, y, 2.4)]
    if beside.half_width:
        first, last = (scale(beside.predicted + sign * beside.half_width) for sign in (-1.0, 1.0))
        marks.append(rect("planned-range", first, y - 1.0, last - first, 2.0))
    return [*marks, circle("before", then, y, 3.8)]


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
