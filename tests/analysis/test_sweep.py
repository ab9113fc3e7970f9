"""Sweeps are found without marks, and what only looks like one is left out with its reason."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leanwright.analysis.flight import find_power_ups
from leanwright.analysis.sweep import Sweep, find_sweeps, why_no_sweep
from leanwright.findings import Statement
from leanwright.recordings.recording import Channel, Recording
from tests.analysis.scene import Floats, Lever, cruise, exhaust, recording


def sweeps_of(flight: Recording, engine: int = 1) -> tuple[Sweep, ...]:
    return find_sweeps(flight, find_power_ups(flight, engine), engine=engine)


def used(flight: Recording) -> list[Sweep]:
    return [sweep for sweep in sweeps_of(flight) if sweep.used]


def reasons(flight: Recording) -> list[str]:
    return [sweep.reason.code for sweep in sweeps_of(flight) if sweep.reason]


def why(flight: Recording) -> Statement | None:
    return why_no_sweep(flight, find_power_ups(flight), sweeps_of(flight))


def with_values(flight: Recording, quantity: str, change: Callable[[Floats], Floats | None]) -> Recording:
    """The same flight with one quantity's values changed, or its channels without values."""
    return replace(
        flight,
        channels=tuple(
            replace(c, values=change(c.values)) if c.quantity == quantity and c.values is not None else c
            for c in flight.channels
        ),
    )


def one_sweep(seconds: float = 120.0, to_gph: float = 10.0) -> tuple[Lever, tuple[float, float]]:
    lever = Lever(15.0)
    lever.rest(200)
    limits = lever.move(to_gph, seconds)
    lever.rest(100)
    return lever, limits


@pytest.mark.parametrize("interval_s", [0.2, 0.5, 1.0, 2.0, 3.0, 4.5, 6.0])
@pytest.mark.parametrize("seconds", [60.0, 120.0, 300.0])
def test_an_even_leaning_and_enriching_are_found_with_their_limits(interval_s: float, seconds: float) -> None:
    lever = Lever(15.0)
    lever.rest(200)
    down = lever.move(10.0, seconds)
    lever.rest(40)
    up = lever.move(15.0, seconds)
    lever.rest(100)
    found = used(cruise(lever, interval_s))
    assert [sweep.direction for sweep in found] == ["leaning", "enriching"]
    limits = [(sweep.start_s, sweep.end_s) for sweep in found]
    assert np.abs(np.subtract(limits, [down, up])).max() < 3.0 + interval_s + seconds / 60.0


def test_a_sweep_in_steps_is_one_sweep() -> None:
    lever = Lever(15.0)
    lever.rest(200)
    start, end = lever.steps(10.0, 20, 8)
    lever.rest(100)
    (sweep,) = used(cruise(lever))
    assert abs(sweep.start_s - start) < 4
    assert abs(sweep.end_s - end) < 4


def test_a_hesitating_hand_makes_one_sweep() -> None:
    lever = Lever(15.0)
    lever.rest(200)
    start, _ = lever.move(13.5, 20)
    for flow in (13.0, 12.0, 11.2, 10.5):
        lever.rest(9)
        lever.move(flow, 12)
    lever.move(10.53, 1)
    lever.rest(6)
    _, end = lever.move(10.0, 8)
    lever.rest(100)
    (sweep,) = used(cruise(lever))
    assert abs(sweep.start_s - start) < 4
    assert abs(sweep.end_s - end) < 5


def test_four_sweeps_with_quick_returns_between_are_four() -> None:
    lever = Lever(15.0)
    truth = []
    for _ in range(2):
        lever.rest(60)
        truth.append(lever.move(10.0, 90))
        lever.rest(10)
        lever.move(15.0, 3)
        lever.rest(30)
        lever.move(10.0, 3)
        lever.rest(20)
        truth.append(lever.move(15.0, 90))
    lever.rest(60)
    found = used(cruise(lever))
    assert [s.direction for s in found] == ["leaning", "enriching"] * 2
    assert np.abs(np.subtract([(s.start_s, s.end_s) for s in found], truth)).max() < 5


