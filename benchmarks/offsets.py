"""How well the offsets of the cylinders are measured on simulated recordings whose truth is known.

::

    python -m benchmarks.offsets --recordings 210 --first-seed 0
    python -m benchmarks.offsets --recordings 210 --first-seed 0 --limits found
    python -m benchmarks.offsets --recordings 210 --first-seed 0 --simulator second

A third of the recordings hold one sweep, a third a leaning and an enriching one, a third four. Sweep limits are the
true ones, or those that the program finds in whole flights. Beside the program's error stand that of somebody who picks
the row with the highest EGT, and the information limit: the error that the readings leave to any unbiased estimate,
in the linear Gaussian model about the truth, with the sizes of the noise and the path's own walk known and lags and
curves unknown. It is taken with the model of the program, and so is an estimate of the limit, not a strict floor.
Seeds 10 000 to 19 999 are for development; the final figures are run once on others.
"""

import argparse
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.corpus import Simulator, as_recording, corpus
from leanwright.analysis.excerpt import excerpts
from leanwright.analysis.flight import find_power_ups
from leanwright.analysis.offset import centred_basis, combined_offsets, stack
from leanwright.analysis.passage import Passage
from leanwright.analysis.peak import Peaks, find_peaks
from leanwright.analysis.peak_joint import Joint, joint, ready
from leanwright.analysis.peak_model import State, linearise
from leanwright.analysis.peak_noise import NoiseLevel, whiteners
from leanwright.analysis.peak_place import top_of
from leanwright.analysis.sweep import Sweep, find_sweeps
from leanwright.analysis.unknowns import POSITION, Layout, prior
from leanwright.recordings.recording import Recording
from leanwright.simulate.flight import SimulatedFlight, Surroundings
from leanwright.simulate.truth import SweepTruth

Floats = NDArray[np.float64]

KINDS = {"one sweep": 1, "a pair": 2, "four sweeps": 4}
OVERLAP = 0.7


@dataclass(frozen=True)
class Case:
    """What came of one recording; errors and uncertainties in percent of flow, one a cylinder."""

    seed: int
    kind: str
    groups: tuple[str, ...]
    error: Floats
    u: Floats
    highest_row: Floats
    limit: Floats
    spread_error_gph: float
    flow_error: Floats
    u_flow: Floats
    missing: int
    sweeps: int
    processor_s: float


def as_sweep(truth: SweepTruth) -> Sweep:
    """A sweep with its true limits."""
    return Sweep(
        truth.start_s,
        truth.end_s,
        truth.direction,
        used=True,
        reason=None,
        manifold_pressure_inhg=truth.manifold_pressure_inhg,
        engine_speed_rpm=truth.engine_speed_rpm,
        altitude_ft=truth.altitude_ft,
    )


def matched(flight: SimulatedFlight, recording: Recording, limits: str) -> list[tuple[Sweep, SweepTruth]]:
    """Sweeps to measure, each with the truth that belongs to it."""
    if limits == "true":
        return [(as_sweep(truth), truth) for truth in flight.truth.sweeps]
    found = [sweep for sweep in find_sweeps(recording, find_power_ups(recording)) if sweep.used]
    pairs = []
    for sweep in found:
        best = max(flight.truth.sweeps, key=lambda truth: _overlap(sweep, truth))
        if best.direction == sweep.direction and _overlap(sweep, best) >= OVERLAP:
            pairs.append((sweep, best))
    return pairs


def _overlap(sweep: Sweep, truth: SweepTruth) -> float:
    common = min(sweep.end_s, truth.end_s) - max(sweep.start_s, truth.start_s)
    whole = max(sweep.end_s, truth.end_s) - min(sweep.start_s, truth.start_s)
    return max(common, 0.0) / whole


def measured(flight: SimulatedFlight, kind: str, limits: str) -> Case | None:
    """Measure one recording and compare with its truth; ``None`` where no offset came of it."""
    recording = as_recording(flight)
    pairs = matched(flight, recording, limits)
    if not pairs:
        return None
    sweeps = [sweep for sweep, _ in pairs]
    began = time.process_time()
    peaks = find_peaks(recording, sweeps)
    spent = time.process_time() - began
    found = combined_offsets(stack([peaks]))
    if found is None or len(found.cylinders) < 2:
        return None
    places = np.array(found.cylinders) - 1
    offset = np.mean([truth.offset_percent for _, truth in pairs], axis=0)[places]
    offset = offset - offset.mean()
    mean = float(np.exp(np.mean([np.log(truth.mean_gph) for _, truth in pairs])))
    flows, true_flows = np.exp(found.log_mean_flow + found.offset), mean * np.exp(offset / 100.0)
    spec = flight.spec
    return Case(
        seed=flight.seed,
        kind=kind,
        groups=(
            "gusty" if spec.weather.gusty else "calm",
            f"{spec.engine.cylinders} cylinders",
            spec.engine.propeller,
            *({truth.movement for _, truth in pairs} if len(pairs) == 1 else ()),
            _interval(spec.recorder.interval_s),
        ),
        error=100.0 * found.offset - offset,
        u=100.0 * np.sqrt(np.diag(found.covariance)[:-1]),
        highest_row=highest_row(recording, pairs, places) - offset,
        limit=limit(recording, sweeps, pairs, flight, places),
        spread_error_gph=float(np.ptp(flows) - np.ptp(true_flows)),
        flow_error=_flow_errors(peaks, pairs)[0],
        u_flow=_flow_errors(peaks, pairs)[1],
        missing=spec.engine.cylinders - places.size,
        sweeps=len(pairs),
        processor_s=spent,
    )


