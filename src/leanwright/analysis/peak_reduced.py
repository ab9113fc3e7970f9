"""One sweep's normal equations, with what its cylinders share taken out: common noise first, then the path.

Equation numbers are those of docs/theory/peaks.md.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.passage import Passage
from leanwright.analysis.peak_model import Linear, State, linearise
from leanwright.analysis.peak_noise import NoiseLevel

Floats = NDArray[np.float64]
Reals = NDArray[np.floating]


@dataclass(frozen=True, slots=True, eq=False)
class SharedAlone:
    """Equations of common noise, drift and power with the unknowns held and the path taken out."""

    square: Floats
    """F F' less what the path explains of it [1], shape (common latents, common latents)"""
    seen: Floats
    """F r less what the path explains of it [1], shape (common latents,)"""
    path_solved: Floats
    """By how much the path moves with them [1], shape (directions, common latents)"""
    path_alone: Floats
    """The path were they nought [1], shape (directions,)"""
    path_certain: float
    """How many of the path's directions the data tell, were they known [1]"""

    def path(self, common: Floats) -> Floats:
        """The path's directions at their best.

        Parameters
        ----------
        common : ndarray
            Values of common noise, drift and power [1], shape (common latents,).

        Returns
        -------
        ndarray
            [1], shape (directions,)
        """
        return self.path_alone - self.path_solved @ common

    def certain_path(self, covariance: Floats) -> float:
        """How many of the path's directions the data tell.

        Parameters
        ----------
        covariance : ndarray
            Of common noise, drift and power [1], shape (common latents, common latents).

        Returns
        -------
        float
            [1]
        """
        return self.path_certain - float(np.sum((self.path_solved @ covariance) * self.path_solved))


