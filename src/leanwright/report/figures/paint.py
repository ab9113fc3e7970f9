"""How marks are painted: one table gives the attributes in the drawing and the rules in the style sheet.

The attributes hold the light colours, so that a figure stands by itself; on a page the rules take over and follow
the reader's look.
"""

from collections.abc import Callable
from typing import Final

from leanwright.report.tokens import CASED, COLOURED, DASHES, LIGHT, colour
from leanwright.report.tokens import CYLINDERS as CYLINDER_COLOURS

Paint = dict[str, str]
_COLOURED: Final = ("fill", "stroke")


def _stroke(token: str, width: float, dash: str = "", cap: str = "") -> Paint:
    paint = {"fill": "none", "stroke": token, "stroke-width": f"{width:g}"}
    if dash:
        paint["stroke-dasharray"] = dash
    if cap:
        paint["stroke-linecap"] = cap
    return paint


def _fill(token: str) -> Paint:
    return {"fill": token}


def _both(fill: str, stroke: str, width: float) -> Paint:
    return {"fill": fill, "stroke": stroke, "stroke-width": f"{width:g}"}


def _text(token: str, size: int, weight: int = 400) -> Paint:
    return {"fill": token, "font-size": str(size), "font-weight": str(weight)}


PAINTS: Final[dict[str, Paint]] = {
    "band": _fill("band"),
    "phase": _fill("band"),
    "wash": _fill("wash"),
    "blank": _fill("paper"),
    "rail": _stroke("ink", 3),
    "rail-phone": _stroke("ink", 3.2),
    "rail-small": _stroke("ink", 2),
    "rail-thin": _stroke("ink", 1),
    "rail-curves": _stroke("ink", 1.6),
    "rung": _stroke("line", 1),
    "rung-in": _stroke("edge", 2),
    "rung-broken": _stroke("edge", 1, "2 5"),
    "dot": _both("ink", "paper", 1.6),
    "dot-out": _both("accent", "paper", 1.6),
    "whisker": _stroke("ink", 2),
    "whisker-out": _stroke("accent", 2),
    "whisker-small": _stroke("ink", 1.5),
    "whisker-small-out": _stroke("accent", 1.5),
    "reach": _stroke("accent", 2.5),
    "bound": _stroke("ink", 2.4),
    "bound-way": _stroke("ink", 2, "6 4"),
    "arrow": _fill("ink"),
    "diamond": _both("paper", "ink", 2),
    "possible": _stroke("ink", 2, "0.1 5", "round"),
    "hand": _stroke("ink", 1.5),
    "dimension": _stroke("ink", 1.2),
    "axis": _stroke("edge", 1.5),
    "grid": _stroke("line", 1),
    "stem": _stroke("ink", 2),
    "stem-out": _stroke("accent", 2),
    "ring": _stroke("ink2", 5.3, cap="round"),
    "ring-hole": _stroke("paper", 3.1, cap="round"),
    "disc": _stroke("ink2", 4.6, cap="round"),
    "trace": _stroke("ink", 1.4),
    "trace-other": _stroke("edge", 1),
    "left-out": {"stroke": "edge", "stroke-width": "1"},
    "hatch": _stroke("hatch", 1.2),
    "before": _both("paper", "ink2", 1.8),
    "before-way": _stroke("ink2", 1.4),
    "predicted": _stroke("ink", 2),
    "planned-way": _stroke("ink2", 1.4, "4 3"),
    "planned-range": _fill("edge"),
    "hand-outline": _stroke("accent", 1.5, "4 3"),
    "case": _both("band", "edge", 2),
    "box": _both("paper", "edge", 2),
    "box-out": _both("paper", "accent", 2.5),
    "box-allowed": _both("paper", "good", 3),
    "box-refused": _both("paper", "stop", 4),
    "fin": _stroke("line", 1),
    "scale": _stroke("line", 1),
    "bar": _fill("ink"),
    "bar-out": _fill("accent"),
    "bar-frame": _both("paper", "edge", 1),
    "blade": _both("paper", "edge", 1.5),
    "glyph": _both("paper", "edge", 1),
    "glyph-here": _both("ink", "ink", 1),
    "glyph-case": _stroke("edge", 1.5),
    "sign": _stroke("ink", 3.2),
    "sign-dot": _fill("ink"),
    "sign-stop": _stroke("stop", 3.2),
    "sign-accent": _fill("accent"),
    "sign-good": _fill("good"),
    "sign-warn": _stroke("warn", 3),
    "sign-warn-dot": _fill("warn"),
    "ring-past": _stroke("ink", 2.9),
    "ring-here": _stroke("accent", 10.1),
    "ring-to-come": _stroke("edge", 1.2),
    "ring-stem": _stroke("edge", 2.4),
    "t-number": _text("ink", 20, 750),
    "t-place": _text("ink2", 15),
    "t-place-out": _text("ink", 15, 600),
    "t-value": _text("ink", 15),
    "t-value-out": _text("ink", 15, 700),
    "t-head": _text("ink", 13, 600),
    "t-note": _text("ink2", 13),
    "t-words": _text("ink2", 14),
    "t-accent": _text("accent", 14, 700),
    "t-box-number": _text("ink", 25, 750),
    "t-box": _text("ink", 13),
    "t-box-out": _text("accent", 13, 700),
} | {
    f"curve-{number}": _stroke(token, 2.6)
    for number in range(1, COLOURED + 1)
    if (token := colour(number)) is not None
}  # fmt: skip
HALO: Final = {"stroke": "paper", "stroke-width": "5", "paint-order": "stroke", "stroke-linejoin": "round"}
_CASING_WIDTH: Final = 2.6 + 2 * 0.75


