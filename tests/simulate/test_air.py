"""The standard atmosphere against its published table."""

import pytest

from leanwright.simulate.air import ambient_pressure_inhg, ambient_temperature_k

# FAA-H-8083-25C Fig. 11-2, pressure altitude 0 to 20 000 ft by 1000 ft.
PRESSURE = [29.92, 28.86, 27.82, 26.82, 25.84, 24.89, 23.98, 23.09, 22.22, 21.38, 20.57]
PRESSURE += [19.79, 19.02, 18.29, 17.57, 16.88, 16.21, 15.56, 14.94, 14.33, 13.74]
CELSIUS = [15.0, 13.0, 11.0, 9.1, 7.1, 5.1, 3.1, 1.1, -0.9, -2.8, -4.8]
CELSIUS += [-6.8, -8.8, -10.8, -12.7, -14.7, -16.7, -18.7, -20.7, -22.6, -24.6]


def test_pressure_is_that_of_the_table() -> None:
    assert ambient_pressure_inhg([1000.0 * k for k in range(21)]) == pytest.approx(PRESSURE, abs=0.011)


def test_temperature_is_that_of_the_table() -> None:
    found = ambient_temperature_k([1000.0 * k for k in range(21)]) - 273.15
    assert found == pytest.approx(CELSIUS, abs=0.051)


def test_a_warm_day_is_warmer_by_as_much_at_every_height() -> None:
    assert ambient_temperature_k(6000.0, 10.0) == pytest.approx(ambient_temperature_k(6000.0) + 10.0)
