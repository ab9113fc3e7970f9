"""Units and factors against their definitions.

Sources: NIST Special Publication 811 (2008), appendix B.8; the international yard and pound (1959) and standard gravity
(1901), exact; the reference library scipy.constants. The digits that SP 811 prints are quoted from memory, but for the
conventional inch of mercury, which was read in a reprint; each is checked against its exact definition beside it.
"""

import pytest
from scipy import constants

from leanwright import quantities
from leanwright.quantities import UNITS, convert, convert_difference

GRAVITY = 9.80665
"""Standard acceleration of free fall [m/s2], 3rd General Conference on Weights and Measures, 1901; exact."""
INCH = 0.0254
"""International inch [m]; exact."""


def test_a_gallon_is_231_cubic_inches() -> None:
    """Source: NIST SP 811 B.8 "gallon (U.S.)": 231 in3 by definition, 3.785 412 E-03 m3."""
    assert convert(1.0, "gal", "L") == pytest.approx(231.0 * INCH**3 * 1000.0, rel=1e-14)
    assert convert(1.0, "gal/h", "L/h") == pytest.approx(3.785412, abs=5e-7)


def test_factors_are_those_of_a_reference_library() -> None:
    """Source: scipy.constants, exact conversion factors: pound, foot, nautical mile, mile, pound per square inch.

    The definitions, NIST SP 811 B.8: 0.453 592 37 kg, 0.3048 m, 1852 m, 1609.344 m, all exact; 6.894 757 E+03 Pa.
    """
    factors = {
        "gallon": quantities.LITRES_PER_US_GALLON / 1000.0,
        "lb": quantities.KILOGRAMS_PER_POUND,
        "foot": quantities.METRES_PER_FOOT,
        "nautical_mile": quantities.METRES_PER_NAUTICAL_MILE,
        "mile": quantities.METRES_PER_STATUTE_MILE,
        "psi": quantities.PASCALS_PER_PSI,
    }
    assert factors == pytest.approx({name: getattr(constants, name) for name in factors}, rel=1e-14)
    assert factors == pytest.approx(
        {
            "gallon": 231.0 * INCH**3,
            "lb": 0.45359237,
            "foot": 0.3048,
            "nautical_mile": 1852.0,
            "mile": 1609.344,
            "psi": 6894.757293168361,
        },
        rel=1e-14,
    )


def test_lengths_and_speeds_are_exact() -> None:
    """Source: NIST SP 811 B.8: foot 0.3048 m, nautical mile 1852 m, mile 1609.344 m, all exact."""
    assert convert(1.0, "m", "ft") == pytest.approx(1.0 / 0.3048, rel=1e-15)
    assert convert(1.0, "kt", "km/h") == pytest.approx(1.852, rel=1e-15)
    assert convert(1.0, "kt", "mph") == pytest.approx(1852.0 / 1609.344, rel=1e-15)


def test_an_inch_of_mercury_is_the_conventional_one() -> None:
    """Source: NIST SP 811 B.8 "inch of mercury, conventional": 3.386 389 E+03 Pa.

    Density 13 595.1 kg/m3 and standard gravity. The inch of mercury at 60 degF is 0.28 % less (3376.85 Pa), and 25.4
    times scipy's millimetre of mercury, which is the torr, 1.4e-7 less: neither is meant.
    """
    pascals = convert(1.0, "inHg", "hPa") * 100.0
    assert pascals == pytest.approx(13595.1 * GRAVITY * INCH, rel=1e-12)
    assert pascals == pytest.approx(3386.389, abs=5e-4)
    assert pascals == pytest.approx(3386.388640341, rel=1e-9)
    assert pascals / (25.4 * constants.mmHg) - 1.0 == pytest.approx(1.4e-7, abs=1e-8)
    assert pascals / 3376.85 - 1.0 == pytest.approx(0.0028, abs=5e-5)


@pytest.mark.parametrize(
    ("unit", "pascals"), [("hPa", 100.0), ("kPa", 1e3), ("bar", 1e5), ("psi", 6894.757293168361)]
)
def test_pressures_agree_with_one_another(unit: str, pascals: float) -> None:
    """Source: NIST SP 811 B.8: bar 1 E+05 Pa, exact; prefixes of the SI."""
    assert convert(1.0, unit, "hPa") == pytest.approx(pascals / 100.0, rel=1e-12)


def test_the_standard_atmosphere_is_29_92_inches_of_mercury() -> None:
    """Source: ISO 2533, 101 325 Pa at sea level; 29.92 inHg to the four digits of altimeter settings."""
    assert convert(1013.25, "hPa", "inHg") == pytest.approx(29.92, abs=5e-3)


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    [(32.0, 0.0), (212.0, 100.0), (-40.0, -40.0), (1500.0, 815.5556), (400.0, 204.4444)],
)
def test_temperatures_have_an_offset(fahrenheit: float, celsius: float) -> None:
    """Source: NIST SP 811 B.8: t/degC = (t/degF - 32)/1.8, exact; scipy.constants.convert_temperature."""
    assert convert(fahrenheit, "degF", "degC") == pytest.approx(celsius, abs=1e-4)
    assert convert(celsius, "degC", "degF") == pytest.approx(fahrenheit, abs=2e-4)
    kelvins = constants.convert_temperature(fahrenheit, "Fahrenheit", "Kelvin")
    assert convert(fahrenheit, "degF", "K") == pytest.approx(kelvins, abs=1e-9)


def test_differences_of_temperature_have_none() -> None:
    """Source: NIST SP 811 B.8: a difference of 1 degF is 1/1.8 degC, exact."""
    assert convert_difference(10.0, "degF", "degC") == pytest.approx(10.0 / 1.8, rel=1e-12)
    assert convert_difference(10.0, "degF", "K") == pytest.approx(10.0 / 1.8, rel=1e-12)


def test_a_flow_by_mass_becomes_one_by_volume_through_the_stated_density() -> None:
    """Source: NIST SP 811 B.8 "pound per gallon (U.S.)": 1.198 264 E+02 kg/m3; 6.01 lb/gal is the project's constant."""
    kilograms_per_cubic_metre = quantities.KILOGRAMS_PER_POUND / (231.0 * INCH**3)
    assert kilograms_per_cubic_metre == pytest.approx(119.82642731689664, rel=1e-12)
    assert convert(1.0, "gal/h", "lb/h") == pytest.approx(6.01, rel=1e-14)
    kilograms = quantities.AVGAS_POUNDS_PER_US_GALLON * 0.45359237
    assert convert(1.0, "gal/h", "kg/h") == pytest.approx(kilograms, rel=1e-12)
    assert convert(1.0, "L/h", "kg/h") == pytest.approx(kilograms / 3.785411784, rel=1e-12)
    assert convert(1.0, "gal", "kg") == pytest.approx(kilograms, rel=1e-12)


@pytest.mark.parametrize("unit", UNITS)
def test_there_and_back_is_where_one_was(unit: str) -> None:
    """No source needed: arithmetic."""
    inside = next(name for name, other in UNITS.items() if other.dimension == UNITS[unit].dimension)
    assert convert(convert(123.456, unit, inside), inside, unit) == pytest.approx(123.456, rel=1e-12)


def test_quantities_of_different_kinds_do_not_convert() -> None:
    """No source needed: a pressure is not a flow."""
    with pytest.raises(ValueError, match=r"psi \(pressure\) and gal/h \(flow\)"):
        convert(1.0, "psi", "gal/h")
