"""Bottle test: fuel caught from each nozzle for the same time, as shares with their uncertainty."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.findings import Statement

Floats = NDArray[np.float64]

READING_PERCENT: Final = 0.5
"""Standard uncertainty of one catch, read in a measuring glass, where it is neither given nor repeated (common practice)."""
METERED_PERCENT: Final = 2.0
"""Standard uncertainty of the metered total where none is given (common practice)."""
TIMES_U: Final = 2.0
"""A sum farther off than this many standard uncertainties is told."""
REPEATS_DIFFER_PERCENT: Final = 2.0
"""Repeats that scatter by more than this standard deviation are told (common practice)."""


@dataclass(frozen=True, slots=True)
class Catches:
    """What was caught from each nozzle.

    ``caught`` holds the repeats by cylinder [any volume or mass], ``metered`` the sum that was metered [the same unit].
    ``u_percent`` is the standard uncertainty of one catch [percent], if it is known.
    """

    caught: Mapping[int, tuple[float, ...]]
    metered: float | None = None
    u_metered_percent: float = METERED_PERCENT
    u_percent: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class BottleShares:
    """Fuel shares.

    ``shares`` are those of the fuel through each nozzle, sum 1 [1]; ``covariance_percent`` is that of 100 ln share [percent
    squared]. ``told`` is what is to be said of the entry: its total, its repeats.
    """

    cylinders: tuple[int, ...]
    shares: Floats
    covariance_percent: Floats
    told: tuple[Statement, ...]

    @property
    def u_percent(self) -> Floats:
        """Standard uncertainty of each share, relative [percent]."""
        return np.sqrt(np.diag(self.covariance_percent))


def bottle_shares(catches: Catches) -> BottleShares:
    """Shares of the fuel from a bottle test.

    Parameters
    ----------
    catches : Catches
        What was caught; at least two cylinders, every value above 0.

    Returns
    -------
    BottleShares
        Shares [1] and the covariance of their logarithms [percent squared].

    Notes
    -----
    The mean of n catches of one nozzle has the relative variance u^2 / n, u pooled over all nozzles where catches were
    repeated (JCGM 100, 4.2). The shares are the means over their sum, so ln s = ln m - ln sum m.

    Examples
    --------
    >>> found = bottle_shares(Catches({1: (100.0, 101.0), 2: (104.0, 103.0)}))
    >>> found.shares.round(4).tolist()
    [0.4926, 0.5074]
    """
    numbers = tuple(sorted(catches.caught))
    means = np.array([float(np.mean(catches.caught[number])) for number in numbers])
    counts = np.array([len(catches.caught[number]) for number in numbers])
    u, repeats = _uncertainty(catches, numbers)
    shares = means / means.sum()
    to_share = np.eye(shares.size) - shares
    covariance = to_share @ np.diag(u**2 / counts) @ to_share.T
    told = []
    if repeats is not None and repeats > REPEATS_DIFFER_PERCENT:
        told.append(Statement("bottle-repeats-differ", {"scatter_percent": repeats}))
    told += _of_total(catches, float(means.sum()), float(np.sqrt(np.sum(shares**2 * u**2 / counts))))
    return BottleShares(numbers, shares, covariance, tuple(told))


def _uncertainty(catches: Catches, numbers: Sequence[int]) -> tuple[float, float | None]:
    """Relative standard uncertainty of one catch, and the scatter of the repeats if there are any [percent]."""
    squares, freedom = 0.0, 0
    for number in numbers:
        values = np.log(np.array(catches.caught[number]))
        squares += float(np.sum((values - values.mean()) ** 2))
        freedom += values.size - 1
    scatter = 100.0 * float(np.sqrt(squares / freedom)) if freedom else None
    least = READING_PERCENT if catches.u_percent is None else catches.u_percent
    return max(least, scatter or 0.0), scatter


def _of_total(catches: Catches, total: float, u_percent: float) -> list[Statement]:
    if catches.metered is None:
        return []
    missed = 100.0 * float(np.log(total / catches.metered))
    u_missed = float(np.hypot(u_percent, catches.u_metered_percent))
    values = {"missed_percent": missed, "u_missed_percent": u_missed}
    if abs(missed) > TIMES_U * u_missed:
        return [Statement("bottle-total-missed", values)]
    return [Statement("bottle-total-agrees", values)]
