"""Reading a drawing back: what stands where, as somebody who looks at it would measure it."""

from xml.etree.ElementTree import Element, fromstring

SVG = "{http://www.w3.org/2000/svg}"


def parse(drawing: str) -> Element:
    """The drawing as a tree; ill-formed XML fails here."""
    return fromstring(drawing)  # noqa: S314  our own drawing, made in the test


def named(root: Element, tag: str, *classes: str) -> list[Element]:
    return [one for one in root.iter(f"{SVG}{tag}") if one.get("class") in classes]


def at(element: Element, name: str) -> float:
    return float(element.get(name, "nan"))


def axis(root: Element) -> tuple[float, float]:
    """Flow per pixel and flow at x = 0, read off the ticks as a person would."""
    texts = [(at(one, "x"), one.text or "") for one in named(root, "text", "t-note")]
    marks = {at(one, "x1") for one in named(root, "line", "axis") if one.get("x1") == one.get("x2")}
    known = [(x, float(words.replace("−", "-"))) for x, words in texts if x in marks and words[:1].isdigit()]
    (x0, v0), (x1, v1) = known[0], known[-1]
    slope = (v1 - v0) / (x1 - x0)
    return slope, v0 - slope * x0
