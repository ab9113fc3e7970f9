"""The median, and other quantiles, of a few hundred values, over and over."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def middle(values: Floats) -> float:
    """Median of some values, none of them missing: the library's own takes ten times as long for a few hundred.

    Parameters
    ----------
    values : ndarray
        At least one value, all finite [any], shape (many,).

    Returns
    -------
    float
        The median [any].

    Examples
    --------
    >>> middle(np.array([3.0, 1.0, 2.0])), middle(np.array([4.0, 1.0, 2.0, 3.0]))
    (2.0, 2.5)
    """
    rising = np.sort(values)
    return float(0.5 * (rising[(rising.size - 1) // 2] + rising[rising.size // 2]))


def quantile(values: Floats, share: float) -> float:
    """Value below which a share of some values lies, none of them missing: as the library gives it, in a tenth of its time.

    Parameters
    ----------
    values : ndarray
        At least one value, all finite [any], shape (many,).
    share : float
        From 0 to 1 [1].

    Returns
    -------
    float
        On the line between the two nearest values [any].

    Notes
    -----
    Definition 7 of Hyndman and Fan, Am. Stat. 50 (1996) 361.

    Examples
    --------
    >>> quantile(np.array([3.0, 1.0, 2.0, 5.0]), 0.5), quantile(np.array([1.0, 2.0]), 0.75)
    (2.5, 1.75)
    """
    rising = np.sort(values)
    place = share * (rising.size - 1)
    below = int(place)
    low, high = float(rising[below]), float(rising[min(below + 1, rising.size - 1)])
    part = place - below
    # Counted from the nearer of both, so that rounding never leads beyond either.
    return low + (high - low) * part if part < 0.5 else high - (high - low) * (1.0 - part)
