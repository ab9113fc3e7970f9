"""The curve that peaks are fitted with, and the bias of the plain parabola, on equilibrium fuel-air cycles.

Source: ideal fuel-air cycle of iso-octane with equilibrium products, computed with the reference library Cantera
(``benchmarks/exhaust_table.py``; the tests of the engine room compare the table with the library).
"""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import least_squares

from leanwright.analysis.mixture_curve import curve_rows, top
from leanwright.analysis.unknowns import CURVE_MEAN
from leanwright.analysis.witness import BIAS, U_BIAS, WINDOW, local_vertex
from leanwright.engine.mixture import rounded_exhaust_temperature

Floats = NDArray[np.float64]

X = np.linspace(-0.2, 0.2, 801)
CASES = [(loss, scatter) for loss in (0.0, 0.125, 0.25) for scatter in (0.03, 0.05)]


def egt_f(loss: float, scatter: float) -> Floats:
    return np.asarray(1.8 * rounded_exhaust_temperature(np.exp(X), loss, scatter))


def peak_of(egt: Floats) -> float:
    """Top of a parabola over the nearest one percent."""
    near = np.abs(X - X[np.argmax(egt)]) < 0.01
    return local_vertex(X[near], egt[near])[0]


@pytest.mark.parametrize(("loss", "scatter"), CASES)
def test_the_parabola_is_biased_to_the_rich_side_by_what_the_witness_allows_for(
    loss: float, scatter: float
) -> None:
    egt = egt_f(loss, scatter)
    centre = float(X[np.argmax(egt)])
    for _ in range(3):
        near = np.abs(X - centre) < WINDOW
        centre = local_vertex(X[near], egt[near])[0]
    bias = centre - peak_of(egt)
    assert bias > 0.0
    assert abs(bias - BIAS) < 2.0 * U_BIAS


@pytest.mark.parametrize(("loss", "scatter"), [*CASES, (0.0, 0.08), (0.25, 0.08)])
def test_the_rounded_tent_follows_the_cycle_and_has_its_top_where_the_cycle_has(
    loss: float, scatter: float
) -> None:
    egt = egt_f(loss, scatter)
    inside = np.abs(X) < 0.15

    def apart(unknown: Floats) -> Floats:
        rich, lean, rich_relief, lean_relief, log_width, corner, height = unknown
        curve = curve_rows(
            X[inside] - corner, np.asarray(np.exp(log_width)), rich, lean, rich_relief, lean_relief
        )
        return np.asarray(curve.value + height - egt[inside])

    first = [*CURVE_MEAN[:4], np.log(scatter), 0.0, float(egt.max())]
    found = least_squares(apart, first, x_scale=[100.0, 100.0, 100.0, 100.0, 0.1, 0.01, 10.0])
    assert float(np.sqrt(np.mean(found.fun**2))) < 0.3
    rich, lean, rich_relief, lean_relief, log_width, corner, _ = found.x
    placed = top(np.exp([log_width]), np.array([rich]), np.array([lean]), rich_relief, lean_relief)
    assert corner + float(placed.x[0]) == pytest.approx(peak_of(egt), abs=1e-3)
    # The lean flank is the steeper, more so where the mixture scatters more.
    assert 1.1 < lean / rich < 2.0
