"""Cylinders over the recordings, drawn: one band a cylinder, changes and work marked across."""

from collections.abc import Sequence
from typing import Final, Literal
from xml.etree.ElementTree import Element

import numpy as np

from leanwright.analysis.trend_past import Point
from leanwright.report.figures.svg import circle, figure, line, number, path, text
from leanwright.report.numbers import plain
from leanwright.report.watch_document import Watched
from leanwright.report.words import Voice

Shown = Literal["offset", "egt", "cht"]

BAND: Final = 44.0
LEFT: Final = 46.0
TOP: Final = 8.0
FOOT: Final = 22.0
LEAST_RANGE: Final[dict[Shown, float]] = {"offset": 3.0, "egt": 15.0, "cht": 10.0}
"""A band shows this much at least on each side of its middle [percent, degF]."""


def trend_figure(watched: Watched, shown: Shown, voice: Voice, *, width: float, label: str) -> str:
    """One quantity of every cylinder, from the first recording to the last; gaps stay gaps."""
    moments = watched.trend.moments
    numbers = sorted({point.cylinder for moment in moments for point in moment.points})
    values = {
        cylinder: [
            next((_value(point, shown) for point in moment.points if point.cylinder == cylinder), None)
            for moment in moments
        ]
        for cylinder in numbers
    }
    known = [abs(v) for each in values.values() for v in each if v is not None]
    far = max([LEAST_RANGE[shown], *known])
    step = (width - LEFT - 10.0) / max(len(moments) - 1, 1)
    height = TOP + BAND * len(numbers) + FOOT
    marks = list(_marks(watched, step, height - FOOT))
    for place, cylinder in enumerate(numbers):
        middle = TOP + BAND * (place + 0.5)
        marks += [
            text("t-words", LEFT - 8.0, middle + 4.0, str(cylinder), "end"),
            line("rung", LEFT, middle, width - 10.0, middle),
            *_course(values[cylinder], middle, step, (BAND / 2.0 - 4.0) / far),
        ]
    scale = f"± {plain(far, 1, voice.marks)}"
    marks.append(text("t-note", LEFT, height - 6.0, f"1 – {len(moments)}; {scale}"))
    return figure(width, height, marks, label=label)


def _value(point: Point, shown: Shown) -> float | None:
    return point.offset_percent if shown == "offset" else point.residual.get(shown)


def _course(values: Sequence[float | None], middle: float, step: float, scale: float) -> list[Element]:
    """A line through neighbours that are there, and a dot at each."""
    drawn: list[Element] = []
    places = [(LEFT + step * n, middle - scale * v) for n, v in enumerate(values) if v is not None]
    if len(places) > 1:
        course = "M" + "L".join(f"{number(x)} {number(y)}" for x, y in places)
        drawn.append(path("trace", course))
    dot = float(np.clip(step / 3.0, 0.8, 2.4))
    return drawn + [circle("dot", x, y, dot) for x, y in places]


def _marks(watched: Watched, step: float, bottom: float) -> list[Element]:
    """A line where a change was first there, in the band of its cylinder or across all."""
    moments = watched.trend.moments
    numbers = sorted({point.cylinder for moment in moments for point in moment.points})
    drawn = []
    for event in watched.events:
        x = LEFT + step * list(watched.names).index(event.first_recording)
        if event.cylinder in numbers:
            top = TOP + BAND * numbers.index(event.cylinder)
            drawn.append(line("reach", x, top + 2.0, x, top + BAND - 2.0))
        else:
            drawn.append(line("reach", x, TOP, x, bottom))
    for day in watched.work_days:
        place = next((n for n, at in enumerate(watched.started_at) if (at or "")[:10] >= day), None)
        if place is not None:
            drawn.append(line("rung-broken", LEFT + step * place, TOP, LEFT + step * place, bottom))
    return drawn
