"""The engine from above: propeller up, cockpit down, every cylinder where it lies, its offset as a bar."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from leanwright.engine.profile import EngineProfile, Place
from leanwright.report import cells
from leanwright.report.figures.glyph import aft_bank
from leanwright.report.figures.svg import figure, line, path, polygon, rect, text, text_width
from leanwright.report.ladder import Row
from leanwright.report.numbers import NO_BREAK
from leanwright.report.words import Voice

BOX, TALL, GAP, STAGGER = 104.0, 62.0, 8.0, 12.0
CASE, LEFT, PROPELLER, FOOT = 30.0, 66.0, 40.0, 44.0
FULL_SCALE_PERCENT = 5.0
_BAR_HALF = 34.0


@dataclass(frozen=True, slots=True)
class Box:
    """The box of one cylinder."""

    x: float
    y: float
    width: float
    height: float
    place: Place


def engine_figure(
    rows: Sequence[Row],
    profile: EngineProfile,
    voice: Voice,
    *,
    label: str,
    described_by: str = "",
    box_height: float = TALL,
) -> str:
    """The engine with number, offset and bar in each box; those outside the rails wear the accent."""
    by_number = {row.cylinder: row for row in rows}

    def inside(number: int, box: Box) -> list[Element]:
        return _cylinder(box, by_number.get(number, Row(number, "no-signal")), voice)

    return drawn_engine(profile, voice, inside, label=label, described_by=described_by, box_height=box_height)


def drawn_engine(
    profile: EngineProfile,
    voice: Voice,
    inside: Callable[[int, Box], Sequence[Element]],
    *,
    label: str,
    described_by: str = "",
    box_width: float = BOX,
    box_height: float = TALL,
) -> str:
    """Propeller, crankcase, words of the rows; ``inside`` draws each cylinder's box and what stands in it."""
    left = max([LEFT, *(text_width(words, 13.0) + 16.0 for words in _rows(profile, voice).values())])
    boxes = {
        number: _box(profile, place, left, box_width, box_height) for number, place in profile.places.items()
    }
    bottom = max((box.y + box.height for box in boxes.values()), default=PROPELLER) + 6.0
    middle = left + box_width + CASE / 2.0
    children = [
        *_propeller(middle),
        rect("case", middle - CASE / 2.0, PROPELLER - 10.0, CASE, bottom - PROPELLER + 10.0, 4.0),
    ]
    for row, words in _rows(profile, voice).items():
        y = PROPELLER + row * (box_height + GAP) + (box_height + STAGGER) / 2.0 + 4.0
        children.append(text("t-note", left - 12.0, y, words, "end"))
    for number, box in sorted(boxes.items()):
        children += inside(number, box)
    children += [
        polygon(
            "arrow",
            [(middle - 46.0, bottom + 16.0), (middle - 36.0, bottom + 16.0), (middle - 41.0, bottom + 23.0)],
        ),
        text("t-note", middle - 30.0, bottom + 24.0, voice.label("cockpit-this-way")),
    ]
    width = left + 2.0 * box_width + CASE + 4.0
    return figure(width, bottom + FOOT, children, label=label, described_by=described_by, form="engine")


def _box(profile: EngineProfile, place: Place, left: float, width: float, height: float) -> Box:
    x = left if place.bank == "left" else left + width + CASE
    stagger = STAGGER if place.bank == aft_bank(profile) else 0.0
    return Box(x, PROPELLER + place.row * (height + GAP) + stagger, width, height, place)


def _propeller(x: float) -> list[Element]:
    tip, root = 88.0, 7.0
    blades = [
        path(
            "blade",
            f"M{x + side * root} 17.5C{x + side * 36.0} 11 {x + side * 68.0} 13.5 {x + side * tip} 17.5"
            f"C{x + side * 68.0} 20 {x + side * 36.0} 22 {x + side * root} 19.5Z",
        )
        for side in (-1.0, 1.0)
    ]
    spinner = path("blade", f"M{x - 8} 30C{x - 8} 14 {x - 4} 4 {x} 2C{x + 4} 4 {x + 8} 14 {x + 8} 30Z")
    return [*blades, spinner]


def _rows(profile: EngineProfile, voice: Voice) -> dict[int, str]:
    """What each row of the engine is called."""
    return {place.row: voice.row(number) for number, place in sorted(profile.places.items())}


def _cylinder(box: Box, row: Row, voice: Voice) -> list[Element]:
    """Number next to the crankcase, offset above its bar, cooling fins at the outer end."""
    left = box.place.bank == "left"
    inner = box.x + BOX - 10.0 if left else box.x + 10.0
    outward = -1.0 if left else 1.0
    bar_x = box.x + (BOX - 46.0 if left else 46.0) + outward * 14.0
    marks = [rect("box-out" if row.outside else "box", box.x, box.y, BOX, box.height, 2.0)]
    marks += fins(box)
    marks.append(
        text("t-box-number", inner, box.y + 0.45 * box.height, str(row.cylinder), "end" if left else "start")
    )
    short = cells.short_offset(row, voice)
    if not short:
        middle = box.x + BOX / 2.0 - outward * 7.0
        return [
            *marks,
            text("t-box", middle, box.y + box.height - 10.0, voice.word("status", row.status), "middle"),
        ]
    paint, base = "t-box-out" if row.outside else "t-box", box.y + 0.39 * box.height
    marks.append(text(paint, bar_x, base, f"{short}{NO_BREAK}%", "middle"))
    return [*marks, *_bar(row, bar_x, box.y + 0.71 * box.height)]


def fins(box: Box) -> list[Element]:
    """Cooling fins at the outer end of a box."""
    left = box.place.bank == "left"
    edge, inward = (box.x, 1.0) if left else (box.x + box.width, -1.0)
    return [
        line("fin", edge + inward * inset, box.y + 6.0, edge + inward * inset, box.y + box.height - 6.0)
        for inset in (5.0, 8.5, 12.0)
    ]


def _bar(row: Row, x: float, y: float) -> list[Element]:
    """The offset as a bar from a centre line, lean to the right on both banks; cut with an open end."""
    if row.offset_percent is None:
        return []
    share = max(-1.0, min(1.0, row.offset_percent / FULL_SCALE_PERCENT))
    long = share * _BAR_HALF
    paint = "bar-out" if row.outside else "bar"
    marks = [
        line("scale", x - _BAR_HALF, y, x + _BAR_HALF, y),
        rect(paint, min(x, x + long), y - 4.5, abs(long), 9.0),
    ]
    if abs(row.offset_percent) > FULL_SCALE_PERCENT:
        tip = x + long
        marks.append(rect("blank", tip - (4.0 if share > 0 else -2.0), y - 4.5, 2.0, 9.0))
    return [*marks, rect("bar", x - 0.9, y - 8.0, 1.8, 16.0)]
