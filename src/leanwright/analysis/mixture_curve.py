"""EGT against mixture near its top: two flanks that flatten outwards, joined by a rounded top.

A tent of two slopes, each with a quadratic relief, averaged over a Gaussian scatter of the mixture inside the
cylinder. The equations are numbered in docs/theory/peaks.md.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.chance import normal_place, normal_share

Floats = NDArray[np.float64]

_ROOT_TWO_PI = float(np.sqrt(2.0 * np.pi))


@dataclass(frozen=True, slots=True, eq=False)
class CurveRows:
    """The curve and its derivatives at given distances from the corner of the tent.

    Every array has the shape of ``x``. Since x is a logarithm, ``value``, ``slope``, ``bend`` and ``third`` (the
    curve and its first three derivatives) are all in [degF].
    """

    value: Floats
    slope: Floats
    bend: Floats
    third: Floats
    rich_rise: Floats
    """R(x), eq. (3) [1]"""
    lean_rise: Floats
    """R(-x) [1]"""
    rich_relief: Floats
    """Q(x), eq. (4) [1]"""
    lean_relief: Floats
    """Q(-x) [1]"""
    rich_share: Floats
    """Phi(x / w) [1]"""


def curve_rows(
    x: Floats,
    width: Floats,
    rich: Floats | float,
    lean: Floats | float,
    rich_relief: Floats | float,
    lean_relief: Floats | float,
) -> CurveRows:
    """Evaluate the curve and the derivatives that a fit needs.

    Parameters
    ----------
    x : ndarray
        ln(fuel flow) less that of the tent's corner, positive = rich [1], any shape.
    width : ndarray or float
        Standard deviation of the mixture inside the cylinder [1], broadcast against ``x``.
    rich, lean : float
        Slopes of the flanks at the corner, both positive when EGT falls away from it [degF].
    rich_relief, lean_relief : float
        Quadratic flattening of the flanks [degF].

    Returns
    -------
    CurveRows
        Value, derivatives, and the functions that the curve is linear in.

    Notes
    -----
    Convolution of a piecewise quadratic tent with a Gaussian: derivatives in the width follow from the heat
    equation, d/dw = w d2/dx2.
    """
    z = x / width
    share = normal_share(z)
    density = np.exp(-0.5 * z * z) / _ROOT_TWO_PI
    rise = x * share + width * density
    lean_rise = rise - x
    square = x * x + width * width
    relief = square * share + x * width * density
    lean_curve = square - relief
    sharp = (rich + lean) * density / width
    return CurveRows(
        value=-rich * rise - lean * lean_rise + rich_relief * relief + lean_relief * lean_curve,
        slope=lean - (rich + lean) * share + 2.0 * rich_relief * rise - 2.0 * lean_relief * lean_rise,
        bend=-sharp + 2.0 * lean_relief + 2.0 * (rich_relief - lean_relief) * share,
        third=sharp * z / width + 2.0 * (rich_relief - lean_relief) * density / width,
        rich_rise=rise,
        lean_rise=lean_rise,
        rich_relief=relief,
        lean_relief=lean_curve,
        rich_share=share,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Top:
    """Where the curve is highest, and how that moves with its shape. One value a curve in each array.

    ``by_rich``, ``by_lean``, ``by_rich_relief`` and ``by_lean_relief`` say how its position moves [1/degF].
    """

    x: Floats
    """ln(fuel flow) of the top less that of the corner [1]"""
    value: Floats
    """[degF]"""
    bend: Floats
    """Second derivative at the top [degF]"""
    by_rich: Floats
    by_lean: Floats
    by_rich_relief: Floats
    by_lean_relief: Floats
    by_log_width: Floats
    """[1]"""


def top(
    width: Floats, rich: Floats, lean: Floats, rich_relief: Floats | float, lean_relief: Floats | float
) -> Top:
    """Top of the curve by Newton's method, and its derivatives with respect to the shape.

    Parameters
    ----------
    width : ndarray
        Standard deviation of the mixture inside each cylinder [1], any shape.
    rich, lean : ndarray
        Slopes of the flanks at the corner [degF], same shape.
    rich_relief, lean_relief : ndarray or float
        Quadratic flattening of the flanks [degF], broadcast against ``width``.

    Returns
    -------
    Top
        Position, height and derivatives.
    """
    share = np.clip(lean / np.maximum(rich + lean, 1.0), 0.02, 0.98)
    x = width * normal_place(share)
    for _ in range(8):
        rows = curve_rows(x, width, rich, lean, rich_relief, lean_relief)
        bend = np.minimum(rows.bend, -1e-3 * (np.abs(rich) + np.abs(lean)) / width)
        step = np.clip(-rows.slope / bend, -0.5 * width, 0.5 * width)
        x = x + step
        if np.all(np.abs(step) < 1e-12):
            break
    rows = curve_rows(x, width, rich, lean, rich_relief, lean_relief)
    bend = np.minimum(rows.bend, -1e-3 * (np.abs(rich) + np.abs(lean)) / width)
    return Top(
        x=x,
        value=rows.value,
        bend=bend,
        by_rich=rows.rich_share / bend,
        by_lean=(rows.rich_share - 1.0) / bend,
        by_rich_relief=-2.0 * rows.rich_rise / bend,
        by_lean_relief=2.0 * rows.lean_rise / bend,
        by_log_width=-width * width * rows.third / bend,
    )
