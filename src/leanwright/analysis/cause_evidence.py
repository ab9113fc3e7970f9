"""What the recordings say about causes: rows of one vector with their covariance, in two states of the engine."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.bottle_test import BottleShares
from leanwright.analysis.cause_signs import Signs
from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.analysis.offset import Offsets, Stack, combined_offsets, stack
from leanwright.analysis.peak import CylinderPeak, SweepPeaks
from leanwright.analysis.plain_top import plain_top
from leanwright.analysis.sweep import Sweep
from leanwright.engine.atmosphere import standard_pressure, standard_temperature
from leanwright.findings import Statement

Floats = NDArray[np.float64]
Quantity = Literal["offset", "height", "lag", "head", "level", "pressure", "bottle", "fill-up"]
State = Literal["now", "before"]

# Reasons for every threshold stand in docs/theory/causes.md.
SAME_PRESSURE_INHG: Final = 0.7
BEYOND_BOUND_PERCENT: Final = 4.0
LEAST_U_PLACE_PERCENT: Final = 0.5
AT_THE_END: Final = Statement("at-the-end")
U_HEIGHT_F: Final = 4.0
U_HEAD_PERCENT: Final = 0.4
U_LEVEL_PERCENT: Final = 0.5
U_PRESSURE_PERCENT: Final = 0.5
LEAST_LOG_LAG: Final = 0.05
USUAL_LINE_PSI: Final = 4.0
USUAL_LINE_AT_GPH: Final = 11.0
USUAL_AMBIENT_INHG: Final = 24.0
LEAST_LINE_PSI: Final = 0.5
OUTSIDE_AIR_F: Final = 40.0
RANKINE_OFFSET: Final = 459.67


@dataclass(frozen=True, slots=True)
class Setting:
    """Sweeps flown at one manifold pressure in one state of the engine.

    Pressures [inHg], temperature [K], speed [rpm], line pressure [psi]. ``spans`` names each sweep's recording with its
    start and end [s].
    """

    state: State
    manifold_pressure_inhg: float | None
    ambient_pressure_inhg: float
    ambient_temperature_k: float
    engine_speed_rpm: float
    line_pressure_psi: float
    spans: tuple[tuple[str, float, float], ...]


@dataclass(frozen=True, slots=True)
class Row:
    """What one value of the vector is."""

    quantity: Quantity
    state: State = "now"
    cylinder: int | None = None
    setting: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """All that was seen.

    ``values`` [percent, degF, 1] and ``covariance`` [their products] belong to ``rows``: offsets, heads, levels, pressures, shares and fill-ups in percent
    (100 ln), heights in degF, lags as logarithms [1]. ``covariance`` is that of the measurement alone.
    """

    cylinders: tuple[int, ...]
    settings: tuple[Setting, ...]
    rows: tuple[Row, ...]
    values: Floats
    covariance: Floats
    signs: Signs
    with_before: bool

    def row(
        self,
        quantity: Quantity,
        state: State = "now",
        cylinder: int | None = None,
        setting: int | None = None,
    ) -> int | None:
        """Place of a row, if it is there.

        Parameters
        ----------
        quantity : str
            What it is of.
        state : str
            In which state of the engine.
        cylinder, setting : int, optional
            Of which cylinder, at which setting [1].
        """
        wanted = Row(quantity, state, cylinder, setting)
        return self.rows.index(wanted) if wanted in self.rows else None


@dataclass(frozen=True, slots=True)
class FillUp:
    """Fuel since the last fill-up: ``filled`` at the pump [any volume or mass], ``counted`` by the panel [the same]."""

    filled: float
    counted: float
    u_percent: float = 1.0


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
    made = _Made()
    states: list[tuple[State, Measured]] = [("now", now)]
    if before is not None:
        states.append(("before", before))
    for state, measured in states:
        _offsets(made, state, measured)
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


class _Made:
    """The vector while it grows, block by block."""

    def __init__(self) -> None:
        self.settings: list[Setting] = []
        self.rows: list[Row] = []
        self.values: list[float] = []
        self.blocks: list[Floats] = []

    def add(self, rows: Sequence[Row], values: Floats, covariance: Floats) -> None:
        self.rows += rows
        self.values += values.tolist()
        self.blocks.append(np.atleast_2d(covariance))

    def covariance(self) -> Floats:
        whole, start = np.zeros((len(self.rows),) * 2), 0
        for block in self.blocks:
            end = start + block.shape[0]
            whole[start:end, start:end] = block
            start = end
        return whole


def _offsets(made: _Made, state: State, measured: Measured) -> None:
    """Offsets at each setting, with the covariance between the settings."""
    stacked = stack([result.peaks for result in measured.results])
    named = [(result, peaks) for result in measured.results for peaks in result.peaks.sweeps]
    rows: list[Row] = []
    nearly: list[tuple[Row, float, float]] = []
    values, weights, between = [], [], []
    for positions in _by_pressure(stacked):
        offsets = combined_offsets(stacked, positions)
        if offsets is None or len(offsets.cylinders) < 2:
            continue
        made.settings.append(
            _setting(state, [(named[position][0], named[position][1].sweep) for position in positions])
        )
        number = len(made.settings) - 1
        rows += [Row("offset", state, cylinder, number) for cylinder in offsets.cylinders]
        values.append(100.0 * offsets.offset)
        weights.append(100.0 * offsets.weights[:-1])
        between.append(
            1e4 * offsets.covariance[:-1, :-1]
            - 1e4 * offsets.weights[:-1] @ stacked.covariance @ offsets.weights[:-1].T
        )
        nearly += [
            (Row("offset", state, cylinder, number), *place)
            for cylinder, place in _places(named, positions, offsets).items()
        ]
    if rows:
        all_weights = np.vstack(weights)
        covariance = all_weights @ stacked.covariance @ all_weights.T + _diagonal(between)
        made.add(rows, np.concatenate(values), (covariance + covariance.T) / 2.0)
    for row, value, u in nearly:
        made.add([row], np.array([value]), np.array([[u**2]]))


def _places(
    named: Sequence[tuple[RecordingResult, SweepPeaks]],
    positions: Sequence[int],
    offsets: Offsets,
) -> Mapping[int, tuple[float, float]]:
    """About where the offsets of cylinders lie that gave no peak but a bound or a range, with their uncertainty [percent]."""
    found: dict[int, tuple[float, float]] = {}
    for position in positions:
        level = offsets.levels.get(position)
        if level is None:
            continue
        for peak in named[position][1].cylinders:
            if peak.cylinder in offsets.cylinders:
                continue
            result, swept = named[position]
            place = _place(peak, level, plain_top(result.recording, swept.sweep, peak.cylinder))
            if place is not None and (peak.cylinder not in found or place[1] < found[peak.cylinder][1]):
                found[peak.cylinder] = place
    return found


def _place(peak: CylinderPeak, level: float, top: tuple[float, float] | None) -> tuple[float, float] | None:
    """Middle and standard uncertainty of where a peak may lie against a sweep's level [percent]."""
    if peak.status == "not-reached" and peak.bound_gph is not None:
        beyond = -BEYOND_BOUND_PERCENT if peak.bound_side == "below" else BEYOND_BOUND_PERCENT
        return 100.0 * (float(np.log(peak.bound_gph)) - level) + beyond, BEYOND_BOUND_PERCENT
    if peak.status == "unclear" and top is not None and peak.reason != AT_THE_END:
        return 100.0 * (top[0] - level), top[1]
    if peak.status == "unclear" and peak.possible_gph is not None:
        low, high = (100.0 * (float(np.log(one)) - level) for one in peak.possible_gph)
        return 0.5 * (low + high), max((high - low) / np.sqrt(12.0), LEAST_U_PLACE_PERCENT)
    return None


