"""Control charts: when a series of standardised residuals says that something changed, and how often it says so in vain.

Cumulative sums after Page (1954) and exponentially weighted means after Roberts (1959). How long a chart runs until it
alarms is worked out by a Markov chain over the values of the sum (Brook and Evans 1972), never by simulation.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, stdtr

Floats = NDArray[np.float64]

STATES: Final = 240
COARSE: Final = 60
"""Into how many values a sum is cut, to look about and to be exact [1]."""


@dataclass(frozen=True, slots=True)
class Design:
    """A cumulative sum: ``allowance`` is taken off each value, ``limit`` is where it alarms [standard deviations].

    Values are clipped at ``cap`` [standard deviations], so that no single recording can raise an alarm by itself if
    ``cap`` less ``allowance`` is below ``limit``.
    """

    allowance: float
    """[standard deviations]"""
    limit: float
    """[standard deviations]"""
    cap: float = np.inf
    """[standard deviations]"""


@dataclass(frozen=True, slots=True, eq=False)
class Sums:
    """Both one-sided sums after each value [standard deviations], shape (values,); a missing value leaves them."""

    upper: Floats
    """[standard deviations], shape (values,)"""
    lower: Floats
    """[standard deviations], shape (values,)"""

    def first_alarm(self, limit: float) -> tuple[int, int] | None:
        """Place of the first alarm and its side.

        Parameters
        ----------
        limit : float
            Where a sum alarms [standard deviations].

        Returns
        -------
        tuple of int or None
            Place from 0, and 1 for the upper or -1 for the lower sum [1].
        """
        both = np.maximum(self.upper, self.lower)
        if not both.size or float(both.max()) <= limit:
            return None
        at = int(np.argmax(both > limit))
        return at, 1 if self.upper[at] >= self.lower[at] else -1


def cusum(values: Sequence[float], design: Design) -> Sums:
    """Both one-sided cumulative sums of standardised values.

    Parameters
    ----------
    values : sequence of float
        Standardised [standard deviations]; NaN where nothing was seen.
    design : Design
        Allowance and cap; the limit is not used.

    Returns
    -------
    Sums
        S+ = max(0, S+ + z - k) and S- = max(0, S- - z - k) [standard deviations].

    Notes
    -----
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3.1, in its form with two one-sided sums.
    """
    upper, lower = np.zeros(len(values)), np.zeros(len(values))
    high = low = 0.0
    for place, value in enumerate(values):
        if np.isfinite(value):
            high, low = next_sums(high, low, float(value), design)
        upper[place], lower[place] = high, low
    return Sums(upper, lower)


def next_sums(upper: float, lower: float, value: float, design: Design) -> tuple[float, float]:
    """Both sums after one more value.

    Parameters
    ----------
    upper, lower : float
        The sums before it [standard deviations].
    value : float
        Standardised [standard deviations].
    design : Design
        Allowance and cap; the limit is not used.

    Returns
    -------
    tuple of float
        Upper and lower sum [standard deviations].
    """
    clipped = min(max(value, -design.cap), design.cap)
    return max(0.0, upper + clipped - design.allowance), max(0.0, lower - clipped - design.allowance)


def ewma(values: Sequence[float], weight: float) -> Floats:
    """Exponentially weighted means of standardised values, begun at 0.

    Parameters
    ----------
    values : sequence of float
        Standardised [standard deviations]; NaN where nothing was seen.
    weight : float
        Weight of the newest value [1].

    Returns
    -------
    ndarray, shape (values,)
        The mean over its own standard deviation in the long run, sqrt(weight / (2 - weight)) [standard deviations].
    """
    means, mean = np.zeros(len(values)), 0.0
    for place, value in enumerate(values):
        if np.isfinite(value):
            mean += weight * (float(value) - mean)
        means[place] = mean
    return np.asarray(means / np.sqrt(weight / (2.0 - weight)))


def cusum_run_length(
    design: Design, shift: float = 0.0, *, two_sided: bool, states: int = STATES, freedom: float = np.inf
) -> float:
    """Mean number of values until a cumulative sum alarms, begun at 0.

    Parameters
    ----------
    design : Design
        The chart.
    shift : float
        True mean of the values [standard deviations].
    two_sided : bool
        Whether both sums may alarm. A chart with both alarms twice as often in vain as one with one.
    states : int
        Into how many values the sum is cut [1].
    freedom : float
        The values follow Student's distribution with so many degrees of freedom, scaled to variance 1; normal by default [1].

    Returns
    -------
    float
        Number of values [1].

    Notes
    -----
    Brook and Evans, Biometrika 59 (1972) 539. Two sides: 1 / ARL = 1 / ARL+ + 1 / ARL- (Van Dobben de Bruyn 1968). Published:
    allowance 1/2 and limit 4 or 5 give 168 or 465 on two sides, 336 or 930 on one.
    """
    upper = _one_sided(design, shift, states, freedom)
    if not two_sided:
        return upper
    return 1.0 / (1.0 / upper + 1.0 / _one_sided(design, -shift, states, freedom))


def _share_below(values: Floats, freedom: float) -> Floats:
    """Of normal values, or of Student's scaled to variance 1 [1]."""
    if np.isinf(freedom):
        return np.asarray(ndtr(values))
    return np.asarray(stdtr(freedom, values * np.sqrt(freedom / (freedom - 2.0))))


