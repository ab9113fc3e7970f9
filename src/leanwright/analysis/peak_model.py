"""The model of one sweep, made linear about a state: residuals, derivatives, and the unknowns that all share.

Equation numbers are those of docs/theory/peaks.md.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.flow_path import READING_LAG_S
from leanwright.analysis.mixture_curve import CurveRows, curve_rows
from leanwright.analysis.passage import DRIFT_NODES, POWER_F, U_POWER_F, Passage, lag_weights
from leanwright.analysis.peak_noise import NoiseLevel
from leanwright.analysis.unknowns import CURVE, HEIGHT, OWN, POSITION, SCALE, SKEW, WIDTH, Layout

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """Values of one sweep's unknowns."""

    curve: Floats
    """Rich slope, lean slope, rich relief, lean relief [degF], ln(width) [1], shape (5,)"""
    own: Floats
    """Position [1], height [degF], ln(scale), ln(width), skew [1], shape (5, cylinders)"""
    log_lag: Floats
    """ln(lag in s), shape (cylinders,)"""
    flow_lag_s: float
    path: Floats
    """Amplitudes of the path's directions [1], shape (directions,)"""

    @property
    def slopes(self) -> tuple[Floats, Floats]:
        """Rich and lean slope of each cylinder's curve [degF], each of shape (cylinders,)."""
        return self.curve[0] * np.exp(-self.own[SKEW]), self.curve[1] * np.exp(self.own[SKEW])

    @property
    def width(self) -> Floats:
        """Standard deviation of the mixture inside each cylinder [1], shape (cylinders,)."""
        return np.asarray(np.exp(self.curve[4] + self.own[WIDTH]))


def state_of(layout: Layout, unknowns: Floats, sweep: int, path: Floats) -> State:
    """One sweep's part of the vector of unknowns.

    Parameters
    ----------
    layout : Layout
        Where each unknown stands.
    unknowns : ndarray
        The vector [mixed], shape (unknowns,).
    sweep : int
        Position of the sweep.
    path : ndarray
        Amplitudes of its path's directions [1], shape (directions,).

    Returns
    -------
    State
        The values.
    """
    return State(
        unknowns[layout.curve[sweep]],
        unknowns[layout.own[sweep]],
        unknowns[layout.lag],
        float(unknowns[-1]),
        path,
    )


def log_flow(passage: Passage, state: State) -> Floats:
    """Path of ln(fuel flow) at common power, along the grid.

    Parameters
    ----------
    passage : Passage
        The sweep.
    state : State
        Values of its unknowns.

    Returns
    -------
    ndarray
        [1], shape (nodes,)
    """
    path = passage.path
    late = (state.flow_lag_s - READING_LAG_S) * path.rate
    return path.log_flow + state.path @ path.directions + late - passage.power.log_power


def curve_of(state: State, x: Floats) -> CurveRows:
    """The unscaled curves of all cylinders.

    Parameters
    ----------
    state : State
        Values of the unknowns.
    x : ndarray
        ln(fuel flow) less each cylinder's position [1], shape (cylinders, points).

    Returns
    -------
    CurveRows
        Values and derivatives.
    """
    rich, lean = state.slopes
    return curve_rows(x, state.width[:, None], rich[:, None], lean[:, None], state.curve[2], state.curve[3])


@dataclass(frozen=True, slots=True, eq=False)
class Linear:
    """The model about a state, whitened; data are those of all cylinders one after the other.

    What is whitened is in standard deviations. Rows of ``jacobian`` stand in the order of
    :meth:`leanwright.analysis.unknowns.Layout.local`.
    """

    residual: Floats
    """Data less model, with what the path's amplitudes do put back [1], shape (data,)"""
    jacobian: Floats
    """Derivatives of the model [mixed], shape (unknowns, data)"""
    shared: Floats
    """The path's directions, then common noise, then drift, then power [1], shape (latents, data)"""
    rows: CurveRows
    """The unscaled curves along the grid, shape (cylinders, nodes)"""
    response: Floats
    """What the means see of signals along the grid [1], shape (cylinders, means, nodes)"""
    lag_slopes: Floats
    """Weights with which the table of responses is summed to its derivative by ln(lag) [1], shape (cylinders, lags)"""


def linearise(passage: Passage, whitener: Floats, level: NoiseLevel, state: State) -> Linear:
    """Residuals and derivatives of one sweep about a state, eqs. (1) and (2).

    Parameters
    ----------
    passage : Passage
        The sweep.
    whitener : ndarray
        Inverse factors of each cylinder's own covariance [1/degF], shape (cylinders, means, means).
    level : NoiseLevel
        Sizes of the noise [degF].
    state : State
        Values of the unknowns.

    Returns
    -------
    Linear
        All of it whitened.
    """
    number, means = passage.egt_f.shape
    weights, slopes = lag_weights(state.log_lag)
    response = (weights @ passage.lag_table).reshape(number, means, -1)
    rows = curve_of(state, log_flow(passage, state) - state.own[POSITION][:, None])
    scale = np.exp(state.own[SCALE])[:, None]
    signals = _signals(passage, state, rows, scale)
    seen = np.matmul(response, signals)
    at_lags = passage.lag_table.reshape(-1, signals.shape[1]) @ signals[:, :, 0].T
    late = np.einsum("il,lmi->im", slopes, at_lags.reshape(-1, means, number))[:, :, None]
    moved = np.matmul(response * (scale * rows.slope)[:, None, :], passage.path.directions.T)
    steady = response.sum(2)[:, :, None]
    residual = passage.egt_f[:, :, None] - seen[:, :, :1] - state.own[HEIGHT][:, None, None] * steady
    residual += np.matmul(moved, state.path)[:, :, None]
    common = (weights @ passage.common_table).reshape(number, -1, means).transpose(0, 2, 1)
    residual -= (POWER_F / U_POWER_F) * common[:, :, -1:]
    common[:, :, : -DRIFT_NODES - 1] *= level.common_f
    common[:, :, -DRIFT_NODES - 1 : -1] *= level.drift_f
    white = np.matmul(whitener, np.concatenate((moved, common, residual, seen, steady, late), axis=2))
    latents = state.path.size + common.shape[2]
    shared = white[:, :, :latents].transpose(2, 0, 1).reshape(latents, -1)
    jacobian = _jacobian(white[:, :, latents + 1 :].transpose(2, 0, 1), state)
    return Linear(white[:, :, latents].ravel(), jacobian, shared, rows, response, slopes)


