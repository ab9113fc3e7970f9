"""Exhaust temperature and work against mixture, from equilibrium thermodynamics.

The curves are those of an ideal fuel-air cycle with equilibrium products [1]_, computed once with a reference
library (:mod:`leanwright.engine.exhaust_table`). Only their shape is used: a real probe reads several hundred
degrees lower, and the cycle knows nothing of burning time, residual gas or losses in the probe. Mixture that
differs from place to place inside a cylinder rounds the top.

References
----------
.. [1] J. B. Heywood, *Internal Combustion Engine Fundamentals*, McGraw-Hill 1988, section 5.5 (fuel-air cycles).
"""

from collections.abc import Callable
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from leanwright.engine import exhaust_table

Floats = NDArray[np.float64]

STOICHIOMETRIC_FUEL_AIR: Final = 1.0 / 15.132
"""Chemically correct ratio of iso-octane to air, by mass [lb/lb] (computed with the table)."""

_SCATTER_STEPS: Final = np.linspace(-4.0, 4.0, 97)
_SCATTER_WEIGHTS: Final = np.exp(-0.5 * _SCATTER_STEPS**2) / np.exp(-0.5 * _SCATTER_STEPS**2).sum()


@cache
def _table() -> tuple[Floats, Floats, Floats, Floats]:
    return (
        np.array(exhaust_table.PHI),
        np.array(exhaust_table.LOSSES),
        np.array(exhaust_table.EXHAUST_TEMPERATURE_K),
        np.array(exhaust_table.WORK_PER_AIR),
    )


def _at(phi: ArrayLike, loss: float, table: Floats) -> Floats:
    grid, losses, _, _ = _table()
    if not losses[0] <= loss <= losses[-1]:
        raise ValueError(f"loss {loss} lies outside the table, {losses[0]} to {losses[-1]}")
    row = min(int(np.searchsorted(losses, loss, side="right")) - 1, losses.size - 2)
    share = (loss - losses[row]) / (losses[row + 1] - losses[row])
    return np.asarray(
        np.interp(
            np.asarray(phi, dtype=np.float64), grid, (1.0 - share) * table[row] + share * table[row + 1]
        )
    )


def _rounded(phi: ArrayLike, scatter: float, curve: Callable[[Floats], Floats]) -> Floats:
    phi = np.asarray(phi, dtype=np.float64)
    spread_out = curve(phi[..., None] * (1.0 + scatter * _SCATTER_STEPS))
    return np.asarray(spread_out @ _SCATTER_WEIGHTS)


def exhaust_temperature(phi: ArrayLike, loss: float = 0.25) -> Floats:
    """Mass-average exhaust temperature of the fuel-air cycle.

    Parameters
    ----------
    phi : array_like
        Equivalence ratio [-], any shape. Holds from 0.5 to 1.6; held constant outside.
    loss : float
        Share of the released heat removed at top centre [-], 0 to 0.25.

    Returns
    -------
    ndarray
        Exhaust temperature [K], shape of ``phi``.

    Raises
    ------
    ValueError
        ``loss`` lies outside the table.

    Notes
    -----
    Linear between the points of the table, 0.01 apart in ``phi`` (0.0025 at the top) and 0.125 in ``loss``.

    Examples
    --------
    >>> exhaust_temperature([0.9, 1.0, 1.1]).round(0).tolist()
    [1207.0, 1293.0, 1222.0]
    """
    return _at(phi, loss, _table()[2])


def work_per_air(phi: ArrayLike, loss: float = 0.25) -> Floats:
    """Work of the closed cycle, for each kilogram of air.

    Parameters
    ----------
    phi : array_like
        Equivalence ratio [-], any shape. Holds from 0.5 to 1.6; held constant outside.
    loss : float
        Share of the released heat removed at top centre [-], 0 to 0.25.

    Returns
    -------
    ndarray
        Work [kJ/kg], shape of ``phi``.

    Raises
    ------
    ValueError
        ``loss`` lies outside the table.

    Examples
    --------
    >>> round(float(work_per_air(0.8) / work_per_air(1.01)), 2)
    0.83
    """
    return _at(phi, loss, _table()[3])


