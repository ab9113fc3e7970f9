"""Power-ups and phases, from whatever channels there are."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leanwright.analysis.flight import Phase, PowerUp, find_power_ups, why_no_flight
from leanwright.findings import Statement
from leanwright.recordings.recording import Channel, Recording
from tests.analysis.scene import Floats, recording

# One flight by its corner points: taxi, climb at 600 ft/min, cruise, descent at 500 ft/min, taxi.
CORNERS_S = (0.0, 300.0, 320.0, 920.0, 950.0, 2750.0, 2760.0, 3480.0, 3500.0, 3800.0)
PROFILE = {
    "altitude": (800.0, 800.0, 800.0, 6800.0, 6800.0, 6800.0, 6800.0, 800.0, 800.0, 800.0),
    "indicated_airspeed": (0.0, 10.0, 70.0, 95.0, 140.0, 140.0, 140.0, 75.0, 20.0, 0.0),
    "ground_speed": (0.0, 10.0, 70.0, 100.0, 155.0, 155.0, 155.0, 75.0, 20.0, 0.0),
    "engine_speed": (1000.0, 1000.0, 2650.0, 2650.0, 2350.0, 2350.0, 2200.0, 2000.0, 1100.0, 900.0),
    "manifold_pressure": (12.0, 12.0, 28.5, 23.5, 22.4, 22.4, 19.0, 17.0, 11.0, 11.0),
    "fuel_flow": (3.0, 3.0, 26.0, 23.0, 14.0, 14.0, 11.0, 10.0, 3.0, 3.0),
}


def channels(time: Floats, *names: str) -> dict[str, Floats]:
    return {name: np.interp(time, CORNERS_S, PROFILE[name]) for name in names}


def phases(flight: Recording, engine: int = 1) -> list[tuple[str, float, float]]:
    (power_up,) = find_power_ups(flight, engine)
    return [(phase.kind, phase.start_s, phase.end_s) for phase in power_up.phases]


WHOLE = [
    ("ground", 0, 315),
    ("climb", 315, 925),
    ("cruise", 925, 2760),
    ("descent", 2760, 3485),
    ("ground", 3485, 3799),
]


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 6.0])
def test_a_flight_with_all_channels_has_its_five_phases(interval_s: float) -> None:
    time = np.arange(0.0, 3800.0, interval_s)
    found = phases(recording(time, **channels(time, *PROFILE)))
    assert [kind for kind, _, _ in found] == [kind for kind, _, _ in WHOLE]
    for (_, start, end), (_, true_start, true_end) in zip(found, WHOLE, strict=True):
        assert abs(start - true_start) <= 20
        assert abs(end - true_end) <= 20


@pytest.mark.parametrize("speed", ["indicated_airspeed", "ground_speed"])
def test_without_altitude_a_climb_is_told_by_power_and_a_descent_is_not_told(speed: str) -> None:
    time = np.arange(0.0, 3800.0)
    found = phases(recording(time, **channels(time, speed, "engine_speed", "manifold_pressure")))
    assert [kind for kind, _, _ in found] == ["ground", "climb", "cruise", "ground"]


@pytest.mark.parametrize(
    "names",
    [
        ("engine_speed", "manifold_pressure", "altitude"),
        ("engine_speed", "altitude"),
        ("fuel_flow", "altitude"),
        ("manifold_pressure", "altitude"),
    ],
)
def test_without_any_speed_of_flight_power_tells_that_it_flew(names: tuple[str, ...]) -> None:
    time = np.arange(0.0, 3800.0)
    found = phases(recording(time, **channels(time, *names)))
    assert [kind for kind, _, _ in found] == ["ground", "climb", "cruise", "descent", "ground"]


def test_pressure_altitude_serves_where_altitude_is_missing() -> None:
    time = np.arange(0.0, 3800.0)
    known = channels(time, "indicated_airspeed", "altitude")
    found = phases(
        recording(time, indicated_airspeed=known["indicated_airspeed"], pressure_altitude=known["altitude"])
    )
    assert [kind for kind, _, _ in found] == ["ground", "climb", "cruise", "descent", "ground"]


def test_altitude_alone_tells_climb_and_descent_but_not_level_flight() -> None:
    time = np.arange(300.0, 3500.0)
    found = phases(recording(time - 300.0, **channels(time, "altitude")))
    assert [kind for kind, _, _ in found] == ["ground", "climb", "ground", "descent", "ground"]


def test_level_flight_alone_is_one_cruise() -> None:
    time = np.arange(0.0, 600.0)
    flight = recording(time, altitude=np.full(600, 6500.0), indicated_airspeed=np.full(600, 140.0))
    assert find_power_ups(flight) == (PowerUp(0, 600, (Phase("cruise", 0.0, 599.0),)),)


def test_run_up_and_taxi_are_ground_and_the_reason_gives_the_highest_values() -> None:
    time = np.arange(0.0, 900.0)
    speed = np.where((time > 400) & (time < 450), 1800.0, 1000.0)
    taxi = recording(time, engine_speed=speed, indicated_airspeed=np.full(900, 12.0))
    power_ups = find_power_ups(taxi)
    assert power_ups == (PowerUp(0, 900, (Phase("ground", 0.0, 899.0),)),)
    assert why_no_flight(taxi, power_ups) == Statement(
        "never-flew", {"highest_airspeed_kt": 12.0, "highest_engine_speed_rpm": 1800.0}
    )


def test_an_engine_that_never_ran_never_flew() -> None:
    time = np.arange(0.0, 100.0)
    still = recording(time, fuel_flow=np.zeros(100))
    assert find_power_ups(still) == (PowerUp(0, 100, (Phase("ground", 0.0, 99.0),)),)


def test_a_recording_without_rows_has_no_power_up_and_says_so() -> None:
    empty = recording(np.empty(0))
    assert find_power_ups(empty) == ()
    assert why_no_flight(empty, ()) == Statement("no-rows")


@pytest.mark.parametrize("values", [np.full(50, np.nan), np.r_[1.0, np.full(49, np.nan)]])
def test_channels_without_values_tell_nothing(values: Floats) -> None:
    blank = recording(np.arange(50.0), engine_speed=values, altitude=values)
    power_ups = find_power_ups(blank)
    assert power_ups == (PowerUp(0, 50, ()),)
    assert why_no_flight(blank, power_ups) == Statement("no-channel-tells-flight")


def test_a_flight_needs_no_reason() -> None:
    time = np.arange(0.0, 3800.0)
    flight = recording(time, **channels(time, *PROFILE))
    assert why_no_flight(flight, find_power_ups(flight)) is None


def test_power_ups_are_split_where_the_reader_says_and_at_long_silences() -> None:
    time = np.r_[np.arange(0.0, 100.0), np.arange(100.0, 200.0), np.arange(900.0, 1000.0)]
    flight = replace(recording(time, indicated_airspeed=np.full(300, 120.0)), power_up_rows=(0, 100))
    assert [(p.first_row, p.end_row) for p in find_power_ups(flight)] == [(0, 100), (100, 200), (200, 300)]


def test_a_gap_in_flight_does_not_end_the_flight() -> None:
    time = np.arange(0.0, 3800.0)
    kept = (time < 1500) | (time > 1680)
    flight = recording(time[kept], **{n: v[kept] for n, v in channels(time, *PROFILE).items()})
    assert [kind for kind, _, _ in phases(flight)] == [kind for kind, _, _ in WHOLE]


def test_a_short_lull_in_the_air_is_not_a_landing_and_a_short_rush_on_the_ground_is_no_flight() -> None:
    time = np.arange(0.0, 1200.0)
    speed = np.full(1200, 120.0)
    speed[600:645] = 40.0
    assert [kind for kind, _, _ in phases(recording(time, indicated_airspeed=speed))] == ["cruise"]
    assert [kind for kind, _, _ in phases(recording(time, indicated_airspeed=160.0 - speed))] == ["ground"]


def test_a_short_climb_just_after_lift_off_is_flown_and_not_on_the_ground() -> None:
    """Level for 5 s, then up by 400 ft in 20 s: neither lasts long enough to be a phase of its own."""
    time = np.arange(0.0, 1200.0)
    flown = recording(
        time,
        indicated_airspeed=np.where((time >= 305.0) & (time < 900.0), 100.0, 0.0),
        altitude=np.interp(time, [320.0, 340.0], [800.0, 1200.0]),
    )
    on_the_ground = [one for one in phases(flown) if one[0] == "ground"]
    assert on_the_ground == [("ground", 0.0, 305.0), ("ground", 900.0, 1199.0)]


def test_each_engine_of_a_twin_is_judged_by_its_own_power_and_the_aircraft_by_what_they_share() -> None:
    time = np.arange(0.0, 600.0)
    own = Channel(
        "RPM 2", "engine_speed", None, "rpm", "header", engine=2, values=np.where(time < 300, 2600.0, 2300.0)
    )
    twin = recording(time, indicated_airspeed=np.full(600, 140.0), engine_speed=np.zeros(600))
    twin = replace(twin, channels=(*twin.channels, own))
    assert [kind for kind, _, _ in phases(twin, 2)] == ["climb", "cruise"]
    assert [kind for kind, _, _ in phases(twin, 1)] == ["cruise"]


@settings(max_examples=60, deadline=None)
@given(
    steps=st.lists(st.floats(0.0, 400.0), max_size=60),
    speeds=st.lists(st.one_of(st.floats(-100.0, 400.0), st.just(float("nan"))), min_size=61, max_size=61),
)
def test_any_recording_is_covered_by_its_power_ups_and_each_power_up_by_its_phases(
    steps: list[float], speeds: list[float]
) -> None:
    time = np.concatenate(([0.0], np.cumsum(steps)))
    flight = recording(time, indicated_airspeed=np.array(speeds[: time.size]))
    power_ups = find_power_ups(flight)
    assert [p.first_row for p in power_ups[1:]] == [p.end_row for p in power_ups[:-1]]
    assert (power_ups[0].first_row, power_ups[-1].end_row) == (0, time.size)
    for power_up in power_ups:
        if power_up.phases:
            edges = [p.start_s for p in power_up.phases] + [power_up.phases[-1].end_s]
            assert edges == sorted(edges)
            assert edges[0] == time[power_up.first_row]
            assert edges[-1] == time[power_up.end_row - 1]
