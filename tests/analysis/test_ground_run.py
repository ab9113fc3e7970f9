"""Runs on the ground, and the cheap look for an ignition check."""

from dataclasses import replace

import numpy as np

from leanwright.analysis.flight import Phase, PowerUp
from leanwright.analysis.ground_run import GroundRun, find_ground_runs
from leanwright.recordings.recording import Channel, Recording


def on_ground(speed: np.ndarray, egt: np.ndarray | None = None, flow: float = 5.0) -> Recording:
    rows = speed.size
    level = np.full(rows, 1100.0) if egt is None else egt
    channels = [
        Channel("RPM", "engine_speed", None, "rpm", "header", values=speed),
        Channel("FF", "fuel_flow", None, "gal/h", "header", values=np.full(rows, flow)),
        *(Channel(f"EGT{n}", "egt", n, "degF", "header", values=level + 10.0 * n) for n in range(1, 5)),
    ]
    return Recording(
        "ground.csv", "", np.arange(rows, dtype=float), np.arange(rows) + 2, tuple(channels), 0, ()
    )


def run_up(drop_rpm: float = 80.0, rise_f: float = 60.0) -> Recording:
    speed, egt = np.full(300, 1000.0), np.full(300, 1000.0)
    speed[100:180] = 1800.0
    egt[100:180] = 1200.0
    for start in (125, 150):
        speed[start : start + 8] -= drop_rpm
        egt[start + 3 : start + 8] += rise_f
    return on_ground(speed, egt)


def power_up(*phases: Phase) -> tuple[PowerUp, ...]:
    return (PowerUp(0, 300, phases),)


def test_a_run_up_is_found_with_its_speed() -> None:
    runs = find_ground_runs(run_up(), power_up(Phase("ground", 0.0, 300.0)))
    assert runs == (GroundRun(100.0, 179.0, 1800.0),)


def test_the_runs_of_a_twin_are_told_engine_by_engine() -> None:
    first, second = run_up(), on_ground(np.full(300, 1000.0))
    twin = replace(first, channels=(*first.channels, *(replace(one, engine=2) for one in second.channels)))
    turned = replace(twin, channels=tuple(replace(one, engine=3 - one.engine) for one in twin.channels))
    ups = power_up(Phase("ground", 0.0, 300.0))
    run = (GroundRun(100.0, 179.0, 1800.0),)
    assert [find_ground_runs(twin, ups, engine=engine) for engine in (1, 2)] == [run, ()]
    assert [find_ground_runs(turned, ups, engine=engine) for engine in (1, 2)] == [(), run]


def test_the_roll_before_a_climb_is_no_ground_run_and_taxiing_is_none() -> None:
    speed = np.full(300, 1000.0)
    speed[180:] = 2600.0
    phases = (Phase("ground", 0.0, 200.0), Phase("climb", 200.0, 300.0))
    assert find_ground_runs(on_ground(speed), power_up(*phases)) == ()


def test_the_roll_after_a_landing_is_no_ground_run() -> None:
    speed = np.full(300, 1000.0)
    speed[:140] = 2000.0
    phases = (Phase("descent", 0.0, 120.0), Phase("ground", 120.0, 300.0))
    assert find_ground_runs(on_ground(speed), power_up(*phases)) == ()


def test_without_engine_speed_no_run_is_told() -> None:
    recording = run_up()
    without = replace(recording, channels=recording.channels[1:])
    assert find_ground_runs(without, power_up(Phase("ground", 0.0, 300.0))) == ()
