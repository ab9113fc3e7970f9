"""How the metered fuel is shared among the nozzles, and the air among the cylinders.

All nozzles hang on one line of metered fuel and see nearly the same pressure; each passes what its coefficient
lets through by the orifice law [1]_. Nozzle jets end in a chamber at ambient pressure (deck pressure where the
engine is boosted) [2]_, so that the pressure that drives them is gauge pressure, unless the chamber's air bleed is
blocked. An intake leak lets air in through an orifice [3]_.

References
----------
.. [1] ISO 5167-1, incompressible limit; the discharge coefficient of a nozzle jet is its own matter.
.. [2] FAA-H-8083-32B, *Aviation Maintenance Technician Handbook - Powerplant*, 2023, p. 2-24.
.. [3] Isentropic flow through an orifice, e.g. J. B. Heywood, *Internal Combustion Engine Fundamentals*,
   McGraw-Hill 1988, appendix C, equations C.8 and C.9.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from leanwright.quantities import (
    KILOGRAMS_PER_POUND,
    LITRES_PER_US_GALLON,
    PASCALS_PER_INCH_OF_MERCURY,
    PASCALS_PER_PSI,
)

Floats = NDArray[np.float64]

METRES_PER_INCH: Final = 0.0254
GAS_CONSTANT_OF_AIR: Final = 287.05287
"""[J/(kg K)], U.S. Standard Atmosphere 1976."""
RATIO_OF_SPECIFIC_HEATS: Final = 1.4


def nozzle_flow(
    diameter: ArrayLike, pressure: ArrayLike, discharge_coefficient: float = 0.8, density: float = 6.01
) -> Floats:
    """Fuel that a nozzle passes.

    Parameters
    ----------
    diameter : array_like
        Bore [in].
    pressure : array_like
        Pressure across the nozzle [psi].
    discharge_coefficient : float
        Discharge coefficient [-]; about 0.8 for a short drilled hole.
    density : float
        Density of the fuel [lb/gal].

    Returns
    -------
    ndarray
        Flow [gal/h].

    Notes
    -----
    q = Cd A sqrt(2 dp / rho), the orifice law for a liquid.

    Examples
    --------
    >>> nozzle_flow(0.025, 10.0).round(4).tolist()
    3.3341
    """
    area = np.pi / 4.0 * (np.asarray(diameter) * METRES_PER_INCH) ** 2
    density_si = density * KILOGRAMS_PER_POUND / (LITRES_PER_US_GALLON * 1e-3)
    flow = discharge_coefficient * area * np.sqrt(2.0 * np.asarray(pressure) * PASCALS_PER_PSI / density_si)
    return np.asarray(flow * 3600.0 / (LITRES_PER_US_GALLON * 1e-3))


def fuel_shares(coefficients: ArrayLike) -> Floats:
    """Share of the total fuel flow that each nozzle passes when all see the same pressure.

    Parameters
    ----------
    coefficients : array_like
        Flow coefficients of the nozzles [any unit, one for all], shape (cylinders,).

    Returns
    -------
    ndarray
        Shares [-], sum 1, shape (cylinders,).

    Examples
    --------
    >>> fuel_shares([1.0, 1.0, 2.0]).tolist()
    [0.25, 0.25, 0.5]
    """
    c = np.asarray(coefficients, dtype=np.float64)
    return np.asarray(c / c.sum())


def flows_after_change(flows_at_peak: ArrayLike, coefficients: ArrayLike, factors: ArrayLike) -> Floats:
    """Flows at peak once nozzles are changed.

    Parameters
    ----------
    flows_at_peak : array_like
        Total fuel flow at which each cylinder peaks now [gal/h], shape (cylinders,).
    coefficients : array_like
        Flow coefficients of the nozzles fitted now [any unit, one for all], shape (cylinders,).
    factors : array_like
        New coefficient over the one fitted now [-], shape (cylinders,).

    Returns
    -------
    ndarray
        Total fuel flow at which each cylinder will peak [gal/h], shape (cylinders,).

    Notes
    -----
    A cylinder peaks when its own fuel meets its own air, so F_i* is proportional to 1 / s_i. A bigger nozzle takes
    from all the others: F_i*' = F_i* (sum C k / sum C) / k_i.

    Examples
    --------
    >>> flows_after_change([12.0, 12.0], [1.0, 1.0], [1.0, 1.02]).round(3).tolist()
    [12.12, 11.882]
    """
    c, k = np.asarray(coefficients, dtype=np.float64), np.asarray(factors, dtype=np.float64)
    return np.asarray(np.asarray(flows_at_peak) * ((c * k).sum() / c.sum()) / k)


def even_factors(flows_at_peak: ArrayLike, coefficients: ArrayLike) -> Floats:
    """Factors on the nozzles that bring all peaks to one total flow and keep the sum of coefficients.

    Parameters
    ----------
    flows_at_peak : array_like
        Total fuel flow at which each cylinder peaks now [gal/h], shape (cylinders,).
    coefficients : array_like
        Flow coefficients of the nozzles fitted now [any unit, one for all], shape (cylinders,).

    Returns
    -------
    ndarray
        New coefficient over the one fitted now [-], shape (cylinders,).

    Notes
    -----
    k_i is proportional to F_i*, with sum C k = sum C.

    Examples
    --------
    >>> even_factors([12.0, 12.4], [1.0, 1.0]).round(4).tolist()
    [0.9836, 1.0164]
    """
    f, c = np.asarray(flows_at_peak, dtype=np.float64), np.asarray(coefficients, dtype=np.float64)
    return np.asarray(f * c.sum() / (f * c).sum())


def pressure_ratio(coefficients: ArrayLike, factors: ArrayLike) -> float:
    """Change of the nozzle pressure at the same total flow.

    Parameters
    ----------
    coefficients : array_like
        Flow coefficients of the nozzles before [any unit, one for all], shape (cylinders,).
    factors : array_like
        Coefficient after over coefficient before [-], shape (cylinders,).

    Returns
    -------
    float
        Nozzle pressure after over before [-].

    Notes
    -----
    The square-root law gives dp proportional to (F / sum C) squared. The handbook's "direct proportion" between
    nozzle pressure and flow (FAA-H-8083-32B p. 2-24) is loose.

    Examples
    --------
    >>> round(pressure_ratio([1.0] * 6, [1.0] * 5 + [0.9]), 4)
    1.0342
    """
    c = np.asarray(coefficients, dtype=np.float64)
    return float((c.sum() / (c * np.asarray(factors)).sum()) ** 2)


def shares_under_suction(
    coefficients: ArrayLike, total: ArrayLike, suction: ArrayLike
) -> tuple[Floats, Floats]:
    """Fuel shares when some nozzle chambers stand below ambient pressure, and the pressure in the line.

    Parameters
    ----------
    coefficients : array_like
        Flow coefficients [gal/h per square root of psi], shape (cylinders,).
    total : array_like
        Metered fuel flow [gal/h], above 0, shape (n,).
    suction : array_like
        Pressure of each chamber below ambient [psi], 0 or more, shape (cylinders, n). 0 where the air bleed is
        open; up to ambient less manifold pressure where it is blocked.

    Returns
    -------
    shares : ndarray
        Share of the total through each nozzle [-], shape (cylinders, n).
    pressure : ndarray
        Gauge pressure in the line [psi], shape (n,); held at 0 where suction alone would pass more.

    Notes
    -----
    Solves sum C_i sqrt(p + e_i) = F for p by Newton's method from below the root. The function is
    concave and rising in p, so every step ends short of the root and the next one rises; 20 are more than needed.

    Examples
    --------
    >>> shares, pressure = shares_under_suction([1.0, 1.0], [4.0], [[0.0], [0.0]])
    >>> shares.round(3).tolist(), pressure.round(3).tolist()
    ([[0.5], [0.5]], [4.0])
    """
    c = np.asarray(coefficients, dtype=np.float64)[:, None]
    e, f = np.asarray(suction, dtype=np.float64), np.asarray(total, dtype=np.float64)
    if not e.any():
        return np.broadcast_to(c / c.sum(), e.shape).copy(), (f / c.sum()) ** 2
    floor = np.full_like(f, 1e-9)
    p = np.maximum((f / c.sum()) ** 2 - e.max(axis=0), floor)
    for _ in range(20):
        root = np.sqrt(p + e)
        p = np.maximum(p - ((c * root).sum(axis=0) - f) / (0.5 * c / root).sum(axis=0), floor)
    flows = c * np.sqrt(p + e)
    return flows / flows.sum(axis=0), p


def orifice_air_flow(
    diameter: float,
    outside: ArrayLike,
    inside: ArrayLike,
    temperature: ArrayLike,
    discharge_coefficient: float = 0.8,
) -> Floats:
    """Air that flows in through a hole.

    Parameters
    ----------
    diameter : float
        Hole [in].
    outside : array_like
        Absolute pressure outside [inHg].
    inside : array_like
        Absolute pressure inside [inHg]; where it is higher than outside the flow is outward and negative.
    temperature : array_like
        Temperature of the air before the hole [K].
    discharge_coefficient : float
        Discharge coefficient [-].

    Returns
    -------
    ndarray
        Flow of air [lb/h], positive inward.

    Notes
    -----
    Isentropic orifice flow of a perfect gas, choked below a pressure ratio of 0.528.

    Examples
    --------
    >>> orifice_air_flow(0.0625, 29.92, [15.0, 29.92], 288.15).round(2).tolist()
    [3.03, 0.0]
    """
    outside, inside = np.asarray(outside, dtype=np.float64), np.asarray(inside, dtype=np.float64)
    high, low = np.maximum(outside, inside), np.minimum(outside, inside)
    g = RATIO_OF_SPECIFIC_HEATS
    ratio = np.maximum(low / high, (2.0 / (g + 1.0)) ** (g / (g - 1.0)))
    flow_function = np.sqrt(2.0 * g / (g - 1.0) * (ratio ** (2.0 / g) - ratio ** ((g + 1.0) / g)))
    area = np.pi / 4.0 * (diameter * METRES_PER_INCH) ** 2
    flow = (
        discharge_coefficient
        * area
        * high
        * PASCALS_PER_INCH_OF_MERCURY
        * flow_function
        / np.sqrt(GAS_CONSTANT_OF_AIR * np.asarray(temperature))
    )
    return np.asarray(np.sign(outside - inside) * flow * 3600.0 / KILOGRAMS_PER_POUND)


def engine_air_flow(
    displacement: float,
    engine_speed: ArrayLike,
    manifold_pressure: ArrayLike,
    temperature: ArrayLike,
    volumetric_efficiency: float = 0.85,
) -> Floats:
    """Air that a four-stroke engine, or one cylinder of it, breathes.

    Parameters
    ----------
    displacement : float
        Swept volume [in3].
    engine_speed : array_like
        Crankshaft speed [rpm].
    manifold_pressure : array_like
        Absolute pressure in the intake [inHg].
    temperature : array_like
        Temperature of the air in the intake [K].
    volumetric_efficiency : float
        Volumetric efficiency, referred to intake conditions [-].

    Returns
    -------
    ndarray
        Flow of air [lb/h].

    Notes
    -----
    One charge every two turns: m = eta_v V p / (R T) n / 2; Heywood 1988, equation 2.27.

    Examples
    --------
    >>> engine_air_flow(90.0, 2400.0, 15.0, 288.15).round(1).tolist()
    122.2
    """
    volume = displacement * METRES_PER_INCH**3
    density = (
        np.asarray(manifold_pressure)
        * PASCALS_PER_INCH_OF_MERCURY
        / (GAS_CONSTANT_OF_AIR * np.asarray(temperature))
    )
    return np.asarray(
        volumetric_efficiency * volume * density * np.asarray(engine_speed) * 30.0 / KILOGRAMS_PER_POUND
    )
