"""Verdict signs and the mark: rails and dots, the whole idea in little."""

from functools import cache
from xml.etree.ElementTree import Element

from leanwright.analysis.balance import Verdict
from leanwright.report.figures.svg import circle, line, ornament, polygon

SIZE = 40.0
_RAILS = (11.0, 29.0)


@cache
def verdict_sign(verdict: Verdict) -> str:
    """The sign of a verdict; its word stands beside it."""
    rails = [line("sign", x, 3.0, x, 37.0) for x in _RAILS]
    dots: list[Element]
    if verdict == "even":
        dots = [circle("sign-good", 20.0 + dx, y, 4.2) for dx, y in ((2.0, 9.0), (-2.5, 20.0), (1.0, 31.0))]
    elif verdict == "uneven":
        dots = [
            circle("sign-accent", 36.0, 9.0, 4.0),
            circle("sign-dot", 20.0, 20.0, 4.2),
            circle("sign-accent", 4.0, 31.0, 4.0),
        ]
    else:
        dots = [
            line("sign-warn", 2.5, 20.0, 37.5, 20.0),
            line("sign-warn", 2.5, 14.0, 2.5, 26.0),
            line("sign-warn", 37.5, 14.0, 37.5, 26.0),
            circle("sign-warn-dot", 20.0, 20.0, 5.0),
        ]
    return ornament(SIZE, SIZE, [*rails, *dots], form="sign-drawing")


def stop_sign() -> str:
    """The sign of a refusal: an octagon with a bar; the word stands beside it."""
    corners = [
        (13.0, 3.0),
        (27.0, 3.0),
        (37.0, 13.0),
        (37.0, 27.0),
        (27.0, 37.0),
        (13.0, 37.0),
        (3.0, 27.0),
        (3.0, 13.0),
    ]
    return ornament(SIZE, SIZE, [polygon("sign-stop", corners), line("sign-stop", 12.0, 20.0, 28.0, 20.0)])


def mark(size: float = 28.0) -> str:
    """The mark of the program: rails, rungs, three dots between."""
    unit = size / 28.0
    rails = [line("sign", x * unit, 2.0 * unit, x * unit, 26.0 * unit) for x in (7.0, 21.0)]
    rungs = [line("rung-in", 7.0 * unit, y * unit, 21.0 * unit, y * unit) for y in (6.0, 14.0, 22.0)]
    dots = [circle("sign-accent", 14.0 * unit, y * unit, 3.6 * unit) for y in (6.0, 14.0, 22.0)]
    return ornament(size, size, [*rails, *rungs, *dots], form="mark")