@dataclass(frozen=True, slots=True, eq=False)
class Reduced:
    """One sweep about a point, with the latents taken out, eqs. (11) to (13)."""

    linear: Linear
    whitener: Floats
    """Inverse factors of each cylinder's own covariance [1/degF], shape (cylinders, means, means)"""
    gram: Floats
    """Products of all rows of ``linear.whole``, with 1 added for each latent [mixed], shape (rows, rows)"""
    factor: Floats
    """Lower factor of M, and below it what (J, r) have in common with its axes [mixed], shape (rows, latents)"""
    normal: Floats
    """Normal matrix of the sweep's unknowns [mixed], shape (unknowns, unknowns)"""
    right: Floats
    """Right side of the normal equations [mixed], shape (unknowns,)"""
    energy: float
    """What the residuals leave when the latents are at their best [1]"""

    def path(self, step: Floats) -> Floats:
        """Amplitudes of the path's directions at their best after a step of the unknowns, eq. (13).

        Parameters
        ----------
        step : ndarray
            Step of the sweep's unknowns [mixed], shape (unknowns,).

        Returns
        -------
        ndarray
            In their standard deviations [1], shape (directions,).
        """
        return self._latents(step, self.linear.common)

    def latents(self, step: Floats) -> Floats:
        """All latents at their best after a step of the unknowns, eq. (13).

        Parameters
        ----------
        step : ndarray
            Step of the sweep's unknowns [mixed], shape (unknowns,).

        Returns
        -------
        ndarray
            In their standard deviations, in the order of ``linear.shared`` [1], shape (latents,).
        """
        return self._latents(step, 0)

    def _latents(self, step: Floats, first: int) -> Floats:
        """Latents from ``first`` on: the last of them do not need the others."""
        latents = self.linear.latents
        left = self.factor[-1, first:] - step @ self.factor[latents:-1, first:]
        return np.asarray(np.linalg.solve(self.factor[first:latents, first:].T, left), dtype=np.float64)

    def of_path(self) -> Reals:
        """Rows of (1 + F F')^-1 F that belong to the path, in the precision of the path's directions.

        Returns
        -------
        ndarray
            [1], shape (directions, data)
        """
        common, latents = self.linear.common, self.linear.latents
        factor = self.factor[:latents].astype(self.linear.response.dtype)
        shared = self.linear.shared.astype(factor.dtype)
        of_path = factor[common:]
        crossed = np.linalg.solve(factor[:common, :common].T, of_path[:, :common].T)
        left = shared[common:] - crossed.T @ shared[:common]
        return np.asarray(np.linalg.solve(of_path[:, common:] @ of_path[:, common:].T, left))

    def normal_with_common_known(self, *, path: bool) -> Floats:
        """Normal matrix of the unknowns were common noise, drift and power known.

        Parameters
        ----------
        path : bool
            Whether the path is unknown; else it is known too.

        Returns
        -------
        ndarray
            [mixed], shape (unknowns, unknowns)
        """
        common, latents = self.linear.common, self.linear.latents
        normal = self.gram[latents:-1, latents:-1]
        if not path:
            return normal
        crossed = self.gram[common:latents, latents:-1]
        return np.asarray(
            normal - crossed.T @ np.linalg.solve(self.gram[common:latents, common:latents], crossed)
        )

    def shared_alone(self, after: Floats) -> SharedAlone:
        """What is to be known of common noise, drift and power when the unknowns are held and the path is taken out.

        Parameters
        ----------
        after : ndarray
            Whitened residuals with the unknowns held [1], shape (data,).

        Returns
        -------
        SharedAlone
            Their equations.
        """
        common, latents = self.linear.common, self.linear.latents
        of_path, crossed = self.gram[common:latents, common:latents], self.gram[common:latents, :common]
        seen = self.linear.shared @ after
        beside = np.concatenate((crossed, seen[common:, None], np.eye(latents - common)), axis=1)
        solved = np.asarray(np.linalg.solve(of_path, beside), dtype=np.float64)
        square = self.gram[:common, :common] - np.eye(common) - crossed.T @ solved[:, :common]
        alone = seen[:common] - crossed.T @ solved[:, common]
        certain = latents - common - float(np.trace(solved[:, common + 1 :]))
        return SharedAlone(square, alone, solved[:, :common], solved[:, common], certain)

    @property
    def log_determinant(self) -> float:
        """Ln det(1 + F F') of all latents [1]."""
        return 2.0 * float(np.log(np.diag(self.factor)).sum())


def reduce(passage: Passage, whitener: Floats, level: NoiseLevel, state: State) -> Reduced:
    """Take the latents of one sweep out of its normal equations, eqs. (11) and (12).

    Parameters
    ----------
    passage : Passage
        The sweep.
    whitener : ndarray
        Inverse factors of each cylinder's own covariance [1/degF], shape (cylinders, means, means).
    level : NoiseLevel
        Sizes of the noise [degF].
    state : State
        Values of the unknowns.

    Returns
    -------
    Reduced
        The equations.

    Notes
    -----
    All products that the equations need are blocks of one symmetric matrix. One Cholesky factorisation of it gives the
    factor L of M and W = L^-1 F (J, r)', of which the equations are made: J J' - J F' M^-1 F J' = J J' - W' W. What is
    added to the last corner keeps it positive where a cylinder tells nothing; nothing of that is used.
    """
    linear = linearise(passage, whitener, level, state)
    gram = linear.whole @ linear.whole.T
    places = np.arange(linear.latents)
    gram[places, places] += 1.0
    bordered = gram.copy()
    places = np.arange(linear.latents, len(gram))
    bordered[places, places] = 2.0 * bordered[places, places] + 1.0
    factor = np.asarray(np.linalg.cholesky(bordered)[:, : linear.latents], dtype=np.float64)
    beside = factor[linear.latents :]
    equations = gram[linear.latents :, linear.latents :] - beside @ beside.T
    return Reduced(
        linear,
        whitener,
        gram,
        factor,
        equations[:-1, :-1],
        equations[:-1, -1],
        float(equations[-1, -1]),
    )
