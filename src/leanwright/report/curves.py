"""The curves in numbers: every sweep's points and fit of a cylinder, on the flow axis of the answer."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.measured import Measured
from leanwright.analysis.peak import CylinderCurve, SweepPeaks
from leanwright.analysis.sweep import Direction
from leanwright.report.sweeps import used
from leanwright.report.units import System, show_difference

Floats = NDArray[np.float64]
MOST_POINTS = 72
"""Points drawn of one cylinder over all sweeps; of more, every second, third, … is drawn."""


_LEAST_POINTS = 12


@dataclass(frozen=True, slots=True, eq=False)
class Strip:
    """One cylinder in one sweep. Flow in the reader's unit, EGT below its own peak in the reader's degrees."""

    cylinder: int
    direction: Direction
    point_flow: Floats
    point_egt: Floats
    fit_flow: Floats
    fit_egt: Floats


def strips(measured: Measured, units: System) -> tuple[Strip, ...]:
    """Every curve of every sweep, brought to the power that the answer's flows stand for.

    A sweep at another power peaks at other flows; all its flows are multiplied by one factor, that of the mean flow of
    the answer over the sweep's own, so that sweeps lie over each other as far as their offsets agree.
    """
    offsets = {one.cylinder: one.offset_percent for one in measured.balance.cylinders}
    mean = measured.balance.mean_flow_gph
    found = []
    lines = used(measured)
    for line in lines:
        factor = 1.0 if mean is None else mean / (_mean_flow(line.peaks, offsets) or mean)
        factor *= show_difference(1.0, "gph", units).value
        most = max(_LEAST_POINTS, MOST_POINTS // len(lines))
        found += [_strip(curve, line.sweep.direction, factor, units, most) for curve in line.peaks.curves]
    return tuple(found)


def _mean_flow(peaks: SweepPeaks, offsets: dict[int, float | None]) -> float | None:
    """Mean flow at peak of one sweep [gal/h], cylinders without a peak in it allowed for by the answer's offsets."""
    logs = [
        math.log(peak.fuel_flow_at_peak_gph) - offset / 100.0
        for peak in peaks.cylinders
        if peak.fuel_flow_at_peak_gph is not None and (offset := offsets.get(peak.cylinder)) is not None
    ]
    return math.exp(sum(logs) / len(logs)) if logs else None


def _strip(curve: CylinderCurve, direction: Direction, factor: float, units: System, most: int) -> Strip:
    degrees = show_difference(1.0, "df", units).value
    every = max(1, math.ceil(curve.point_flow_gph.size / most))
    return Strip(
        curve.cylinder,
        direction,
        curve.point_flow_gph[::every] * factor,
        curve.point_egt_below_peak_f[::every] * degrees,
        curve.fit_flow_gph * factor,
        curve.fit_egt_below_peak_f * degrees,
    )