def test_a_sweep_tells_its_conditions_and_its_grounds() -> None:
    lever, (start, end) = one_sweep()
    (sweep,) = used(cruise(lever))
    assert sweep.reason is None
    assert not sweep.by_hand
    assert sweep.engine == 1
    assert sweep.manifold_pressure_inhg == pytest.approx(22.4, abs=0.05)
    assert sweep.engine_speed_rpm == pytest.approx(2300.0, abs=5.0)
    assert sweep.altitude_ft == pytest.approx(6500.0, abs=5.0)
    assert [ground.code for ground in sweep.grounds] == ["steady-power", "flow-one-way", "peaks-passed"]
    steady, way, peaks = (ground.values for ground in sweep.grounds)
    assert steady.keys() == {"power_range_percent", "power_remainder_percent"}
    assert way["from_gph"] == pytest.approx(15.0, abs=0.15)
    assert way["to_gph"] == pytest.approx(10.0, abs=0.15)
    assert way["change_percent"] == pytest.approx(100.0 * np.log(1.5), abs=3.0)
    assert way["duration_s"] == pytest.approx(end - start, abs=5.0)
    assert peaks == {"passed": 6, "cylinders": 6, "cylinder_numbers": (1, 2, 3, 4, 5, 6)}


def test_a_fixed_pitch_propeller_that_slows_as_it_leans_is_steady() -> None:
    lever, (start, end) = one_sweep()
    flight = cruise(lever)
    time, flow = lever.sample()
    lean = np.clip(np.log(12.0 / flow), 0.0, None)
    slowed = np.round(2400.0 * np.exp(-1.2 * lean**2), -1)
    (sweep,) = used(with_values(flight, "engine_speed", lambda _: slowed))
    assert abs(sweep.start_s - start) < 5
    assert abs(sweep.end_s - end) < 5
    assert time.size == slowed.size


def test_quick_pull_is_left_out_as_too_fast() -> None:
    lever = Lever(15.0)
    lever.rest(100)
    lever.move(10.0, 3)
    lever.rest(100)
    flight = cruise(lever)
    assert reasons(flight) == ["too-fast"]
    assert why(flight) == Statement("no-sweep-usable", {"stretches": 1})


@pytest.mark.parametrize("seconds", [20.0, 60.0, 120.0])
def test_leaning_to_cruise_rich_of_peak_is_left_out_because_peaks_were_not_passed(seconds: float) -> None:
    lever = Lever(15.0)
    lever.rest(100)
    lever.move(12.8, seconds)
    lever.rest(300)
    flight = cruise(lever)
    assert used(flight) == []
    if seconds > 30:
        (stretch,) = sweeps_of(flight)
        expected = {"passed": 0, "cylinders": 6, "cylinder_numbers": ()}
        assert stretch.reason == Statement("peaks-not-passed", expected)


def test_leaning_that_passes_one_peak_and_goes_back_is_no_sweep() -> None:
    lever = Lever(15.0)
    lever.rest(100)
    lever.move(11.9, 60)
    lever.rest(5)
    lever.move(12.8, 20)
    lever.rest(300)
    assert used(cruise(lever)) == []


def test_a_pass_of_twelve_seconds_is_too_short() -> None:
    lever = Lever(14.0)
    lever.rest(100)
    lever.move(11.0, 14)
    lever.rest(100)
    (stretch,) = sweeps_of(cruise(lever))
    assert stretch.reason is not None
    assert stretch.reason.code == "too-short"
    assert stretch.reason.values.keys() == {"from_gph", "to_gph", "change_percent", "duration_s"}


def test_a_small_change_is_told_as_too_small() -> None:
    lever = Lever(12.5)
    lever.rest(100)
    lever.move(11.6, 60)
    lever.rest(100)
    (stretch,) = sweeps_of(cruise(lever))
    assert stretch.reason is not None
    assert stretch.reason.code == "too-little-flow-change"
    assert stretch.reason.values["change_percent"] == pytest.approx(7.5, abs=1.0)


@pytest.mark.parametrize(("size", "over_s"), [(-0.04, 3.0), (0.05, 15.0), (-0.12, 4.0), (-0.15, 40.0)])
def test_a_sweep_during_which_the_throttle_moved_is_left_out_with_that_reason(
    size: float, over_s: float
) -> None:
    lever, (start, end) = one_sweep(160.0)
    flight = cruise(lever)
    factor = np.exp(size * np.clip((flight.time_s - 0.5 * (start + end)) / over_s, 0.0, 1.0))
    for quantity in ("manifold_pressure", "fuel_flow"):
        flight = with_values(flight, quantity, lambda values: values * factor)
    assert used(flight) == []
    assert "power-changed" in reasons(flight)


