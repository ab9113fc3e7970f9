"""Where the fitted peaks lie, and how their positions hang on the unknowns."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.excerpt import Excerpt
from leanwright.analysis.mixture_curve import Top, top
from leanwright.analysis.passage import Passage
from leanwright.analysis.peak_fit import Fit
from leanwright.analysis.peak_model import State, log_flow
from leanwright.analysis.unknowns import CURVE, POSITION, SKEW, WIDTH

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Peaks of all cylinders in all sweeps. Arrays have the shape (sweeps, cylinders)."""

    position: Floats
    """ln(fuel flow) at peak, at common power [1]"""
    gradient: Floats
    """Derivatives by the sweep's own unknowns, on which alone its positions depend [mixed], shape (sweeps, cylinders,
    unknowns of a sweep)"""
    tops: Top
    """Unscaled, of all sweeps"""

    def through(self, of_unknowns: Floats) -> Floats:
        """Covariance of the positions with the sweeps' own unknowns.

        Parameters
        ----------
        of_unknowns : ndarray
            Covariance of the unknowns, the sweeps' own first [mixed], shape (unknowns, unknowns).

        Returns
        -------
        ndarray
            In the order sweep by sweep [mixed], shape (sweeps * cylinders, unknowns of the sweeps).
        """
        sweeps, cylinders, each = self.gradient.shape
        own = of_unknowns[: sweeps * each, : sweeps * each].reshape(sweeps, each, -1)
        return np.asarray(np.matmul(self.gradient, own).reshape(sweeps * cylinders, -1))

    def covariance(self, of_unknowns: Floats) -> Floats:
        """Covariance of the positions.

        Parameters
        ----------
        of_unknowns : ndarray
            Covariance of the unknowns, the sweeps' own first [mixed], shape (unknowns, unknowns).

        Returns
        -------
        ndarray
            In the order sweep by sweep [1], shape (sweeps * cylinders, sweeps * cylinders).
        """
        sweeps, cylinders, each = self.gradient.shape
        by_sweep = self.through(of_unknowns).reshape(-1, sweeps, each).transpose(1, 0, 2)
        blocks = np.matmul(by_sweep, self.gradient.transpose(0, 2, 1))
        return np.asarray(blocks.transpose(1, 0, 2).reshape(sweeps * cylinders, -1))


def top_of(state: State) -> Top:
    """Tops of one sweep's curves.

    Parameters
    ----------
    state : State
        Values of its unknowns.

    Returns
    -------
    Top
        Unscaled.
    """
    rich, lean = state.slopes
    return top(state.width, rich, lean, state.curve[2], state.curve[3])


def places_of(found: Fit) -> Places:
    """Positions of the tops and their derivatives, eqs. (6) and (19).

    Parameters
    ----------
    found : Fit
        The fit.

    Returns
    -------
    Places
        All sweeps.
    """
    layout = found.layout
    curve, own = found.point.unknowns[layout.curve], found.point.unknowns[layout.own]
    less, more = np.exp(-own[:, SKEW]), np.exp(own[:, SKEW])
    rich, lean = curve[:, :1] * less, curve[:, 1:2] * more
    tops = top(np.exp(curve[:, 4:] + own[:, WIDTH]), rich, lean, curve[:, 2:3], curve[:, 3:4])
    gradient = np.zeros((layout.sweeps, layout.cylinders, layout.each))
    every, first = np.arange(layout.cylinders), layout.own[0]
    by_curve = (
        tops.by_rich * less,
        tops.by_lean * more,
        tops.by_rich_relief,
        tops.by_lean_relief,
        tops.by_log_width,
    )
    gradient[:, :, :CURVE] = np.stack(by_curve, axis=2)
    gradient[:, every, first[POSITION]] = 1.0
    gradient[:, every, first[WIDTH]] = tops.by_log_width
    gradient[:, every, first[SKEW]] = tops.by_lean * lean - tops.by_rich * rich
    return Places(own[:, POSITION] + tops.x, gradient, tops)


@dataclass(frozen=True, slots=True)
class Swept:
    """What flows a sweep covered: ln(fuel flow) at common power, and ln(power) there.

    ``low`` and ``high`` are its ends [1].
    """

    low: float
    high: float
    log_flow: Floats
    """Along the grid within the sweep [1], shape (nodes of the sweep,)"""
    log_power: Floats

    def power_at(self, position: float) -> float:
        """Power where the path crosses a position: the mean over the crossing's neighbourhood.

        Parameters
        ----------
        position : float
            ln(fuel flow) at common power [1].

        Returns
        -------
        float
            ln(power) [1].
        """
        nearest = np.argsort(np.abs(self.log_flow - position), kind="stable")[:3]
        return float(self.log_power[nearest].mean())


def swept(part: Excerpt, passage: Passage, state: State) -> Swept:
    """Flows that one sweep covered, looked for in the sweep only.

    Parameters
    ----------
    part : Excerpt
        Its rows.
    passage : Passage
        The sweep made ready.
    state : State
        Values of its unknowns.

    Returns
    -------
    Swept
        Range and path.
    """
    inside = (passage.grid_s >= part.start_s) & (passage.grid_s <= part.end_s)
    path = log_flow(passage, state)[inside]
    return Swept(float(path.min()), float(path.max()), path, passage.power.log_power[inside])
