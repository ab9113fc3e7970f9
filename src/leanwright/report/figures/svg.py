"""Writing SVG: elements with their paint, text escaped, numbers short, no inline style and no script."""

from collections.abc import Iterable, Sequence
from xml.etree.ElementTree import Element, tostring

from leanwright.report.cleaning import clean
from leanwright.report.figures.paint import attributes, halo

FONT = "Atkinson Hyperlegible Next, Segoe UI, system-ui, Roboto, Liberation Sans, sans-serif"
_SPACE = "http://www.w3.org/2000/svg"
_NARROW = frozenset("iljtfrI.,:;'’·|!()[]1 \u00a0-")
_BROAD = frozenset("mwMWŒœ%@—…")


def number(value: float) -> str:
    """A coordinate with at most two decimals.

    >>> number(12.5), number(3.0), number(-0.001)
    ('12.5', '3', '0')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def text_width(content: str, size: float) -> float:
    """How much room a line of text needs [px]: a little more than our font takes, whatever the words.

    >>> round(text_width("lean side", 13.0))
    60
    """
    ems = sum(
        0.36 if sign in _NARROW else 0.88 if sign in _BROAD else 0.69 if sign.isupper() else 0.585
        for sign in content
    )
    return size * ems


def line(paint: str, x1: float, y1: float, x2: float, y2: float) -> Element:
    """A straight line."""
    return _element("line", paint, x1=x1, y1=y1, x2=x2, y2=y2)


def rect(paint: str, x: float, y: float, width: float, height: float, radius: float = 0.0) -> Element:
    """A rectangle; corners may be rounded."""
    element = _element("rect", paint, x=x, y=y, width=width, height=height)
    if radius:
        element.set("rx", number(radius))
    return element


def circle(paint: str, x: float, y: float, radius: float) -> Element:
    """A circle."""
    return _element("circle", paint, cx=x, cy=y, r=radius)


def path(paint: str, d: str) -> Element:
    """A path."""
    return Element("path", {**attributes(paint), "d": d})


def polygon(paint: str, points: Sequence[tuple[float, float]]) -> Element:
    """A closed shape."""
    at = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    return Element("polygon", {**attributes(paint), "points": at})


def text(
    paint: str, x: float, y: float, content: str, anchor: str = "start", *, haloed: bool = False
) -> Element:
    """A line of text; ``haloed`` parts it from what lies below."""
    placed = {"x": number(x), "y": number(y)}
    if anchor != "start":
        placed["text-anchor"] = anchor
    element = Element("text", {**attributes(paint), **placed})
    if haloed:
        element.attrib |= halo() | {"class": f"{paint} haloed"}
    element.text = clean(content)
    return element


def group(
    children: Iterable[Element],
    *,
    at: tuple[float, float] | None = None,
    scale: float = 1.0,
    title: str = "",
) -> Element:
    """Elements together: moved to a place and scaled there, or with a title that tells what they are."""
    element = Element("g")
    if at is not None:
        smaller = f" scale({number(scale)})" if scale != 1.0 else ""
        element.set("transform", f"translate({number(at[0])} {number(at[1])}){smaller}")
    if title:
        heading = Element("title")
        heading.text = clean(title)
        element.append(heading)
    element.extend(children)
    return element


def arrow_head(x: float, y: float, direction: int, length: float) -> Element:
    """A solid arrow head that points left (-1) or right (1), its tip at ``x``."""
    half = length * 0.42
    back = x - direction * length
    return polygon("arrow", [(x, y), (back, y - half), (back, y + half)])


def figure(
    width: float,
    height: float,
    children: Iterable[Element],
    *,
    label: str,
    described_by: str = "",
    form: str = "",
) -> str:
    """A whole figure: an image with a label that says what it shows, described by the table of that id."""
    root = _root(width, height, form)
    root.attrib |= {"role": "img", "aria-label": clean(label)}
    if described_by:
        root.set("aria-describedby", described_by)
    root.extend(children)
    return tostring(root, encoding="unicode")


def ornament(width: float, height: float, children: Iterable[Element], form: str = "") -> str:
    """A small drawing beside words that say the same; screen readers pass over it."""
    root = _root(width, height, form)
    root.set("aria-hidden", "true")
    root.extend(children)
    return tostring(root, encoding="unicode")


def _root(width: float, height: float, form: str) -> Element:
    root = Element(
        "svg",
        {
            "xmlns": _SPACE,
            "viewBox": f"0 0 {number(width)} {number(height)}",
            "width": number(width),
            "height": number(height),
            "font-family": FONT,
        },
    )
    if form:
        root.set("class", form)
    return root


def _element(name: str, paint: str, **at: float) -> Element:
    placed = {key: number(value) for key, value in at.items()}
    return Element(name, {**attributes(paint), **placed})
