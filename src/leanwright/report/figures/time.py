"""The flight over time: phases, fuel flow, EGTs and manifold pressure on one axis, sweeps shaded and numbered."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal
from xml.etree.ElementTree import Element

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.flight import Phase
from leanwright.analysis.sweep import Sweep
from leanwright.recordings.recording import Recording
from leanwright.report.cleaning import without_commands
from leanwright.report.figures.paint import attributes, cased, casing
from leanwright.report.figures.svg import figure, group, line, path, rect, text, text_width
from leanwright.report.numbers import clock, plain
from leanwright.report.scale import Scale, ticks, time_ticks
from leanwright.report.tokens import colour
from leanwright.report.trace import outline
from leanwright.report.units import show, sign_of
from leanwright.report.words import Voice, say

Floats = NDArray[np.float64]
Form = Literal["wide", "phone"]
_BAND, _NUMBERS, _APART, _FOOT = 22.0, 18.0, 14.0, 28.0
_PHONE_NAME = 18.0
_NAMES = 172.0
_LEAST_ROWS = 60
"""Fewer rows in flight tell no range of EGTs."""
_LOWEST = 0.01
_SAMPLE = 30.0
"""The room of a piece of a line before the name of its cylinder [px]."""


@dataclass(frozen=True, slots=True, eq=False)
class Panel:
    """One quantity over time: its name, height and traces [reader's unit]."""

    name: str
    height: float
    traces: tuple[tuple[int | None, Floats], ...]
    """(cylinder, or ``None`` for a trace of the whole engine; values)."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A sweep on the time axis; ``number`` is that of a used one."""

    sweep: Sweep
    number: int | None


def time_figure(
    recording: Recording,
    phases: Sequence[Phase],
    stretches: Sequence[Stretch],
    picked: Sequence[int],
    voice: Voice,
    *,
    engine: int,
    width: float,
    label: str,
    described_by: str = "",
    form: Form = "wide",
    ident: str = "time",
) -> str:
    """The flight over time; ``picked`` cylinders are drawn in their colours, the others grey.

    ``ident`` starts the names of what is defined inside the drawing, so that several can stand on one page.
    """
    panels = _panels(recording, engine, voice, _flying(recording.time_s, phases))
    left, right = (
        (46.0, width - _names_room(panels, picked, voice)) if form == "wide" else (44.0, width - 4.0)
    )
    across = Scale(0.0, max(recording.duration_s, 1.0), left, right)
    named = 0.0 if form == "wide" else _PHONE_NAME
    top = _BAND + _NUMBERS + named
    bottom = top + sum(panel.height for panel in panels) + (_APART + named) * (len(panels) - 1)
    children = [_hatch(ident), *_phases(phases, across, voice)]
    children += [_stretch(one, across, _BAND + _NUMBERS, bottom, ident, voice) for one in stretches]
    children += _stretch_words(stretches, across, voice)
    for panel in panels:
        children += _panel(panel, recording.time_s, across, top, picked, voice, form)
        top += panel.height + _APART + named
    children += _axis(across, bottom, voice, form)
    return figure(
        width, bottom + _FOOT, children, label=label, described_by=described_by, form=f"time-{form}"
    )


def _names_room(panels: Sequence[Panel], picked: Sequence[int], voice: Voice) -> float:
    """How much room the names at the right end need [px]."""
    names = [text_width(panel.name, 13.0) for panel in panels]
    names += [_SAMPLE + text_width(_name(cylinder, voice), 13.0) for cylinder in picked]
    return max([_NAMES, *(name + 12.0 for name in names)])


def _name(cylinder: int, voice: Voice) -> str:
    return f"{cylinder} {voice.place(cylinder)}".rstrip()


def _flying(time_s: Floats, phases: Sequence[Phase]) -> NDArray[np.bool_]:
    """The rows in flight; all of them where no flight of some length is known."""
    flying = np.zeros(time_s.size, dtype=bool)
    for phase in phases:
        if phase.kind != "ground":
            flying |= (time_s >= phase.start_s) & (time_s <= phase.end_s)
    return flying if np.count_nonzero(flying) >= _LEAST_ROWS else np.ones(time_s.size, dtype=bool)


def _panels(recording: Recording, engine: int, voice: Voice, flying: NDArray[np.bool_]) -> list[Panel]:
    """Fuel flow, EGTs and manifold pressure, as far as the recording holds them.

    EGTs are drawn from the lowest in flight up: on the ground and while the engine warms up they would press all that tells
    something into a few pixels.
    """
    found = []
    for quantity, unit, height in (
        ("fuel_flow", "gph", 72.0),
        ("egt", "f", 148.0),
        ("manifold_pressure", "inhg", 56.0),
    ):
        cylinders = recording.cylinders(engine) if quantity == "egt" else (None,)
        traces = tuple(
            (cylinder, show_all(values, unit, voice))
            for cylinder in cylinders
            if (values := recording.values(quantity, cylinder, engine)) is not None
            and np.isfinite(values).any()
        )
        if quantity == "egt":
            traces = _from_the_lowest(traces, flying)
        if traces:
            name = f"{voice.word('quantity', quantity)}, {sign_of(unit, voice.units)}"
            found.append(Panel(name, height, traces))
    return found


def _from_the_lowest(
    traces: tuple[tuple[int | None, Floats], ...], flying: NDArray[np.bool_]
) -> tuple[tuple[int | None, Floats], ...]:
    """Traces without what lies below all but the lowest hundredth of the readings in flight."""
    readings = [values[flying & np.isfinite(values)] for _, values in traces]
    readings = [values for values in readings if values.size]
    if not readings:
        return traces
    least = min(float(np.quantile(values, _LOWEST)) for values in readings)
    return tuple((cylinder, np.where(values < least, np.nan, values)) for cylinder, values in traces)


def show_all(values: Floats, unit: str, voice: Voice) -> Floats:
    """A whole channel in the reader's unit."""
    zero, one = (show(at, unit, voice.units).value for at in (0.0, 1.0))
    return values * (one - zero) + zero


def _hatch(ident: str) -> Element:
    pattern = Element(
        "pattern",
        {"id": f"{ident}-hatch", "width": "6", "height": "6", "patternUnits": "userSpaceOnUse",
         "patternTransform": "rotate(45)"},
    )  # fmt: skip
    pattern.append(line("hatch", 0.0, 0.0, 0.0, 6.0))
    definitions = Element("defs")
    definitions.append(pattern)
    return definitions


def _phases(phases: Sequence[Phase], across: Scale, voice: Voice) -> list[Element]:
    marks = []
    for phase in phases:
        x, end = across(phase.start_s), across(phase.end_s)
        words = voice.word("phase", phase.kind)
        title = voice.label("from-to", what=words, start=clock(phase.start_s), end=clock(phase.end_s))
        inside = [rect("phase", x, 0.0, max(end - x - 1.0, 0.5), _BAND)]
        if end - x > text_width(words, 13.0) + 4.0:
            inside.append(text("t-note", (x + end) / 2.0, 15.5, words, "middle"))
        marks.append(group(inside, title=title))
    return marks


def _stretch(one: Stretch, across: Scale, top: float, bottom: float, ident: str, voice: Voice) -> Element:
    """A sweep over all panels: a wash; left out: hatched; by hand: a dashed outline. Its title tells more."""
    sweep = one.sweep
    x = across(sweep.start_s)
    wide = max(across(sweep.end_s) - x, 2.0)
    if one.number is None:
        shape = Element("rect", {**attributes("left-out"), **_at(x, top, wide, bottom - top)})
        shape.set("fill", f"url(#{ident}-hatch)")
        why = without_commands(say(sweep.reason, voice)).rstrip(".") if sweep.reason else ""
        reason = voice.colon + why if why else ""
        what = voice.label("left-out") + reason
    else:
        shape = rect("wash", x, top, wide, bottom - top)
        what = f"{voice.label('sweep')} {one.number}, {voice.word('direction', sweep.direction)}"
    title = voice.label("from-to", what=what, start=clock(sweep.start_s), end=clock(sweep.end_s))
    shapes = [shape]
    if sweep.by_hand:
        shapes.append(rect("hand-outline", x, top, wide, bottom - top))
    return group(shapes, title=title)


def _at(x: float, y: float, width: float, height: float) -> dict[str, str]:
    return {"x": f"{x:.2f}", "y": f"{y:.2f}", "width": f"{width:.2f}", "height": f"{height:.2f}"}


def _stretch_words(stretches: Sequence[Stretch], across: Scale, voice: Voice) -> list[Element]:
    """Numbers above the sweeps; words where they have room, and none over another."""
    marks = []
    y = _BAND + _NUMBERS - 5.0
    taken: list[tuple[float, float]] = []
    for one in sorted(stretches, key=lambda stretch: stretch.number is None):
        words = voice.label("left-out") if one.number is None else str(one.number)
        half = text_width(words, 14.0) / 2.0
        middle = (across(one.sweep.start_s) + across(one.sweep.end_s)) / 2.0
        middle = min(middle, across.last - half)
        if any(middle - half < end and middle + half > start for start, end in taken):
            continue
        taken.append((middle - half, middle + half))
        marks.append(text("t-note" if one.number is None else "t-accent", middle, y, words, "middle"))
    return marks


def _panel(
    panel: Panel,
    time_s: Floats,
    across: Scale,
    top: float,
    picked: Sequence[int],
    voice: Voice,
    form: Form,
) -> list[Element]:
    up, values, decimals = _vertical(panel, top)
    marks: list[Element] = []
    for value in values:
        y = up(value)
        marks.append(line("grid", across.first, y, across.last, y))
        marks.append(text("t-note", across.first - 6.0, y + 4.5, plain(value, decimals, voice.marks), "end"))
    chosen = [cylinder for cylinder in picked if cylinder in {number for number, _ in panel.traces}]
    for cylinder, trace in sorted(panel.traces, key=lambda one: one[0] in chosen):
        d = outline(time_s, trace, across, up)
        marks += _trace(cylinder, d, chosen=cylinder in chosen)
    return [*marks, *_names(panel, chosen, across, top, voice, form)]


def _vertical(panel: Panel, top: float) -> tuple[Scale, list[float], int]:
    """The panel's own scale, its ends on round values."""
    everything = np.concatenate([values[np.isfinite(values)] for _, values in panel.traces])
    low, high = float(everything.min()), float(everything.max())
    if high - low < 1e-6:
        low, high = low - 1.0, high + 1.0
    values, decimals = ticks(low, high, wanted=1.0 + panel.height / 36.0)
    low, high = min(low, values[0]), max(high, values[-1])
    return Scale(low, high, top + panel.height, top), values, decimals


def _trace(cylinder: int | None, d: str, *, chosen: bool) -> list[Element]:
    if cylinder is None:
        return [path("trace", d)]
    if not chosen or colour(cylinder) is None:
        return [path("trace" if chosen else "trace-other", d)]
    drawn = path(f"curve-{cylinder}", d)
    drawn.attrib |= {"class": f"trace-pick curve-{cylinder}", "stroke-width": "2"}
    if not cased(cylinder):
        return [drawn]
    under = Element("path", {**casing(), "d": d, "stroke-width": "3.5"})
    return [under, drawn]


def _names(
    panel: Panel, chosen: Sequence[int], across: Scale, top: float, voice: Voice, form: Form
) -> list[Element]:
    """The panel's name and the picked cylinders, each with a piece of its line: at the right end, on a phone above."""
    if form == "phone":
        marks = [text("t-head", across.first, top - 5.0, panel.name)]
        x = across.first + text_width(panel.name, 13.0) + 10.0
        for cylinder in chosen:
            marks += [*_sample(cylinder, x, top - 9.0), text("t-head", x + 28.0, top - 5.0, str(cylinder))]
            x += 28.0 + text_width(str(cylinder), 13.0) + 14.0
        return marks
    x = across.last + 10.0
    marks = [text("t-head", x, top + panel.height - 4.0, panel.name)]
    for number, cylinder in enumerate(chosen):
        y = top + 12.0 + 18.0 * number
        marks += [*_sample(cylinder, x, y - 4.0), text("t-head", x + _SAMPLE, y, _name(cylinder, voice))]
    if chosen and len(panel.traces) > len(chosen):
        y = top + 12.0 + 18.0 * len(chosen)
        marks.append(line("trace-other", x, y - 4.0, x + 24.0, y - 4.0))
        marks.append(text("t-note", x + _SAMPLE, y, voice.label("the-others")))
    return marks


def _sample(cylinder: int, x: float, y: float) -> list[Element]:
    return _trace(cylinder, f"M{x:g} {y:g}h24", chosen=True)


def _axis(across: Scale, bottom: float, voice: Voice, form: Form) -> list[Element]:
    marks = [line("axis", across.first, bottom, across.last, bottom)]
    for at in time_ticks(across.high, wanted=7.0 if form == "wide" else 4.0):
        x = across(at)
        hours, minutes = divmod(int(at) // 60, 60)
        marks.append(line("axis", x, bottom, x, bottom + 6.0))
        words = f"{hours}:{minutes:02d}"
        if x + text_width(words, 13.0) / 2.0 <= across.last + 4.0:
            marks.append(text("t-note", x, bottom + 21.0, words, "middle"))
    if form == "wide":
        marks.append(text("t-note", across.last + 10.0, bottom + 21.0, voice.label("hours-minutes")))
    return marks
