"""Sweeps are found without marks, and what only looks like one is left out with its reason."""

import numpy as np
import pytest

from leanwright.analysis.flight import find_power_ups
from leanwright.analysis.sweep import Sweep, find_sweeps, why_no_sweep
from leanwright.findings import Statement
from leanwright.recordings.recording import Recording
from tests.analysis.scene import Lever, cruise, recording


def sweeps_of(flight: Recording) -> tuple[Sweep, ...]:
    return find_sweeps(flight, find_power_ups(flight))


def used(flight: Recording) -> list[Sweep]:
    return [sweep for sweep in sweeps_of(flight) if sweep.used]


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 3.0, 6.0])
def test_an_even_leaning_and_enriching_are_found_with_their_limits(interval_s: float) -> None:
    lever = Lever(15.0)
    lever.rest(200)
    down = lever.move(10.0, 120)
    lever.rest(40)
    up = lever.move(15.0, 110)
    lever.rest(100)
    found = used(cruise(lever, interval_s))
    assert [sweep.direction for sweep in found] == ["leaning", "enriching"]
    limits = [(sweep.start_s, sweep.end_s) for sweep in found]
    assert np.abs(np.subtract(limits, [down, up])).max() < 3.0 + interval_s


def test_quick_pull_is_left_out_as_too_fast() -> None:
    lever = Lever(15.0)
    lever.rest(100)
    lever.move(10.0, 3)
    lever.rest(100)
    flight = cruise(lever)
    assert [s.reason.code for s in sweeps_of(flight) if s.reason] == ["too-fast"]
    assert why_no_sweep(flight, find_power_ups(flight), sweeps_of(flight)) == Statement(
        "no-sweep-usable", {"stretches": 1}
    )


def test_leaning_to_cruise_rich_of_peak_is_left_out_because_peaks_were_not_passed() -> None:
    lever = Lever(15.0)
    lever.rest(100)
    lever.move(12.7, 60)
    lever.rest(300)
    (stretch,) = sweeps_of(cruise(lever))
    assert stretch.reason == Statement(
        "peaks-not-passed", {"passed": 0, "cylinders": 6, "cylinder_numbers": ()}
    )


def test_without_fuel_flow_there_is_a_reason() -> None:
    flight = recording(np.arange(100.0), engine_speed=np.full(100, 2300.0))
    power_ups = find_power_ups(flight)
    assert find_sweeps(flight, power_ups) == ()
    assert why_no_sweep(flight, power_ups, ()) == Statement("no-fuel-flow")
