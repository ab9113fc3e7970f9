"""The standard atmosphere below 36 000 ft."""

from typing import Final

SEA_LEVEL_INHG: Final = 29.9213
SEA_LEVEL_K: Final = 288.15
LAPSE_K_PER_FT: Final = 0.0065 * 0.3048
PRESSURE_EXPONENT: Final = 5.255880


def standard_temperature(pressure_altitude: float) -> float:
    """Temperature of the standard air.

    Parameters
    ----------
    pressure_altitude : float
        Pressure altitude, below 36 000 [ft].

    Returns
    -------
    float
        Temperature [K].

    Notes
    -----
    *U.S. Standard Atmosphere, 1976*, equation 23: 288.15 K less 6.5 K a kilometre.

    Examples
    --------
    >>> round(standard_temperature(10_000.0), 2)
    268.34
    """
    return SEA_LEVEL_K - LAPSE_K_PER_FT * pressure_altitude


def standard_pressure(pressure_altitude: float) -> float:
    """Pressure of the standard air.

    Parameters
    ----------
    pressure_altitude : float
        Pressure altitude, below 36 000 [ft].

    Returns
    -------
    float
        Pressure [inHg].

    Notes
    -----
    *U.S. Standard Atmosphere, 1976*, equation 33a.

    Examples
    --------
    >>> round(standard_pressure(8_000.0), 2)
    22.22
    """
    return float(
        SEA_LEVEL_INHG * (standard_temperature(pressure_altitude) / SEA_LEVEL_K) ** PRESSURE_EXPONENT
    )
