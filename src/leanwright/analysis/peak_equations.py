"""The normal equations of all sweeps of a recording, kept in blocks: twice the sweeps take twice as long to solve.

Each sweep has unknowns of its own. What joins the sweeps are the lags, which all share, and the prior, by which a few
unknowns of one sweep are nearly those of another. Equation numbers are those of docs/theory/peaks.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.unknowns import Prior

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Equations:
    """A symmetric matrix in blocks, [A B; B' D] - [T; 0] [T; 0]', eq. (21).

    A holds ``own`` along its diagonal, B is ``beside``, D is ``shared``, and T has for every tied unknown a column with
    its tie in each sweep.
    """

    own: Floats
    """[mixed], shape (sweeps, unknowns of a sweep, unknowns of a sweep)"""
    beside: Floats
    """[mixed], shape (sweeps, unknowns of a sweep, lags)"""
    shared: Floats
    """[mixed], shape (lags, lags)"""
    ties: Floats
    """[mixed], shape (unknowns of a sweep,)"""

    @classmethod
    def of(cls, known: Prior, sweeps: Sequence[Floats]) -> Self:
        """Put together what is known beforehand and what each sweep tells.

        Parameters
        ----------
        known : Prior
            Of all unknowns.
        sweeps : sequence of ndarray
            Normal matrix of each sweep's unknowns, its own and then the lags [mixed], each of shape (unknowns, unknowns).

        Returns
        -------
        Equations
            All of it.
        """
        each = known.own.size
        told = np.array(sweeps)
        own = told[:, :each, :each].copy()
        every = np.arange(each)
        own[:, every, every] += known.own
        shared = told[:, each:, each:].sum(0) + np.diag(known.shared)
        return cls(own, told[:, :each, each:], shared, known.ties)

    def with_lags_known(self) -> Self:
        """The equations of the sweeps' own unknowns, were the lags known.

        Returns
        -------
        Equations
            Without the lags.
        """
        return replace(self, beside=self.beside[:, :, :0], shared=self.shared[:0, :0])

    def solve(self, right: Floats) -> Floats:
        """Solve for a right side, eq. (22).

        Parameters
        ----------
        right : ndarray
            [mixed], shape (unknowns,)

        Returns
        -------
        ndarray
            [mixed], shape (unknowns,)
        """
        lags, edges = len(self.shared), self._edges()
        own = right[: right.size - lags].reshape(len(self.own), -1, 1)
        solved = _solved(self.own, np.concatenate((edges, own), axis=2))
        joined, of_joined = solved[:, :, :-1], solved[:, :, -1:]
        aim = np.zeros(edges.shape[2])
        aim[:lags] = right[right.size - lags :]
        aim -= _summed(edges, of_joined)[:, 0]
        join = _solved(self._corner() - _summed(edges, joined), aim)
        return np.concatenate(((of_joined[:, :, 0] - joined @ join).ravel(), join[:lags]))

    def inverse(self) -> Floats:
        """The inverse, written out.

        Returns
        -------
        ndarray
            [mixed], shape (unknowns, unknowns)
        """
        lags, edges = len(self.shared), self._edges()
        sweeps, each = self.own.shape[:2]
        alone = np.linalg.inv(self.own)
        joined = np.asarray(np.matmul(alone, edges), dtype=np.float64)
        join = np.linalg.inv(self._corner() - _summed(edges, joined))
        flat = joined.reshape(sweeps * each, -1)
        through = flat @ join
        whole = np.empty((sweeps * each + lags,) * 2)
        whole[: sweeps * each, : sweeps * each] = through @ flat.T
        for s in range(sweeps):
            block = slice(s * each, (s + 1) * each)
            whole[block, block] += alone[s]
        whole[: sweeps * each, sweeps * each :] = -through[:, :lags]
        whole[sweeps * each :, : sweeps * each] = -through[:, :lags].T
        whole[sweeps * each :, sweeps * each :] = join[:lags, :lags]
        return whole

    @property
    def log_determinant(self) -> float:
        """Ln det of the matrix [1]."""
        edges = self._edges()
        left = self._corner() - _summed(edges, _solved(self.own, edges))
        return float(np.linalg.slogdet(self.own)[1].sum() + np.linalg.slogdet(left)[1])

    def _edges(self) -> Floats:
        """What joins each sweep to the lags, and then to what ties the sweeps."""
        tied = np.flatnonzero(self.ties)
        edges = np.zeros((*self.own.shape[:2], len(self.shared) + tied.size))
        edges[:, :, : len(self.shared)] = self.beside
        edges[:, tied, len(self.shared) + np.arange(tied.size)] = self.ties[tied]
        return edges

    def _corner(self) -> Floats:
        corner = np.eye(len(self.shared) + int(np.count_nonzero(self.ties)))
        corner[: len(self.shared), : len(self.shared)] = self.shared
        return corner


def _summed(edges: Floats, solved: Floats) -> Floats:
    """Sum over the sweeps of one times the other."""
    several = edges.shape[0] * edges.shape[1]
    return np.asarray(edges.reshape(several, -1).T @ solved.reshape(several, -1))


def _solved(matrix: Floats, right: Floats) -> Floats:
    return np.asarray(np.linalg.solve(matrix, right), dtype=np.float64)