def _diagonal(blocks: Sequence[Floats]) -> Floats:
    size = sum(block.shape[0] for block in blocks)
    whole, start = np.zeros((size, size)), 0
    for block in blocks:
        end = start + block.shape[0]
        whole[start:end, start:end] = block
        start = end
    return whole


def _by_pressure(stacked: Stack) -> list[list[int]]:
    """Positions of the sweeps that have a value, together where the manifold pressure is the same."""
    present = sorted(set(stacked.sweep.tolist()))
    known = sorted((stacked.sweeps[position].manifold_pressure_inhg or 0.0, position) for position in present)
    groups: list[list[int]] = []
    last = -np.inf
    for pressure, position in known:
        if pressure - last > SAME_PRESSURE_INHG:
            groups.append([])
        groups[-1].append(position)
        last = pressure
    return groups[::-1]


def _setting(state: State, sweeps: Sequence[tuple[RecordingResult, Sweep]]) -> Setting:
    pressure = _mean([sweep.manifold_pressure_inhg for _, sweep in sweeps])
    altitude = _mean([sweep.altitude_ft for _, sweep in sweeps])
    ambient = USUAL_AMBIENT_INHG if altitude is None else standard_pressure(altitude)
    if altitude is None and pressure is not None and pressure > ambient:
        ambient = pressure
    flows = _mean([_over(result, sweep, "fuel_flow") for result, sweep in sweeps])
    line = _mean([_over(result, sweep, "fuel_pressure") for result, sweep in sweeps])
    if line is None:
        line = USUAL_LINE_PSI * ((flows or USUAL_LINE_AT_GPH) / USUAL_LINE_AT_GPH) ** 2
    return Setting(
        state,
        pressure,
        ambient,
        standard_temperature(altitude or 6000.0),
        _mean([sweep.engine_speed_rpm for _, sweep in sweeps]) or 2350.0,
        max(line, LEAST_LINE_PSI),
        tuple((result.recording.name, sweep.start_s, sweep.end_s) for result, sweep in sweeps),
    )


