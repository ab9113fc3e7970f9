"""Fuel flow at peak EGT of every cylinder, with the covariance that belongs to it."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.excerpt import Excerpt, excerpts
from leanwright.analysis.middle import middle
from leanwright.analysis.peak_curve import drawn
from leanwright.analysis.peak_joint import Joint, Ready, joint, ready
from leanwright.analysis.peak_place import Swept
from leanwright.analysis.peak_status import FLOOR, WORST_MISFIT, WORST_OWN_F, Described, decide
from leanwright.analysis.probe_signal import LEAST_KEPT, LEAST_RANGE, median
from leanwright.analysis.sweep import Sweep
from leanwright.analysis.unknowns import HEIGHT, SCALE
from leanwright.analysis.witness import SIGMAS, Vertex, objections, witness
from leanwright.findings import Statement
from leanwright.recordings.recording import Recording
from leanwright.showing import html_of

Floats = NDArray[np.float64]
Status = Literal["peaked", "not-reached", "no-signal", "unclear"]
BudgetSource = Literal[
    "reading-noise", "shared-disturbance", "lag", "quantisation", "between-sweeps", "unknown-power"
]

SOURCES: Final[tuple[BudgetSource, ...]] = ("reading-noise", "shared-disturbance", "lag", "quantisation")
"""Sources within one recording; what differs between sweeps is added where they are combined."""
LEAST_ROWS: Final = 8
LEAST_TIME_S: Final = 10.0
AROUND: Final = 0.05
"""How far beyond the flows swept a peak may lie that nothing is known of (logarithm)."""
RUNS: Final = (15.0 / 16.0, 15.0 / 8.0)
"""Flow over that at its peak with which a cylinder still burns: it peaks at an air/fuel ratio of 15, and burns from 8 to
16 (FAA-H-8083-32B, p. 2-4). It burns at some flow of a sweep."""
POSSIBLE_SIGMAS: Final = 3.5
"""The uncertainty of a peak beyond the sweep is that of a curve drawn on: more than the usual two or three."""
SAID_FROM: Final = 1.1
OWN_CROSSING: Final = 0.0008
"""What the power at a cylinder's own crossing adds to the uncertainty of its flow, propeller fixed (logarithm)."""


@dataclass(frozen=True, slots=True)
class CylinderPeak:
    """One cylinder in one sweep.

    ``fuel_flow_at_peak_gph`` [gal/h] is the reading's flow at the sweep's own power with lag taken out, and its
    standard uncertainty; both ``None`` unless ``peaked``. ``bound_gph`` and ``bound_side`` belong to
    ``not-reached`` ("below": the peak lies below the bound), ``possible_gph`` to ``unclear``.
    """

    cylinder: int
    status: Status
    fuel_flow_at_peak_gph: float | None = None
    u_fuel_flow_at_peak_gph: float | None = None
    bound_gph: float | None = None
    bound_side: Literal["below", "above"] | None = None
    possible_gph: tuple[float, float] | None = None
    lag_s: float | None = None
    u_lag_s: float | None = None
    peak_egt_f: float | None = None
    """EGT at the top of the fitted curve [degF]; means little in itself, compared from flight to flight."""
    witness_gph: float | None = None
    """Flow at peak by the plain local fit, its known bias allowed for [gal/h]."""
    reason: Statement | None = None
    """Why the status is what it is, when it is not ``peaked``."""


@dataclass(frozen=True, slots=True, eq=False)
class CylinderCurve:
    """What the curves figure draws: points and fit of one cylinder in one sweep, lag and common noise taken out."""

    cylinder: int
    point_flow_gph: Floats
    """[gal/h], shape (points,)"""
    point_egt_below_peak_f: Floats
    """EGT minus the fitted top [degF], shape (points,); 0 at the top, negative below"""
    fit_flow_gph: Floats
    fit_egt_below_peak_f: Floats


@dataclass(frozen=True, slots=True, eq=False)
class SweepPeaks:
    """All cylinders in one sweep."""

    sweep: Sweep
    cylinders: tuple[CylinderPeak, ...]
    curves: tuple[CylinderCurve, ...] = ()
    statements: tuple[Statement, ...] = ()
    """What is to be said about this sweep: witness differs, leaning and enriching disagree, misfit."""

    _repr_html_ = html_of


