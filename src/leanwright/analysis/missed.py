"""A prediction that was missed is evidence: what it points to."""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.chance import chi_square_beyond
from leanwright.findings import Statement

Floats = NDArray[np.float64]

_RARE: Final = 0.01
"""A misfit less likely than this is told (common practice) [1]."""
_MUCH_BETTER: Final = 9.0
"""By how much the misfit has to fall for one explanation to be named (three standard uncertainties) [1]."""
_FITTED: Final = 4.0
"""What an explanation whose size is fitted has to be better than one that is foretold [1]."""
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
    if freedom < 1 or chi_square_beyond(freedom, whole) >= _RARE:
        return ()
    misfit, told = min(_explanations(residual), key=lambda one: one[0])
    if whole - misfit >= _MUCH_BETTER and chi_square_beyond(freedom, misfit) >= _RARE:
        return (told,)
    return _few(residual)


def _explanations(residual: Residual) -> Iterator[tuple[float, Statement]]:
    """Misfit of each simple explanation, with what is to be said of it."""
    log_factor, response = residual.log_factor, residual.response
    changed = np.flatnonzero(np.abs(log_factor) > _NO_CHANGE)
    for row in changed.tolist():
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
    for single in range(log_factor.size):
        alone, amounts = _moved(residual, (single,))
        yield alone + _FITTED, _cylinder(residual, single, float(amounts[0]), float(amounts[1]))


def _of_response(residual: Residual) -> tuple[float, Statement]:
    """All changes missed in one proportion: the engine responds more or less than promised."""
    count = residual.log_factor.size
    promised = -(np.eye(count) - 1.0 / count) @ residual.log_factor
    inverse = np.linalg.pinv(residual.covariance, hermitian=True)
    share = float(promised @ inverse @ residual.missed) / max(float(promised @ inverse @ promised), _FLOOR)
    percent = 100.0 * (residual.response + share)
    return residual.misfit(share * promised) + _FITTED, Statement(
        "missed-in-proportion", {"came_percent": percent}
    )


def _few(residual: Residual) -> tuple[Statement, ...]:
    """The fewest cylinders that together account for it, taken one by one; half of all at most."""
    freedom = len(residual.cylinders) - 1
    rows: tuple[int, ...] = ()
    while len(rows) < len(residual.cylinders) // 2:
        left = [row for row in range(len(residual.cylinders)) if row not in rows]
        rows = min(((*rows, row) for row in left), key=lambda some: _moved(residual, some)[0])
        left_over = freedom - len(rows)
        if left_over > 0 and chi_square_beyond(left_over, _moved(residual, rows)[0]) >= _RARE:
            break
    amounts = _moved(residual, rows)[1].reshape(len(rows), 2)
    return tuple(
        _cylinder(residual, row, float(amount), float(u))
        for row, (amount, u) in sorted(zip(rows, amounts, strict=True), key=lambda one: one[0])
    )


def _moved(residual: Residual, rows: tuple[int, ...]) -> tuple[float, Floats]:
    """Misfit if some cylinders moved against the others by themselves, and by how much each with its uncertainty [1]."""
    count = len(residual.cylinders)
    shape = (np.eye(count) - 1.0 / count)[:, list(rows)]
    inverse = np.linalg.pinv(residual.covariance, hermitian=True)
    of_amount = np.linalg.inv(shape.T @ inverse @ shape)
    amount = of_amount @ shape.T @ inverse @ residual.missed
    return residual.misfit(shape @ amount), np.column_stack([amount, np.sqrt(np.diag(of_amount))]).ravel()


def _cylinder(residual: Residual, row: int, missed: float, u: float) -> Statement:
    flow = float(residual.flow[row])
    values = {
        "cylinder": residual.cylinders[row],
        "missed_gph": flow * missed,
        "u_missed_gph": flow * u,
        "side": "lean" if missed > 0.0 else "rich",
    }
    return Statement("missed-prediction", values)
