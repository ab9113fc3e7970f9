"""The curves: one strip a cylinder, its EGT below its own peak against total fuel flow, points and fit."""

import math
from collections.abc import Sequence
from xml.etree.ElementTree import Element

import numpy as np
from numpy.typing import NDArray

from leanwright.engine.profile import EngineProfile
from leanwright.report.curves import Strip
from leanwright.report.figures.glyph import glyph_beside
from leanwright.report.figures.ladder import NUMBER_X, PLACE_X, plot_start
from leanwright.report.figures.marks import INSIDE, OUTSIDE, axis_marks
from leanwright.report.figures.paint import cased, casing
from leanwright.report.figures.svg import circle, figure, line, path, rect, text, text_width
from leanwright.report.ladder import Ladder, Row
from leanwright.report.scale import Scale
from leanwright.report.tokens import colour
from leanwright.report.units import sign_of
from leanwright.report.words import Voice

Floats = NDArray[np.float64]
STRIP, HEAD, FOOT, TOP = 64.0, 34.0, 48.0, 8.0
FLOORS = {"us": -70.0, "metric": -40.0}
_HIGHEST = 0.15
"""Points above the peak by more than this share of the strip's depth are noise that would reach the next strip."""
DEPTH_GAP = 8.0
_FIT_STEP = 4.0
_PHONE, _PHONE_STRIP, _PHONE_WORDS = 328.0, 66.0, 20.0


def curves_figure(
    ladder: Ladder,
    strips: Sequence[Strip],
    profile: EngineProfile,
    voice: Voice,
    *,
    width: float,
    label: str,
    described_by: str = "",
    strip_height: float = STRIP,
) -> str:
    """The strips for a screen or a sheet; rows and rails as in the ladder, the axis wider."""
    floor = FLOORS[voice.units]
    depth = f"{floor:.0f}".replace("-", "\u2212")
    first = _plot_start(ladder, voice, depth)
    scale = _scale(ladder, strips, first, width - 24.0, voice)
    bottom = HEAD + strip_height * len(ladder.rows)
    children = _rails(ladder, scale, HEAD, bottom)
    children.append(
        text("t-note", first, 16.0, voice.label("below-own-peak", unit=sign_of("df", voice.units)))
    )
    for position, row in enumerate(ladder.rows):
        top = HEAD + strip_height * position
        out = "-out" if row.outside else ""
        middle = top + strip_height / 2.0
        children += [
            glyph_beside(profile, row.cylinder, middle, strip_height),
            text("t-number", NUMBER_X, middle + 7.0, str(row.cylinder)),
            text(f"t-place{out}", PLACE_X, middle + 5.0, voice.place(row.cylinder)),
            *_strip(row, strips, scale, Scale(floor, 0.0, top + strip_height, top + TOP), voice),
        ]
    children += [
        text("t-note", first - DEPTH_GAP, HEAD + TOP + 4.0, "0", "end"),
        text("t-note", first - DEPTH_GAP, HEAD + strip_height, depth, "end"),
        *axis_marks(scale, bottom, voice, voice.label("axis-curves", unit=ladder.unit)),
    ]
    return figure(width, bottom + FOOT, children, label=label, described_by=described_by, form="curves")


def _plot_start(ladder: Ladder, voice: Voice, depth: str) -> float:
    """Where the plot begins [px]: as in the ladder, and right of the depths that stand beside the first strip's name."""
    name = PLACE_X + text_width(voice.place(ladder.rows[0].cylinder), 15.0)
    return max(plot_start(ladder, voice), name + 4.0 + text_width(depth, 13.0) + DEPTH_GAP)


