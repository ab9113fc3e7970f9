"""The round in little: a ring of seven arcs, the step where one is drawn heavier, its word beside it."""

import math
from functools import cache
from typing import Final, Literal
from xml.etree.ElementTree import Element

from leanwright.report.figures.svg import line, number, ornament, path

Step = Literal["measure", "explain", "choose", "receive", "fit", "release", "prove"]
STEPS: Final[tuple[Step, ...]] = ("measure", "explain", "choose", "receive", "fit", "release", "prove")
_RADIUS, _MIDDLE, _SIZE = 24.0, 32.0, 64.0
_GAP_DEGREES = 16.0
_TURN = 360.0 / len(STEPS)


@cache
def small_ring(here: Step) -> str:
    """The ring with the steps before ``here`` drawn, ``here`` heavy, those to come thin; a stem for watching on top."""
    place = STEPS.index(here)
    paints = ["ring-past"] * place + ["ring-here"] + ["ring-to-come"] * (len(STEPS) - place - 1)
    arcs = [_arc(paint, step) for step, paint in enumerate(paints)]
    top = _MIDDLE - _RADIUS
    stem = [
        line("ring-stem", _MIDDLE, top - 5.0, _MIDDLE, top + 1.0),
        line("ring-stem", _MIDDLE - 4.0, top - 5.0, _MIDDLE + 4.0, top - 5.0),
    ]
    return ornament(_SIZE, _SIZE, [*arcs, *stem], form="round")


def _arc(paint: str, step: int) -> Element:
    """Clockwise from just right of the top, so that the fourth step, receiving, lies at the bottom."""
    start = _TURN * step + _GAP_DEGREES / 2.0
    (x0, y0), (x1, y1) = (_at(angle) for angle in (start, start + _TURN - _GAP_DEGREES))
    radius = number(_RADIUS)
    return path(paint, f"M{number(x0)} {number(y0)}A{radius} {radius} 0 0 1 {number(x1)} {number(y1)}")


def _at(degrees: float) -> tuple[float, float]:
    angle = math.radians(degrees)
    return _MIDDLE + _RADIUS * math.sin(angle), _MIDDLE - _RADIUS * math.cos(angle)
