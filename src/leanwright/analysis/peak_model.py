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
Reals = NDArray[np.floating]


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
    wander = state.path.astype(path.directions.dtype) @ path.directions
    return path.log_flow + wander + late - passage.power.log_power


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

    whole: Floats
    """``shared``, then ``jacobian``, then ``residual`` [mixed], shape (latents + unknowns + 1, data)"""
    common: int
    """How many latents are common noise, drift and power"""
    latents: int
    """How many there are with the path's directions"""
    rows: CurveRows
    """The unscaled curves along the grid, shape (cylinders, nodes)"""
    response: Reals
    """What the means see of signals along the grid [1], shape (cylinders, means, nodes)"""
    response_slope: Reals
    """Derivative of that by ln(lag) [1], same shape"""

    @property
    def shared(self) -> Floats:
        """Common noise, then drift, then power, then the path's directions [1], shape (latents, data)."""
        return self.whole[: self.latents]

    @property
    def jacobian(self) -> Floats:
        """Derivatives of the model [mixed], shape (unknowns, data)."""
        return self.whole[self.latents : -1]

    @property
    def residual(self) -> Floats:
        """Data less model, with what the path's amplitudes do put back [1], shape (data,)."""
        return np.asarray(self.whole[-1])


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
    both = np.concatenate((weights, slopes), dtype=passage.lag_table.dtype) @ passage.lag_table
    response, response_slope = both.reshape(2, number, means, -1)
    rows = curve_of(state, log_flow(passage, state) - state.own[POSITION][:, None])
    shared = _shared(passage, level, weights, response, np.exp(state.own[SCALE])[:, None] * rows.slope)
    seen = _seen(passage, state, rows, response, response_slope)
    residual = passage.egt_f - seen[:, _VALUE] - state.own[HEIGHT][:, None]
    residual += state.path @ shared[:, -state.path.size :]
    residual -= (POWER_F / U_POWER_F) * shared[:, -state.path.size - 1]
    latents = shared.shape[1]
    whole = np.empty((latents + CURVE + (OWN + 1) * number + 2, number, means))
    # Each cylinder's rows are whitened by its own factor, and written straight to their place.
    turned = whitener.transpose(0, 2, 1)
    np.matmul(shared, turned, out=whole[:latents].transpose(1, 0, 2))
    white = np.matmul(np.concatenate((seen, residual[:, None]), axis=1), turned).transpose(1, 0, 2)
    _enter_derivatives(whole[latents:-1], white, state)
    whole[-1] = white[-1]
    return Linear(
        whole.reshape(-1, number * means), latents - state.path.size, latents, rows, response, response_slope
    )


def _shared(passage: Passage, level: NoiseLevel, weights: Floats, response: Reals, gain: Floats) -> Floats:
    """What the means see of all latents [degF], shape (cylinders, latents, means); ``gain`` is that of the path."""
    number, means, _ = response.shape
    directions = passage.path.directions
    common = passage.common_table.shape[1] // means
    shared = np.empty((number, common + directions.shape[0], means))
    table = passage.common_table
    shared[:, :common] = (weights.astype(table.dtype) @ table).reshape(number, common, means)
    shared[:, : common - DRIFT_NODES - 1] *= level.common_f
    shared[:, common - DRIFT_NODES - 1 : common - 1] *= level.drift_f
    of_path = response * gain.astype(response.dtype)[:, None, :]
    shared[:, common:] = np.matmul(directions, of_path.transpose(0, 2, 1))
    return shared


_VALUE, _RICH, _LEAN, _RICH_RELIEF, _LEAN_RELIEF, _WIDTH, _POSITION, _FLOW_LAG, _LATE, _STEADY = range(10)