@dataclass(frozen=True, slots=True, eq=False)
class Peaks:
    """Every sweep used of one recording, fitted together.

    ``log_flow`` holds ln(flow at peak, at common power), one value for each (sweep, cylinder) that peaked, in the
    order of ``index``; only differences within a sweep are meant for offsets. ``covariance`` is its full covariance [1],
    sweeps of one recording correlated through the lags they share. ``parts`` splits it by source [1]; the parts sum
    to ``covariance``.
    """

    sweeps: tuple[SweepPeaks, ...]
    index: tuple[tuple[int, int], ...]
    """(position in ``sweeps``, cylinder) of each value."""
    log_flow: Floats
    covariance: Floats
    parts: dict[BudgetSource, Floats] = field(default_factory=dict)

    _repr_html_ = html_of


def find_peaks(recording: Recording, sweeps: Sequence[Sweep], *, engine: int = 1) -> Peaks:
    """Fuel flow at peak EGT of every cylinder in every sweep that is used.

    All sweeps of a recording are fitted together: lags are shared, curves nearly so.

    Parameters
    ----------
    recording : Recording
        The recording.
    sweeps : sequence of Sweep
        Its sweeps; those not used are passed over.
    engine : int
        Number of the engine [1].

    Returns
    -------
    Peaks
        One entry a sweep used, in the order given. Where the recording holds no fuel flow there are no peaks, and
        a statement says so.
    """
    used = [sweep for sweep in sweeps if sweep.used]
    parts = excerpts(recording, used, engine)
    prepared = [ready(part) if part is not None and _enough(part) else None for part in parts]
    fitted = [k for k, one in enumerate(prepared) if one is not None and _usable(one)]
    together = joint([one for k in fitted if (one := prepared[k]) is not None]) if fitted else None
    answers, places, doubts = [], [], []
    for k, sweep in enumerate(used):
        if together is None or k not in fitted:
            answers.append(_without_fit(sweep, parts[k], prepared[k]))
            continue
        place = fitted.index(k)
        answer, doubt = _answer(sweep, together, place)
        answers.append(answer)
        places += [
            (k, peak.cylinder, place * len(doubt) + i)
            for i, peak in enumerate(answer.cylinders)
            if peak.status == "peaked"
        ]
        doubts += [doubt[i] for i, peak in enumerate(answer.cylinders) if peak.status == "peaked"]
    return _assembled(answers, places, np.array(doubts), together)


def _assembled(
    answers: list[SweepPeaks],
    places: list[tuple[int, int, int]],
    doubt: Floats,
    together: Joint | None,
) -> Peaks:
    """All values that peaked, with their covariance and its parts."""
    if together is None or not places:
        nothing = np.zeros((0, 0))
        return Peaks(tuple(answers), (), np.zeros(0), nothing, dict.fromkeys(SOURCES, nothing))
    rows = np.array([row for _, _, row in places])
    block = np.ix_(rows, rows)
    parts = {source: together.parts[source][block] for source in SOURCES}
    parts["reading-noise"] = parts["reading-noise"] + np.diag(doubt)
    return Peaks(
        sweeps=tuple(answers),
        index=tuple((k, cylinder) for k, cylinder, _ in places),
        log_flow=together.places.position.ravel()[rows],
        covariance=together.covariance[block] + np.diag(doubt),
        parts=parts,
    )


def _enough(part: Excerpt) -> bool:
    """Time, rows and flow readings suffice for a fit."""
    if part.end_s - part.start_s < LEAST_TIME_S:
        return False
    flow = np.isfinite(part.flow_gph) & part.inside
    return (
        int(flow.sum()) >= LEAST_ROWS
        and float(np.nanmax(part.flow_gph[flow]) - np.nanmin(part.flow_gph[flow])) > 0.0
    )


def _usable(one: Ready) -> bool:
    return bool(one.passage.used.any()) and not one.passage.power.changed