_VALUE, _RICH, _LEAN, _RICH_RELIEF, _LEAN_RELIEF, _WIDTH, _POSITION, _FLOW_LAG, _STEADY, _LATE = range(10)


def _signals(passage: Passage, state: State, rows: CurveRows, scale: Floats) -> Floats:
    """Signals on the grid that the means see: the model and its derivatives, shape (cylinders, nodes, 8)."""
    less, more = np.exp(-state.own[SKEW])[:, None], np.exp(state.own[SKEW])[:, None]
    square = scale * (state.width**2)[:, None]
    gain = scale * rows.slope
    signals = (
        scale * rows.value,
        -scale * less * rows.rich_rise,
        -scale * more * rows.lean_rise,
        scale * rows.rich_relief,
        scale * rows.lean_relief,
        square * rows.bend,
        -gain,
        gain * passage.path.rate,
    )
    return np.stack(signals, axis=2)


def _gains(passage: Passage, state: State, rows: CurveRows) -> tuple[Floats, Floats]:
    """Change of the signal with the path along the grid, shape (cylinders, nodes), and the derivatives of that.

    They are by rich slope, lean slope, rich relief, lean relief, ln(width), position, ln(scale) and flow lag, shape
    (8, cylinders, nodes).
    """
    scale = np.exp(state.own[SCALE])[:, None]
    less, more = np.exp(-state.own[SKEW])[:, None], np.exp(state.own[SKEW])[:, None]
    square = scale * (state.width**2)[:, None]
    share, bend, gain = scale * rows.rich_share, scale * rows.bend, scale * rows.slope
    gain_rows = (
        -less * share,
        more * (scale - share),
        2.0 * scale * rows.rich_rise,
        -2.0 * scale * rows.lean_rise,
        square * rows.third,
        -bend,
        gain,
        bend * passage.path.rate,
    )
    return gain, np.array(gain_rows)


def _jacobian(white: Floats, state: State) -> Floats:
    """Whitened derivatives in the order of the local unknowns, shape (unknowns, data)."""
    _, number, means = white.shape
    every = np.arange(number)
    jacobian = np.zeros((CURVE + (OWN + 1) * number + 1, number, means))
    jacobian[:CURVE] = white[_RICH : _WIDTH + 1]
    own = (
        white[_POSITION],
        white[_STEADY],
        white[_VALUE],
        white[_WIDTH],
        state.curve[1] * white[_LEAN] - state.curve[0] * white[_RICH],
        white[_LATE],
    )
    for kind, row in enumerate(own):
        jacobian[CURVE + kind * number + every, every] = row
    jacobian[-1] = white[_FLOW_LAG]
    return jacobian.reshape(jacobian.shape[0], -1)


def determinant_slope(
    passage: Passage, whitener: Floats, linear: Linear, inner: Floats, state: State
) -> Floats:
    """Derivatives of -1/2 ln det(1 + F F') by the unknowns, through the path's directions, eq. (14).

    Parameters
    ----------
    passage : Passage
        The sweep.
    whitener : ndarray
        Inverse factors of each cylinder's own covariance [1/degF], shape (cylinders, means, means).
    linear : Linear
        The model about the state.
    inner : ndarray
        1 + F F' [1], shape (latents, latents).
    state : State
        The state.

    Returns
    -------
    ndarray
        In the order of the rows of the Jacobian [mixed], shape (unknowns,).
    """
    directions = passage.path.directions
    number, means = passage.egt_f.shape
    gain, gain_rows = _gains(passage, state, linear.rows)
    # Only the path's rows of the inverse are needed, and the matrix is symmetric.
    of_path = np.linalg.solve(inner, np.eye(inner.shape[0])[:, : directions.shape[0]]).T
    solved = of_path @ linear.shared
    rows = solved.reshape(-1, number, means).transpose(1, 2, 0)
    over = np.matmul(np.matmul(whitener.transpose(0, 2, 1), rows), directions)
    strength = np.einsum("img,img->ig", linear.response, over)
    gained = (over * gain[:, None, :]).reshape(number, -1)
    by_lag = (linear.lag_slopes * (gained @ passage.lag_table.T)).sum(1)
    slopes = -np.einsum("kig,ig->ki", gain_rows, strength)
    own = np.zeros((OWN + 1, number))
    own[POSITION], own[SCALE], own[WIDTH] = slopes[5], slopes[6], slopes[4]
    own[SKEW] = state.curve[1] * slopes[1] - state.curve[0] * slopes[0]
    own[OWN] = -by_lag
    return np.concatenate((slopes[:CURVE].sum(1), own.ravel(), slopes[7:].sum(1)))
