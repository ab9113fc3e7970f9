"""What the search for sweeps sees of a recording."""

from dataclasses import replace

import numpy as np
import pytest

from leanwright.analysis.trace import Trace, bin_means, read_trace, smooth, without_spikes
from leanwright.recordings.recording import Recording
from tests.analysis.scene import Floats, Lever, cruise, recording


def test_means_over_seconds_leave_out_what_is_missing() -> None:
    time = np.array([0.0, 0.2, 0.9, 1.0, 3.5])
    values = np.array([1.0, np.nan, 3.0, 5.0, np.nan])
    np.testing.assert_array_equal(bin_means(time, values, 0.0, 4), [2.0, 5.0, np.nan, np.nan])


def test_a_running_mean_keeps_a_straight_line_and_needs_no_even_steps() -> None:
    time = np.array([0.0, 1.0, 2.0, 3.0, 4.0, 9.0])
    np.testing.assert_allclose(smooth(time, 2.0 * time, 4.0)[2:3], [4.0])
    np.testing.assert_allclose(smooth(time, 2.0 * time, 4.0)[-1], 18.0)


def trace_of(flight: Recording) -> Trace | None:
    return read_trace(flight, 0, flight.rows_kept, 1)


@pytest.mark.parametrize(
    "flow", [None, np.full(50, np.nan), np.zeros(50), np.r_[np.full(48, np.nan), 12.0, 12.0]]
)
def test_without_flow_to_follow_there_is_no_trace(flow: Floats | None) -> None:
    channels = {} if flow is None else {"fuel_flow": flow}
    assert trace_of(recording(np.arange(50.0), **channels)) is None


def test_two_rows_are_no_trace() -> None:
    assert trace_of(recording(np.arange(2.0), fuel_flow=np.full(2, 12.0))) is None


def test_mixture_stands_still_when_throttle_and_flow_move_together() -> None:
    time = np.arange(0.0, 200.0)
    factor = np.where(time > 100.0, 0.85, 1.0)
    trace = trace_of(
        recording(
            time,
            fuel_flow=14.0 * factor,
            manifold_pressure=23.0 * factor,
            engine_speed=np.full(200, 2300.0),
        )
    )
    assert trace is not None
    assert trace.power_known
    np.testing.assert_allclose(trace.mixture, trace.mixture[0], atol=1e-9)
    moved = trace.time_s[trace.power_moved]
    assert 90.0 < moved.min() < 101.0 < moved.max() < 112.0


def test_a_quick_pull_that_slows_a_fixed_pitch_is_no_change_of_power() -> None:
    time = np.arange(0.0, 200.0)
    pulled = np.interp(time, [100.0, 103.0], [0.0, 1.0])
    trace = trace_of(
        recording(time, fuel_flow=14.0 * (1 - 0.3 * pulled), engine_speed=2400.0 * (1 - 0.06 * pulled))
    )
    assert trace is not None
    assert not trace.power_moved.any()


@pytest.mark.parametrize("pressure", [None, np.full(60, np.nan), np.zeros(60)])
def test_power_that_is_not_recorded_is_taken_as_steady_and_said_to_be_unknown(
    pressure: Floats | None,
) -> None:
    channels = {"fuel_flow": np.full(60, 12.0)} | (
        {} if pressure is None else {"manifold_pressure": pressure}
    )
    trace = trace_of(recording(np.arange(60.0), **channels))
    assert trace is not None
    assert not trace.power_known
    np.testing.assert_array_equal(trace.log_power, np.zeros(60))


def test_missing_rows_of_pressure_are_bridged_and_missing_rows_of_flow_left_out() -> None:
    time = np.arange(0.0, 60.0)
    pressure, flow = np.full(60, 23.0), np.full(60, 12.0)
    pressure[10:20] = np.nan
    flow[30:35] = np.nan
    trace = trace_of(recording(time, fuel_flow=flow, manifold_pressure=pressure))
    assert trace is not None
    assert trace.time_s.tolist() == [*range(30), *range(35, 60)]
    np.testing.assert_allclose(trace.log_power, 0.0, atol=1e-12)


def test_five_rows_a_second_become_one_point_a_second() -> None:
    lever = Lever(14.0)
    lever.rest(60)
    trace = trace_of(cruise(lever, 0.2))
    assert trace is not None
    assert trace.time_s.size == 60


def test_a_spike_is_taken_out_and_a_step_is_kept() -> None:
    values = np.array([1.0, 1.0, 9.0, 1.1, 1.2, 5.0, 5.1, 0.0, 5.2])
    assert without_spikes(values, 0.5).tolist() == [1.0, 1.0, 1.1, 1.1, 1.2, 5.0, 5.1, 5.1, 5.2]
    assert without_spikes(values[:2], 0.5).tolist() == [1.0, 1.0]


def test_noise_is_at_least_half_the_step_of_the_reading() -> None:
    flow = np.full(100, 10.0)
    flight = recording(np.arange(100.0), fuel_flow=flow)
    coarse = replace(flight, channels=(replace(flight.channels[0], resolution=0.1),))
    fine, half_step = trace_of(flight), trace_of(coarse)
    assert fine is not None
    assert half_step is not None
    assert fine.noise == pytest.approx(0.002)
    assert half_step.noise == pytest.approx(0.005)


def test_noise_of_few_points_is_that_of_the_step() -> None:
    flight = recording(np.arange(4.0), fuel_flow=np.full(4, 10.0))
    trace = trace_of(flight)
    assert trace is not None
    assert trace.noise == pytest.approx(0.002)


def test_noise_of_a_normal_reading_is_found_in_spite_of_a_sweep() -> None:
    random = np.random.default_rng(1)
    flow = np.exp(np.log(np.linspace(14.0, 10.0, 400)) + random.normal(0.0, 0.01, 400))
    trace = trace_of(recording(np.arange(400.0), fuel_flow=flow))
    assert trace is not None
    assert trace.noise == pytest.approx(0.01, rel=0.15)