def test_a_throttle_change_alone_is_no_sweep_and_no_almost_sweep() -> None:
    lever = Lever(15.0)
    lever.rest(400)
    flight = cruise(lever)
    factor = np.exp(-0.2 * np.clip((flight.time_s - 200.0) / 20.0, 0.0, 1.0))
    for quantity in ("manifold_pressure", "fuel_flow"):
        flight = with_values(flight, quantity, lambda values: values * factor)
    assert sweeps_of(flight) == ()
    said = why(flight)
    assert said is not None
    assert said.code == "no-steady-change-of-flow"
    assert 0.0 <= float(str(said.values["largest_change_gph"])) < 0.6


def test_a_change_of_power_after_the_sweep_does_not_spoil_it() -> None:
    lever, (start, end) = one_sweep()
    flight = cruise(lever)
    factor = np.exp(-0.15 * np.clip((flight.time_s - end - 12.0) / 8.0, 0.0, 1.0))
    for quantity in ("manifold_pressure", "fuel_flow"):
        flight = with_values(flight, quantity, lambda values: values * factor)
    (sweep,) = used(flight)
    assert abs(sweep.start_s - start) < 5
    assert abs(sweep.end_s - end) < 5


def test_leaning_on_the_ground_is_not_looked_at() -> None:
    lever, _ = one_sweep()
    flight = with_values(cruise(lever), "indicated_airspeed", lambda values: 0.0 * values)
    assert sweeps_of(flight) == ()
    assert why(flight) == Statement("no-flight")


def test_an_engine_that_turns_too_slowly_is_told() -> None:
    lever, _ = one_sweep()
    flight = with_values(cruise(lever), "engine_speed", lambda values: 0.0 * values + 1500.0)
    assert reasons(flight) == ["engine-too-slow"]


def test_without_fuel_flow_there_is_a_reason() -> None:
    flight = recording(np.arange(100.0), engine_speed=np.full(100, 2300.0))
    assert sweeps_of(flight) == ()
    assert why(flight) == Statement("no-fuel-flow")
    lever, _ = one_sweep()
    unknown = why(with_values(cruise(lever), "fuel_flow", lambda _: None))
    assert unknown is not None
    assert unknown.code == "fuel-flow-without-unit"
    assert str(unknown.values["correction"]).endswith("=fuel_flow:gal/h")
    assert why(with_values(cruise(lever), "fuel_flow", lambda v: v * np.nan)) == Statement("no-fuel-flow")


def test_without_exhaust_temperatures_there_is_a_reason() -> None:
    lever, _ = one_sweep()
    flight = cruise(lever)
    flight = replace(flight, channels=tuple(c for c in flight.channels if c.quantity != "egt"))
    assert reasons(flight) == ["no-egt"]


def test_exhaust_temperatures_without_values_pass_no_peak() -> None:
    lever, _ = one_sweep()
    assert reasons(with_values(cruise(lever), "egt", lambda _: None)) == ["peaks-not-passed"]
    assert reasons(with_values(cruise(lever), "egt", lambda v: v * np.nan)) == ["peaks-not-passed"]


def test_half_the_cylinders_are_enough_and_fewer_are_not() -> None:
    lever, _ = one_sweep()
    flight = cruise(lever)

    def dead(*numbers: int) -> Recording:
        return replace(
            flight,
            channels=tuple(
                replace(c, values=np.full(flight.rows_kept, 1400.0)) if c.cylinder in numbers else c
                for c in flight.channels
            ),
        )

    (sweep,) = used(dead(1, 4, 5))
    assert sweep.grounds[2] == Statement(
        "peaks-passed", {"passed": 3, "cylinders": 6, "cylinder_numbers": (2, 3, 6)}
    )
    assert reasons(dead(1, 3, 4, 5)) == ["peaks-not-passed"]


