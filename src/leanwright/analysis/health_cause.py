"""Cruise as evidence about causes: a temperature that moved is a mixture that moved, a height that moved, or both."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.cause_rows import Evidence, Row
from leanwright.analysis.health import Seen
from leanwright.analysis.measured import Measured
from leanwright.analysis.trend import Trend

Floats = NDArray[np.float64]

U_MOVED_F: Final = 3.0
"""Standard uncertainty of what a temperature moved by in one recording [degF]."""
U_SLOPE: Final = 0.3
"""Relative standard uncertainty of how steep the curve is there [1]."""
FREE_PERCENT: Final = 30.0
FREE_F: Final = 150.0


def cruise_rows(
    evidence: Evidence, before: Measured, history: Sequence[Seen], trend: Trend, since: Sequence[int]
) -> tuple[list[Row], Floats, Floats]:
    """Rows of offset and height of now, from what the temperatures in cruise moved by.

    Parameters
    ----------
    evidence : Evidence
        With the rows of before.
    before : Measured
        The recordings before, with the curves of their sweeps.
    history : sequence of Seen
        All recordings.
    trend : Trend
        Their residuals.
    since : sequence of int
        Places of the recordings since the change [1].

    Returns
    -------
    tuple of list of Row, ndarray, ndarray
        Rows, values [percent and degF], and covariance, in which only the sum of both is well known.
    """
    slopes = _slopes(before, history, since)
    rows: list[Row] = []
    values: list[float] = []
    blocks = []
    for number in evidence.cylinders:
        moved = [
            point.residual["egt"]
            for place in since
            for point in trend.moments[place].points
            if point.cylinder == number and "egt" in point.residual
        ]
        heights = evidence.row("height", "before", number)
        offsets = [
            place
            for place, row in enumerate(evidence.rows)
            if (row.quantity, row.state, row.cylinder) == ("offset", "before", number)
        ]
        if not moved or heights is None or not offsets or number not in slopes:
            continue
        slope, mean = slopes[number], float(np.mean(moved))
        u = float(np.hypot(U_MOVED_F / np.sqrt(len(moved)), U_SLOPE * mean))
        seen = np.array([slope, 1.0]) / u
        known = np.outer(seen, seen) + np.diag([FREE_PERCENT**-2, FREE_F**-2])
        covariance = np.linalg.inv(known)
        shift = covariance @ seen * (mean / u)
        rows += [Row("offset", "now", number), Row("height", "now", number)]
        values += [
            float(np.mean(evidence.values[offsets])) + float(shift[0]),
            float(evidence.values[heights]) + float(shift[1]),
        ]
        blocks.append(covariance)
    whole = np.zeros((len(rows), len(rows)))
    for place, block in enumerate(blocks):
        whole[2 * place : 2 * place + 2, 2 * place : 2 * place + 2] = block
    return rows, np.array(values), whole


def _slopes(before: Measured, history: Sequence[Seen], since: Sequence[int]) -> dict[int, float]:
    """How a cylinder's temperature moves when it runs leaner, where it was flown since [degF a percent]."""
    levels = [one.air_level_percent for one in history[: since[0]] if one.air_level_percent is not None]
    cruise = [window.log_mixture for place in since for window in history[place].cruise]
    if not levels or not cruise:
        return {}
    away = float(np.median(cruise)) - float(np.median(levels)) / 100.0
    offsets = {
        one.cylinder: one.offset_percent / 100.0
        for one in before.balance.cylinders
        if one.offset_percent is not None
    }
    found: dict[int, list[float]] = {}
    for result in before.results:
        for sweep in result.peaks.sweeps:
            tops = {
                peak.cylinder: peak.fuel_flow_at_peak_gph
                for peak in sweep.cylinders
                if peak.fuel_flow_at_peak_gph is not None
            }
            for curve in sweep.curves:
                if curve.cylinder not in tops or curve.cylinder not in offsets:
                    continue
                x = np.log(curve.fit_flow_gph / tops[curve.cylinder])
                at = away - offsets[curve.cylinder]
                steep = np.gradient(curve.fit_egt_below_peak_f, x)
                order = np.argsort(x, kind="stable")
                found.setdefault(curve.cylinder, []).append(
                    -float(np.interp(at, x[order], steep[order])) / 100.0
                )
    return {number: float(np.median(values)) for number, values in found.items()}
