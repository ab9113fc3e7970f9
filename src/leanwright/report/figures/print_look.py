"""The print look: a drawing of the page painted anew for paper, black on white, told by size, dashes and bold."""

from typing import Final
from xml.etree.ElementTree import Element, fromstring, tostring

from leanwright.report.figures.paint import HALO, PAINTS, Paint
from leanwright.report.tokens import COLOURED, SUN

_COLOURED: Final = ("fill", "stroke")
_NAMESPACE: Final = "http://www.w3.org/2000/svg"
# One pixel of a drawing is 0.222 mm on paper: hair lines of 0.25 mm, and 0.8 mm for rails and for what sticks out.
_HAIR, _HEAVY = "1.1", "3.6"
_WIDTHS: Final = {
    "rail": _HEAVY,
    "rail-curves": "2",
    "rung": _HAIR,
    "rung-broken": _HAIR,
    "grid": _HAIR,
    "axis": "1.3",
    "scale": _HAIR,
    "fin": _HAIR,
    "box": "1.6",
    "box-out": _HEAVY,
    "case": "1.6",
    "glyph": _HAIR,
    "reach": "2.8",
    "hand": "1.6",
} | {f"curve-{number}": "1.8" for number in range(1, COLOURED + 1)}
_OUTLINED: Final = {"wash", "phase"}
"""What is told by its shade on the screen wears an outline on paper."""
_OVER_A_RUNG: Final = {"bound-way", "possible"}
_LIGHTEST_BOLD = 600


def printed(drawing: str) -> str:
    """The same drawing in the print look; marks are known by their class, as in the style sheet of the page."""
    root = fromstring(drawing)  # noqa: S314  our own drawing, made a moment ago
    _paint(root)
    root.set("xmlns", _NAMESPACE)
    return tostring(root, encoding="unicode")


def _paint(element: Element) -> None:
    element.tag = element.tag.removeprefix(f"{{{_NAMESPACE}}}")
    names = (element.get("class") or "").split()
    paint = next((PAINTS[name] | _on_paper(name) for name in names if name in PAINTS), None)
    if paint is not None:
        element.attrib |= {key: _black(value) if key in _COLOURED else value for key, value in paint.items()}
    if "haloed" in names:
        # The typesetter paints the halo over the letters.
        for key in HALO:
            element.attrib.pop(key, None)
    children = [child for child in element if child.get("class") != "casing"]
    element[:] = [one for child in children for one in (*_blank_below(child), child)]
    for child in children:
        _paint(child)


def _blank_below(element: Element) -> list[Element]:
    """White below a dashed or dotted line, so that the black rung does not fill its gaps."""
    if element.get("class") not in _OVER_A_RUNG:
        return []
    blank = Element(element.tag.removeprefix(f"{{{_NAMESPACE}}}"), dict(element.attrib))
    for key in ("class", "stroke-dasharray"):
        blank.attrib.pop(key, None)
    blank.attrib |= {"stroke": SUN["paper"], "stroke-width": "5", "stroke-linecap": "butt"}
    return [blank]


def _on_paper(name: str) -> Paint:
    """What differs from the screen besides the colour: widths of lines, outlines, and only two weights of type."""
    changed: Paint = {}
    if name in _WIDTHS:
        changed["stroke-width"] = _WIDTHS[name]
    if name in _OUTLINED:
        changed |= {"stroke": "ink", "stroke-width": "1"}
    weight = PAINTS[name].get("font-weight")
    if weight is not None:
        changed["font-weight"] = "700" if int(weight) >= _LIGHTEST_BOLD else "400"
    return changed


def _black(token: str) -> str:
    if token == "none":  # noqa: S105  a colour, not a password
        return token
    return SUN.get(token, SUN["ink"])
