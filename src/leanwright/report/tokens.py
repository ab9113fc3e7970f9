"""The colours, by what they mean: light, dark, and black on white for sunlight and print."""

from typing import Final

LIGHT: Final = {
    "bench": "#E9ECE9",
    "paper": "#FFFFFF",
    "ink": "#151917",
    "ink2": "#454D48",
    "ink3": "#5C655F",
    "edge": "#757E78",
    "line": "#C3C9C4",
    "band": "#EDF0EE",
    "hatch": "#AEB6B0",
    "accent": "#10478C",
    "on-accent": "#FFFFFF",
    "wash": "#DFE8F4",
    "good": "#17653A",
    "goodw": "#E2F0E6",
    "warn": "#7A4E00",
    "warnw": "#F8ECD2",
    "stop": "#A32018",
    "stopw": "#FAE5E2",
}
DARK: Final = {
    "bench": "#0F1311",
    "paper": "#181D1B",
    "ink": "#EEF2EF",
    "ink2": "#BEC6C1",
    "ink3": "#97A19B",
    "edge": "#7A847E",
    "line": "#353C38",
    "band": "#212825",
    "hatch": "#4A534E",
    "accent": "#93B9F5",
    "on-accent": "#0B1A31",
    "wash": "#1C2C45",
    "good": "#7FCF9D",
    "goodw": "#16301F",
    "warn": "#E8B655",
    "warnw": "#352808",
    "stop": "#FF9C90",
    "stopw": "#3D1A16",
}
_WHITE: Final = {"bench", "paper", "band", "on-accent", "wash", "goodw", "warnw", "stopw"}
SUN: Final = {name: "#FFFFFF" if name in _WHITE else "#000000" for name in LIGHT}

# Okabe and Ito, "Color Universal Design", 2008: told apart with any common colour vision. Cylinder 7 wears the ink.
CYLINDERS: Final = {
    "c1": "#0072B2",
    "c2": "#D55E00",
    "c3": "#009E73",
    "c4": "#CC79A7",
    "c5": "#56B4E9",
    "c6": "#E69F00",
    "c8": "#F0E442",
}
COLOURED: Final = 8
"""Engines with more cylinders have no colours."""
CASED: Final = (4, 5, 6, 8)
"""Colours that wear an ink casing on light paper, since they stand out from it too little by themselves."""
DASHES: Final = {2: "8 3", 3: "2 3", 4: "8 3 2 3", 5: "14 4", 6: "5 5", 7: "14 4 2 4", 8: "1 5"}
"""What tells traces apart without colour [px]; cylinder 1 is solid."""


def colour(cylinder: int) -> str | None:
    """The token of a cylinder's colour; ``None`` if it has none.

    >>> colour(3), colour(7), colour(9)
    ('c3', 'ink', None)
    """
    if cylinder > COLOURED:
        return None
    return f"c{cylinder}" if f"c{cylinder}" in CYLINDERS else "ink"


def stylesheet() -> str:
    """The tokens as custom properties: by the reader's system, or by ``data-look`` on the root element."""
    light = _properties(LIGHT | CYLINDERS | {"casing": "0.55"}, "light")
    dark = _properties(DARK | CYLINDERS | {"casing": "0"}, "dark")
    sun = _properties(SUN | dict.fromkeys(CYLINDERS, "#000000") | {"casing": "0"}, "light")
    return "\n".join(
        (
            f":root{{{light}}}",
            f"@media (prefers-color-scheme: dark){{:root{{{dark}}}}}",
            f"@media (prefers-contrast: more){{:root{{{sun}}}}}",
            f':root[data-look="light"]{{{light}}}',
            f':root[data-look="dark"]{{{dark}}}',
            f':root[data-look="sun"]{{{sun}}}',
            f"@media print{{:root,:root[data-look]{{{sun}}}}}",
        )
    )


def _properties(values: dict[str, str], scheme: str) -> str:
    return f"color-scheme:{scheme};" + "".join(f"--{name}:{value};" for name, value in values.items())