def _mean(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return float(np.mean(known)) if known else None


def _over(result: RecordingResult, sweep: Sweep, quantity: str, cylinder: int | None = None) -> float | None:
    """Mean of a channel over a sweep; the aircraft's channels stand under engine 1."""
    recording = result.recording
    values = recording.values(quantity, cylinder, sweep.engine)
    if values is None:
        values = recording.values(quantity, cylinder)
    if values is None:
        return None
    rows = slice(*np.searchsorted(recording.time_s, [sweep.start_s, sweep.end_s]))
    good = values[rows][np.isfinite(values[rows])]
    return float(good.mean()) if good.size else None


def _heights(made: _Made, state: State, measured: Measured) -> None:
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


def _lags(made: _Made, state: State, measured: Measured) -> None:
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


def _heads(made: _Made, state: State, measured: Measured) -> None:
    """100 ln of the rise of each head over the outside air, over all sweeps used."""
    rises: dict[int, list[float]] = {}
    for result in measured.results:
        for sweep in (sweep for sweep in result.sweeps if sweep.used):
            outside = _over(result, sweep, "outside_air_temperature")
            for cylinder in range(1, measured.profile.cylinders + 1):
                head = _over(result, sweep, "cht", cylinder)
                rise = None if head is None else head - (OUTSIDE_AIR_F if outside is None else outside)
                if rise is not None and rise > 0.0:
                    rises.setdefault(cylinder, []).append(100.0 * float(np.log(rise)))
    made.add(
        [Row("head", state, cylinder) for cylinder in rises],
        np.array([np.mean(values) for values in rises.values()]),
        np.eye(len(rises)) * U_HEAD_PERCENT**2,
    )


def _level(made: _Made, state: State, measured: Measured) -> None:
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
        outside = _over(result, sweep, "outside_air_temperature")
        if sweep.manifold_pressure_inhg is None or sweep.engine_speed_rpm is None or outside is None:
            continue
        air = sweep.manifold_pressure_inhg * sweep.engine_speed_rpm / (outside + RANKINE_OFFSET)
        levels.append(100.0 * (level - float(np.log(air))))
    if levels:
        made.add([Row("level", state)], np.array([np.mean(levels)]), np.array([[U_LEVEL_PERCENT**2]]))


def _pressure(made: _Made, state: State, measured: Measured) -> None:
    """100 ln of the nozzle pressure over the square of the flow: what the sum of the nozzles' coefficients makes."""
    ratios = []
    for result in measured.results:
        for sweep in (sweep for sweep in result.sweeps if sweep.used):
            pressure, flow = _over(result, sweep, "fuel_pressure"), _over(result, sweep, "fuel_flow")
            if pressure is not None and flow is not None and pressure > LEAST_LINE_PSI and flow > 0.0:
                ratios.append(100.0 * float(np.log(pressure) - 2.0 * np.log(flow)))
    if ratios:
        made.add([Row("pressure", state)], np.array([np.mean(ratios)]), np.array([[U_PRESSURE_PERCENT**2]]))
