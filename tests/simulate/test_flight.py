"""Simulated flights: the same seed gives the same recording, and the truth agrees with the recording."""

import numpy as np
import pytest

from leanwright.simulate.draw import draw_spec
from leanwright.simulate.flight import FlightSpec, SimulatedFlight, simulate_flight


def spec(seed: int, **wanted: object) -> FlightSpec:
    return draw_spec(np.random.default_rng(seed), **wanted)  # type: ignore[arg-type]  # passed through as named


def digest(flight: SimulatedFlight) -> list[bytes]:
    return [flight.table.time_s.tobytes(), *(c.values.tobytes() for c in flight.table.columns)]


def test_the_same_seed_gives_the_same_bytes() -> None:
    assert digest(simulate_flight(spec(4, sweeps=2), 4)) == digest(simulate_flight(spec(4, sweeps=2), 4))


def test_another_seed_gives_other_noise() -> None:
    assert digest(simulate_flight(spec(4), 4)) != digest(simulate_flight(spec(4), 5))


@pytest.mark.parametrize("seed", range(6))
def test_flow_falls_in_a_leaning_sweep_and_rises_in_an_enriching_one(seed: int) -> None:
    flight = simulate_flight(spec(seed, sweeps=2), seed)
    flow, time = flight.table.column("fuel_flow").inside, flight.table.time_s
    for sweep in flight.truth.sweeps:
        before, after = np.interp([sweep.start_s - 4.0, sweep.end_s + 5.0], time, flow)
        ends = (sweep.rich_end_gph, sweep.lean_end_gph)
        expected = ends if sweep.direction == "leaning" else ends[::-1]
        assert (before, after) == pytest.approx(expected, abs=0.25)


def test_every_cylinder_peaks_in_the_recording_near_its_true_flow() -> None:
    """The highest row is a crude witness: its error is about one percent, far below the sweep's width."""
    flight = simulate_flight(spec(5, sweeps=1), 5)
    sweep = flight.truth.sweeps[0]
    assert all(sweep.passed)
    time, flow = flight.table.time_s, flight.table.column("fuel_flow").inside
    inside = (time > sweep.start_s) & (time < sweep.end_s)
    for number, true in enumerate(sweep.flow_at_peak_gph, start=1):
        egt = flight.table.column("egt", number).inside
        assert flow[inside][np.argmax(egt[inside])] == pytest.approx(true, rel=0.025)


def test_flow_is_read_in_whole_steps_of_the_recorder() -> None:
    flight = simulate_flight(spec(3), 3)
    column, recorder = flight.table.column("fuel_flow"), flight.spec.recorder
    steps = column.values / recorder.step("fuel_flow")
    assert np.allclose(steps, np.round(steps), atol=1e-6)
