"""Marks that every form of the ladder shares: goal, rung, dot, interval, bound, possible range, axis."""

import math
from xml.etree.ElementTree import Element

from leanwright.report.figures.svg import arrow_head, circle, line, polygon, rect, text, text_width
from leanwright.report.ladder import Ladder, Row
from leanwright.report.numbers import plain, stripped
from leanwright.report.scale import Scale, ticks
from leanwright.report.words import Voice

INSIDE, OUTSIDE = 5.5, 6.5
_TICK_LABEL = 16.0
"""A tick's number nearer than this to the figure's left edge would be cut [px]."""
_APART = 8.0
"""Room between two labels on one line [px]."""


def head_marks(
    ladder: Ladder,
    voice: Voice,
    scale: Scale,
    *,
    label_y: float,
    arrow_y: float,
    top: float,
    margin: float = 0.0,
) -> list[Element]:
    """What stands over a plot: its sides, and the goal as a dimension line over the rails.

    Where the words have no room the sides are said in one word each. ``margin`` is the free room beside the plot.
    """
    first, last = scale.first - margin, scale.last + margin
    goal = voice.label("goal-unit", goal=stripped(ladder.goal, 2, voice.marks), unit=ladder.unit)
    half = text_width(goal, 13.0) / 2.0 + _APART
    sides = voice.label("rich-side"), voice.label("lean-side")
    if sum(text_width(side, 13.0) for side in sides) + 2.0 * half > last - first:
        sides = voice.word("side", "rich"), voice.word("side", "lean")
    low, high = (scale(rail) for rail in ladder.rails)
    nearest, farthest = first + text_width(sides[0], 13.0) + half, last - text_width(sides[1], 13.0) - half
    middle = min(max((low + high) / 2.0, nearest), farthest)
    return [
        text("t-head", first, label_y, sides[0]),
        text("t-head", last, label_y, sides[1], "end"),
        text("t-head", middle, label_y, goal, "middle"),
        *_goal_line(low, high, arrow_y, top),
    ]


def _goal_line(low: float, high: float, arrow_y: float, top: float) -> list[Element]:
    """A dimension line over the rails; where they stand too close its arrows point inwards."""
    marks = [
        line("dimension", low, arrow_y - 5.0, low, top),
        line("dimension", high, arrow_y - 5.0, high, top),
    ]
    if high - low >= 16.0:
        marks += [
            line("dimension", low, arrow_y, high, arrow_y),
            arrow_head(low, arrow_y, -1, 6.0),
            arrow_head(high, arrow_y, 1, 6.0),
        ]
    else:
        marks += [
            line("dimension", low - 18.0, arrow_y, low, arrow_y),
            line("dimension", high, arrow_y, high + 18.0, arrow_y),
            arrow_head(low, arrow_y, 1, 6.0),
            arrow_head(high, arrow_y, -1, 6.0),
        ]
    return marks


def row_marks(row: Row, ladder: Ladder, voice: Voice, scale: Scale, y: float) -> list[Element]:
    """What is drawn on one rung."""
    if row.flow is None and row.bound is None and row.possible is None:
        return _nothing(row, voice, scale, y)
    low, high = (scale(rail) for rail in ladder.rails)
    rungs = [line("rung", scale.first, y, scale.last, y), line("rung-in", low, y, high, y)]
    if row.flow is not None:
        return [*rungs, *_dot(row, scale, y, (low, high))]
    if row.bound is not None:
        return [*rungs, *_bound(row, scale, y)]
    return [*rungs, *_possible(row, scale, y)]


def _dot(row: Row, scale: Scale, y: float, rails: tuple[float, float]) -> list[Element]:
    x = scale(row.flow or 0.0)
    out = "-out" if row.outside else ""
    marks = []
    if row.outside:
        marks.append(line("reach", rails[1] if row.outside == "lean" else rails[0], y, x, y))
    if row.half_width:
        ends = [scale((row.flow or 0.0) + sign * row.half_width) for sign in (-1.0, 1.0)]
        marks.append(line(f"whisker{out}", ends[0], y, ends[1], y))
        marks += [line(f"whisker{out}", end, y - 4.0, end, y + 4.0) for end in ends]
    marks.append(circle(f"dot{out}", x, y, OUTSIDE if row.outside else INSIDE))
    return marks


def _bound(row: Row, scale: Scale, y: float) -> list[Element]:
    """A bar at the bound and a dashed arrow towards the side where the peak lies."""
    x = scale(row.bound or 0.0)
    way = -1 if row.bound_side == "below" else 1
    tip = x + way * 54.0
    return [
        line("bound", x, y - 8.0, x, y + 8.0),
        line("bound-way", x, y, tip - way * 9.0, y),
        arrow_head(tip, y, way, 10.0),
    ]


def _possible(row: Row, scale: Scale, y: float) -> list[Element]:
    """Two hollow diamonds at the ends of the range in which the peak may lie."""
    ends = [scale(value) for value in row.possible or (0.0, 0.0)]
    low, high = (min(max(x, scale.first), scale.last) for x in ends)
    half = 6.5
    diamonds = [
        polygon("diamond", [(x - half, y), (x, y - half), (x + half, y), (x, y + half)])
        for x in ends
        if scale.first <= x <= scale.last
    ]
    return [line("possible", low, y, high, y), *diamonds]


def _nothing(row: Row, voice: Voice, scale: Scale, y: float) -> list[Element]:
    """A broken rung, and why in words over it."""
    words = (
        voice.label(row.silent_words, cylinder=row.cylinder)
        if row.status == "no-signal"
        else voice.label("not-known")
    )
    middle = (scale.first + scale.last) / 2.0
    wide = text_width(words, 13.0) + 20.0
    return [
        rect("blank", middle - wide / 2.0, y - 12.0, wide, 24.0),
        line("rung-broken", scale.first, y, middle - wide / 2.0, y),
        line("rung-broken", middle + wide / 2.0, y, scale.last, y),
        text("t-note", middle, y + 4.5, words, "middle"),
    ]


def axis_marks(
    scale: Scale, y: float, voice: Voice, caption: str, wanted: float = 6.3, right: float = math.inf
) -> list[Element]:
    """The axis below a plot: line, ticks, numbers, and what they are; ``right`` is the figure's edge."""
    values, decimals = ticks(scale.low, scale.high, wanted)
    marks = [line("axis", scale.first, y, scale.last, y)]
    for value in values:
        x = scale(value)
        marks.append(line("axis", x, y, x, y + 6.0))
        words = plain(value, decimals, voice.marks)
        if x >= _TICK_LABEL and x + text_width(words, 13.0) / 2.0 <= right:
            marks.append(text("t-note", x, y + 21.0, words, "middle"))
    marks.append(text("t-note", (scale.first + scale.last) / 2.0, y + 42.0, caption, "middle"))
    return marks
