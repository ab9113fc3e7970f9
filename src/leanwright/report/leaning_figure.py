"""The leaning guide drawn: a strip a cylinder with its EGT below its own peak against total flow, and what is out of bounds shaded."""

from collections.abc import Sequence
from itertools import pairwise
from xml.etree.ElementTree import Element

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.leaning import Guide, Row
from leanwright.report.figures.marks import INSIDE, axis_marks
from leanwright.report.figures.svg import circle, figure, line, number, path, rect, text, text_width
from leanwright.report.numbers import plain
from leanwright.report.scale import Scale
from leanwright.report.units import show, show_difference, sign_of
from leanwright.report.words import Voice

Floats = NDArray[np.float64]
HEAD, STRIP, FOOT, LEFT, RIGHT = 62.0, 48.0, 48.0, 84.0, 12.0
DEEPEST_F = -120.0
"""What lies farther below the peak is not drawn [degF]."""
LABEL_LINE = 18.0


def leaning_figure(guide: Guide, voice: Voice, *, width: float, label: str) -> str:
    """Strips with the leanest cylinder first; flow rises to the right as in the ladder."""
    numbers = sorted(guide.peaks_gph, key=lambda one: -guide.peaks_gph[one])
    flows = [_flow(row.flow_gph, voice) for row in guide.rows]
    scale = Scale(min(flows), max(flows), LEFT, width - RIGHT)
    deepest = _deepest(guide)
    bottom = HEAD + STRIP * len(numbers)
    marks = [*_out_of_bounds(guide, scale, voice, bottom), *_sides(scale, voice)]
    for place, cylinder in enumerate(numbers):
        top = HEAD + STRIP * place
        height = Scale(deepest, 0.0, top + STRIP - 2.0, top + 10.0)
        marks += _strip(guide, cylinder, scale, height, voice)
    below = show_difference(deepest, "df", voice.units)
    marks += [
        text("t-note", LEFT - 8.0, HEAD + 14.0, "0", "end"),
        text(
            "t-note",
            LEFT - 8.0,
            HEAD + STRIP - 2.0,
            f"{plain(below.value, 0, voice.marks)} {below.sign}",
            "end",
        ),
        *_lines(guide, scale, voice, bottom),
        *axis_marks(
            scale, bottom, voice, voice.label("axis-curves", unit=sign_of("gph", voice.units)), right=width
        ),
    ]
    return figure(width, bottom + FOOT, marks, label=label)


def _flow(flow_gph: float, voice: Voice) -> float:
    return show(flow_gph, "gph", voice.units).value


def _deepest(guide: Guide) -> float:
    """The floor of the strips: where the shallowest part worth seeing ends [degF], in tens."""
    low, high = guide.rows[-1].flow_gph, guide.rows[0].flow_gph
    seen = [below[(flow >= low) & (flow <= high)] for flow, below in guide.curves.values()]
    least = min((float(one.min()) for one in seen if one.size), default=-50.0)
    return min(max(DEEPEST_F, 10.0 * float(np.floor(least / 10.0))), -10.0)


def _sides(scale: Scale, voice: Voice) -> list[Element]:
    """Less flow is leaner: the whole engine's sides, over the plot."""
    return [
        text("t-head", scale.first, 14.0, voice.label("leaning-leaner")),
        text("t-head", scale.last, 14.0, voice.label("leaning-richer"), "end"),
    ]


def _out_of_bounds(guide: Guide, scale: Scale, voice: Voice, bottom: float) -> list[Element]:
    """The flows that the guide does not advise, shaded."""
    rows = sorted(guide.rows, key=lambda row: row.flow_gph)
    edges = [rows[0].flow_gph, *(_edge(guide, *pair) for pair in pairwise(rows)), rows[-1].flow_gph]
    marks = []
    for row, (low, high) in zip(rows, pairwise(edges), strict=True):
        if not row.within:
            left, right = scale(_flow(low, voice)), scale(_flow(high, voice))
            marks.append(rect("band", left, HEAD, right - left + 0.5, bottom - HEAD))
    return marks


def _edge(guide: Guide, below: Row, above: Row) -> float:
    """Between two flows: where exactly what is advised ends, as far as that is one flow, else half-way [gal/h]."""
    exact = [guide.leanest_flown_gph, guide.rough_at_gph]
    exact += [flow for one in guide.limits if one.of == "fuel_flow" for flow in (one.least, one.most)]
    between = [flow for flow in exact if flow is not None and below.flow_gph <= flow <= above.flow_gph]
    return between[0] if between and below.within != above.within else (below.flow_gph + above.flow_gph) / 2.0


def _strip(guide: Guide, cylinder: int, scale: Scale, height: Scale, voice: Voice) -> list[Element]:
    """One cylinder: its curve, and its peak as a dot on a stem."""
    peak = scale(_flow(guide.peaks_gph[cylinder], voice))
    marks = [
        text("t-number", 4.0, (height.first + height.last) / 2.0 + 7.0, str(cylinder)),
        line("grid", scale.first, height.last, scale.last, height.last),
    ]
    if cylinder in guide.curves:
        flow, below = guide.curves[cylinder]
        shown = (below >= height.low) & (flow >= guide.rows[-1].flow_gph) & (flow <= guide.rows[0].flow_gph)
        points = [
            (scale(_flow(f, voice)), height(b))
            for f, b in zip(flow[shown].tolist(), below[shown].tolist(), strict=True)
        ]
        if len(points) > 1:
            marks.append(path("trace", "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points)))
    return [
        *marks,
        line("stem", peak, height.last, peak, height.first),
        circle("dot", peak, height.last, INSIDE),
    ]


def _lines(guide: Guide, scale: Scale, voice: Voice, bottom: float) -> list[Element]:
    """Where these recordings end, where a cylinder misfired, and the owner's limits, each with its words."""
    at = [(guide.leanest_flown_gph, voice.label("leaning-flown-mark"), "rung-broken")]
    if guide.rough_at_gph is not None:
        at.append((guide.rough_at_gph, voice.label("leaning-rough-mark"), "rung-broken"))
    for limit in guide.limits:
        if limit.of == "fuel_flow":
            bounds = ((limit.least, "card-least"), (limit.most, "card-most"))
            at += [
                (flow, voice.label(name, value=_words(flow, voice)), "rail")
                for flow, name in bounds
                if flow is not None
            ]
    inside = [(_flow(flow, voice), words, paint) for flow, words, paint in at]
    return _labelled([one for one in inside if scale.low <= one[0] <= scale.high], scale, bottom)


def _words(flow_gph: float, voice: Voice) -> str:
    shown = show(flow_gph, "gph", voice.units)
    return f"{plain(shown.value, 1, voice.marks)} {shown.sign}"


def _labelled(lines: Sequence[tuple[float, str, str]], scale: Scale, bottom: float) -> list[Element]:
    """Lines from left to right; a label that would run into the one before goes a line lower."""
    marks: list[Element] = []
    ends = [-1e9, -1e9]
    for flow, words, paint in sorted(lines):
        x, wide = scale(flow), text_width(words, 13.0)
        start = min(max(x - wide / 2.0, scale.first), scale.last - wide)
        row = 0 if start > ends[0] + 8.0 else 1
        ends[row] = start + wide
        marks += [
            line(paint, x, HEAD - 4.0, x, bottom),
            text("t-head", start, 34.0 + LABEL_LINE * row, words),
        ]
    return marks
