"""Start and end are those of the lever's movement, however it moved."""

from collections.abc import Callable

import numpy as np
import pytest

from leanwright.analysis.lever import find_movements
from leanwright.analysis.limits import refine_limits
from leanwright.analysis.trace import read_trace
from leanwright.recordings.recording import Recording
from tests.analysis.scene import Floats, Lever, recording

Hand = Callable[[Lever], tuple[float, float]]


def smooth_hand(lever: Lever) -> tuple[float, float]:
    return lever.move(10.0, 120)


def slow_hand(lever: Lever) -> tuple[float, float]:
    return lever.move(12.5, 160)


def stepping_hand(lever: Lever) -> tuple[float, float]:
    return lever.steps(10.0, 14, 9)


def hesitant_hand(lever: Lever) -> tuple[float, float]:
    start, _ = lever.move(13.6, 10)
    lever.rest(8)
    lever.move(12.0, 30)
    lever.rest(10)
    return start, lever.move(10.0, 25)[1]


HANDS = [smooth_hand, slow_hand, stepping_hand, hesitant_hand]


def limits_of(flight: Recording, near_s: float) -> tuple[float, float]:
    trace = read_trace(flight, 0, flight.rows_kept, 1)
    assert trace is not None
    found = [m for m in find_movements(trace) if trace.time_s[m.first] < near_s < trace.time_s[m.last]]
    assert len(found) == 1
    return refine_limits(trace, found[0].first, found[0].last, -np.inf, np.inf)


def lagged(time: Floats, flow: Floats) -> Floats:
    """The flow as a reading with a lag of one second shows it."""
    shown, now = np.empty(flow.size), float(flow[0])
    for k, value in enumerate(flow):
        if k:
            now += (float(value) - now) * -np.expm1(-float(time[k] - time[k - 1]))
        shown[k] = now
    return shown


def flown(hand: Hand, interval_s: float, step: float, seed: int = 3) -> tuple[Recording, tuple[float, float]]:
    lever = Lever(15.0)
    lever.rest(100)
    truth = hand(lever)
    lever.rest(100)
    fine, flow = lever.sample(0.1)
    time = np.arange(0.0, fine[-1], interval_s)
    random = np.random.default_rng(seed)
    shown = np.interp(time, fine, lagged(fine, flow)) + random.normal(0.0, 0.02, time.size)
    return recording(time, fuel_flow=np.round(shown / step) * step), truth


@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize(("interval_s", "step"), [(0.2, 0.01), (1.0, 0.01), (1.0, 0.1), (6.0, 0.1)])
def test_limits_are_found_within_a_few_seconds(hand: Hand, interval_s: float, step: float) -> None:
    flight, (start, end) = flown(hand, interval_s, step)
    found = limits_of(flight, 0.5 * (start + end))
    allowed = 2.5 + 0.5 * interval_s + 20.0 * step
    assert abs(found[0] - start) < allowed
    assert abs(found[1] - end) < allowed


@pytest.mark.parametrize("hand", HANDS)
def test_limits_have_no_lean_on_average(hand: Hand) -> None:
    errors = []
    for seed in range(12):
        flight, truth = flown(hand, 1.0, 0.1, seed)
        errors.append(np.subtract(limits_of(flight, 0.5 * sum(truth)), truth))
    assert np.abs(np.mean(errors, axis=0)).max() < 3.5


def test_a_rest_that_wanders_slowly_does_not_belong_to_the_movement() -> None:
    lever = Lever(15.0)
    lever.rest(120)
    start, end = lever.move(10.0, 100)
    lever.rest(120)
    time, flow = lever.sample()
    wander = 1.0 + 0.004 * np.sin(2.0 * np.pi * time / 90.0)
    found = limits_of(recording(time, fuel_flow=flow * wander), 170.0)
    assert abs(found[0] - start) < 6
    assert abs(found[1] - end) < 6


def test_without_any_rest_limits_are_the_turning_points() -> None:
    lever = Lever(10.0)
    lever.move(15.0, 100)
    start, end = lever.move(10.0, 100)
    lever.move(15.0, 100)
    time, flow = lever.sample()
    found = limits_of(recording(time, fuel_flow=flow), 150.0)
    assert abs(found[0] - start) < 6
    assert abs(found[1] - end) < 6


def test_limits_stay_within_what_they_are_given() -> None:
    lever = Lever(15.0)
    lever.rest(100)
    lever.move(10.0, 100)
    lever.rest(100)
    time, flow = lever.sample()
    trace = read_trace(recording(time, fuel_flow=flow), 0, time.size, 1)
    assert trace is not None
    start, end = refine_limits(trace, 120, 180, 115.0, 185.0)
    assert 112.0 <= start < end <= 186.0


def test_a_movement_at_the_very_start_or_end_of_a_recording_begins_or_ends_there() -> None:
    lever = Lever(15.0)
    lever.move(10.0, 100)
    time, flow = lever.sample()
    start, end = limits_of(recording(time, fuel_flow=flow), 50.0)
    assert 0.0 <= start < 4.0
    assert 95.0 < end < 100.0
