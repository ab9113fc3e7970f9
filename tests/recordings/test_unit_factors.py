"""Unit factors, against NIST Special Publication 811 (2008), appendix B.8, as printed there (seven digits)."""

import io

import numpy as np
import pytest

from leanwright.quantities import QUANTITIES, UNITS, convert, convert_difference
from leanwright.recordings.plausible import convert_array
from leanwright.recordings.read import read_recording

# Factor to SI as printed in B.8; the conventional inch of mercury was read in a reprint of the table, all others are
# quoted from memory.
B8 = {
    "gal": (3.785412e-3, "m3"),
    "lb": (4.535924e-1, "kg"),
    "ft": (3.048e-1, "m"),
    "kt": (5.144444e-1, "m/s"),
    "mph": (4.4704e-1, "m/s"),
    "psi": (6.894757e3, "Pa"),
    "inHg": (3.386389e3, "Pa"),
    "bar": (1.0e5, "Pa"),
}
PAIRS = [
    ("psi", "kPa", B8["psi"][0] / 1000),
    ("inHg", "hPa", B8["inHg"][0] / 100),
    ("inHg", "bar", B8["inHg"][0] / B8["bar"][0]),
    ("psi", "inHg", B8["psi"][0] / B8["inHg"][0]),
    ("gal", "L", B8["gal"][0] * 1000),
    ("gal/h", "L/h", B8["gal"][0] * 1000),
    ("lb/h", "kg/h", B8["lb"][0]),
    ("ft", "m", B8["ft"][0]),
    ("kt", "km/h", B8["kt"][0] * 3.6),
    ("mph", "kt", B8["mph"][0] / B8["kt"][0]),
    ("h", "s", 3600.0),
    ("min", "s", 60.0),
]


@pytest.mark.parametrize(("source", "target", "factor"), PAIRS)
def test_factors_agree_with_the_printed_ones(source: str, target: str, factor: float) -> None:
    assert convert(1.0, source, target) == pytest.approx(factor, rel=5e-7)
    assert convert(1.0, target, source) == pytest.approx(1.0 / factor, rel=5e-7)


# SP 811, B.8: t/degC = (t/degF - 32)/1.8 and T/K = t/degC + 273.15; the freezing and the boiling point of water.
@pytest.mark.parametrize(
    ("fahrenheit", "celsius"), [(32.0, 0.0), (212.0, 100.0), (-40.0, -40.0), (1500.0, 815.5555555555555)]
)
def test_temperatures_agree_with_the_formula_and_differences_have_no_offset(
    fahrenheit: float, celsius: float
) -> None:
    assert convert(fahrenheit, "degF", "degC") == pytest.approx(celsius, abs=1e-12)
    assert convert(celsius, "degC", "degF") == pytest.approx(fahrenheit, abs=1e-9)
    assert convert(celsius + 273.15, "K", "degF") == pytest.approx(fahrenheit, abs=1e-9)
    assert convert_difference(18.0, "degF", "degC") == pytest.approx(10.0, abs=1e-9)


@pytest.mark.parametrize("unit", UNITS)
def test_a_column_is_converted_like_a_value_forth_and_back(unit: str) -> None:
    for target in UNITS:
        if UNITS[target].dimension == UNITS[unit].dimension:
            values = np.array([-3.25, 0.0, 1.0, 1450.5])
            there = convert_array(values, unit, target)
            assert there.tolist() == [convert(value, unit, target) for value in values]
            np.testing.assert_allclose(convert_array(there, target, unit), values, rtol=1e-12, atol=1e-9)


def test_values_already_in_the_inside_unit_are_left_bit_for_bit() -> None:
    values = np.array([0.1, 14.2, np.nan])
    assert convert_array(values, "degF", "degF") is values


@pytest.mark.parametrize(
    ("name", "cell", "quantity", "inside"),
    [
        ("EGT1 (°C)", "815.5555555555555", "egt", 1500.0),
        ("EGT1 (K)", "1088.7055555555555", "egt", 1500.0),
        ("FF (L/h)", "37.85411784", "fuel_flow", 10.0),
        ("MAP (hPa)", "1013.25", "manifold_pressure", 29.92),
        ("Oil P (bar)", "4.136854", "oil_pressure", 60.0),
        ("ALT (m)", "1981.2", "altitude", 6500.0),
        ("IAS (km/h)", "259.28", "indicated_airspeed", 140.0),
    ],
)
def test_a_recording_in_other_units_arrives_in_the_inside_ones(
    name: str, cell: str, quantity: str, inside: float
) -> None:
    recording = read_recording(io.BytesIO(f"Time (s),{name}\n0,{cell}\n1,{cell}\n".encode()))
    channel = recording.channels[1]
    assert channel.quantity == quantity
    assert QUANTITIES[quantity].unit is not None
    assert channel.values == pytest.approx([inside, inside], rel=2e-4)
