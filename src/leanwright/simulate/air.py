"""The air that the virtual engine flies in: the standard atmosphere below 36 000 ft."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def ambient_temperature_k(pressure_altitude_ft: ArrayLike, warmer_k: float = 0.0) -> Floats:
    """Temperature of the air [K] at a pressure altitude [ft], U.S. Standard Atmosphere 1976, shifted as a whole."""
    return np.asarray(
        288.15 + warmer_k - 0.0065 * 0.3048 * np.asarray(pressure_altitude_ft, dtype=np.float64)
    )


def ambient_pressure_inhg(pressure_altitude_ft: ArrayLike) -> Floats:
    """Pressure of the air [inHg] at a pressure altitude [ft], U.S. Standard Atmosphere 1976."""
    theta = 1.0 - 0.0065 * 0.3048 * np.asarray(pressure_altitude_ft, dtype=np.float64) / 288.15
    return np.asarray(29.9213 * theta**5.255880)