def rounded_exhaust_temperature(phi: ArrayLike, loss: float, scatter: float) -> Floats:
    """Exhaust temperature when the mixture differs from place to place inside the cylinder.

    Parameters
    ----------
    phi : array_like
        Mean equivalence ratio of the cylinder [-], shape (n,).
    loss : float
        Share of the released heat removed at top centre [-], 0 to 0.25.
    scatter : float
        Relative standard deviation of the equivalence ratio inside the cylinder [-].

    Returns
    -------
    ndarray
        Exhaust temperature [K], shape (n,).

    Raises
    ------
    ValueError
        ``loss`` lies outside the table.

    Notes
    -----
    Mean of :func:`exhaust_temperature` over a normal distribution of equivalence ratios, cut at four standard
    deviations.

    Examples
    --------
    >>> rounded_exhaust_temperature([1.0], 0.25, 0.05).round(0).tolist()
    [1261.0]
    """
    return _rounded(phi, scatter, lambda at: exhaust_temperature(at, loss))


def rounded_work_per_air(phi: ArrayLike, loss: float, scatter: float) -> Floats:
    """Work for each kilogram of air when the mixture differs from place to place inside the cylinder.

    Parameters
    ----------
    phi : array_like
        Mean equivalence ratio of the cylinder [-], shape (n,).
    loss : float
        Share of the released heat removed at top centre [-], 0 to 0.25.
    scatter : float
        Relative standard deviation of the equivalence ratio inside the cylinder [-].

    Returns
    -------
    ndarray
        Work [kJ/kg], shape (n,).

    Raises
    ------
    ValueError
        ``loss`` lies outside the table.

    Notes
    -----
    Mean of :func:`work_per_air` over the same distribution as in :func:`rounded_exhaust_temperature`.

    Examples
    --------
    >>> bool(rounded_work_per_air([1.014], 0.25, 0.05)[0] < work_per_air(1.014))
    True
    """
    return _rounded(phi, scatter, lambda at: work_per_air(at, loss))


def peak_equivalence_ratio(loss: float, scatter: float) -> float:
    """Equivalence ratio at which the exhaust temperature is highest.

    Parameters
    ----------
    loss : float
        Share of the released heat removed at top centre [-], 0 to 0.25.
    scatter : float
        Relative standard deviation of the equivalence ratio inside the cylinder [-].

    Returns
    -------
    float
        Equivalence ratio at the top [-], from a parabola through the highest point of a grid of 0.001 and its two
        neighbours.

    Raises
    ------
    ValueError
        ``loss`` lies outside the table.

    Examples
    --------
    >>> round(peak_equivalence_ratio(0.25, 0.05), 2)
    1.0
    """
    phi = np.linspace(0.95, 1.05, 101)
    return top(phi, rounded_exhaust_temperature(phi, loss, scatter))


def top(x: Floats, y: Floats) -> float:
    """Place of the top of a smooth curve given on an even grid.

    Parameters
    ----------
    x : ndarray
        Places [any unit], evenly spaced, shape (n,).
    y : ndarray
        Values [any unit], shape (n,), highest inside the grid.

    Returns
    -------
    float
        Place of the top [unit of x]: vertex of the parabola through the highest point and its neighbours.

    Raises
    ------
    ValueError
        The highest value stands at an end of the grid.

    Examples
    --------
    >>> round(top(np.array([0.0, 1.0, 2.0]), np.array([0.0, 3.0, 2.0])), 4)
    1.25
    """
    i = int(np.argmax(y))
    if i in {0, y.size - 1}:
        raise ValueError(f"the highest of {y.size} values stands at the end, {x[i]}: there is no top inside")
    left, mid, right = y[i - 1 : i + 2]
    return float(x[i] + 0.5 * (x[i + 1] - x[i]) * (left - right) / (left - 2.0 * mid + right))


def equivalence_ratio(fuel_flow: ArrayLike, air_flow: ArrayLike) -> Floats:
    """Mixture from the masses that meet.

    Parameters
    ----------
    fuel_flow : array_like
        Fuel [lb/h].
    air_flow : array_like
        Air [lb/h].

    Returns
    -------
    ndarray
        Equivalence ratio [-]: fuel/air ratio over the chemically correct one.

    Examples
    --------
    >>> equivalence_ratio(72.0, 1089.5).round(3).tolist()
    1.0
    """
    return np.asarray(fuel_flow, dtype=np.float64) / (np.asarray(air_flow) * STOICHIOMETRIC_FUEL_AIR)
