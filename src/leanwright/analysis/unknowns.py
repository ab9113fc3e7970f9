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
    """A normal distribution of all unknowns, the same for every sweep but for the mean.

    The precision matrix is ``own`` on the diagonal of each sweep's unknowns, less ``ties`` squared between the same
    unknown of any two sweeps (and of a sweep with itself), then ``shared`` on the diagonal of the lags.
    """

    mean: Floats
    """[mixed], shape (unknowns,)"""
    own: Floats
    """[mixed], shape (unknowns of a sweep,)"""
    ties: Floats
    """[mixed], shape (unknowns of a sweep,)"""
    shared: Floats
    """[mixed], shape (lags,)"""

    @property
    def sweeps(self) -> int:
        """How many sweeps there are."""
        return (self.mean.size - self.shared.size) // self.own.size

    @property
    def precision(self) -> Floats:
        """Inverse of the covariance, written out [mixed], shape (unknowns, unknowns)."""
        several = np.ones((self.sweeps, self.sweeps))
        of_sweeps = np.kron(np.eye(self.sweeps), np.diag(self.own)) - np.kron(several, np.diag(self.ties**2))
        precision = np.diag(np.concatenate((np.zeros(len(of_sweeps)), self.shared)))
        precision[: len(of_sweeps), : len(of_sweeps)] = of_sweeps
        return precision

    @property
    def log_determinant(self) -> float:
        """Ln det of the precision [1]."""
        apart = (self.sweeps - 1) * np.log(self.own) + np.log(self.own - self.sweeps * self.ties**2)
        return float(apart.sum() + np.log(self.shared).sum())

    def pull(self, unknowns: Floats) -> Floats:
        """Precision times what the mean lies away from some values: the prior's part of the right side.

        Parameters
        ----------
        unknowns : ndarray
            The values [mixed], shape (unknowns,).

        Returns
        -------
        ndarray
            [mixed], shape (unknowns,)
        """
        away = self.mean - unknowns
        of_sweeps = away[: -self.shared.size].reshape(self.sweeps, -1)
        pulled = self.own * of_sweeps - self.ties**2 * of_sweeps.sum(0)
        return np.concatenate((pulled.ravel(), self.shared * away[-self.shared.size :]))


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
        Mean and precision. Sweeps of one recording are tied: each unknown is the recording's own plus a small
        departure of the sweep's.

    Notes
    -----
    An unknown of spread *S* that departs by *l* from sweep to sweep has the covariance (S^2 - l^2) 1 1' + l^2 I
    over n sweeps, whose inverse is I/l^2 - 1 1' (S^2 - l^2)/(l^2 (l^2 + n (S^2 - l^2))).
    """
    mean = np.zeros(layout.size)
    mean[layout.curve] = CURVE_MEAN
    mean[layout.own[:, POSITION]] = position
    mean[layout.lag] = LAG_MEAN
    mean[-1] = FLOW_LAG_MEAN
    spread, link = np.empty((2, layout.each))
    spread[:CURVE], link[:CURVE] = CURVE_SD, CURVE_LINK * CURVE_SD
    for kind, sd, apart in (
        (POSITION, POSITION_SD, POSITION_SD),
        (HEIGHT, HEIGHT_SD, HEIGHT_SD),
        (SCALE, SCALE_SD, SCALE_LINK),
        (WIDTH, width_spread, min(WIDTH_LINK, 0.5 * width_spread)),
        (SKEW, SKEW_SD, SKEW_LINK),
    ):
        spread[layout.own[0, kind]], link[layout.own[0, kind]] = sd, apart
    shared = np.append(np.full(layout.cylinders, LAG_SD), FLOW_LAG_SD) ** -2.0
    if layout.sweeps == 1:
        return Prior(mean, spread**-2, np.zeros(layout.each), shared)
    alike = spread**2 - link**2
    ties = np.sqrt(alike / (link**2 * (link**2 + layout.sweeps * alike)))
    return Prior(mean, link**-2, ties, shared)
