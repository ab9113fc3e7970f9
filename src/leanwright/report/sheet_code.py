"""The code on paper that names an entry: QR (ISO/IEC 18004), as a drawing of our own from the library's modules."""

from xml.etree.ElementTree import Element, tostring

import segno

_QUIET = 4
"""Light modules round the code, as the standard asks."""


def code_drawing(text: str) -> str:
    """The code of a text as SVG, black on white; about a quarter of its codewords may be lost (error correction Q)."""
    matrix = segno.make(text, error="q", micro=False, boost_error=False).matrix
    size = len(matrix) + 2 * _QUIET
    root = Element(
        "svg", {"xmlns": "http://www.w3.org/2000/svg", "viewBox": f"0 0 {size} {size}", "aria-hidden": "true"}
    )
    root.append(Element("rect", {"width": str(size), "height": str(size), "fill": "#fff"}))
    dark = "".join(
        f"M{_QUIET + start} {_QUIET + y}h{length}v1h-{length}z"
        for y, row in enumerate(matrix)
        for start, length in _runs(bytes(row))
    )
    root.append(Element("path", {"d": dark, "fill": "#000"}))
    return tostring(root, encoding="unicode")


def _runs(row: bytes) -> list[tuple[int, int]]:
    """Where the dark runs of a row begin, and how long each is."""
    found: list[tuple[int, int]] = []
    for x, dark in enumerate(row):
        if not dark:
            continue
        if found and sum(found[-1]) == x:
            found[-1] = (found[-1][0], found[-1][1] + 1)
        else:
            found.append((x, 1))
    return found
