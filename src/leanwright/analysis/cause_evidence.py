"""What the recordings say about causes, put into one vector."""

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from leanwright.analysis.bottle_test import BottleShares
from leanwright.analysis.cause_offsets import add_offsets
from leanwright.analysis.cause_rows import Evidence, FillUp, Row, Rows, State, over
from leanwright.analysis.cause_signs import Signs
from leanwright.analysis.measured import Measured
from leanwright.analysis.offset import combined_offsets, stack

# Reasons for every threshold stand in docs/theory/causes.md.
U_HEIGHT_F: Final = 4.0
U_HEAD_PERCENT: Final = 0.4
U_LEVEL_PERCENT: Final = 0.5
U_PRESSURE_PERCENT: Final = 0.5
LEAST_LOG_LAG: Final = 0.05
LEAST_LINE_PSI: Final = 0.5
OUTSIDE_AIR_F: Final = 40.0
RANKINE_OFFSET: Final = 459.67


def gather(
    now: Measured,
    before: Measured | None,
    signs: Signs,
    bottle: BottleShares | None = None,
    fill_up: FillUp | None = None,
) -> Evidence:
    """Put all that was seen into one vector.

    Parameters
    ----------
    now, before : Measured
        The state that is asked about, and an earlier one.
    signs : Signs
        What is no number with a normal error: ignition checks, flanks, gaps.
    bottle : BottleShares, optional
        Fuel shares from a bottle test.
    fill_up : FillUp, optional
        Fuel filled and counted.

    Returns
    -------
    Evidence
        Rows that cannot be made from what was recorded are left out.
    """
    made = Rows()
    states: list[tuple[State, Measured]] = [("now", now)]
    if before is not None:
        states.append(("before", before))
    for state, measured in states:
        add_offsets(made, state, measured)
        _heights(made, state, measured)
        _lags(made, state, measured)
        _heads(made, state, measured)
        _level(made, state, measured)
        _pressure(made, state, measured)
    if bottle is not None:
        rows = [Row("bottle", "now", number) for number in bottle.cylinders]
        made.add(rows, 100.0 * np.log(bottle.shares), bottle.covariance_percent)
    if fill_up is not None:
        ratio = 100.0 * np.log(fill_up.counted / fill_up.filled)
        made.add([Row("fill-up")], np.array([ratio]), np.array([[fill_up.u_percent**2]]))
    numbers = tuple(range(1, now.profile.cylinders + 1))
    return Evidence(
        numbers,
        tuple(made.settings),
        tuple(made.rows),
        np.array(made.values),
        made.covariance(),
        signs,
        before is not None,
    )


def _heights(made: Rows, state: State, measured: Measured) -> None:
    """EGT at peak of each cylinder, the level of each sweep taken out."""
    found = [
        (number, peak.cylinder, peak.peak_egt_f)
        for number, sweep in enumerate(sweep for one in measured.results for sweep in one.peaks.sweeps)
        for peak in sweep.cylinders
        if peak.status == "peaked" and peak.peak_egt_f is not None
    ]
    by_cylinder = _two_way(found)
    made.add(
        [Row("height", state, number) for number in by_cylinder],
        np.array(list(by_cylinder.values())),
        np.eye(len(by_cylinder)) * U_HEIGHT_F**2,
    )


def _two_way(found: Sequence[tuple[int, int, float]]) -> Mapping[int, float]:
    """Least squares of value = level(sweep) + cylinder, centred."""
    if not found:
        return {}
    sweeps = sorted({sweep for sweep, _, _ in found})
    cylinders = sorted({cylinder for _, cylinder, _ in found})
    design = np.zeros((len(found), len(sweeps) + len(cylinders)))
    for place, (sweep, cylinder, _) in enumerate(found):
        design[place, sweeps.index(sweep)] = 1.0
        design[place, len(sweeps) + cylinders.index(cylinder)] = 1.0
    solution = np.linalg.lstsq(design, np.array([value for _, _, value in found]), rcond=None)[0]
    own = solution[len(sweeps) :] - solution[len(sweeps) :].mean()
    return dict(zip(cylinders, own.tolist(), strict=True))


