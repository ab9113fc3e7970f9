"""The engine from above while a nozzle is in the hand: where it may go, where it may not, and where you are."""

from collections.abc import Collection
from xml.etree.ElementTree import Element

from leanwright.engine.profile import EngineProfile
from leanwright.report.figures.engine import Box, drawn_engine, fins
from leanwright.report.figures.svg import line, rect, text
from leanwright.report.words import Voice

_WIDTH, _HEIGHT = 74.0, 34.0
_STRIPES = 8.0
_STRIPES_END = 46.0
"""Hatching leaves the number free [px from the outer end]."""


def positions_figure(
    profile: EngineProfile, voice: Voice, *, here: int | None, allowed: Collection[int] | None, label: str
) -> str:
    """Draw it; ``allowed`` is ``None`` while nothing is known of a nozzle. Empty where no place is known."""
    if not profile.places:
        return ""

    def inside(number: int, box: Box) -> list[Element]:
        return _box(number, box, here=number == here, allowed=None if allowed is None else number in allowed)

    return drawn_engine(profile, voice, inside, label=label, box_width=_WIDTH, box_height=_HEIGHT)


def _box(number: int, box: Box, *, here: bool, allowed: bool | None) -> list[Element]:
    paint = "box"
    if here:
        paint = "box-refused" if allowed is False else "box-out"
    elif allowed:
        paint = "box-allowed"
    left = box.place.bank == "left"
    inner = box.x + box.width - 8.0 if left else box.x + 8.0
    inset = 3.0 if paint != "box" else 0.0
    marks = [
        rect(paint, box.x + inset, box.y + inset, box.width - 2.0 * inset, box.height - 2.0 * inset, 2.0)
    ]
    marks += _hatching(box) if allowed is False else fins(box)
    return [*marks, text("t-box-number", inner, box.y + 26.0, str(number), "end" if left else "start")]


def _hatching(box: Box) -> list[Element]:
    start = box.x + 6.0 if box.place.bank == "left" else box.x + box.width - _STRIPES_END
    tall = box.height - 12.0
    count = int((_STRIPES_END - 6.0 - tall) / _STRIPES) + 1
    return [
        line(
            "hatch", start + step * _STRIPES, box.y + 6.0 + tall, start + step * _STRIPES + tall, box.y + 6.0
        )
        for step in range(count)
    ]
