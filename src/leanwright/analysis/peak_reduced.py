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
    common_solved: Floats
    """Inverse of 1 + F F' of common noise, drift and power, times F (path, J, r)' [mixed], shape (common latents,
    directions + unknowns + 1)"""
    path_inner: Floats
    """1 + F F' of the path once the others are out [1], shape (directions, directions)"""
    path_solved: Floats
    """Its inverse times F (J, r)', the others out [mixed], shape (directions, unknowns + 1)"""
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
        return np.asarray(self.path_solved[:, -1] - self.path_solved[:, :-1] @ step)

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
        path = self.path(step)
        known = np.concatenate((-path, -step, [1.0]))
        return np.concatenate((self.common_solved @ known, path))

    def of_path(self) -> Floats:
        """Rows of (1 + F F')^-1 F that belong to the path.

        Returns
        -------
        ndarray
            [1], shape (directions, data)
        """
        common, directions = self.common_solved.shape[0], self.path_inner.shape[0]
        shared = self.linear.shared
        left = shared[common:] - self.common_solved[:, :directions].T @ shared[:common]
        return np.asarray(np.linalg.solve(self.path_inner, left), dtype=np.float64)

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
        first = self.common_solved.shape[0] if path else self.linear.latents
        _, _, left = _eliminated(self.gram[first:-1, first:-1], self.linear.latents - first)
        return left

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
        common, latents = self.common_solved.shape[0], self.linear.latents
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
        common = self.common_solved.shape[0]
        return float(
            np.linalg.slogdet(self.gram[:common, :common])[1] + np.linalg.slogdet(self.path_inner)[1]
        )


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
    All products that the equations need are blocks of one symmetric matrix. Two eliminations in turn give what
    one elimination of all latents gives, with smaller matrices.
    """
    linear = linearise(passage, whitener, level, state)
    gram = linear.whole @ linear.whole.T
    latents = np.arange(linear.latents)
    gram[latents, latents] += 1.0
    _, common_solved, rest = _eliminated(gram, linear.latents - state.path.size)
    path_inner, path_solved, normal = _eliminated(rest, state.path.size)
    return Reduced(
        linear,
        whitener,
        gram,
        common_solved,
        path_inner,
        path_solved,
        normal[:-1, :-1],
        normal[:-1, -1],
        float(normal[-1, -1]),
    )


def _eliminated(matrix: Floats, number: int) -> tuple[Floats, Floats, Floats]:
    """The first block of a symmetric matrix, its inverse times what stands beside it, and what is left below."""
    inner, beside = matrix[:number, :number], matrix[:number, number:]
    solved = np.asarray(np.linalg.solve(inner, beside), dtype=np.float64)
    return inner, solved, matrix[number:, number:] - beside.T @ solved
