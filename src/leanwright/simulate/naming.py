"""Header texts and unit texts that the invented layouts use: the trade's abbreviations and plain words."""

from collections.abc import Callable
from typing import Final

Naming = Callable[[str, int | None], str]
"""From quantity and cylinder (None where none) to a header text."""

SHORT: Final = {
    "egt": "EGT",
    "cht": "CHT",
    "fuel_flow": "FF",
    "engine_speed": "RPM",
    "manifold_pressure": "MAP",
    "outside_air_temperature": "OAT",
    "altitude": "ALT",
    "indicated_airspeed": "IAS",
    "oil_temperature": "OIL T",
    "oil_pressure": "OIL P",
    "fuel_pressure": "FUEL P",
    "bus_voltage": "VOLTS",
    "fuel_used": "FUEL USED",
    "engine_hours": "ENG HRS",
}
WORDS: Final = {
    "egt": "Exhaust gas temperature",
    "cht": "Cylinder head temperature",
    "fuel_flow": "Fuel flow",
    "engine_speed": "Engine speed",
    "manifold_pressure": "Manifold pressure",
    "outside_air_temperature": "Outside air temperature",
    "altitude": "Altitude",
    "indicated_airspeed": "Indicated airspeed",
    "oil_temperature": "Oil temperature",
    "oil_pressure": "Oil pressure",
    "fuel_pressure": "Fuel pressure",
    "bus_voltage": "Bus voltage",
    "fuel_used": "Fuel used",
    "engine_hours": "Engine hours",
}
MIXED: Final = {
    **{name: text.capitalize() if " " in text else text for name, text in SHORT.items()},
    "fuel_flow": "Fuel Flow",
    "manifold_pressure": "Man Press",
    "oil_temperature": "Oil Temp",
    "oil_pressure": "Oil Press",
    "fuel_pressure": "Fuel Press",
    "bus_voltage": "Bus Volts",
    "fuel_used": "Fuel Used",
    "engine_hours": "Engine Hrs",
}


def short_then_number(quantity: str, cylinder: int | None) -> str:
    """``EGT1``."""
    return SHORT[quantity] + (str(cylinder) if cylinder is not None else "")


def short_dash_number(quantity: str, cylinder: int | None) -> str:
    """``EGT-1``."""
    return SHORT[quantity] + (f"-{cylinder}" if cylinder is not None else "")


def number_then_short(quantity: str, cylinder: int | None) -> str:
    """``1 EGT``."""
    return (f"{cylinder} " if cylinder is not None else "") + SHORT[quantity]


def cylinder_then_mixed(quantity: str, cylinder: int | None) -> str:
    """``Cyl 1 EGT``."""
    return (f"Cyl {cylinder} " if cylinder is not None else "") + MIXED[quantity]


def mixed_number_sign(quantity: str, cylinder: int | None) -> str:
    """``EGT #1``."""
    return MIXED[quantity] + (f" #{cylinder}" if cylinder is not None else "")


def bracketed_from_zero(quantity: str, cylinder: int | None) -> str:
    """``EGT[0]``: counted from nought."""
    return MIXED[quantity] + (f"[{cylinder - 1}]" if cylinder is not None else "")


def underscored(quantity: str, cylinder: int | None) -> str:
    """``egt_1``, ``fuel_flow``."""
    name = (
        quantity
        if quantity not in {"outside_air_temperature", "indicated_airspeed"}
        else SHORT[quantity].lower()
    )
    return name + (f"_{cylinder}" if cylinder is not None else "")


def underscored_from_zero(quantity: str, cylinder: int | None) -> str:
    """``egt_0``: counted from nought."""
    return underscored(quantity, cylinder if cylinder is None else cylinder - 1)


def words_then_cylinder(quantity: str, cylinder: int | None) -> str:
    """``Exhaust gas temperature cylinder 1``."""
    return WORDS[quantity] + (f" cylinder {cylinder}" if cylinder is not None else "")


def words_abridged(quantity: str, cylinder: int | None) -> str:
    """``Exhaust temp. 1``."""
    text = WORDS[quantity].replace(" gas", "").replace("temperature", "temp.").replace("pressure", "press.")
    return text + (f" {cylinder}" if cylinder is not None else "")


PLAIN_UNITS: Final = {
    "degF": "degF",
    "degC": "degC",
    "gal/h": "gal/h",
    "L/h": "L/h",
    "inHg": "inHg",
    "hPa": "hPa",
    "rpm": "rpm",
    "ft": "ft",
    "m": "m",
    "kt": "kt",
    "km/h": "km/h",
    "psi": "psi",
    "bar": "bar",
    "V": "V",
    "gal": "gal",
    "L": "L",
    "h": "h",
    "s": "s",
}
SIGN_UNITS: Final = {
    **PLAIN_UNITS,
    "degF": "°F",
    "degC": "°C",
    "gal/h": "GPH",
    "L/h": "l/h",
    "kt": "kts",
    "h": "hrs",
}
LOOSE_UNITS: Final = {
    **PLAIN_UNITS,
    "degF": "F",
    "degC": "C",
    "gal/h": "gal/hr",
    "inHg": "in Hg",
    "rpm": "RPM",
    "V": "volts",
}
"""Unit texts by unit, in three ways of writing."""