def phone_curves(
    ladder: Ladder, strips: Sequence[Strip], voice: Voice, *, label: str, described_by: str = ""
) -> str:
    """The strips on a phone: the words in a line above each."""
    scale = _scale(ladder, strips, 6.0, _PHONE - 6.0, voice)
    bottom = _PHONE_STRIP * len(ladder.rows)
    children: list[Element] = []
    floor = FLOORS[voice.units]
    for position, row in enumerate(ladder.rows):
        top = _PHONE_STRIP * position
        out = "-out" if row.outside else ""
        children += [
            *_rails(ladder, scale, top + _PHONE_WORDS, top + _PHONE_STRIP),
            *_strip(
                row, strips, scale, Scale(floor, 0.0, top + _PHONE_STRIP, top + _PHONE_WORDS + 6.0), voice
            ),
            text("t-value-out", 0.0, top + 15.0, str(row.cylinder)),
            text(f"t-place{out}", 18.0, top + 15.0, voice.place(row.cylinder)),
        ]
    children += axis_marks(scale, bottom, voice, voice.label("axis-curves", unit=ladder.unit), 4.0, _PHONE)
    return figure(
        _PHONE, bottom + FOOT, children, label=label, described_by=described_by, form="curves-phone"
    )


def _scale(ladder: Ladder, strips: Sequence[Strip], first: float, last: float, voice: Voice) -> Scale:
    """From the least to the greatest flow of what stands above the floor of the strips."""
    floor = FLOORS[voice.units]
    seen = [np.asarray(ladder.ends)]
    for strip in strips:
        seen += [strip.point_flow[strip.point_egt >= floor], strip.fit_flow[strip.fit_egt >= floor]]
    flows = np.concatenate(seen)
    flows = flows[np.isfinite(flows)]
    return Scale(float(flows.min()), float(flows.max()), first, last)


def _rails(ladder: Ladder, scale: Scale, top: float, bottom: float) -> list[Element]:
    low, high = (scale(rail) for rail in ladder.rails)
    return [
        rect("band", low, top, high - low, bottom - top),
        line("rail-curves", low, top, low, bottom),
        line("rail-curves", high, top, high, bottom),
    ]


def _strip(row: Row, strips: Sequence[Strip], scale: Scale, height: Scale, voice: Voice) -> list[Element]:
    """Points, fit and peak of one cylinder over all sweeps."""
    own = [strip for strip in strips if strip.cylinder == row.cylinder]
    marks = [line("grid", scale.first, height.first, scale.last, height.first)]
    token = colour(row.cylinder)
    for strip in own:
        d = _fit(strip, scale, height)
        if d and cased(row.cylinder):
            marks.append(Element("path", {**casing(), "d": d}))
        if d:
            marks.append(path(f"curve-{row.cylinder}" if token else "trace", d))
    for direction in ("leaning", "enriching"):
        dots = " ".join(_points(strip, scale, height) for strip in own if strip.direction == direction)
        if dots.strip():
            marks += (
                [path("ring", dots), path("ring-hole", dots)]
                if direction == "leaning"
                else [path("disc", dots)]
            )
    if row.flow is not None:
        out = "-out" if row.outside else ""
        x = scale(row.flow)
        marks += [
            line(f"stem{out}", x, height.last, x, height.first),
            circle(f"dot{out}", x, height.last, OUTSIDE if out else INSIDE),
        ]
    else:
        words = voice.word("status", row.status)
        marks.append(text("t-note", scale.last, height.first - 6.0, words, "end", haloed=True))
    return marks


def _points(strip: Strip, scale: Scale, height: Scale) -> str:
    """Dots as strokes of no length with round ends: far shorter than a circle each."""
    return "".join(
        f"M{_short(scale(flow))} {_short(height(egt))}h0"
        for flow, egt in zip(strip.point_flow, strip.point_egt, strict=True)
        if np.isfinite(flow) and height.low <= egt <= _HIGHEST * -height.low
    )


def _fit(strip: Strip, scale: Scale, height: Scale) -> str:
    """The fitted curve as far as it stands above the strip's floor, a point every few pixels."""
    pieces = []
    pen, last = "M", -math.inf
    for flow, egt in zip(strip.fit_flow, strip.fit_egt, strict=True):
        if not np.isfinite(egt) or egt < height.low:
            pen, last = "M", -math.inf
            continue
        x = scale(flow)
        if abs(x - last) >= _FIT_STEP:
            pieces.append(f"{pen}{_short(x)} {_short(height(egt))}")
            pen, last = "L", x
    return "".join(pieces)


def _short(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
