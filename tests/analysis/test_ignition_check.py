"""Ignition checks found in made signals whose truth is known."""

import dataclasses
from collections.abc import Mapping

import numpy as np
import pytest

from leanwright.analysis.ignition_check import find_ignition_checks
from leanwright.recordings.recording import Channel, Recording

TIME = np.arange(0.0, 200.0, 1.0)
CHECKS = ((60.0, 72.0), (90.0, 100.0))


def channel(quantity: str, values: np.ndarray, cylinder: int | None = None) -> Channel:
    return Channel(f"{quantity} {cylinder}", quantity, cylinder, None, "header", values=values)


def flown(
    responses: Mapping[int, tuple[float, float]], drop_rpm: float = 80.0, speed_rpm: float = 1750.0
) -> Recording:
    """A run-up with two checks: EGT of each cylinder steps by its two responses."""
    inside = [(start <= TIME) & (end >= TIME) for start, end in CHECKS]
    speed = speed_rpm - drop_rpm * (inside[0] | inside[1])
    channels = [
        channel("engine_speed", speed),
        channel("fuel_flow", np.full(TIME.size, 4.8)),
        channel("manifold_pressure", np.full(TIME.size, 16.0)),
    ]
    for number, steps in responses.items():
        egt = 1000.0 + 10.0 * number + steps[0] * inside[0] + steps[1] * inside[1]
        channels.append(channel("egt", egt, number))
    rows = np.arange(TIME.size, dtype=np.int64)
    return Recording("made", "", TIME, rows, tuple(channels), 0, ())


ALL_WELL = {1: (40.0, 42.0), 2: (38.0, 41.0), 3: (45.0, 44.0), 4: (41.0, 39.0)}


def test_each_ignition_alone_is_found_with_what_every_cylinder_did() -> None:
    found = find_ignition_checks(flown(ALL_WELL))
    assert [one.start_s for one in found] == pytest.approx([60.0, 90.0], abs=1.0)
    assert [one.end_s for one in found] == pytest.approx([72.0, 100.0], abs=1.0)
    for place, one in enumerate(found):
        assert one.response_df == pytest.approx({number: steps[place] for number, steps in ALL_WELL.items()})


def test_a_dead_plug_collapses_on_one_ignition() -> None:
    found = find_ignition_checks(flown({**ALL_WELL, 3: (0.0, -500.0)}))
    assert [one.response_df[3] for one in found] == pytest.approx([0.0, -500.0])
    assert found[1].median_df == pytest.approx(40.0)


def test_a_throttle_that_moves_is_no_check() -> None:
    recording = flown(ALL_WELL)
    moved = np.where((TIME >= 60.0) & (TIME <= 72.0), 14.0, 16.0)
    channels = tuple(
        dataclasses.replace(one, values=moved) if one.quantity == "manifold_pressure" else one
        for one in recording.channels
    )
    found = find_ignition_checks(dataclasses.replace(recording, channels=channels))
    assert [one.start_s for one in found] == pytest.approx([90.0], abs=1.0)


def test_a_sweep_is_no_check() -> None:
    assert find_ignition_checks(flown(ALL_WELL), [(50.0, 110.0)]) == ()


def test_in_flight_all_egts_rise_at_a_held_speed() -> None:
    found = find_ignition_checks(flown(ALL_WELL, drop_rpm=0.0, speed_rpm=2400.0))
    assert [round(one.median_df) for one in found] == [40, 42]


def test_without_three_egts_nothing_is_looked_for() -> None:
    assert find_ignition_checks(flown({1: (40.0, 40.0), 2: (40.0, 40.0)})) == ()


def test_each_engine_of_a_twin_is_held_against_its_own_manifold_pressure() -> None:
    alone = flown(ALL_WELL)
    second = tuple(dataclasses.replace(one, engine=2) for one in alone.channels)
    rising = tuple(
        dataclasses.replace(one, values=one.values + TIME)
        if one.quantity == "egt" and one.values is not None
        else one
        for one in second
    )
    turned = channel("manifold_pressure", 16.0 + 0.1 * TIME)
    both = dataclasses.replace(alone, channels=(turned, *rising))
    apart = dataclasses.replace(alone, channels=rising)
    assert find_ignition_checks(both, engine=2) == find_ignition_checks(apart, engine=2) != ()
