"""What the curves figure draws: each cylinder's EGT below its own peak, with lag and common noise taken out."""

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.excerpt import Excerpt
from leanwright.analysis.passage import Passage
from leanwright.analysis.peak_fit import Fit
from leanwright.analysis.peak_model import curve_of, log_flow
from leanwright.analysis.peak_place import Places
from leanwright.analysis.unknowns import POSITION, SCALE

Floats = NDArray[np.float64]

FIT_POINTS = 61


def left_over(passage: Passage, found: Fit, sweep: int) -> Floats:
    """What the fit leaves of each mean reading, everything shared taken out.

    Parameters
    ----------
    passage : Passage
        The sweep made ready.
    found : Fit
        The fit.
    sweep : int
        Position of the sweep in it.

    Returns
    -------
    ndarray
        [degF], shape (cylinders, means).
    """
    one = found.reduced[sweep]
    white = one.linear.residual - found.latents[sweep] @ one.linear.shared
    white = white - found.last_step[found.layout.local(sweep)] @ one.linear.jacobian
    shape = passage.egt_f.shape
    left = np.linalg.solve(one.whitener, white.reshape(*shape, 1))[:, :, 0]
    return np.asarray(left, dtype=np.float64)


def drawn(
    part: Excerpt, passage: Passage, found: Fit, sweep: int, places: Places
) -> list[tuple[Floats, Floats, Floats, Floats]]:
    """Points and fit of every cylinder in one sweep.

    Parameters
    ----------
    part : Excerpt
        Rows of the sweep.
    passage : Passage
        The sweep made ready.
    found : Fit
        The fit.
    sweep : int
        Position of the sweep in it.
    places : Places
        The fit's peaks.

    Returns
    -------
    list of tuple of ndarray
        Flow [gal/h] and EGT less that of the top [degF] of the points, then of the fit.
    """
    state = found.state(sweep)
    scale = np.exp(state.own[SCALE])
    tops = scale * places.tops.value[sweep]
    within = (passage.time_s >= part.start_s) & (passage.time_s <= part.end_s)
    path = np.interp(passage.time_s, passage.grid_s, log_flow(passage, state))
    steady = scale[:, None] * curve_of(state, path - state.own[POSITION][:, None]).value - tops[:, None]
    points = steady + left_over(passage, found, sweep)
    inside = (passage.grid_s >= part.start_s) & (passage.grid_s <= part.end_s)
    flows = log_flow(passage, state)[inside]
    even = np.linspace(flows.min(), flows.max(), FIT_POINTS)
    fitted = scale[:, None] * curve_of(state, even - state.own[POSITION][:, None]).value - tops[:, None]
    rows = []
    for i, used in enumerate(passage.used):
        kept = within & used
        rows.append((np.exp(path[kept]), points[i, kept], np.exp(even), fitted[i]))
    return rows
