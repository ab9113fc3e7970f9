"""The engine from above for the worksheet: the new marking beside each cylinder that gets one, the others left alone."""

from collections.abc import Mapping
from typing import Final
from xml.etree.ElementTree import Element

from leanwright.report.cleaning import clean
from leanwright.report.figures.engine import Box, drawn_engine, fins
from leanwright.report.figures.print_look import printed
from leanwright.report.figures.svg import rect, text
from leanwright.report.sheet_source import OfEngine, cylinder_words
from leanwright.report.words import Voice

_WIDTH: Final = 142.0
_HEIGHT: Final = 58.0
_MONO: Final = "Atkinson Hyperlegible Mono, DejaVu Sans Mono, monospace"
_SIZES: Final = ((9, "19"), (12, "15"), (16, "11.5"))
"""How many signs of a marking find room in a box at which size [px]; a longer one is cut, the block has it whole."""


def engine_drawing(planned: Mapping[int, str], of: OfEngine, voice: Voice) -> str:
    """The drawing in the print look; empty where no place is known."""
    if not of.profile.places:
        return ""

    def inside(number: int, box: Box) -> list[Element]:
        return _box(number, box, planned.get(number), voice)

    shown = engine_says(planned, of, voice)
    drawing = drawn_engine(of.profile, voice, inside, label=shown, box_width=_WIDTH, box_height=_HEIGHT)
    return printed(drawing)


def engine_says(planned: Mapping[int, str], of: OfEngine, voice: Voice) -> str:
    """What the drawing shows, cylinder by cylinder."""
    leave = voice.label("paper-leave")
    places = "; ".join(
        f"{cylinder_words(number, voice)} {clean(planned.get(number, leave))}"
        for number in sorted(of.profile.places)
    )
    return voice.label("paper-engine-shows", places=places)


def _box(number: int, box: Box, marking: str | None, voice: Voice) -> list[Element]:
    left = box.place.bank == "left"
    inner = box.x + box.width - 10.0 if left else box.x + 10.0
    outer = box.x + 18.0 if left else box.x + box.width - 18.0
    side, other = ("end", "start") if left else ("start", "end")
    marks = [
        rect("box-out" if marking else "box", box.x, box.y, box.width, box.height, 2.0),
        *fins(box),
        text("t-box-number", inner, box.y + 24.0, str(number), side),
        text("t-box", outer, box.y + 20.0, voice.label("paper-new" if marking else "paper-leave"), other),
    ]
    if marking:
        marks.append(_marking(clean(marking), outer, box.y + box.height - 11.0, other))
    return marks


def _marking(marking: str, x: float, y: float, anchor: str) -> Element:
    size = next((size for longest, size in _SIZES if len(marking) <= longest), "")
    if not size:
        longest, size = _SIZES[-1]
        marking = marking[: longest - 1] + "…"
    # Not of a class that the print look paints anew: it would take the size back.
    element = text("t-box-out", x, y, marking, anchor)
    element.attrib |= {
        "class": "marking",
        "font-family": _MONO,
        "font-size": size,
        "font-weight": "700",
        "fill": "#000",
    }
    return element
