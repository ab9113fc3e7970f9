"""About where a cylinder's EGT was highest, where no curve could be fitted to it."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.sweep import Sweep
from leanwright.analysis.trace import smooth
from leanwright.recordings.recording import Recording

Floats = NDArray[np.float64]

# Reasons for every threshold stand in docs/theory/causes.md.
SMOOTHING_S: Final = 7.0
AFTER_S: Final = 6.0
LEAST_ROWS: Final = 8
U_PERCENT: Final = 2.5
INSIDE: Final = 0.02


def plain_top(recording: Recording, sweep: Sweep, cylinder: int) -> tuple[float, float] | None:
    """Flow at the highest smoothed EGT of a cylinder in a sweep.

    Parameters
    ----------
    recording : Recording
        What was read.
    sweep : Sweep
        The sweep.
    cylinder : int
        Number of the cylinder [1].

    Returns
    -------
    tuple of (float, float) or None
        ln of the flow [ln gal/h] and its standard uncertainty [percent], lag and gusts included; ``None`` if the highest
        lies at an end of the sweep, or too little was read.
    """
    time = recording.time_s
    rows = slice(*np.searchsorted(time, [sweep.start_s, sweep.end_s + AFTER_S]))
    flow = recording.values("fuel_flow", None, sweep.engine)
    egt = recording.values("egt", cylinder, sweep.engine)
    if flow is None or egt is None:
        return None
    good = np.isfinite(flow[rows]) & np.isfinite(egt[rows]) & (flow[rows] > 0.0)
    if int(good.sum()) < LEAST_ROWS:
        return None
    log_flow = smooth(time[rows][good], np.log(flow[rows][good]), SMOOTHING_S)
    top = float(log_flow[np.argmax(smooth(time[rows][good], egt[rows][good], SMOOTHING_S))])
    inside = float(log_flow.min()) + INSIDE < top < float(log_flow.max()) - INSIDE
    return (top, U_PERCENT) if inside else None