@pytest.mark.parametrize("missing", ["manifold_pressure", "engine_speed", "altitude", "indicated_airspeed"])
def test_a_channel_that_is_missing_does_not_hide_a_sweep(missing: str) -> None:
    lever, (start, end) = one_sweep()
    (sweep,) = used(with_values(cruise(lever), missing, lambda _: None))
    assert abs(sweep.start_s - start) < 5
    assert abs(sweep.end_s - end) < 5


def test_flow_and_exhaust_temperatures_alone_are_enough_and_the_power_is_said_to_be_unknown() -> None:
    lever, _ = one_sweep()
    time, flow = lever.sample()
    (sweep,) = used(recording(time, exhaust(flow), fuel_flow=np.round(flow, 1)))
    assert sweep.grounds[0] == Statement("power-unknown")
    conditions = (sweep.manifold_pressure_inhg, sweep.engine_speed_rpm, sweep.altitude_ft)
    assert conditions == (None, None, None)


def test_pressure_altitude_serves_where_altitude_is_missing() -> None:
    lever, _ = one_sweep()
    flight = cruise(lever)
    flight = replace(
        flight,
        channels=tuple(
            replace(c, quantity="pressure_altitude") if c.quantity == "altitude" else c
            for c in flight.channels
        ),
    )
    (sweep,) = used(flight)
    assert sweep.altitude_ft == pytest.approx(6500.0, abs=5.0)


def test_missing_rows_and_irregular_steps_do_not_hide_a_sweep() -> None:
    lever, (start, end) = one_sweep()
    random = np.random.default_rng(5)
    flight = cruise(lever)
    kept = np.flatnonzero(random.random(flight.rows_kept) > 0.3)
    holes = random.random(kept.size) < 0.1
    flight = replace(
        flight,
        time_s=flight.time_s[kept] + random.uniform(0.0, 0.4, kept.size),
        lines=flight.lines[kept],
        channels=tuple(
            replace(c, values=np.where(holes, np.nan, c.values[kept])) if c.values is not None else c
            for c in flight.channels
        ),
    )
    (sweep,) = used(flight)
    assert abs(sweep.start_s - start) < 5
    assert abs(sweep.end_s - end) < 5


def test_single_bad_readings_neither_hide_a_sweep_nor_make_a_peak() -> None:
    lever, (start, end) = one_sweep()
    flight = cruise(lever)

    def spoil(size: float) -> Callable[[Floats], Floats]:
        return lambda v: np.where(np.arange(v.size) % 37 == 5, v * size, v)

    for quantity, size in (("fuel_flow", 3.0), ("manifold_pressure", 0.1), ("egt", 1.4)):
        flight = with_values(flight, quantity, spoil(size))
    (sweep,) = used(flight)
    assert abs(sweep.start_s - start) < 5
    assert abs(sweep.end_s - end) < 5
    level = with_values(flight, "egt", lambda v: spoil(1.4)(np.full(v.size, 1400.0)))
    assert reasons(level) == ["peaks-not-passed"]


def test_repeated_times_are_no_obstacle() -> None:
    lever, (start, end) = one_sweep()
    flight = cruise(lever, 0.25)
    flight = replace(flight, time_s=np.floor(flight.time_s))
    (sweep,) = used(flight)
    assert abs(sweep.start_s - start) < 5
    assert abs(sweep.end_s - end) < 5


def test_each_power_up_is_searched() -> None:
    lever, (start, end) = one_sweep()
    flight = cruise(lever)
    later = flight.time_s + 5000.0
    twice = replace(
        flight,
        time_s=np.concatenate((flight.time_s, later)),
        lines=np.arange(2 * later.size),
        channels=tuple(
            replace(c, values=np.concatenate((c.values, c.values)))
            for c in flight.channels
            if c.values is not None
        ),
        power_up_rows=(0, flight.rows_kept),
    )
    first, second = used(twice)
    assert abs(first.start_s - start) < 5
    assert second.start_s - first.start_s == pytest.approx(5000.0, abs=0.1)
    assert second.end_s - end == pytest.approx(5000.0, abs=5.0)


