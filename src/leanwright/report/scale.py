"""A linear scale between values and positions, with round ticks."""

import math
from dataclasses import dataclass

_WANTED_TICKS = 6.3


@dataclass(frozen=True, slots=True)
class Scale:
    """Maps values from ``low`` to ``high`` onto positions from ``first`` to ``last``."""

    low: float
    high: float
    first: float
    last: float

    def __call__(self, value: float) -> float:
        """The position of a value."""
        return self.first + (value - self.low) / (self.high - self.low) * (self.last - self.first)


def ticks(low: float, high: float, wanted: float = _WANTED_TICKS) -> tuple[list[float], int]:
    """Round values between two ends, 1, 2 or 5 x 10^n apart, and how many decimals they need.

    >>> ticks(11.58, 13.03)
    ([11.6, 11.8, 12.0, 12.2, 12.4, 12.6, 12.8, 13.0], 1)
    >>> ticks(-3.0, 103.0, wanted=5)
    ([0.0, 20.0, 40.0, 60.0, 80.0, 100.0], 0)
    """
    room = high - low
    power = 10.0 ** math.floor(math.log10(room / wanted))
    step = min(
        (factor * power for factor in (1.0, 2.0, 5.0, 10.0)),
        key=lambda candidate: abs(math.log(room / candidate / wanted)),
    )
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [round(number * step, decimals) for number in range(first, last + 1)], decimals


def time_ticks(length_s: float, wanted: float = 7.0) -> list[float]:
    """Round times from 0 to a length [s], a quarter, a half or whole hours and the like apart.

    >>> [t / 60 for t in time_ticks(5760.0)]
    [0.0, 15.0, 30.0, 45.0, 60.0, 75.0, 90.0]
    """
    steps = [60.0 * m for m in (1, 2, 5, 10, 15, 30, 60, 120, 240, 480, 1440)]
    step = min(steps, key=lambda candidate: abs(math.log(max(length_s, 1.0) / candidate / wanted)))
    return [number * step for number in range(int(length_s / step) + 1)]
