"""The page's style sheet: tokens, figures, layout, and the fonts inside the page itself."""

import base64
import hashlib
from collections.abc import Callable
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


@cache
def served_stylesheet(fonts: str) -> str:
    """All rules of the pages that are served, whose fonts are files below the address ``fonts``."""
    layout = files("leanwright.report").joinpath("styles", "page.css").read_text("utf-8")
    # Served fonts come after the text: it is shown in the system's letters until then.
    faces = _faces(extended=True, source=lambda name, part: f"{fonts}{font_name(name, part)}").replace(
        "font-display:block", "font-display:swap"
    )
    return f"{faces}\n{tokens.stylesheet()}\n{paint.stylesheet()}\n{layout.strip()}"


def served_fonts() -> dict[str, bytes]:
    """The font files that :func:`served_stylesheet` names."""
    return {
        font_name(name, part): _font_bytes(name, part)
        for _, name in _FONTS
        for part in ("latin", "latin-ext")
    }


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


def _faces(*, extended: bool, source: Callable[[str, str], str] | None = None) -> str:
    parts = [("latin", _LATIN), *([("latin-ext", _LATIN_EXT)] if extended else [])]
    place = source or _inside
    return "\n".join(
        f'@font-face{{font-family:"{family}";font-weight:200 800;font-display:block;'
        f'unicode-range:{letters};src:url({place(name, part)}) format("woff2")}}'
        for family, name in _FONTS
        for part, letters in parts
    )


def _inside(name: str, part: str) -> str:
    return f"data:font/woff2;base64,{base64.b64encode(_font_bytes(name, part)).decode()}"


def font_name(name: str, part: str) -> str:
    """The file of a font's letters.

    >>> font_name("next", "latin")
    'atkinson-hyperlegible-next-latin-wght-normal.woff2'
    """
    return f"atkinson-hyperlegible-{name}-{part}-wght-normal.woff2"


def _font_bytes(name: str, part: str) -> bytes:
    return files("leanwright.report").joinpath("fonts", font_name(name, part)).read_bytes()