def test_a_twin_is_searched_engine_by_engine() -> None:
    lever, _ = one_sweep()
    swept, still = cruise(lever), Lever(14.0)
    still.rest(lever.times[-1])
    other = tuple(
        replace(c, engine=2)
        for c in cruise(still, seed=1).channels
        if c.quantity not in {"altitude", "indicated_airspeed"}
    )
    twin = replace(swept, channels=(*swept.channels, *other))
    assert len([s for s in sweeps_of(twin, 1) if s.used]) == 1
    assert sweeps_of(twin, 2) == ()
    turned = replace(twin, channels=tuple(replace(c, engine=3 - c.engine) for c in twin.channels))
    (sweep,) = sweeps_of(turned, 2)
    assert sweep.used
    assert sweep.engine == 2


def test_a_short_power_up_without_a_trace_is_passed_over() -> None:
    flight = recording(np.array([0.0, 1000.0]), fuel_flow=np.array([12.0, 12.0]))
    assert sweeps_of(flight) == ()
    assert why(flight) == Statement("no-steady-change-of-flow", {"largest_change_gph": 0.0})
    time = np.concatenate(([0.0, 1.0], np.arange(1000.0, 1200.0)))
    level = recording(time, fuel_flow=np.full(202, 12.0), indicated_airspeed=np.full(202, 120.0))
    assert why(level) == Statement("no-steady-change-of-flow", {"largest_change_gph": 0.0})


def test_a_recording_without_rows_says_so() -> None:
    assert why(recording(np.empty(0), fuel_flow=np.empty(0))) == Statement("no-rows")


def test_a_sweep_that_can_be_used_needs_no_reason() -> None:
    lever, _ = one_sweep()
    assert why(cruise(lever)) is None


def test_time_grows_no_faster_than_rows() -> None:
    """The work is linear: ten times the rows give ten times the movements and no more stretches for each."""
    lever = Lever(15.0)
    for _ in range(10):
        lever.rest(60)
        lever.move(10.0, 90)
        lever.rest(20)
        lever.move(15.0, 4)
    lever.rest(60)
    assert len(used(cruise(lever))) == 10


values = st.one_of(st.floats(-50.0, 3000.0), st.just(float("nan")), st.sampled_from([0.0, 12.0, 1e9]))


@settings(max_examples=150, deadline=None)
@given(
    steps=st.lists(st.one_of(st.floats(0.0, 8.0), st.floats(0.0, 400.0)), max_size=80),
    data=st.data(),
)
def test_any_recording_gives_stretches_in_order_within_its_time(
    steps: list[float], data: st.DataObject
) -> None:
    time = np.concatenate(([0.0], np.cumsum(steps)))
    made = {
        name: np.array(data.draw(st.lists(values, min_size=time.size, max_size=time.size)))
        for name in data.draw(
            st.sets(st.sampled_from(["manifold_pressure", "engine_speed", "altitude", "indicated_airspeed"]))
        )
    }
    flow = np.array(data.draw(st.lists(st.floats(0.0, 40.0), min_size=time.size, max_size=time.size)))
    flight = recording(time, {1: np.cumsum(flow)}, fuel_flow=flow, **made)
    found = sweeps_of(flight)
    assert [s.start_s for s in found] == sorted(s.start_s for s in found)
    for sweep in found:
        assert time[0] <= sweep.start_s < sweep.end_s
        assert sweep.used == (sweep.reason is None)
        assert sweep.used == bool(sweep.grounds)
    assert (why(flight) is None) == any(s.used for s in found)


def test_a_movement_that_does_not_leave_its_rest_before_the_last_row_is_no_obstacle() -> None:
    """Found by the test above: the last row of all was still at rest."""
    steps = [0.0, 9.0, 1.0, 1.0, 0.0, 0.0, 31.0, 31.0, 1.0, 2.0, 8.0]
    flow = np.array([0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 7.0, 1.0, 8.0, 9.0, 9.0, 0.0])
    time = np.concatenate(([0.0], np.cumsum(steps)))
    found = sweeps_of(recording(time, {1: np.cumsum(flow)}, fuel_flow=flow))
    assert not any(one.used for one in found)


def test_channels_of_text_are_no_obstacle() -> None:
    lever, _ = one_sweep()
    flight = cruise(lever)
    note = Channel("note", "text", None, None, None)
    assert len(used(replace(flight, channels=(note, *flight.channels)))) == 1
