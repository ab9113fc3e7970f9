"""A first-order lag of signals that are linear between the nodes of an even grid."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Reals = NDArray[np.floating]

BLOCK = 16
"""Grids hold a whole number of blocks of this many nodes."""


class Lag:
    """Lag of rows of signals, one lag a group of rows, as a recursion done in blocks.

    The exact response of tau y' + y = e to an e that is linear between nodes is
    y[k] = a y[k-1] + b e[k-1] + c e[k] with a = exp(-h/tau), c = 1 - (1 - a) tau/h, b = (1 - a) tau/h - a;
    it starts settled, y[0] = e[0].

    Parameters
    ----------
    tau_s : ndarray
        Lag of each group [s], shape (groups,).
    step_s : float
        Step of the grid [s].
    nodes : int
        Nodes of the grid, a multiple of ``BLOCK``.
    precision : type
        What signals are kept in.
    """

    def __init__(
        self, tau_s: Floats, step_s: float, nodes: int, precision: type[np.floating] = np.float64
    ) -> None:
        ratio = step_s / tau_s
        a = np.exp(-ratio)[:, None, None]
        mean = -np.expm1(-ratio)[:, None, None] / ratio[:, None, None]
        self.now: Reals = (1.0 - mean).astype(precision)
        self.last: Reals = (mean - a).astype(precision)
        self.blocks = nodes // BLOCK
        power = np.arange(BLOCK)
        apart = power[None, :] - power[:, None]
        self.inner: Reals = np.where(apart >= 0, a ** np.maximum(apart, 0), 0.0).astype(precision)
        apart = np.arange(self.blocks)[None, :] - np.arange(self.blocks)[:, None] - 1
        self.outer: Reals = np.where(apart >= 0, a ** (BLOCK * np.maximum(apart, 0)), 0.0).astype(precision)
        self.carry: Reals = (a[:, :, :, None] ** (power + 1)).astype(precision)

    def _sum(self, drive: Reals, *, reverse: bool) -> Reals:
        """Sum over the past (or the future) with weights a**distance."""
        groups, rows, nodes = drive.shape
        if reverse:
            inner, outer, carry, edge = (
                np.swapaxes(self.inner, 1, 2),
                np.swapaxes(self.outer, 1, 2),
                self.carry[..., ::-1],
                0,
            )
        else:
            inner, outer, carry, edge = self.inner, self.outer, self.carry, BLOCK - 1
        local = np.matmul(drive.reshape(groups, rows * self.blocks, BLOCK), inner)
        local = local.reshape(groups, rows, self.blocks, BLOCK)
        local += np.matmul(local[..., edge], outer)[..., None] * carry
        return np.asarray(local.reshape(groups, rows, nodes))

    def __call__(self, signal: Reals) -> Reals:
        """Lag signals.

        Parameters
        ----------
        signal : ndarray
            Values at the nodes [any], shape (groups, rows, nodes).

        Returns
        -------
        ndarray
            Lagged values [as given], same shape.
        """
        drive = self.now * signal
        drive[..., 1:] += self.last * signal[..., :-1]
        drive[..., :1] = signal[..., :1]
        return self._sum(drive, reverse=False)

    def transposed(self, signal: Reals) -> Reals:
        """Apply the transposed lag (time runs backwards), which a gradient needs.

        Parameters
        ----------
        signal : ndarray
            Values at the nodes [any], shape (groups, rows, nodes).

        Returns
        -------
        ndarray
            Result [as given], same shape; ``sum(x * lag(y)) == sum(lag.transposed(x) * y)``.
        """
        total = self._sum(np.ascontiguousarray(signal), reverse=True)
        result = self.now * total
        result[..., :-1] += self.last * total[..., 1:]
        result[..., :1] = total[..., :1] + self.last * total[..., 1:2]
        return result


def lagged_noise(distance_s: Floats, tau_s: Floats | float, noise_s: float) -> Floats:
    """Correlation function of first-order noise seen through a first-order lag, as a share of its variance before.

    Parameters
    ----------
    distance_s : ndarray
        Distances in time [s], any shape.
    tau_s : ndarray or float
        Lag [s], broadcast against the distances.
    noise_s : float
        Correlation time of the noise [s].

    Returns
    -------
    ndarray
        Covariance for unit variance before the lag [1], their common shape.

    Notes
    -----
    n (n exp(-d/n) - t exp(-d/t)) / (n^2 - t^2), from the product of the two first-order spectra.
    """
    tau_s = np.where(np.abs(tau_s - noise_s) < 1e-3 * noise_s, noise_s * 1.001, tau_s)
    top = noise_s * np.exp(-distance_s / noise_s) - tau_s * np.exp(-distance_s / tau_s)
    result: Floats = noise_s * top / (noise_s**2 - tau_s**2)
    return result
