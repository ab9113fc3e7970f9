"""Chances of the two distributions that every answer needs, without the time that a large library takes to load.

The normal distribution is the standard library's, tabled once and read off between the rows; the chi-square
distribution with whole degrees of freedom has a closed form. ``docs/decisions/0014-a-quick-start.md`` says why.
"""

from functools import lru_cache
from math import erfc, exp, pi, sqrt

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_REACH = 8.5
"""Where the table of the normal distribution ends [1]: 1e-17 lies beyond."""
_ROWS = 128
"""Rows of the table in one standard deviation."""


@lru_cache(maxsize=1)
def _table() -> tuple[Floats, ...]:
    """Places [1], the normal distribution there [1], and its density [1]."""
    place = np.arange(-_REACH, _REACH + 0.5 / _ROWS, 1.0 / _ROWS)
    below = np.array([0.5 * erfc(-z / sqrt(2.0)) for z in place])
    density = np.exp(-0.5 * place**2) / sqrt(2.0 * pi)
    return place, below, density


def normal_share(z: Floats) -> Floats:
    """Share of a standard normal distribution that lies below.

    Parameters
    ----------
    z : ndarray
        Places in standard deviations [1], any shape.

    Returns
    -------
    ndarray
        Shares [1], same shape, to better than 1e-11: Taylor's series about the nearest row of the table.

    Examples
    --------
    >>> normal_share(np.array([-1.0, 0.0, 1.959964])).round(4).tolist()
    [0.1587, 0.5, 0.975]
    """
    _, below, density = _table()
    within = np.minimum(np.maximum(z, -_REACH), _REACH)
    row = np.rint((within + _REACH) * _ROWS)
    place = row / _ROWS - _REACH
    away = within - place
    row = row.astype(np.intp)
    series = 1.0 + away * (-0.5 * place + away * ((place * place - 1.0) / 6.0))
    share: Floats = below[row] + density[row] * (away * series)
    return share


def normal_place(share: Floats) -> Floats:
    """Where a share of a standard normal distribution lies below: the inverse of :func:`normal_share`.

    Parameters
    ----------
    share : ndarray
        Shares between 1e-9 and 1 - 1e-9 [1], any shape.

    Returns
    -------
    ndarray
        Places in standard deviations [1], same shape, to better than 1e-7: a step of Newton's from the table.

    Examples
    --------
    >>> normal_place(np.array([0.025, 0.5])).round(3).tolist()
    [-1.96, 0.0]
    """
    place, below = _table()[:2]
    half = place.size // 2 + 1
    smaller = np.minimum(share, 1.0 - share)
    z = np.interp(smaller, below[:half], place[:half])
    z -= (normal_share(z) - smaller) * sqrt(2.0 * pi) * np.exp(0.5 * z * z)
    return np.where(share > 0.5, -z, z)


def chi_square_beyond(freedom: int, value: float) -> float:
    """Chance of a chi-square value at least as large.

    Parameters
    ----------
    freedom : int
        Degrees of freedom, at least 1 [1].
    value : float
        The value [1].

    Returns
    -------
    float
        The chance [1].

    Raises
    ------
    ValueError
        If there are no degrees of freedom.

    References
    ----------
    M. Abramowitz and I. A. Stegun, *Handbook of Mathematical Functions* (1964), eqs. 26.4.4 and 26.4.5.

    Examples
    --------
    >>> round(chi_square_beyond(2, 5.991), 4)
    0.05
    """
    if freedom < 1:
        message = f"{freedom} degrees of freedom; a chi-square distribution has at least 1"
        raise ValueError(message)
    if value <= 0.0:
        return 1.0
    odd = freedom % 2
    total = erfc(sqrt(value / 2.0)) if odd else 0.0
    term = sqrt(2.0 * value / pi) * exp(-value / 2.0) if odd else exp(-value / 2.0)
    for k in range(freedom // 2):
        total += term
        term *= value / (2 * k + 2 + odd)
    return min(total, 1.0)