def _one_sided(design: Design, shift: float, states: int, freedom: float = np.inf) -> float:
    width = design.limit / (states - 0.5)
    middle = np.arange(states) * width
    ends = np.concatenate(([-np.inf], middle + 0.5 * width))
    step = ends[None, :] - middle[:, None] + design.allowance

    def below(value: Floats) -> Floats:
        within = _share_below(np.where(np.isneginf(value), 0.0, value) - shift, freedom)
        return np.where(value < -design.cap, 0.0, np.where(value >= design.cap, 1.0, within))

    moves = np.diff(np.where(np.isneginf(step), 0.0, below(step)), axis=1)
    return float(np.linalg.solve(np.eye(states) - moves, np.ones(states))[0])


def ewma_run_length(weight: float, limit: float, shift: float = 0.0, states: int = 401) -> float:
    """Mean number of values until an exponentially weighted mean leaves its limits on either side, begun at 0.

    Parameters
    ----------
    weight : float
        Weight of the newest value [1].
    limit : float
        Where it alarms [standard deviations of the mean in the long run].
    shift : float
        True mean of the values [standard deviations].
    states : int
        Into how many values the mean is cut; odd [1].

    Returns
    -------
    float
        Number of values [1].

    Notes
    -----
    Markov chain as in Lucas and Saccucci, Technometrics 32 (1990) 1.
    """
    end = limit * np.sqrt(weight / (2.0 - weight))
    width = 2.0 * end / states
    middle = -end + width * (np.arange(states) + 0.5)
    kept = (1.0 - weight) * middle[:, None]
    moves = ndtr((middle + 0.5 * width - kept) / weight - shift) - ndtr(
        (middle - 0.5 * width - kept) / weight - shift
    )
    return float(np.linalg.solve(np.eye(states) - moves, np.ones(states))[states // 2])


@cache
def design_for(allowance: float, run_length: float, cap: float = np.inf, freedom: float = np.inf) -> Design:
    """The one-sided chart that runs so long in vain.

    Parameters
    ----------
    allowance : float
        Half of the shift that is to be found [standard deviations].
    run_length : float
        Mean number of values until a false alarm of one side [1].
    cap : float
        Where values are clipped [standard deviations].
    freedom : float
        Of Student's distribution that the values follow; normal by default [1].

    Returns
    -------
    Design
        With the least limit that reaches it [standard deviations].

    Examples
    --------
    >>> round(design_for(0.5, 930.9).limit, 2)
    5.0
    """
    low, high = 0.05, 0.1
    while _one_sided(Design(allowance, high, cap), 0.0, COARSE, freedom) < run_length:
        # In small steps: far beyond what is asked for, the chain's equations are singular in the machine's numbers.
        low, high = high, high * 1.1
    low, high = 0.9 * low, 1.1 * high
    for _ in range(14):
        middle = 0.5 * (low + high)
        if _one_sided(Design(allowance, middle, cap), 0.0, STATES, freedom) < run_length:
            low = middle
        else:
            high = middle
    return Design(allowance, high, cap)


def onset(values: Sequence[float], alarm: int) -> int:
    """The value from which a series most likely has another mean, given that it alarmed.

    Parameters
    ----------
    values : sequence of float
        Standardised [standard deviations]; NaN where nothing was seen.
    alarm : int
        Place of the alarm [1].

    Returns
    -------
    int
        Place of the first value after the change [1]: where the sum of what follows squared over its number is largest,
        which is the likeliest place for a step of unknown size in unit normal values.

    Examples
    --------
    >>> onset([0.1, -0.2, 0.0, 3.1, 2.9], 4)
    3
    """
    seen = np.asarray(values[: alarm + 1], dtype=np.float64)
    places = np.flatnonzero(np.isfinite(seen))
    sums = np.cumsum(seen[places][::-1])[::-1]
    counts = np.arange(places.size, 0, -1)
    return int(places[int(np.argmax(sums**2 / counts))])
