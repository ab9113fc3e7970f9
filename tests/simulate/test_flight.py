"""Simulated flights: the same seed gives the same recording, and the truth agrees with the recording."""

from dataclasses import replace

import numpy as np
import pytest

from leanwright.simulate.draw import draw_spec
from leanwright.simulate.flight import FlightSpec, SimulatedFlight, simulate_flight
from leanwright.simulate.recorder import Recorder


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
        assert flow[inside][np.nanargmax(egt[inside])] == pytest.approx(true, rel=0.025)


def test_flow_is_read_in_whole_steps_of_the_recorder() -> None:
    flight = simulate_flight(spec(3), 3)
    column, recorder = flight.table.column("fuel_flow"), flight.spec.recorder
    steps = column.values[np.isfinite(column.values)] / recorder.step("fuel_flow")
    assert np.allclose(steps, np.round(steps), atol=1e-6)


@pytest.fixture(scope="module")
def whole() -> SimulatedFlight:
    wanted = spec(8, sweeps=2, surroundings="whole-flight", gusty=False)
    return simulate_flight(replace(wanted, recorder=Recorder(interval_s=1.0), earlier_power_up=True), 8)


def test_a_whole_flight_begins_and_ends_with_the_engine_off(whole: SimulatedFlight) -> None:
    for quantity in ("engine_speed", "fuel_flow", "oil_pressure"):
        values = whole.table.column(quantity).values
        assert values[:3].tolist() == values[-3:].tolist() == [0.0, 0.0, 0.0]
        assert values.max() > 0.0
    outside = whole.table.column("outside_air_temperature").values[0]
    assert whole.table.column("egt", 1).values[0] == pytest.approx(outside, abs=3.0)


def test_a_whole_flight_climbs_cruises_at_the_height_of_its_sweeps_and_comes_back(
    whole: SimulatedFlight,
) -> None:
    altitude, speed = whole.table.column("altitude").values, whole.table.column("indicated_airspeed").values
    assert altitude[0] == pytest.approx(altitude[-1], abs=60.0)
    assert altitude.max() == pytest.approx(whole.truth.sweeps[0].altitude_ft, abs=80.0)
    assert (speed[0], speed[-1]) == pytest.approx((0.0, 0.0), abs=2.0)
    assert speed.max() > 100.0


def test_fuel_used_is_the_flow_summed_up(whole: SimulatedFlight) -> None:
    table = whole.table
    flow, steps = table.column("fuel_flow").values, np.diff(table.time_s, prepend=0.0)
    on = steps < 10.0
    assert table.column("fuel_used").values[-1] == pytest.approx((flow * steps)[on].sum() / 3600.0, abs=0.15)


def test_engine_hours_count_while_the_engine_turns(whole: SimulatedFlight) -> None:
    hours = whole.table.column("engine_hours").values
    turning = (whole.table.column("engine_speed").values > 0.0).sum() / 3600.0
    assert hours[-1] - hours[0] == pytest.approx(turning, abs=0.15)


def test_in_the_ignition_check_speed_falls_and_all_exhaust_temperatures_rise(whole: SimulatedFlight) -> None:
    """FAA-H-8083-32B p. 10-27: a drop of engine speed on one ignition; readings rise as burning is slower."""
    time, speed = whole.table.time_s, whole.table.column("engine_speed").values
    assert [check.ignition for check in whole.truth.ignition_checks] == [1, 2]
    for check in whole.truth.ignition_checks:
        inside = (time > check.end_s - 2.0) & (time < check.end_s)
        before = (time > check.start_s - 4.0) & (time < check.start_s)
        assert 40.0 < speed[before].mean() - speed[inside].mean() < 150.0
        for number in range(1, whole.truth.cylinders + 1):
            egt = whole.table.column("egt", number).values
            assert egt[inside].mean() > egt[before].mean() + 10.0