def _interval(interval_s: float) -> str:
    return "rows <= 0.5 s" if interval_s <= 0.5 else "rows <= 2 s" if interval_s <= 2.0 else "rows >= 3 s"


def _flow_errors(peaks: Peaks, pairs: Sequence[tuple[Sweep, SweepTruth]]) -> tuple[Floats, Floats]:
    """Error and uncertainty of every flow at peak [percent]."""
    errors, uncertainties = [], []
    for one, (_, truth) in zip(peaks.sweeps, pairs, strict=True):
        for peak in one.cylinders:
            if peak.fuel_flow_at_peak_gph is not None and peak.u_fuel_flow_at_peak_gph is not None:
                true = truth.flow_at_peak_gph[peak.cylinder - 1]
                errors.append(100.0 * (peak.fuel_flow_at_peak_gph / true - 1.0))
                uncertainties.append(100.0 * peak.u_fuel_flow_at_peak_gph / true)
    return np.array(errors), np.array(uncertainties)


def highest_row(
    recording: Recording, pairs: Sequence[tuple[Sweep, SweepTruth]], places: NDArray[np.int64]
) -> Floats:
    """Offsets of somebody who reads the flow beside each cylinder's highest EGT [percent]."""
    flow = recording.values("fuel_flow")
    picked = []
    for sweep, _ in pairs:
        rows = (recording.time_s >= sweep.start_s) & (recording.time_s <= sweep.end_s)
        logs = []
        for place in places:
            egt = recording.values("egt", int(place) + 1)
            if flow is None or egt is None:
                raise ValueError(f"{recording.name} lacks a channel")
            known = rows & np.isfinite(egt) & np.isfinite(flow)
            logs.append(np.log(flow[known][np.argmax(egt[known])]))
        picked.append(np.array(logs) - np.mean(logs))
    return np.asarray(100.0 * np.mean(picked, axis=0))


def limit(
    recording: Recording,
    sweeps: Sequence[Sweep],
    pairs: Sequence[tuple[Sweep, SweepTruth]],
    flight: SimulatedFlight,
    places: NDArray[np.int64],
) -> Floats:
    """Standard deviation that the readings leave to each offset [percent]."""
    fitted = joint([ready(part) for part in excerpts(recording, sweeps) if part is not None])
    layout = fitted.found.layout
    noise, truth = flight.truth.noise, flight.truth
    level = NoiseLevel(noise["gust_egt_f"], noise["shared_drift_f"], noise["own_noise_f"])
    known = prior(layout, fitted.places.position, fitted.found.point.width_spread)
    normal = known.precision.copy()
    log_lag = np.log(np.array(truth.probe_lag_s))
    for s, (_, sweep) in enumerate(pairs):
        passage = fitted.ready[s].passage
        state = _true_state(fitted, s, sweep, log_lag, truth.flow_lag_s)
        normal_of_sweep(normal, layout, s, passage, level, state)
    covariance = fitted.places.covariance(np.asarray(np.linalg.inv(normal), dtype=np.float64))
    rows = np.concatenate([s * layout.cylinders + places for s in range(layout.sweeps)])
    return 100.0 * _of_offsets(covariance[np.ix_(rows, rows)], layout.sweeps, places.size)


def _true_state(fitted: Joint, s: int, sweep: SweepTruth, log_lag: Floats, flow_lag_s: float) -> State:
    """The state with true positions and lags; curve, scales and heights as they were fitted."""
    state = fitted.found.state(s)
    own = state.own.copy()
    own[POSITION] = np.log(sweep.flow_at_common_power_gph) - top_of(state).x
    return State(state.curve, own, log_lag, flow_lag_s, state.path)


def normal_of_sweep(
    normal: Floats, layout: Layout, s: int, passage: Passage, level: NoiseLevel, state: State
) -> None:
    """Add what one sweep tells."""
    linear = linearise(passage, whiteners(passage, level, state.log_lag), level, state)
    crossed = linear.shared @ linear.jacobian.T
    inner = np.eye(linear.shared.shape[0]) + linear.shared @ linear.shared.T
    local = layout.local(s)
    told = linear.jacobian @ linear.jacobian.T - crossed.T @ np.linalg.solve(inner, crossed)
    normal[np.ix_(local, local)] += told


