"""A prediction that was missed is evidence: what it points to."""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc

from leanwright.findings import Statement

Floats = NDArray[np.float64]

_RARE: Final = 0.01
"""A misfit less likely than this is told (common practice) [1]."""
_MUCH_BETTER: Final = 9.0
"""By how much the misfit has to fall for one explanation to be named (three standard uncertainties) [1]."""
_NO_CHANGE: Final = 1e-6
_FLOOR: Final = 1e-10


@dataclass(frozen=True, slots=True, eq=False)
class Residual:
    """What came less what was predicted.

    ``missed`` [1] are offsets, centred over ``cylinders``, with ``covariance`` [1]; ``log_factor`` are the logarithms of
    the planned flow factors [1], ``response`` the response they were predicted with [1], and ``flow`` the flows at peak
    that came [gal/h].
    """

    cylinders: tuple[int, ...]
    missed: Floats
    covariance: Floats
    log_factor: Floats
    response: float
    flow: Floats

    def misfit(self, explained: Floats | None = None) -> float:
        """Weighted sum of squares of what an explanation leaves over.

        Parameters
        ----------
        explained : ndarray, shape (cylinders,), optional
            What the explanation says was missed [1].

        Returns
        -------
        float
            To be compared with the cylinders less one [1].
        """
        count = len(self.cylinders)
        centre = np.eye(count) - 1.0 / count
        rest = self.missed if explained is None else self.missed - centre @ explained
        variances, axes = np.linalg.eigh(self.covariance)
        seen = axes[:, 1:] if count > 1 else axes  # the first axis is the mean, which is always 0
        return float(np.sum((seen.T @ rest) ** 2 / np.maximum(variances[1:], _FLOOR)))


def pointing_to(residual: Residual) -> tuple[Statement, ...]:
    """What a missed prediction points to.

    Parameters
    ----------
    residual : Residual
        What came less what was predicted.

    Returns
    -------
    tuple of Statement
        None where the prediction holds; one explanation where one accounts for it; else each cylinder that is out.
    """
    whole = residual.misfit()
    freedom = len(residual.cylinders) - 1
    if freedom < 1 or chdtrc(freedom, whole) >= _RARE:
        return ()
    explained = min(_explanations(residual), key=lambda one: one[0], default=None)
    if (
        explained is not None
        and whole - explained[0] >= _MUCH_BETTER
        and chdtrc(freedom, explained[0]) >= _RARE
    ):
        return (explained[1],)
    return tuple(_cylinder(residual, row) for row in _out(residual))


def _explanations(residual: Residual) -> Iterator[tuple[float, Statement]]:
    """Misfit of each simple explanation, with what is to be said of it."""
    log_factor, response = residual.log_factor, residual.response
    changed = np.flatnonzero(np.abs(log_factor) > _NO_CHANGE)
    for row in changed:
        undone = np.zeros(log_factor.size)
        undone[row] = response * log_factor[row]
        yield residual.misfit(undone), Statement("missed-not-changed", {"cylinder": residual.cylinders[row]})
    for one, other in itertools.combinations(range(log_factor.size), 2):
        difference = response * (log_factor[one] - log_factor[other])
        if abs(difference) > _NO_CHANGE:
            swapped = np.zeros(log_factor.size)
            swapped[one], swapped[other] = difference, -difference
            both = (residual.cylinders[one], residual.cylinders[other])
            yield residual.misfit(swapped), Statement("missed-exchanged", {"cylinders_meant": both})
    if changed.size > 1:
        yield _of_response(residual)


def _of_response(residual: Residual) -> tuple[float, Statement]:
    """All changes missed in one proportion: the engine responds more or less than promised."""
    count = residual.log_factor.size
    promised = -(np.eye(count) - 1.0 / count) @ residual.log_factor
    inverse = np.linalg.pinv(residual.covariance, hermitian=True)
    share = float(promised @ inverse @ residual.missed / max(promised @ inverse @ promised, _FLOOR))
    percent = 100.0 * (residual.response + share)
    return residual.misfit(share * promised), Statement("missed-in-proportion", {"came_percent": percent})


def _out(residual: Residual) -> list[int]:
    """Rows that are out by more than their uncertainty, the worst first; at least the worst one."""
    u = np.sqrt(np.maximum(np.diag(residual.covariance), _FLOOR))
    by_size = np.argsort(-np.abs(residual.missed) / u)
    far = [int(row) for row in by_size if abs(residual.missed[row]) > 2.0 * u[row]]
    return far or [int(by_size[0])]


def _cylinder(residual: Residual, row: int) -> Statement:
    flow = float(residual.flow[row])
    values = {
        "cylinder": residual.cylinders[row],
        "missed_gph": flow * float(residual.missed[row]),
        "u_missed_gph": flow * float(np.sqrt(residual.covariance[row, row])),
        "side": "lean" if residual.missed[row] > 0.0 else "rich",
    }
    return Statement("missed-prediction", values)
