"""A plain local fit of each cylinder's peak: a second opinion that shares nothing with the model but data and lags.

A parabola in the logarithm of fuel flow over one relative window, the same for every cylinder. Its vertex is
biased to the rich side by a known amount (the lean flank is steeper), and late by about the lag of the probe less
that of the flow reading; both are allowed for. Where the lags are those that the model fitted, and the readings are the
same, only the vertex's own scatter and the shape of the curve can set the two apart: that is what a difference is
measured by.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.excerpt import Excerpt
from leanwright.analysis.middle import middle

Floats = NDArray[np.float64]

WINDOW = 0.08
"""Half width of the window in ln(fuel flow)."""
SETTLED = 0.002
"""The window need not follow the vertex more closely than this (logarithm)."""
BIAS = 0.0035
U_BIAS = 0.0015
"""Vertex of the parabola above the true peak for windows of +-8 % on equilibrium-cycle curves with 3 to 5 % of
mixture scatter (tests/references recompute it), and how well that is known for other curves."""
COMMON = 0.01
"""By how much the bias of curves of another shape may differ from that [1], all cylinders alike: 0.3 to 0.6 % with two
simulators whose curves are not the cycle's. It drops out of the offsets."""
SIGMAS = 3.0
ENOUGH = 3
"""Vertices from which a common difference is told."""
LAG_S = 1.3
U_LAG_S = 1.6
"""Lag of a probe less that of the flow reading [s] and its standard uncertainty (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Vertex:
    """Where the plain fit puts one cylinder's peak: ln(fuel flow [gal/h]) and its standard uncertainty.

    ``inside`` tells whether the vertex is a top that lies within the flows swept.
    """

    log_flow: float
    u_log_flow: float
    inside: bool


def running_mean(time_s: Floats, values: Floats, span_s: float) -> Floats:
    """Mean over a centred span of time, missing values left out.

    Parameters
    ----------
    time_s : ndarray
        Times, never falling [s], shape (rows,).
    values : ndarray
        Values, NaN where missing [any], shape (..., rows).
    span_s : float
        Length of the span [s].

    Returns
    -------
    ndarray
        Means, NaN where the span holds no value [any], shape (..., rows).
    """
    known = np.isfinite(values)
    none = np.zeros((*values.shape[:-1], 1))
    total = np.concatenate((none, np.cumsum(np.where(known, values, 0.0), axis=-1)), axis=-1)
    count = np.concatenate((none, np.cumsum(known, axis=-1)), axis=-1)
    low = np.searchsorted(time_s, time_s - span_s / 2.0, side="left")
    high = np.searchsorted(time_s, time_s + span_s / 2.0, side="right")
    number = count[..., high] - count[..., low]
    return np.where(number > 0, (total[..., high] - total[..., low]) / np.maximum(number, 1.0), np.nan)


def local_vertex(x: Floats, y: Floats) -> tuple[float, float, float]:
    """Vertex of the least-squares parabola, its standard uncertainty, and the curvature.

    Parameters
    ----------
    x, y : ndarray
        Points [any], shape (points,), at least four of them.

    Returns
    -------
    tuple of float
        Vertex, its standard uncertainty (residuals' lag-one correlation allowed for), second derivative [any].
    """
    centre = float(x.sum()) / x.size
    scaled = x - centre
    size = max(float(scaled @ scaled / x.size) ** 0.5, 1e-300)
    scaled /= size
    # In polynomials that are orthogonal over the points the three terms are told independently of each other.
    lopsided = float(scaled @ (scaled * scaled)) / x.size
    second = scaled * (scaled - lopsided) - 1.0
    weight = max(float(second @ second), 1e-12)
    a, across = float(second @ y) / weight, float(scaled @ y) / x.size
    if abs(a) < 1e-12:
        return centre, np.inf, 0.0
    residual = y - float(y.sum()) / y.size - across * scaled - a * second
    square = float(residual @ residual)
    correlation = min(max(float(residual[1:] @ residual[:-1]) / max(square, 1e-300), 0.0), 0.9)
    freedom = max((x.size - 3) * (1.0 - correlation) / (1.0 + correlation), 1.0)
    b = across - a * lopsided
    by_a, by_across = (b / a + lopsided) / (2.0 * a), -1.0 / (2.0 * a)
    variance = (by_a**2 / weight + by_across**2 / x.size) * square / freedom
    return centre - size * b / (2.0 * a), size * variance**0.5, 2.0 * a / size**2


def witness(part: Excerpt, lag_s: Floats | None = None) -> tuple[Vertex | None, ...]:
    """Fit every cylinder of one sweep locally.

    Parameters
    ----------
    part : Excerpt
        The sweep.
    lag_s : ndarray, optional
        Lag of each probe less that of the flow reading, as the model fitted it [s], shape (cylinders,); by default
        what is common, with its uncertainty.

    Returns
    -------
    tuple
        One vertex a cylinder; ``None`` where there are too few points.
    """
    rows = part.inside
    time_s = part.time_s[rows]
    span = max(5.0, 3.0 * middle(np.diff(time_s)) if time_s.size > 1 else 0.0)
    log_flow = np.log(running_mean(time_s, part.flow_gph[rows], span))
    rate = float(np.nanmax(log_flow) - np.nanmin(log_flow)) / max(part.end_s - part.start_s, 1.0)
    sign = 1.0 if part.direction == "leaning" else -1.0
    count = part.egt_f.shape[0]
    lags = np.full(count, LAG_S) if lag_s is None else lag_s
    u_lag = U_LAG_S if lag_s is None else 0.0
    egt_f = part.egt_f[:, rows]
    return tuple(
        _one(log_flow, egt, means, (sign * rate * float(lag), rate * u_lag))
        for egt, means, lag in zip(egt_f, running_mean(time_s, egt_f, span), lags, strict=True)
    )


def objections(
    vertices: Sequence[Vertex | None], crossings: Sequence[float]
) -> tuple[tuple[float, float] | None, ...]:
    """Where the plain fit and the model differ by more than three uncertainties.

    Parameters
    ----------
    vertices : sequence of Vertex or None
        Of the plain fit, with the model's lags.
    crossings : sequence of float
        ln(fuel flow) at which the model says that each peak was passed [ln gal/h].

    Returns
    -------
    tuple of (float, float) or None
        One a cylinder: model less witness, what all cylinders share of it taken out as the bias of the curve's shape,
        and its standard uncertainty [1]; ``None`` where they agree or there is no witness.
    """
    apart = [
        (crossing - vertex.log_flow, vertex.u_log_flow) if vertex is not None and vertex.inside else None
        for vertex, crossing in zip(vertices, crossings, strict=True)
    ]
    known = [one[0] for one in apart if one is not None]
    told = len(known) >= ENOUGH
    common = float(np.clip(middle(np.array(known)), -COMMON, COMMON)) if told else 0.0
    doubt = 0.0 if told else COMMON / SIGMAS
    return tuple(
        None if one is None else _objection(one[0] - common, float(np.hypot(one[1], doubt))) for one in apart
    )


def _objection(apart: float, u: float) -> tuple[float, float] | None:
    return (apart, u) if abs(apart) > SIGMAS * u else None


def _one(log_flow: Floats, egt_f: Floats, means_f: Floats, late: tuple[float, float]) -> Vertex | None:
    """Vertex of one cylinder; ``late`` is what the lag moves it by and its uncertainty [1]."""
    known = np.isfinite(egt_f) & np.isfinite(log_flow)
    if known.sum() < 8:
        return None
    flows = log_flow[known]
    low, high = float(flows.min()), float(flows.max())
    centre = float(flows[np.nanargmax(means_f[known])])
    vertex, u_vertex, bend = centre, np.inf, 0.0
    for _ in range(3):
        near = known & (np.abs(log_flow - centre) < WINDOW)
        if near.sum() < 6:
            return None
        vertex, u_vertex, bend = local_vertex(log_flow[near], egt_f[near])
        if bend >= 0.0:
            break
        before, centre = centre, min(max(vertex, low), high)
        if abs(centre - before) < SETTLED:
            break
    value = vertex - BIAS + late[0]
    u_value = float(np.sqrt(u_vertex**2 + U_BIAS**2 + late[1] ** 2))
    margin = 0.25 * WINDOW + 2.0 * u_vertex
    return Vertex(value, u_value, bool(bend < 0.0 and low + margin < vertex < high - margin))