def _without_fit(sweep: Sweep, part: Excerpt | None, one: Ready | None) -> SweepPeaks:
    """A sweep that cannot be fitted: each cylinder with the reason why."""
    if part is None:
        return SweepPeaks(sweep, (), statements=(Statement("no-fuel-flow"),))
    if one is None:
        reason = Statement("too-few-points")
        unclear = [
            CylinderPeak(c, "unclear", possible_gph=_anywhere(part), reason=reason) for c in part.cylinders
        ]
        return SweepPeaks(sweep, tuple(unclear))
    reason = Statement("power-changed", {"power_remainder_percent": 100.0 * one.passage.power.remainder})
    possible = _anywhere(part)
    peaks = [
        _without_signal(one, i, number)
        or CylinderPeak(number, "unclear", possible_gph=possible, reason=reason)
        for i, number in enumerate(part.cylinders)
    ]
    statements = (reason,) if one.passage.power.changed else ()
    return SweepPeaks(sweep, tuple(peaks), statements=statements)


def _anywhere(part: Excerpt) -> tuple[float, float] | None:
    """Flows [gal/h] between which the peak of a cylinder lies that ran during the sweep, whatever its readings were."""
    flow = part.flow_gph[np.isfinite(part.flow_gph) & (part.flow_gph > 0.0)]
    return (float(flow.min()) / RUNS[1], float(flow.max()) / RUNS[0]) if flow.size else None


def _without_signal(one: Ready, i: int, number: int) -> CylinderPeak | None:
    """The cylinder's answer if its probe says nothing, with the reason."""
    signal = one.signal
    if not signal.none[i]:
        return None
    others = middle(np.delete(signal.moved_f, i)) if signal.moved_f.size > 1 else 0.0
    if signal.kept[i] < LEAST_KEPT:
        reason = Statement("too-few-readings", {"kept_percent": 100.0 * float(signal.kept[i])})
    elif signal.moved_f[i] < LEAST_RANGE * others or signal.moved_f[i] <= 0.0:
        values = {"moved_df": float(signal.moved_f[i]), "others_moved_df": others}
        reason = Statement("reading-hardly-moves", values)
    else:
        below = float(median(np.delete(signal.level_f, i)) - signal.level_f[i])
        reason = Statement("reading-far-below", {"below_df": below})
    return CylinderPeak(number, "no-signal", reason=reason)


def _answer(sweep: Sweep, together: Joint, s: int) -> tuple[SweepPeaks, Floats]:
    """One fitted sweep, and the variance that the witness adds to each of its positions."""
    one = together.ready[s]
    number = len(one.part.cylinders)
    u = np.sqrt(np.diag(together.covariance))[s * number : (s + 1) * number]
    vertices = witness(replace(one.part, egt_f=one.egt_f), _lags(together, s))
    peaks, doubts, statements = [], np.zeros(number), []
    range_ = together.ranges[s]
    crossings = [float(at + range_.power_at(at)) for at in together.places.position[s].tolist()]
    differences = objections(vertices, crossings)
    for i, cylinder in enumerate(one.part.cylinders):
        difference = differences[i]
        doubts[i] = (difference[0] / SIGMAS) ** 2 if difference else 0.0
        peak = _cylinder(together, s, i, float(np.hypot(u[i], np.sqrt(doubts[i]))), vertices[i])
        peaks.append(peak)
        if difference and peak.status == "peaked":
            values = {
                "cylinder": cylinder,
                "difference_percent": 100.0 * difference[0],
                "u_difference_percent": 100.0 * difference[1],
            }
            statements.append(Statement("witness-differs", values))
    if together.enlarged[s] > SAID_FROM:
        values = {"enlarged_by_percent": 100.0 * (float(together.enlarged[s]) - 1.0)}
        statements.append(Statement("poorly-described", values))
    curves = [
        CylinderCurve(cylinder, *rows)
        for cylinder, peak, rows in zip(
            one.part.cylinders,
            peaks,
            drawn(one.part, one.passage, together.found, s, together.places),
            strict=True,
        )
        if peak.status == "peaked"
    ]
    return SweepPeaks(sweep, tuple(peaks), tuple(curves), tuple(statements)), doubts


