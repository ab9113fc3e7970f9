"""A channel in little: its course, for a table of columns."""

import numpy as np
from numpy.typing import NDArray

from leanwright.report.figures.svg import figure, path
from leanwright.report.scale import Scale
from leanwright.report.trace import outline

WIDTH, HEIGHT = 120.0, 28.0


def spark(time_s: NDArray[np.float64], values: NDArray[np.float64], *, label: str) -> str:
    """Draw a channel over its whole time [s], from its lowest to its highest value."""
    good = values[np.isfinite(values)]
    low, high = (float(good.min()), float(good.max())) if good.size else (0.0, 1.0)
    if high - low < 1e-9:
        low, high = low - 1.0, high + 1.0
    end = float(time_s[-1]) if time_s.size else 1.0
    across, up = Scale(0.0, max(end, 1.0), 1.0, WIDTH - 1.0), Scale(low, high, HEIGHT - 2.0, 2.0)
    return figure(
        WIDTH, HEIGHT, [path("trace", outline(time_s, values, across, up))], label=label, form="spark"
    )
