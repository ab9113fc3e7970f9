"""Peaks of simulated sweeps, whose truth is known because they were made: another curve law, other noise."""

import numpy as np
import pytest

from leanwright.analysis.peak import Peaks, find_peaks
from leanwright.analysis.sweep import Sweep
from leanwright.quantities import QUANTITIES, UNITS
from leanwright.recordings.recording import Channel, Recording
from leanwright.simulate.draw import draw_spec
from leanwright.simulate.flight import SimulatedFlight, simulate_flight


def as_recording(flight: SimulatedFlight) -> Recording:
    """The table as a reader would give it."""
    channels = []
    for column in flight.table.columns:
        inside = QUANTITIES[column.quantity].unit
        step = 10.0**-column.decimals
        if column.unit is not None and inside is not None:
            step *= UNITS[column.unit].factor / UNITS[inside].factor
        channels.append(
            Channel(
                f"{column.quantity} {column.cylinder}", column.quantity, column.cylinder, column.unit, "header",
                values=column.inside, resolution=step,
            )
        )  # fmt: skip
    time_s = flight.table.time_s
    return Recording("simulated", "0" * 64, time_s, np.arange(time_s.size), tuple(channels), 0, ())


def sweeps_of(flight: SimulatedFlight) -> list[Sweep]:
    """The sweeps as they were flown."""
    return [
        Sweep(
            one.start_s, one.end_s, one.direction, True, None,
            one.manifold_pressure_inhg, one.engine_speed_rpm, one.altitude_ft,
        )
        for one in flight.truth.sweeps
    ]  # fmt: skip


def flown(seed: int, sweeps: int) -> tuple[SimulatedFlight, Peaks]:
    spec = draw_spec(np.random.default_rng(seed), sweeps=sweeps)
    flight = simulate_flight(spec, seed)
    return flight, find_peaks(as_recording(flight), sweeps_of(flight))


@pytest.mark.parametrize("sweeps", [1, 2])
@pytest.mark.parametrize("seed", [301, 302, 303, 304])
def test_offsets_lie_within_four_uncertainties_of_the_truth(seed: int, sweeps: int) -> None:
    flight, peaks = flown(seed, sweeps)
    assert len(peaks.sweeps) == sweeps
    measured = 0
    for s, true in enumerate(flight.truth.sweeps):
        rows = [k for k, (place, _) in enumerate(peaks.index) if place == s]
        if not rows:  # a quick sweep with rows every six seconds
            assert {str(c.reason and c.reason.code) for c in peaks.sweeps[s].cylinders} == {"too-few-points"}
            continue
        cylinders = [peaks.index[k][1] for k in rows]
        log_true = np.log([true.flow_at_common_power_gph[c - 1] for c in cylinders])
        centred = np.eye(len(rows)) - 1.0 / len(rows)
        u = np.sqrt(np.diag(centred @ peaks.covariance[np.ix_(rows, rows)] @ centred))
        error = centred @ (peaks.log_flow[rows] - log_true)
        assert np.all(np.abs(error) < 4.0 * u)
        assert np.all(u < 0.012)
        measured += len(rows)
    assert measured >= flight.truth.cylinders


@pytest.mark.parametrize("seed", [301, 302, 303, 304])
def test_flows_lie_within_four_uncertainties_of_the_truth(seed: int) -> None:
    flight, peaks = flown(seed, 1)
    for peak, true in zip(peaks.sweeps[0].cylinders, flight.truth.sweeps[0].flow_at_peak_gph, strict=True):
        if peak.status == "peaked":
            assert peak.fuel_flow_at_peak_gph is not None
            assert peak.u_fuel_flow_at_peak_gph is not None
            assert abs(peak.fuel_flow_at_peak_gph - true) < 4.0 * peak.u_fuel_flow_at_peak_gph


def test_a_cylinder_that_was_not_passed_is_never_called_peaked() -> None:
    """The sweep stops before the leanest peak."""
    spec = draw_spec(np.random.default_rng(311), sweeps=1, lean_margin_percent=(-4.0, -3.0))
    flight = simulate_flight(spec, 311)
    truth = flight.truth.sweeps[0]
    assert not all(truth.passed)
    peaks = find_peaks(as_recording(flight), sweeps_of(flight))
    for peak, passed in zip(peaks.sweeps[0].cylinders, truth.passed, strict=True):
        if not passed:
            assert peak.status in {"not-reached", "unclear"}