def test_a_head_is_cooler_lean_than_rich_at_cruise_power() -> None:
    """FAA-H-8083-32B p. 10-31: lower at the lean setting than at the rich one. Rested long enough for the head."""
    wanted = spec(12, sweeps=1, cylinders=6, gusty=False)
    plan = replace(
        wanted.sweeps[0],
        direction="leaning",
        rest_before_s=400.0,
        rest_after_s=400.0,
        lean_margin_percent=8.0,
    )
    flight = simulate_flight(replace(wanted, sweeps=(plan,), recorder=Recorder()), 12)
    sweep, time = flight.truth.sweeps[0], flight.table.time_s
    for number in range(1, 7):
        head = flight.table.column("cht", number).inside
        rich = head[(time > sweep.start_s - 20.0) & (time < sweep.start_s)].mean()
        lean = head[(time > sweep.end_s + 370.0) & (time < sweep.end_s + 390.0)].mean()
        assert lean < rich - 3.0


def test_each_power_up_is_marked_where_the_clock_jumps(whole: SimulatedFlight) -> None:
    assert len(whole.table.power_up_rows) == 2
    second = whole.table.power_up_rows[1]
    steps = np.diff(whole.table.time_s)
    assert steps[second - 1] > 200.0
    assert np.delete(steps, second - 1).max() < 3.0


def test_movements_that_are_no_sweeps_are_told_apart(whole: SimulatedFlight) -> None:
    assert any(other.kind == "ordinary-leaning" for other in whole.truth.other_leanings)
    for other in whole.truth.other_leanings:
        for sweep in whole.truth.sweeps:
            assert other.end_s <= sweep.start_s or other.start_s >= sweep.end_s


@pytest.mark.parametrize("seed", range(12))
def test_ordinary_leaning_of_every_kind_can_be_flown(seed: int) -> None:
    flight = simulate_flight(spec(seed, sweeps=0, surroundings="whole-flight"), seed)
    assert flight.truth.sweeps == ()
    assert flight.truth.mean_gph > 5.0
    assert flight.table.time_s[-1] > 1200.0


def test_a_recording_of_cruise_alone_can_be_made_without_a_sweep() -> None:
    flight = simulate_flight(spec(1, sweeps=0), 1)
    assert (flight.truth.sweeps, flight.truth.other_leanings) == ((), ())


def test_sweeps_that_stop_short_say_which_cylinders_they_passed() -> None:
    flight = simulate_flight(
        spec(3, sweeps=1, cylinders=6, spread_gph=1.0, lean_margin_percent=(-4.0, -3.0)), 3
    )
    sweep = flight.truth.sweeps[0]
    assert 0 < sum(sweep.passed) < 6
    flows = np.array(sweep.flow_at_peak_gph)
    assert sweep.passed == tuple((flows > sweep.lean_end_gph) & (flows < sweep.rich_end_gph))


def test_a_second_power_is_settled_before_its_sweep() -> None:
    flight = simulate_flight(spec(6, sweeps=4, powers=2), 6)
    pressures = [sweep.manifold_pressure_inhg for sweep in flight.truth.sweeps]
    assert pressures[0] == pressures[1] > pressures[2] == pressures[3]
    assert flight.truth.sweeps[2].start_s - flight.truth.sweeps[1].end_s > 90.0


def test_a_column_that_was_not_recorded_is_not_there() -> None:
    with pytest.raises(KeyError, match="percent_power"):
        simulate_flight(spec(1), 1).table.column("percent_power")


def test_the_spread_of_the_truth_is_that_of_its_flows_at_the_mean() -> None:
    truth = simulate_flight(spec(9, sweeps=2, spread_gph=0.8), 9).truth
    flows = truth.mean_gph * np.exp(np.array(truth.offset_percent) / 100.0)
    assert truth.spread_gph == pytest.approx(np.ptp(flows))
    assert truth.spread_percent == pytest.approx(100.0 * np.ptp(flows) / truth.mean_gph)
    assert sum(truth.fuel_shares) == pytest.approx(1.0)
