"""The ladder: a row a cylinder, its dot and interval on a fuel-flow axis, the goal drawn to scale as two rails."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from leanwright.engine.profile import EngineProfile
from leanwright.report import cells
from leanwright.report.figures.glyph import glyph_beside
from leanwright.report.figures.marks import axis_marks, head_marks, row_marks
from leanwright.report.figures.svg import figure, line, rect, text, text_width
from leanwright.report.ladder import Ladder, Row
from leanwright.report.scale import Scale
from leanwright.report.words import Voice

NUMBER_X, PLACE_X, PLOT_X = 34.0, 54.0, 172.0
ROW, HEAD, FOOT = 42.0, 44.0, 52.0
GAP, TAIL = 24.0, 200.0
LEAST_PLOT, MOST_PLOT = 240.0, 640.0
_HAND = 134.0
"""Where the sign for "by hand" stands, after the value [px]."""


@dataclass(frozen=True, slots=True)
class Plot:
    """Where the plot lies and how flow maps onto it."""

    scale: Scale
    top: float
    bottom: float


Beside = Callable[[Row, Scale, float], list[Element]]
"""What else is drawn on a row: the row, the axis, and the height of its rung [px]."""


def nothing_beside(_row: Row, _scale: Scale, _y: float) -> list[Element]:
    """Nothing."""
    return []


def ladder_figure(
    ladder: Ladder,
    profile: EngineProfile,
    voice: Voice,
    *,
    width: float,
    label: str,
    described_by: str = "",
    row_height: float = ROW,
    beside: Beside = nothing_beside,
    definitions: Sequence[Element] = (),
) -> str:
    """The ladder for a screen or a sheet at least as wide as ``width`` [px].

    ``beside`` draws what else stands on a row; ``definitions`` are what it refers to.
    """
    first, tail = plot_start(ladder, voice), _tail(ladder, voice)
    plot_width = min(max(width - first - GAP - tail, LEAST_PLOT), MOST_PLOT)
    bottom = HEAD + row_height * len(ladder.rows)
    scale = scale_with_room(ladder, first, first + plot_width)
    plot = Plot(scale, HEAD, bottom)
    total = first + plot_width + GAP + tail
    children = [*definitions, *_head(ladder, voice, plot, total), *_rails(ladder, plot)]
    for number, row in enumerate(ladder.rows):
        y = HEAD + row_height * (number + 0.5)
        children.append(glyph_beside(profile, row.cylinder, y, row_height))
        children += _labels(row, voice, y, plot, total)
        children += row_marks(row, ladder, voice, scale, y)
        children += beside(row, scale, y)
    children += axis_marks(scale, bottom, voice, voice.label("axis", unit=ladder.unit))
    return figure(total, bottom + FOOT, children, label=label, described_by=described_by, form="ladder")


def plot_start(ladder: Ladder, voice: Voice) -> float:
    """Where the plot begins: right of the longest name of a place [px]."""
    widest = max(text_width(voice.place(row.cylinder), 15.0) for row in ladder.rows)
    return max(PLOT_X, PLACE_X + widest + 12.0)


def _tail(ladder: Ladder, voice: Voice) -> float:
    """How much room the value and the offset need [px]."""
    value = max(text_width(cells.value(row, voice), 15.0) for row in ladder.rows)
    offset = max(text_width(cells.short_offset(row, voice), 15.0) for row in ladder.rows)
    heads = text_width(_value_head(ladder, voice), 13.0) + text_width(voice.label("offset-percent"), 13.0)
    return max(TAIL, value + offset + 20.0, heads + 14.0)


def _value_head(ladder: Ladder, voice: Voice) -> str:
    return voice.label("flow-at-peak-short", unit=ladder.unit)


def scale_with_room(ladder: Ladder, first: float, last: float, arrow: float = 58.0) -> Scale:
    """The axis, widened where an arrow towards an unknown side needs room [px]."""
    low, high = ladder.ends
    share = arrow / (last - first)
    below = [row.bound for row in ladder.rows if row.bound is not None and row.bound_side == "below"]
    above = [row.bound for row in ladder.rows if row.bound is not None and row.bound_side == "above"]
    for bound in below:
        low = min(low, (bound - share * high) / (1.0 - share))
    for bound in above:
        high = max(high, (bound - share * low) / (1.0 - share))
    return Scale(low, high, first, last)


def _head(ladder: Ladder, voice: Voice, plot: Plot, total: float) -> list[Element]:
    value_x = plot.scale.last + GAP
    return [
        *head_marks(ladder, voice, plot.scale, label_y=14.0, arrow_y=28.0, top=HEAD),
        text("t-note", value_x, 14.0, _value_head(ladder, voice)),
        text("t-note", total, 14.0, voice.label("offset-percent"), "end"),
    ]


def _rails(ladder: Ladder, plot: Plot) -> list[Element]:
    low, high = (plot.scale(rail) for rail in ladder.rails)
    return [
        rect("band", low, plot.top, high - low, plot.bottom - plot.top),
        line("rail", low, plot.top, low, plot.bottom),
        line("rail", high, plot.top, high, plot.bottom),
    ]


def _labels(row: Row, voice: Voice, y: float, plot: Plot, total: float) -> list[Element]:
    out = "-out" if row.outside else ""
    base = y + 5.0
    value = cells.value(row, voice)
    value_x = plot.scale.last + GAP
    marks = [
        text("t-number", NUMBER_X, y + 7.0, str(row.cylinder)),
        text(f"t-place{out}", PLACE_X, base, voice.place(row.cylinder)),
        text(f"t-value{out}", value_x, base, value),
    ]
    short = cells.short_offset(row, voice)
    if short:
        marks.append(text(f"t-value{out}", total, base, short, "end"))
    if row.by_hand:
        marks.append(rect("hand", value_x + _HAND, y - 3.5, 7.0, 7.0))
    return marks
