"""The place glyph: the engine from above in little, one cylinder filled. It stands before every cylinder number."""

from xml.etree.ElementTree import Element

from leanwright.engine.profile import EngineProfile
from leanwright.report.figures.svg import group, line, ornament, rect

WIDTH, HEIGHT = 22.0, 28.0
_APART = 2.0
_BOX, _TOP, _GAP, _STAGGER = 7.5, 4.0, 1.5, 1.5


def glyph_marks(profile: EngineProfile, cylinder: int) -> list[Element]:
    """The marks of the glyph, with its upper left corner at the origin; none where no place is known."""
    if not profile.places:
        return []
    rows = 1 + max(place.row for place in profile.places.values())
    tall = (HEIGHT - _TOP - _STAGGER - 1.0 - _GAP * (rows - 1)) / rows
    middle = WIDTH / 2.0
    marks = [
        line("glyph-case", middle - 6.0, 1.5, middle + 6.0, 1.5),
        line("glyph-case", middle, 1.5, middle, HEIGHT - 1.0),
    ]
    for number, place in sorted(profile.places.items()):
        x = middle - 2.0 - _BOX if place.bank == "left" else middle + 2.0
        y = _TOP + place.row * (tall + _GAP) + (_STAGGER if place.bank == aft_bank(profile) else 0.0)
        marks.append(rect("glyph-here" if number == cylinder else "glyph", x, y, _BOX, tall))
    return marks


def glyph_beside(profile: EngineProfile, cylinder: int, y: float, row_height: float) -> Element:
    """The glyph at the left of a row about ``y``, made smaller where the row is low [px]."""
    scale = min(1.0, (row_height - _APART) / HEIGHT)
    return group(glyph_marks(profile, cylinder), at=(0.0, y - scale * HEIGHT / 2.0), scale=scale)


def place_glyph(profile: EngineProfile, cylinder: int) -> str:
    """The glyph as a drawing of its own, for tables and headings; empty where no place is known."""
    if not profile.places:
        return ""
    return ornament(WIDTH, HEIGHT, glyph_marks(profile, cylinder), form="glyph-drawing")


def aft_bank(profile: EngineProfile) -> str:
    """The bank that lies a little further aft: that of the rearmost number of an engine numbered from the rear.

    Empty for an engine that is counted from neither end: nothing tells which bank it is.
    """
    first = profile.places.get(1)
    if first is None or profile.numbering is None:
        return ""
    if profile.numbering == "from-rear":
        return first.bank
    return "left" if first.bank == "right" else "right"
