"""Units that a reader may choose: what a key's ending measures, and what it is shown in."""

from dataclasses import dataclass
from typing import Final, Literal

from leanwright.quantities import convert, convert_difference

System = Literal["us", "metric"]

# Ending of a key -> (inside unit, whether a difference, shown unit and sign by system). Altitudes stay in feet and
# speeds in knots in both systems: that is how they are flown.
_ENDINGS: Final[dict[str, tuple[str, bool, dict[str, tuple[str, str]]]]] = {
    "gph": ("gal/h", False, {"us": ("gal/h", "gal/h"), "metric": ("L/h", "L/h")}),
    "f": ("degF", False, {"us": ("degF", "°F"), "metric": ("degC", "°C")}),
    "df": ("degF", True, {"us": ("degF", "°F"), "metric": ("degC", "°C")}),
    "inhg": ("inHg", False, {"us": ("inHg", "inHg"), "metric": ("hPa", "hPa")}),
    "rpm": ("rpm", False, {"us": ("rpm", "rpm"), "metric": ("rpm", "rpm")}),
    "ft": ("ft", False, {"us": ("ft", "ft"), "metric": ("ft", "ft")}),
    "kt": ("kt", False, {"us": ("kt", "kt"), "metric": ("kt", "kt")}),
    "s": ("s", False, {"us": ("s", "s"), "metric": ("s", "s")}),
    "percent": ("percent", False, {"us": ("percent", "%"), "metric": ("percent", "%")}),
}


@dataclass(frozen=True, slots=True)
class Shown:
    """A value in the reader's unit, with the unit's sign."""

    value: float
    sign: str


def ending(key: str) -> str | None:
    """The unit that a key's ending names; ``None`` if it names none.

    >>> ending("u_spread_gph"), ending("cylinder"), ending("spread_interval95_gph")
    ('gph', None, 'gph')
    """
    last = key.rpartition("_")[2]
    return last if last in _ENDINGS and last != key else None


def show(value: float, unit: str, system: System) -> Shown:
    """Convert a value from the inside unit named by a key's ending to the reader's.

    >>> show(10.0, "gph", "metric")
    Shown(value=37.85411784, sign='L/h')
    """
    inside, difference, shown = _ENDINGS[unit]
    target, sign = shown[system]
    turn = convert_difference if difference else convert
    return Shown(turn(value, inside, target), sign)


def show_difference(value: float, unit: str, system: System) -> Shown:
    """The same for a difference or a standard uncertainty, where offsets play no part."""
    inside, _, shown = _ENDINGS[unit]
    target, sign = shown[system]
    return Shown(convert_difference(value, inside, target), sign)


def sign_of(unit: str, system: System) -> str:
    """How the reader's unit is written.

    >>> sign_of("df", "metric")
    '°C'
    """
    return _ENDINGS[unit][2][system][1]