def _of_offsets(covariance: Floats, sweeps: int, cylinders: int) -> Floats:
    """Standard deviations of offsets common to all sweeps, by generalised least squares."""
    basis = centred_basis(cylinders)
    design = np.hstack([np.kron(np.eye(sweeps), np.ones((cylinders, 1))), np.tile(basis, (sweeps, 1))])
    inverse = np.linalg.inv(design.T @ np.linalg.solve(covariance + 1e-14 * np.eye(len(covariance)), design))
    of_offsets = basis @ inverse[sweeps:, sweeps:] @ basis.T
    return np.asarray(np.sqrt(np.diag(of_offsets)))


def cases(arguments: argparse.Namespace) -> Iterator[Case | None]:
    """Measure all recordings asked for."""
    each = -(-arguments.recordings // len(KINDS))
    simulator: Simulator = arguments.simulator
    for place, (kind, sweeps) in enumerate(KINDS.items()):
        first = arguments.first_seed + place * each
        print(f"{kind}: seeds {first} to {first + each - 1}")
        surroundings: Surroundings = "whole-flight" if arguments.limits == "found" else "sweeps-only"
        for flight in corpus(each, first, sweeps=sweeps, simulator=simulator, surroundings=surroundings):
            yield measured(flight, kind, arguments.limits)


def _rms(values: Sequence[Floats]) -> float:
    return float(np.sqrt(np.mean(np.square(np.concatenate(values)))))


def line(name: str, some: Sequence[Case]) -> str:
    """One line of the table."""
    if not some:
        return f"{name:24s} none"
    error, u = [case.error for case in some], np.concatenate([case.u for case in some])
    size = np.abs(np.concatenate(error))
    flow = np.concatenate([case.flow_error for case in some])
    flow_size = np.abs(flow) / np.concatenate([case.u_flow for case in some])
    bound = _rms([case.limit for case in some])
    spread = float(np.sqrt(np.mean([case.spread_error_gph**2 for case in some])))
    return (
        f"{name:24s} {len(some):4d} {_rms(error):6.3f} {np.median(size):6.3f} {np.percentile(size, 95):6.3f} "
        f"{np.mean(size < u):5.2f} {np.mean(size < 2.0 * u):5.2f} {_rms([case.highest_row for case in some]):7.2f} "
        f"{bound:6.3f} {_rms(error) / bound:5.2f} {spread:7.4f} {flow.mean():6.2f} "
        f"{float(np.sqrt(np.mean(flow**2))):5.2f} {np.mean(flow_size < 1.0):5.2f} {np.mean(flow_size < 2.0):5.2f}"
    )


HEAD = (
    f"{'':24s} {'n':>4s} {'rms':>6s} {'median':>6s} {'p95':>6s} {'in u':>5s} {'in 2u':>5s} {'highest':>7s} "
    f"{'limit':>6s} {'ratio':>5s} {'spread':>7s} {'flow':>6s} {'rms':>5s} {'in u':>5s} {'in 2u':>5s}"
)
UNITS = (
    f"{'':24s} {'':4s} {'%':>6s} {'%':>6s} {'%':>6s} {'':5s} {'':5s} {'rms %':>7s} {'rms %':>6s} {'':5s} "
    f"{'gal/h':>7s} {'% mean':>6s} {'%':>5s}"
)


def report(all_cases: Sequence[Case]) -> None:
    """Print the table, the seeds and the time."""
    print(HEAD, UNITS, sep="\n")
    for kind in KINDS:
        of_kind = [case for case in all_cases if case.kind == kind]
        print(line(kind, of_kind))
        for group in sorted({group for case in of_kind for group in case.groups}):
            print(line(f"  {group}", [case for case in of_kind if group in case.groups]))
    for kind in KINDS:
        calm, gusty = (
            [case.error for case in all_cases if case.kind == kind and group in case.groups]
            for group in ("calm", "gusty")
        )
        if calm and gusty:
            print(f"{kind}: gusts {_rms(gusty) / _rms(calm):.2f} x calm")
    sweeps = sum(case.sweeps for case in all_cases)
    each = np.array([case.processor_s / case.sweeps for case in all_cases])
    print(f"cylinders without a peak: {sum(case.missing for case in all_cases)}")
    print(
        f"processor time a sweep over {sweeps} sweeps: mean {1e3 * each.mean():.1f} ms, "
        f"95th percentile {1e3 * np.percentile(each, 95):.1f} ms"
    )
    key: Callable[[Case], float] = lambda case: _rms([case.error])  # noqa: E731 - used once, below
    worst = sorted(all_cases, key=key, reverse=True)[:8]
    print("largest errors: " + ", ".join(f"{case.seed} ({key(case):.2f} %)" for case in worst))


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--recordings", type=int, default=210)
    parser.add_argument("--first-seed", type=int, default=10_000)
    parser.add_argument("--limits", choices=("true", "found"), default="true", help="limits of the sweeps")
    parser.add_argument("--simulator", choices=("first", "second"), default="first")
    arguments = parser.parse_args()
    results = list(cases(arguments))
    report([case for case in results if case is not None])
    print(f"recordings without an offset: {sum(case is None for case in results)}")


if __name__ == "__main__":
    main()
