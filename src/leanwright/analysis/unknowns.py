"""The unknowns of the joint fit: where each stands in the vector, and what is known of it beforehand."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Places = NDArray[np.int64]

CURVE = 5
"""Unknowns of a sweep's shared curve: rich slope, lean slope, rich relief, lean relief, ln(width)."""
POSITION, HEIGHT, SCALE, WIDTH, SKEW = range(5)
"""Unknowns of each cylinder in each sweep, in their order."""
OWN = 5

# What is known before a sweep is seen. Reasons and sources: docs/theory/peaks.md, section 5.
CURVE_MEAN = np.array([850.0, 1100.0, 230.0, 550.0, np.log(0.05)])
CURVE_SD = np.array([250.0, 350.0, 250.0, 500.0, 0.45])
SCALE_SD = 0.12
SKEW_SD = 0.02
LAG_MEAN = float(np.log(2.3))
LAG_SD = 0.5
FLOW_LAG_MEAN = 1.0
FLOW_LAG_SD = 0.4
POSITION_SD = 3.0
HEIGHT_SD = 400.0
FIRST_WIDTH_SPREAD = 0.12

# How far the sweeps of one recording may differ.
CURVE_LINK = 0.12
"""As a share of the standard deviation that is known beforehand."""
SCALE_LINK = 0.03
WIDTH_LINK = 0.04
SKEW_LINK = 0.006


class Layout:
    """Where each unknown stands: sweep after sweep its curve and its cylinders' own, then the lags.

    Parameters
    ----------
    sweeps, cylinders : int
        How many there are.
    """

    def __init__(self, sweeps: int, cylinders: int) -> None:
        self.sweeps, self.cylinders = sweeps, cylinders
        self.each = CURVE + OWN * cylinders
        self.size = sweeps * self.each + cylinders + 1
        first = np.arange(sweeps)[:, None] * self.each
        self.curve: Places = first + np.arange(CURVE)
        """Places of the curves, shape (sweeps, 5)"""
        self.own: Places = (first + CURVE + np.arange(OWN * cylinders)).reshape(sweeps, OWN, cylinders)
        """Places of the cylinders' own unknowns, shape (sweeps, 5, cylinders)"""
        self.lag: Places = np.arange(self.size - 1 - cylinders, self.size - 1)
        """Places of ln(lag in s), shape (cylinders,)"""

    def local(self, sweep: int) -> Places:
        """Places of the unknowns that one sweep depends on: its own, then the lags, then the flow's lag.

        Parameters
        ----------
        sweep : int
            Position of the sweep.

        Returns
        -------
        ndarray of int
            Places in the vector, shape (unknowns of the sweep,).
        """
        shared = np.arange(self.sweeps * self.each, self.size)
        return np.concatenate((np.arange(sweep * self.each, (sweep + 1) * self.each), shared))


@dataclass(frozen=True, slots=True, eq=False)
class Prior:
    """A normal distribution of all unknowns."""

    mean: Floats
    """[mixed], shape (unknowns,)"""
    precision: Floats
    """Inverse of the covariance [mixed], shape (unknowns, unknowns)"""


def prior(layout: Layout, position: Floats, width_spread: float) -> Prior:
    """What is known of the unknowns beforehand.

    Parameters
    ----------
    layout : Layout
        Where they stand.
    position : ndarray
        ln(fuel flow) about which the positions are looked for [1], shape (sweeps, cylinders).
    width_spread : float
        Standard deviation of ln(width) between cylinders [1].

    Returns
    -------
    Prior
        Mean and precision matrix. Sweeps of one recording are tied: each unknown is the recording's own plus a small
        departure of the sweep's.
    """
    mean = np.zeros(layout.size)
    precision = np.zeros((layout.size, layout.size))
    mean[layout.curve] = CURVE_MEAN
    mean[layout.own[:, POSITION]] = position
    mean[layout.lag] = LAG_MEAN
    mean[-1] = FLOW_LAG_MEAN
    for k in range(CURVE):
        _tie(precision, layout.curve[:, k : k + 1], CURVE_SD[k], CURVE_LINK * CURVE_SD[k])
    _tie(precision, layout.own[:, SCALE], SCALE_SD, SCALE_LINK)
    _tie(precision, layout.own[:, WIDTH], width_spread, min(WIDTH_LINK, 0.5 * width_spread))
    _tie(precision, layout.own[:, SKEW], SKEW_SD, SKEW_LINK)
    for places, spread in (
        (layout.own[:, POSITION].ravel(), POSITION_SD),
        (layout.own[:, HEIGHT].ravel(), HEIGHT_SD),
        (layout.lag, LAG_SD),
        (np.array([layout.size - 1]), FLOW_LAG_SD),
    ):
        precision[places, places] = spread**-2
    return Prior(mean, precision)


def _tie(precision: Floats, places: Places, spread: float, link: float) -> None:
    """Enter the precision of unknowns (one column each, one row a sweep) that the sweeps nearly share."""
    several = places.shape[0]
    if several == 1:
        precision[places[0], places[0]] = spread**-2
        return
    covariance = np.full((several, several), spread**2 - link**2) + link**2 * np.eye(several)
    inverse = np.linalg.inv(covariance)
    precision[places[:, None, :], places[None, :, :]] = inverse[:, :, None]
