"""The median of a few hundred values, over and over."""

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