def _lags(together: Joint, s: int) -> Floats:
    """Lag of each probe less that of the flow reading, as fitted [s]."""
    state = together.found.state(s)
    return np.asarray(np.exp(state.log_lag) - state.flow_lag_s)


def _cylinder(together: Joint, s: int, i: int, u: float, vertex: Vertex | None) -> CylinderPeak:
    """Decide on one cylinder of a fitted sweep."""
    one = together.ready[s]
    number = one.part.cylinders[i]
    silent = _without_signal(one, i, number)
    if silent is not None:
        return silent
    range_ = together.ranges[s]
    whole = _anywhere(one.part)
    if one.signal.intermittent[i]:
        gap = {"gap_percent": 100.0 * float(one.signal.gap[i])}
        reason = Statement("reading-comes-and-goes", gap)
        return CylinderPeak(number, "unclear", possible_gph=whole, reason=reason)
    if together.odd[s, i]:
        return CylinderPeak(number, "unclear", possible_gph=whole, reason=Statement("not-one-top"))
    position = float(together.places.position[s, i])
    well = together.described[s].well
    rises = (bool(together.rises[s][0][i]), bool(together.rises[s][1][i]))
    decision, side = decide(position, u, range_, well=well, rises=rises)
    if decision == "not-reached":
        bound = _flow(range_, range_.low if side == "below" else range_.high)
        return CylinderPeak(number, "not-reached", bound_gph=bound, bound_side=side)
    if decision == "unclear":
        return _unclear(together, s, number, position, u)
    return _peaked(together, s, i, u, vertex)


def _unclear(together: Joint, s: int, number: int, position: float, u: float) -> CylinderPeak:
    """A peak about as far as the sweep went, or in a sweep that the model does not describe."""
    range_ = together.ranges[s]
    wide = POSSIBLE_SIGMAS * float(np.hypot(u, FLOOR))
    low, high = position - wide, position + wide
    if not together.described[s].well:
        low, high = min(low, range_.low - AROUND), max(high, range_.high + AROUND)
        reason = Statement("poorly-described-sweep", _why_poor(together.described[s]))
    else:
        reason = Statement("at-the-end")
    return CylinderPeak(
        number, "unclear", possible_gph=(_flow(range_, low), _flow(range_, high)), reason=reason
    )


def _why_poor(described: Described) -> dict[str, object]:
    """Which of the grounds the model falls short on, with its number."""
    if described.misfit >= WORST_MISFIT:
        return {"why": "misfit", "misfit_times": float(np.sqrt(described.misfit))}
    if described.own_f >= WORST_OWN_F:
        return {"why": "scatter", "own_df": described.own_f}
    return {"why": "fall", "fall_percent": 100.0 * described.drop}


def _flow(range_: Swept, position: float) -> float:
    """Fuel flow [gal/h] at a position, at the power that the sweep had there."""
    return float(np.exp(position + range_.power_at(position)))


def _peaked(together: Joint, s: int, i: int, u: float, vertex: Vertex | None) -> CylinderPeak:
    """A peak with its flow, lag and height."""
    one, range_ = together.ready[s], together.ranges[s]
    state = together.found.state(s)
    flow = _flow(range_, float(together.places.position[s, i]))
    own_power = OWN_CROSSING if range_.log_power.any() else 0.0
    lag = float(np.exp(state.log_lag[i]))
    place = together.found.layout.lag[i]
    top_f = np.exp(state.own[SCALE][i]) * together.places.tops.value[s, i]
    return CylinderPeak(
        one.part.cylinders[i],
        "peaked",
        fuel_flow_at_peak_gph=flow,
        u_fuel_flow_at_peak_gph=flow * float(np.hypot(u, own_power)),
        lag_s=lag,
        u_lag_s=lag * float(np.sqrt(together.found.covariance[place, place])),
        peak_egt_f=float(one.passage.level_f[i] + state.own[HEIGHT][i] + top_f),
        witness_gph=float(np.exp(vertex.log_flow)) if vertex is not None and vertex.inside else None,
    )
