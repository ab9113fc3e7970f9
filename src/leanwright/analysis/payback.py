"""After how many hours a change has paid for itself."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Prices:
    """What a change costs and what fuel does, in the owner's own money.

    ``part`` [money] is for each nozzle that is bought, ``labour`` [money] for each position worked on, ``once`` [money]
    for the order as a whole. ``fuel_per_gallon`` [money/gal] is by the US gallon. ``hours_per_year`` [h] are flown
    leaned.
    """

    part: float
    labour: float
    fuel_per_gallon: float
    hours_per_year: float
    once: float = 0.0
    currency: str = ""


@dataclass(frozen=True, slots=True)
class Payback:
    """Pay-back of a choice.

    ``cost`` [money]; ``saving_gph``, with its 95 % interval, is what the change saves while leaned; ``hours`` [h] and
    ``hours_interval95`` [h] are hours of such flight until the cost is back, ``None`` where it never is;
    ``saving_per_year`` [money].
    """

    cost: float
    saving_gph: float
    saving_interval95_gph: tuple[float, float]
    hours: float | None
    hours_interval95: tuple[float | None, float | None]
    saving_per_year: float


def payback(
    highest_now: Floats, highest_after: Floats, prices: Prices, *, parts: int, positions: int
) -> Payback:
    """Hours until a change is paid for.

    Parameters
    ----------
    highest_now : ndarray, shape (draws,)
        Flow at peak of the leanest cylinder as it is [gal/h].
    highest_after : ndarray, shape (draws,)
        The same after the change, draw by draw [gal/h].
    prices : Prices
        The owner's prices.
    parts : int
        Nozzles bought [1].
    positions : int
        Positions worked on [1].

    Returns
    -------
    Payback
        With its intervals.

    Notes
    -----
    The leanest cylinder limits how far an engine can be leaned, so poor distribution needs a richer mixture overall
    (FAA-H-8083-32B pp. 2-3 and 10-33). With the leanest cylinder as near to its peak as before, and the same power,
    the saving is the fall of the highest flow at peak.

    Examples
    --------
    >>> saved = payback(np.full(9, 12.8), np.full(9, 12.3), Prices(40.0, 60.0, 8.0, 100.0), parts=2, positions=2)
    >>> round(saved.cost), round(saved.saving_gph, 2), round(saved.hours or 0), round(saved.saving_per_year)
    (200, 0.5, 50, 400)
    """
    cost = prices.once * (parts > 0) + prices.part * parts + prices.labour * positions
    saving = highest_now - highest_after
    low, mean, high = (
        float(one) for one in (np.quantile(saving, 0.025), saving.mean(), np.quantile(saving, 0.975))
    )
    return Payback(
        cost=cost,
        saving_gph=mean,
        saving_interval95_gph=(low, high),
        hours=_hours(cost, mean, prices),
        hours_interval95=(_hours(cost, high, prices), _hours(cost, low, prices)),
        saving_per_year=mean * prices.fuel_per_gallon * prices.hours_per_year,
    )


def _hours(cost: float, saving: float, prices: Prices) -> float | None:
    an_hour = saving * prices.fuel_per_gallon
    return cost / an_hour if an_hour > 0.0 else None