def _seen(passage: Passage, state: State, rows: CurveRows, response: Reals, response_slope: Reals) -> Floats:
    """What the means see of the model and of its derivatives [mixed], shape (cylinders, 10, means).

    A lag is linear, so that factors which do not change along the grid are put to what is seen. Of a steady
    signal all is seen.
    """
    number, means, _ = response.shape
    seen = np.empty((number, 10, means))
    signals = np.stack(
        (
            rows.value,
            rows.rich_rise,
            rows.lean_rise,
            rows.rich_relief,
            rows.lean_relief,
            rows.bend,
            rows.slope,
            rows.slope * passage.path.rate,
        ),
        axis=1,
        dtype=response.dtype,
    )
    seen[:, :_LATE] = np.matmul(signals, response.transpose(0, 2, 1))
    seen[:, _LATE:_STEADY] = np.matmul(signals[:, :1], response_slope.transpose(0, 2, 1))
    factor = np.ones((number, 10))
    factor[:, _RICH] = -np.exp(-state.own[SKEW])
    factor[:, _LEAN] = -np.exp(state.own[SKEW])
    factor[:, _WIDTH] = state.width**2
    factor[:, _POSITION] = -1.0
    seen *= (np.exp(state.own[SCALE])[:, None] * factor)[:, :, None]
    seen[:, _STEADY] = 1.0
    return seen


def _enter_derivatives(jacobian: Floats, white: Floats, state: State) -> None:
    """Put what is seen of the derivatives, whitened, to the places of the local unknowns."""
    every = np.arange(white.shape[1])
    jacobian[:CURVE] = white[_RICH : _WIDTH + 1]
    jacobian[CURVE:] = 0.0
    own = (
        white[_POSITION],
        white[_STEADY],
        white[_VALUE],
        white[_WIDTH],
        state.curve[1] * white[_LEAN] - state.curve[0] * white[_RICH],
        white[_LATE],
    )
    for kind, row in enumerate(own):
        jacobian[CURVE + kind * every.size + every, every] = row
    jacobian[-1] = white[_FLOW_LAG]


def determinant_slope(
    passage: Passage, whitener: Floats, linear: Linear, of_path: Reals, state: State
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
    of_path : ndarray
        Rows of (1 + F F')^-1 F that belong to the path [1], shape (directions, data).
    state : State
        The state.

    Returns
    -------
    ndarray
        In the order of the rows of the Jacobian [mixed], shape (unknowns,).
    """
    number, means = passage.egt_f.shape
    rows = np.matmul(of_path.reshape(-1, number, means).transpose(1, 0, 2), whitener)
    over = np.matmul(rows.transpose(0, 2, 1).astype(linear.response.dtype), passage.path.directions)
    scale = np.exp(state.own[SCALE])
    strength = scale[:, None] * np.einsum("img,img->ig", linear.response, over)
    by_lag = scale * (np.einsum("img,img->ig", linear.response_slope, over) * linear.rows.slope).sum(1)
    slopes = _slopes_of_gain(passage, state, linear.rows, strength)
    own = np.zeros((OWN + 1, number))
    own[POSITION], own[SCALE], own[WIDTH] = slopes[5], slopes[6], slopes[4]
    own[SKEW] = state.curve[1] * slopes[1] - state.curve[0] * slopes[0]
    own[OWN] = -by_lag
    return np.concatenate((slopes[:CURVE].sum(1), own.ravel(), slopes[7:].sum(1)))


def _slopes_of_gain(passage: Passage, state: State, rows: CurveRows, strength: Floats) -> Floats:
    """Derivatives of the signal's change with the path, summed over the grid with a strength, the sign turned.

    They are by rich slope, lean slope, rich relief, lean relief, ln(width), position, ln(scale) and flow lag, shape
    (8, cylinders).
    """
    less, more = np.exp(-state.own[SKEW]), np.exp(state.own[SKEW])
    terms = np.stack((rows.rich_share, rows.rich_rise, rows.lean_rise, rows.third, rows.bend, rows.slope))
    share, rich, lean, third, bend, slope = np.einsum("kig,ig->ki", terms, strength)
    flow_lag = (strength * rows.bend) @ passage.path.rate
    return np.stack(
        (
            less * share,
            more * (share - strength.sum(1)),
            -2.0 * rich,
            2.0 * lean,
            -(state.width**2) * third,
            bend,
            -slope,
            -flow_lag,
        )
    )
