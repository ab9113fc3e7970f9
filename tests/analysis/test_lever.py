"""The lever's movements are told from its rests, its pulls and its approaches."""

import numpy as np

from leanwright.analysis.lever import find_movements
from leanwright.analysis.trace import read_trace
from leanwright.recordings.recording import Recording
from tests.analysis.scene import Lever, recording


def plain(lever: Lever, interval_s: float = 1.0) -> Recording:
    time, flow = lever.sample(interval_s)
    return recording(time, fuel_flow=flow)


def moves(flight: Recording, least: float = 0.03) -> list[tuple[float, float, str]]:
    """Start, end and kind of each movement of 3 percent and more."""
    trace = read_trace(flight, 0, flight.rows_kept, 1)
    assert trace is not None
    return [
        (
            float(trace.time_s[m.first]),
            float(trace.time_s[m.last]),
            ("quick " if m.quick else "")
            + ("lean" if trace.mixture[m.last] < trace.mixture[m.first] else "rich"),
        )
        for m in find_movements(trace)
        if abs(trace.mixture[m.last] - trace.mixture[m.first]) >= least
    ]


def test_a_flat_recording_has_no_movement() -> None:
    lever = Lever(14.0)
    lever.rest(300)
    assert moves(plain(lever)) == []


def test_there_and_back_are_two_movements() -> None:
    lever = Lever(14.0)
    lever.rest(60)
    lever.move(10.0, 100)
    lever.move(14.0, 100)
    lever.rest(60)
    (down_from, down_to, down), (up_from, up_to, up) = moves(plain(lever))
    assert (down, up) == ("lean", "rich")
    assert abs(down_from - 60) < 10
    assert 150 < down_to <= up_from < 170
    assert abs(up_to - 260) < 10


def test_a_wobble_below_the_reversal_does_not_end_a_movement() -> None:
    lever = Lever(14.0)
    lever.rest(60)
    lever.move(12.0, 50)
    lever.move(12.2, 3)
    lever.move(10.0, 60)
    lever.rest(60)
    assert [kind for _, _, kind in moves(plain(lever))] == ["lean"]


def test_a_short_pause_belongs_to_a_movement_and_a_long_one_ends_it() -> None:
    def paused(seconds: float) -> list[tuple[float, float, str]]:
        lever = Lever(14.0)
        lever.rest(60)
        lever.move(12.0, 50)
        lever.rest(seconds)
        lever.move(10.0, 50)
        lever.rest(60)
        return moves(plain(lever))

    assert len(paused(12.0)) == 1
    assert len(paused(90.0)) == 2


def test_a_very_slow_sweep_is_one_movement() -> None:
    lever = Lever(14.0)
    lever.rest(60)
    lever.steps(10.0, 12, 27.0)
    lever.rest(60)
    assert [kind for _, _, kind in moves(plain(lever))] == ["lean"]


def test_a_pull_is_quick_at_any_interval() -> None:
    for interval_s in (0.2, 1.0, 6.0):
        lever = Lever(14.0)
        lever.rest(60)
        lever.move(10.0, 3)
        lever.rest(60)
        kinds = {kind for _, _, kind in moves(plain(lever, interval_s), least=0.1)}
        assert kinds == {"quick lean"}


def test_the_pull_to_where_a_sweep_begins_is_cut_off() -> None:
    lever = Lever(15.0)
    lever.rest(60)
    lever.move(13.7, 4)
    lever.rest(25)
    start, end = lever.move(10.0, 100)
    lever.rest(60)
    found = moves(plain(lever))
    assert [kind for _, _, kind in found] == ["quick lean", "lean"]
    assert 64 <= found[0][1] <= found[1][0] < start + 10
    assert abs(found[1][1] - end) < 10


def test_the_pull_that_leaves_a_sweep_the_same_way_is_cut_off() -> None:
    lever = Lever(15.0)
    lever.rest(60)
    _, end = lever.move(11.0, 100)
    lever.rest(25)
    lever.move(9.8, 4)
    lever.rest(60)
    found = moves(plain(lever))
    assert [kind for _, _, kind in found] == ["lean", "quick lean"]
    assert abs(found[0][0] - 60) < 10
    assert end - 10 < found[0][1] <= found[1][0] <= end + 25


def test_a_gap_in_the_recording_ends_a_movement() -> None:
    lever = Lever(15.0)
    lever.rest(60)
    lever.move(10.0, 200)
    lever.rest(60)
    time, flow = lever.sample()
    kept = (time < 150) | (time > 190)
    found = moves(recording(time[kept], fuel_flow=flow[kept]))
    assert [kind for _, _, kind in found] == ["lean", "lean"]
    assert found[0][1] < 150
    assert found[1][0] > 190


def test_a_change_of_power_ends_a_movement() -> None:
    lever = Lever(15.0)
    lever.rest(60)
    lever.move(10.0, 200)
    lever.rest(60)
    time, flow = lever.sample()
    throttle = np.where(time > 160, 0.9, 1.0)
    found = moves(
        recording(
            time,
            fuel_flow=flow * throttle,
            manifold_pressure=23.0 * throttle,
            engine_speed=np.full(time.size, 2300.0),
        )
    )
    assert [kind for _, _, kind in found] == ["lean", "lean"]
    assert found[0][1] <= 160 < found[1][0]


def test_a_sweep_is_no_approach_because_full_rich_follows_its_rest() -> None:
    lever = Lever(12.0)
    lever.rest(60)
    lever.move(11.0, 8)
    lever.rest(40)
    start, end = lever.move(13.0, 70)
    lever.rest(30)
    lever.move(18.0, 20)
    lever.rest(60)
    found = moves(plain(lever))[1:]
    assert [kind for _, _, kind in found] == ["rich", "quick rich"]
    assert abs(found[0][0] - start) < 10
    assert end - 10 < found[0][1] <= found[1][0] <= end + 31
