"""Every quantity once: its name, the unit used inside, the units accepted at the edges.

Inside the program each quantity has one unit (:attr:`Quantity.unit`), and values are plain floats in it.
Conversion happens in ``recordings`` and where results leave the program, with the exact factors below.

Sources of the factors: the definitions in NIST Special Publication 811 (2008), appendix B; the conventional
inch of mercury is 13 595.1 kg/m3 x 9.806 65 m/s2 x 0.0254 m.
"""

from dataclasses import dataclass
from typing import Final

LITRES_PER_US_GALLON: Final = 3.785411784
KILOGRAMS_PER_POUND: Final = 0.45359237
METRES_PER_FOOT: Final = 0.3048
METRES_PER_NAUTICAL_MILE: Final = 1852.0
METRES_PER_STATUTE_MILE: Final = 1609.344
PASCALS_PER_INCH_OF_MERCURY: Final = 13595.1 * 9.80665 * 0.0254
PASCALS_PER_PSI: Final = 0.45359237 * 9.80665 / 0.0254**2
AVGAS_POUNDS_PER_US_GALLON: Final = 6.01
"""Density at 15 degC that a flow in mass units is converted with; always said in a finding."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of measure: ``inside = value * factor + offset``, in the inside unit of its dimension."""

    name: str
    dimension: str
    factor: float
    offset: float = 0.0
    ucum: str = ""


_KG_H = 1.0 / KILOGRAMS_PER_POUND / AVGAS_POUNDS_PER_US_GALLON

UNITS: Final[dict[str, Unit]] = {
    unit.name: unit
    for unit in (
        Unit("degF", "temperature", 1.0, ucum="[degF]"),
        Unit("degC", "temperature", 1.8, 32.0, "Cel"),
        Unit("K", "temperature", 1.8, 32.0 - 1.8 * 273.15, "K"),
        Unit("gal/h", "flow", 1.0, ucum="[gal_us]/h"),
        Unit("L/h", "flow", 1.0 / LITRES_PER_US_GALLON, ucum="L/h"),
        Unit("lb/h", "flow", 1.0 / AVGAS_POUNDS_PER_US_GALLON, ucum="[lb_av]/h"),
        Unit("kg/h", "flow", _KG_H, ucum="kg/h"),
        Unit("inHg", "pressure", 1.0, ucum="[in_i'Hg]"),
        Unit("hPa", "pressure", 100.0 / PASCALS_PER_INCH_OF_MERCURY, ucum="hPa"),
        Unit("kPa", "pressure", 1000.0 / PASCALS_PER_INCH_OF_MERCURY, ucum="kPa"),
        Unit("bar", "pressure", 100_000.0 / PASCALS_PER_INCH_OF_MERCURY, ucum="bar"),
        Unit("psi", "pressure", PASCALS_PER_PSI / PASCALS_PER_INCH_OF_MERCURY, ucum="[psi]"),
        Unit("rpm", "speed of rotation", 1.0, ucum="{rev}/min"),
        Unit("ft", "length", 1.0, ucum="[ft_i]"),
        Unit("m", "length", 1.0 / METRES_PER_FOOT, ucum="m"),
        Unit("kt", "speed", 1.0, ucum="[kn_i]"),
        Unit("mph", "speed", METRES_PER_STATUTE_MILE / METRES_PER_NAUTICAL_MILE, ucum="[mi_i]/h"),
        Unit("km/h", "speed", 1000.0 / METRES_PER_NAUTICAL_MILE, ucum="km/h"),
        Unit("V", "voltage", 1.0, ucum="V"),
        Unit("A", "current", 1.0, ucum="A"),
        Unit("s", "time", 1.0, ucum="s"),
        Unit("min", "time", 60.0, ucum="min"),
        Unit("h", "time", 3600.0, ucum="h"),
        Unit("gal", "volume", 1.0, ucum="[gal_us]"),
        Unit("L", "volume", 1.0 / LITRES_PER_US_GALLON, ucum="L"),
        Unit("lb", "volume", 1.0 / AVGAS_POUNDS_PER_US_GALLON, ucum="[lb_av]"),
        Unit("kg", "volume", _KG_H, ucum="kg"),
        Unit("deg", "angle", 1.0, ucum="deg"),
        Unit("percent", "ratio", 1.0, ucum="%"),
    )
}


@dataclass(frozen=True, slots=True)
class Quantity:
    """What a channel measures: its name, dimension, inside unit, and what values are plausible."""

    name: str
    dimension: str
    unit: str | None
    low: float = -1e9
    high: float = 1e9
    per_cylinder: bool = False


QUANTITIES: Final[dict[str, Quantity]] = {
    quantity.name: quantity
    for quantity in (
        Quantity("time", "time", "s"),
        Quantity("date", "text", None),
        Quantity("egt", "temperature", "degF", -60.0, 2200.0, per_cylinder=True),
        Quantity("cht", "temperature", "degF", -60.0, 700.0, per_cylinder=True),
        Quantity("fuel_flow", "flow", "gal/h", 0.0, 120.0),
        Quantity("engine_speed", "speed of rotation", "rpm", 0.0, 6500.0),
        Quantity("manifold_pressure", "pressure", "inHg", 0.0, 75.0),
        Quantity("oil_temperature", "temperature", "degF", -60.0, 350.0),
        Quantity("oil_pressure", "pressure", "psi", 0.0, 200.0),
        Quantity("outside_air_temperature", "temperature", "degF", -100.0, 150.0),
        Quantity("altitude", "length", "ft", -2000.0, 50_000.0),
        Quantity("pressure_altitude", "length", "ft", -2000.0, 50_000.0),
        Quantity("indicated_airspeed", "speed", "kt", 0.0, 500.0),
        Quantity("ground_speed", "speed", "kt", 0.0, 700.0),
        Quantity("fuel_pressure", "pressure", "psi", -5.0, 100.0),
        Quantity("turbine_inlet_temperature", "temperature", "degF", -60.0, 2200.0),
        Quantity("bus_voltage", "voltage", "V", 0.0, 60.0),
        Quantity("bus_current", "current", "A", -500.0, 500.0),
        Quantity("fuel_used", "volume", "gal", 0.0, 1000.0),
        Quantity("fuel_remaining", "volume", "gal", 0.0, 1000.0),
        Quantity("engine_hours", "time", "h", 0.0, 100_000.0),
        Quantity("latitude", "angle", "deg", -90.0, 90.0),
        Quantity("longitude", "angle", "deg", -180.0, 180.0),
        Quantity("percent_power", "ratio", "percent", 0.0, 130.0),
        Quantity("summary", "any", None),
        Quantity("text", "text", None),
        Quantity("unknown", "any", None),
    )
}


def convert(value: float, source: str, target: str) -> float:
    """Convert a value between two units of one dimension.

    >>> round(convert(815.5556, "degC", "degF"), 2)
    1500.0
    >>> convert(1.0, "gal/h", "L/h")
    3.785411784
    """
    a, b = UNITS[source], UNITS[target]
    if a.dimension != b.dimension:
        raise ValueError(f"{source} ({a.dimension}) and {target} ({b.dimension}) measure different things")
    if source == target:
        return value
    return (value * a.factor + a.offset - b.offset) / b.factor


def convert_difference(value: float, source: str, target: str) -> float:
    """Convert a difference (a step of temperature, a standard uncertainty), where offsets play no part.

    >>> round(convert_difference(10.0, "degF", "degC"), 4)
    5.5556
    """
    return convert(value, source, target) - convert(0.0, source, target)
