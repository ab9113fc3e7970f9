"""An engine over the recordings, drawn: offsets and temperatures of each cylinder, and the spread; changes and work marked across."""

from collections.abc import Sequence
from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from leanwright.report.cleaning import clean
from leanwright.report.figures.svg import circle, figure, line, number, path, text
from leanwright.report.numbers import plain
from leanwright.report.units import show_difference
from leanwright.report.watch_document import Watched
from leanwright.report.watch_tables import Shown, event_place, heading, value_of, work_places
from leanwright.report.words import Voice
from leanwright.report.words.dates import day_in_words

Course = Sequence[float | None]

BAND: Final = 34.0
LEFT: Final = 46.0
HEAD: Final = 30.0
APART: Final = 22.0
DAY: Final = 150.0
"""Days stand at least so far apart."""
LEAST_RANGE: Final[dict[Shown, float]] = {"offset": 3.0, "egt": 15.0, "cht": 10.0}
"""A band shows this much at least on each side of its middle [percent, degF]."""
LEAST_SPREAD: Final = 5.0
"""The spread's band reaches this high at least [percent]."""


def trend_figure(watched: Watched, voice: Voice, *, width: float, label: str) -> str:
    """Every quantity that was seen, one below the other, from the first recording to the last.

    Offsets are joined from one recording with a sweep to the next; temperatures only between neighbours, so that a gap stays one.
    """
    step = (width - LEFT - 10.0) / max(len(watched.trend.moments) - 1, 1)
    marks: list[Element] = []
    top = 0.0
    for shown in LEAST_RANGE:
        courses = _courses(watched, shown)
        known = [abs(v) for course in courses.values() for v in course if v is not None]
        if known:
            far = max(LEAST_RANGE[shown], *known)
            marks += _block(
                watched,
                courses,
                top,
                (step, far),
                heading(shown, voice),
                joined=shown == "offset",
            )
            marks.append(text("t-note", width - 10.0, top + 16.0, f"± {_reach(shown, far, voice)}", "end"))
            top += HEAD + BAND * len(courses) + APART
    spread = [value for value in watched.spread_percent if value is not None]
    if spread:
        marks += _spread(watched, top, (step, max(LEAST_SPREAD, *spread)), width, voice)
        top += HEAD + BAND + APART
    marks += _days(watched, top + 2.0, step, voice)
    return figure(width, top + 10.0, marks, label=label)


def _days(watched: Watched, base: float, step: float, voice: Voice) -> list[Element]:
    """Under the whole: the day of the first recording, of the last, and of each change that has room between."""
    last = len(watched.names) - 1
    told = {0: "start", last: "end"} if last else {0: "start"}
    taken = [LEFT, LEFT + step * last]
    for event in watched.events:
        place = event_place(watched, event)
        if all(abs(LEFT + step * place - x) > DAY for x in taken):
            told[place] = "middle"
            taken.append(LEFT + step * place)
    return [
        text("t-note", LEFT + step * place, base, _day(watched, place, voice), anchor)
        for place, anchor in told.items()
    ]


def _day(watched: Watched, place: int, voice: Voice) -> str:
    """The day of a recording, or its name where no clock ran."""
    started = watched.started_at[place]
    return day_in_words(started[:10], voice.catalogue) if started else clean(watched.names[place], 16)


def _courses(watched: Watched, shown: Shown) -> dict[int, Course]:
    moments = watched.trend.moments
    numbers = sorted({point.cylinder for moment in moments for point in moment.points})
    return {
        cylinder: [
            next((value_of(point, shown) for point in moment.points if point.cylinder == cylinder), None)
            for moment in moments
        ]
        for cylinder in numbers
    }


def _reach(shown: Shown, far: float, voice: Voice) -> str:
    """How far a band reaches, in the reader's unit."""
    if shown == "offset":
        return f"{plain(far, 1, voice.marks)} %"
    turned = show_difference(far, "df", voice.units)
    return f"{plain(turned.value, 0, voice.marks)} {turned.sign}"


def _block(
    watched: Watched,
    courses: dict[int, Course],
    top: float,
    scale: tuple[float, float],
    heading: str,
    *,
    joined: bool,
) -> list[Element]:
    """One quantity: a band a cylinder, its course about 0."""
    step, far = scale
    marks = [text("t-head", LEFT, top + 16.0, heading), *_marks(watched, list(courses), top + HEAD, step)]
    for place, (cylinder, course) in enumerate(courses.items()):
        middle = top + HEAD + BAND * (place + 0.5)
        marks += [
            text("t-words", LEFT - 8.0, middle + 4.0, str(cylinder), "end"),
            line("rung", LEFT, middle, LEFT + step * (len(course) - 1), middle),
            *_course(course, middle, (step, (BAND / 2.0 - 3.0) / far), joined=joined),
        ]
    return marks


def _spread(
    watched: Watched, top: float, scale: tuple[float, float], width: float, voice: Voice
) -> list[Element]:
    """The spread over its own 0, which is the floor of its band."""
    step, far = scale
    floor = top + HEAD + BAND
    return [
        text("t-head", LEFT, top + 16.0, voice.label("spread", unit="%")),
        text("t-note", width - 10.0, top + 16.0, f"0 – {plain(far, 1, voice.marks)} %", "end"),
        *_marks(watched, [], top + HEAD, step, bottom=floor),
        line("rung", LEFT, floor, LEFT + step * (len(watched.spread_percent) - 1), floor),
        *_course(watched.spread_percent, floor, (step, (BAND - 4.0) / far), joined=True),
    ]


def _course(
    values: Sequence[float | None], middle: float, scale: tuple[float, float], *, joined: bool
) -> list[Element]:
    """A dot at each value that is there, and a line through neighbours, or from each to the next if they are ``joined``."""
    step, up = scale
    places = [(n, LEFT + step * n, middle - up * v) for n, v in enumerate(values) if v is not None]
    courses: list[list[str]] = []
    before = None
    for n, x, y in places:
        if before is None or (n > before + 1 and not joined):
            courses.append([])
        courses[-1].append(f"{number(x)} {number(y)}")
        before = n
    dot = float(np.clip(step / 3.0, 0.8, 2.4))
    drawn = [path("trace", "M" + "L".join(course)) for course in courses if len(course) > 1]
    return drawn + [circle("dot", x, y, dot) for _n, x, y in places]


def _marks(
    watched: Watched, numbers: Sequence[int], top: float, step: float, bottom: float | None = None
) -> list[Element]:
    """A line where a change was first there, in the band of its cylinder or across all; a dotted one where work was done."""
    end = top + BAND * len(numbers) if bottom is None else bottom
    drawn = []
    for event in watched.events:
        x = LEFT + step * event_place(watched, event)
        if event.cylinder in numbers:
            band = top + BAND * numbers.index(event.cylinder)
            drawn.append(line("reach", x, band + 2.0, x, band + BAND - 2.0))
        else:
            drawn.append(line("reach", x, top, x, end))
    drawn += [
        line("rung-broken", LEFT + step * place, top, LEFT + step * place, end)
        for place in work_places(watched)
    ]
    return drawn
