"""The ladder with what was before and what was predicted: three tracks a row; or where a plan leads each cylinder."""

from collections.abc import Mapping
from xml.etree.ElementTree import Element

from leanwright.engine.profile import EngineProfile
from leanwright.report.beside import Beside, Compared
from leanwright.report.figures.ladder import Beside as Marks
from leanwright.report.figures.ladder import ladder_figure
from leanwright.report.figures.ladder_phone import phone_ladder
from leanwright.report.figures.paint import attributes
from leanwright.report.figures.svg import circle, line, number, rect
from leanwright.report.ladder import Row
from leanwright.report.scale import Scale
from leanwright.report.words import Voice

ROW = 44.0
PHONE = 600.0
_ABOVE, _BELOW = 12.0, 9.0
_HOLLOW, _BAR, _TICK = 4.2, 6.0, 11.0
_FAR = 24.0
"""From this distance on a line leads from before to above the dot [px]."""


def compared_ladder(
    compared: Compared, profile: EngineProfile, voice: Voice, *, width: float, label: str, ident: str
) -> str:
    """Before above each rung, what came on it, predicted below; ``ident`` names this drawing on its page.

    A screen narrower than :data:`PHONE` [px] gets the form for phones.
    """

    def tracks(row: Row, scale: Scale, y: float) -> list[Element]:
        return _tracks(row, compared.beside.get(row.cylinder, Beside()), scale, y, ident)

    return _drawn(compared, profile, voice, width, label, tracks, [_hatch(ident)])


def planned_ladder(
    compared: Compared, profile: EngineProfile, voice: Voice, *, width: float, label: str
) -> str:
    """A hollow dot where each cylinder is likely to come, and a dashed line to it from where it is now."""

    def way(row: Row, scale: Scale, y: float) -> list[Element]:
        return _way(row, compared.beside, scale, y)

    return _drawn(compared, profile, voice, width, label, way, [])


def _drawn(
    compared: Compared,
    profile: EngineProfile,
    voice: Voice,
    width: float,
    label: str,
    marks: Marks,
    definitions: list[Element],
) -> str:
    if width < PHONE:
        return phone_ladder(compared.ladder, voice, label=label, beside=marks, definitions=definitions)
    return ladder_figure(
        compared.ladder, profile, voice, width=width, label=label, row_height=ROW, beside=marks,
        definitions=definitions,
    )  # fmt: skip


def _hatch(ident: str) -> Element:
    pattern = Element(
        "pattern",
        {"id": f"{ident}-hatch", "width": "4", "height": "4", "patternUnits": "userSpaceOnUse",
         "patternTransform": "rotate(45)"},
    )  # fmt: skip
    pattern.append(line("hatch", 0.0, 0.0, 0.0, 4.0))
    definitions = Element("defs")
    definitions.append(pattern)
    return definitions


def _tracks(row: Row, one: Beside, scale: Scale, y: float, ident: str) -> list[Element]:
    marks: list[Element] = []
    if one.before is not None:
        x, above = scale(one.before), y - _ABOVE
        if row.flow is not None and abs(scale(row.flow) - x) > _FAR:
            marks.append(line("before-way", x, above, scale(row.flow), above))
        marks.append(circle("before", x, above, _HOLLOW))
    if one.predicted is not None:
        x, below = scale(one.predicted), y + _BELOW
        if one.half_width:
            first, last = (scale(one.predicted + sign * one.half_width) for sign in (-1.0, 1.0))
            bar = Element(
                "rect", {**attributes("left-out"), **_box(first, below - _BAR / 2.0, last - first, _BAR)}
            )
            bar.set("fill", f"url(#{ident}-hatch)")
            marks.append(bar)
        marks.append(line("predicted", x, below - _TICK / 2.0, x, below + _TICK / 2.0))
    return marks


def _box(x: float, y: float, width: float, height: float) -> dict[str, str]:
    return {"x": number(x), "y": number(y), "width": number(width), "height": number(height)}


def _way(row: Row, beside: Mapping[int, Beside], scale: Scale, y: float) -> list[Element]:
    predicted = beside.get(row.cylinder, Beside()).predicted
    if predicted is None or row.flow is None:
        return []
    x, now = scale(predicted), scale(row.flow)
    below = y + _BELOW
    marks: list[Element] = []
    half = beside[row.cylinder].half_width
    if half:
        first, last = scale(predicted - half), scale(predicted + half)
        marks.append(rect("planned-range", first, below - 1.0, last - first, 2.0))
    if abs(now - x) > _FAR:
        marks.append(line("planned-way", now, below, x, below))
    marks.append(circle("before", x, below, _HOLLOW))
    return marks
