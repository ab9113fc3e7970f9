"""The page's style sheet: tokens, figures, layout, and the fonts inside the page itself."""

import base64
import hashlib
from functools import cache
from importlib.resources import files

from leanwright.report import tokens
from leanwright.report.figures import paint

_FONTS = (
    ("Atkinson Hyperlegible Next", "next"),
    ("Atkinson Hyperlegible Mono", "mono"),
)
_LATIN = "U+0000-00FF,U+0131,U+0152-0153,U+02BB-02BC,U+02C6,U+02DA,U+02DC,U+2000-206F,U+20AC,U+2122,U+2212"
_LATIN_EXT = "U+0100-02BA,U+02BD-02C5,U+1E00-1E9F,U+1EF2-1EFF,U+20A0-20AB,U+20AD-20C0"


@cache
def stylesheet(*, extended: bool) -> str:
    """All rules of a page; ``extended`` adds the fonts' letters beyond Latin-1."""
    layout = files("leanwright.report").joinpath("styles", "page.css").read_text("utf-8")
    return "\n".join((_faces(extended=extended), tokens.stylesheet(), paint.stylesheet(), layout.strip()))


def needs_extended(text: str) -> bool:
    """Whether a text has letters that only the extended fonts hold.

    >>> needs_extended("Zürich ± 0.1"), needs_extended("Łódź")
    (False, True)
    """
    return any("\u0100" <= letter <= "\u02ba" or "\u1e00" <= letter <= "\u1eff" for letter in text)


def digest(style: str) -> str:
    """The style's digest as a content policy names it.

    >>> digest("")
    'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='
    """
    return "sha256-" + base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()


def _faces(*, extended: bool) -> str:
    parts = [("latin", _LATIN), *([("latin-ext", _LATIN_EXT)] if extended else [])]
    return "\n".join(
        f'@font-face{{font-family:"{family}";font-weight:200 800;font-display:block;'
        f'unicode-range:{letters};src:url(data:font/woff2;base64,{_font(name, part)}) format("woff2")}}'
        for family, name in _FONTS
        for part, letters in parts
    )


def _font(name: str, part: str) -> str:
    place = files("leanwright.report").joinpath(
        "fonts", f"atkinson-hyperlegible-{name}-{part}-wght-normal.woff2"
    )
    return base64.b64encode(place.read_bytes()).decode()