def _lags(made: Rows, state: State, measured: Measured) -> None:
    """Logarithm of each probe's lag, recordings combined by their uncertainty."""
    found: dict[int, list[tuple[float, float]]] = {}
    for result in measured.results:
        best = {
            peak.cylinder: (peak.lag_s, peak.u_lag_s)
            for sweep in result.peaks.sweeps
            for peak in sweep.cylinders
            if peak.lag_s is not None and peak.u_lag_s is not None
        }
        for cylinder, (lag, u_lag) in best.items():
            found.setdefault(cylinder, []).append((np.log(lag), max(u_lag / lag, LEAST_LOG_LAG)))
    rows, values, variances = [], [], []
    for cylinder, readings in sorted(found.items()):
        weights = np.array([1.0 / u**2 for _, u in readings])
        rows.append(Row("lag", state, cylinder))
        values.append(float(weights @ [value for value, _ in readings] / weights.sum()))
        variances.append(1.0 / float(weights.sum()))
    made.add(rows, np.array(values), np.diag(variances) if rows else np.zeros((0, 0)))


def _heads(made: Rows, state: State, measured: Measured) -> None:
    """100 ln of the rise of each head over the outside air, over all sweeps used."""
    rises: dict[int, list[float]] = {}
    for result in measured.results:
        for sweep in (sweep for sweep in result.sweeps if sweep.used):
            outside = over(result, sweep, "outside_air_temperature")
            for cylinder in range(1, measured.profile.cylinders + 1):
                head = over(result, sweep, "cht", cylinder)
                rise = None if head is None else head - (OUTSIDE_AIR_F if outside is None else outside)
                if rise is not None and rise > 0.0:
                    rises.setdefault(cylinder, []).append(100.0 * float(np.log(rise)))
    made.add(
        [Row("head", state, cylinder) for cylinder in rises],
        np.array([np.mean(values) for values in rises.values()]),
        np.eye(len(rises)) * U_HEAD_PERCENT**2,
    )


def _level(made: Rows, state: State, measured: Measured) -> None:
    """100 ln of the mean flow at peak over what the engine breathes, up to a constant of the engine.

    Only with a peak of every cylinder: a nozzle takes from all the others, so a mean without its own cylinder moves.
    """
    stacked = stack([result.peaks for result in measured.results])
    offsets = combined_offsets(stacked)
    if offsets is None or len(offsets.cylinders) < measured.profile.cylinders:
        return
    named = [(result, peaks.sweep) for result in measured.results for peaks in result.peaks.sweeps]
    levels = []
    for position, level in offsets.levels.items():
        result, sweep = named[position]
        outside = over(result, sweep, "outside_air_temperature")
        if sweep.manifold_pressure_inhg is None or sweep.engine_speed_rpm is None or outside is None:
            continue
        air = sweep.manifold_pressure_inhg * sweep.engine_speed_rpm / (outside + RANKINE_OFFSET)
        levels.append(100.0 * (level - float(np.log(air))))
    if levels:
        made.add([Row("level", state)], np.array([np.mean(levels)]), np.array([[U_LEVEL_PERCENT**2]]))


def _pressure(made: Rows, state: State, measured: Measured) -> None:
    """100 ln of the nozzle pressure over the square of the flow: what the sum of the nozzles' coefficients makes."""
    ratios = []
    for result in measured.results:
        for sweep in (sweep for sweep in result.sweeps if sweep.used):
            pressure, flow = over(result, sweep, "fuel_pressure"), over(result, sweep, "fuel_flow")
            if pressure is not None and flow is not None and pressure > LEAST_LINE_PSI and flow > 0.0:
                ratios.append(100.0 * float(np.log(pressure) - 2.0 * np.log(flow)))
    if ratios:
        made.add([Row("pressure", state)], np.array([np.mean(ratios)]), np.array([[U_PRESSURE_PERCENT**2]]))