def attributes(name: str) -> dict[str, str]:
    """Class and presentation attributes of a kind of mark."""
    paint = {key: _light(value) if key in _COLOURED else value for key, value in PAINTS[name].items()}
    return {"class": name, **paint}


def halo() -> dict[str, str]:
    """Attributes that part a label from what lies below it."""
    return {key: _light(value) if key in _COLOURED else value for key, value in HALO.items()}


def casing() -> dict[str, str]:
    """The ink line below a curve whose colour stands out too little from light paper."""
    return {
        "class": "casing",
        "fill": "none",
        "stroke": LIGHT["ink"],
        "stroke-opacity": "0.55",
        "stroke-width": f"{_CASING_WIDTH:g}",
    }


def cased(cylinder: int) -> bool:
    """Whether a cylinder's curve wears the casing."""
    return cylinder in CASED


def stylesheet() -> str:
    """Rules for every kind of mark: the reader's colours, and those that the system forces."""
    own = [f"svg .{name}{{{_rules(paint, _variable)}}}" for name, paint in PAINTS.items()]
    forced = [f"svg .{name}{{{_rules(paint, _forced)}}}" for name, paint in PAINTS.items()]
    dashes = [
        f"svg .trace-pick.curve-{number}{{stroke-dasharray:{dash};stroke-linecap:round}}"
        for number, dash in DASHES.items()
    ]
    black = [f"svg .curve-{number}{{stroke-width:1.5}}" for number in range(1, COLOURED + 1)]
    return "\n".join(
        (
            *own,
            "svg .casing{stroke:var(--ink);stroke-opacity:var(--casing)}",
            "svg .haloed{stroke:var(--paper)}",
            "@media print{",
            *dashes,
            *black,
            "}",
            "@media (prefers-contrast: more){",
            *dashes,
            "}",
            "@media (forced-colors: active){",
            "svg{forced-color-adjust:none}",
            *forced,
            "svg .casing{stroke-opacity:0}",
            "svg .haloed{stroke:Canvas}",
            "}",
        )
    )


def _light(token: str) -> str:
    return LIGHT.get(token) or CYLINDER_COLOURS.get(token) or token


def _variable(token: str) -> str:
    return token if token == "none" else f"var(--{token})"  # noqa: S105  a colour, not a password


def _forced(token: str) -> str:
    if token == "none":  # noqa: S105  a colour, not a password
        return token
    if token == "accent":  # noqa: S105  the same
        return "Highlight"
    return "Canvas" if token in {"paper", "band", "wash", "line"} else "CanvasText"


def _rules(paint: Paint, write: Callable[[str], str]) -> str:
    return ";".join(f"{key}:{write(paint[key])}" for key in _COLOURED if key in paint)
