"""Sweeps put right by hand."""

import numpy as np
import pytest

from leanwright.analysis.by_hand import Hand, with_hand
from leanwright.analysis.sweep import Sweep
from leanwright.errors import UnusableSweepError
from leanwright.findings import Statement
from leanwright.recordings.recording import Channel, Recording


def recording(*, flow: bool = True) -> Recording:
    """Ten minutes: the flow falls from 300 s to 400 s, and rises again from 450 s to 500 s."""
    time = np.arange(600.0)
    channels = [Channel("MAP", "manifold_pressure", None, "inHg", "header", values=np.full(600, 22.0))]
    if flow:
        values = np.interp(time, [300.0, 400.0, 450.0, 500.0], [14.0, 10.0, 10.0, 14.0])
        channels.append(Channel("FF", "fuel_flow", None, "gal/h", "header", values=values))
    return Recording("flight", "0" * 64, time, np.arange(2, 602), tuple(channels), 0, ())


def sweep(start: float, end: float, *, used: bool = True) -> Sweep:
    reason = None if used else Statement("too-short", {"duration_s": end - start})
    return Sweep(start, end, "leaning", used, reason, 22.0, None, None)


def test_without_a_word_by_hand_the_sweeps_stay_as_found() -> None:
    found = (sweep(300.0, 400.0), sweep(450.0, 470.0, used=False))
    assert with_hand(recording(), found, Hand()) == found


@pytest.mark.parametrize(
    ("start", "end", "direction"), [(310.0, 395.0, "leaning"), (450.0, 500.0, "enriching")]
)
def test_an_added_sweep_is_marked_and_takes_its_direction_from_the_flow(
    start: float, end: float, direction: str
) -> None:
    (added,) = with_hand(recording(), (), Hand(added=((start, end),)))
    assert (added.start_s, added.end_s, added.direction, added.used, added.by_hand) == (
        start, end, direction, True, True,
    )  # fmt: skip
    assert (added.manifold_pressure_inhg, added.engine_speed_rpm, added.altitude_ft) == (22.0, None, None)


def test_a_trimmed_sweep_takes_the_place_of_the_one_found() -> None:
    found = (sweep(290.0, 410.0), sweep(450.0, 500.0, used=False))
    first, second = with_hand(recording(), found, Hand(added=((305.0, 395.0),)))
    assert (first.start_s, first.end_s, first.by_hand) == (305.0, 395.0, True)
    assert second == found[1]


def test_a_dropped_sweep_stays_in_the_list_with_its_reason() -> None:
    found = (sweep(300.0, 400.0), sweep(450.0, 500.0))
    first, second = with_hand(recording(), found, Hand(dropped=(300.0,)))
    assert (first.used, first.by_hand, first.reason) == (False, True, Statement("dropped-by-hand"))
    assert second == found[1]


def test_dropping_where_no_sweep_lies_names_those_that_are_used() -> None:
    with pytest.raises(UnusableSweepError, match=r"at 20 s cannot be used: no sweep lies there.* 300-400 s"):
        with_hand(recording(), (sweep(300.0, 400.0),), Hand(dropped=(20.0,)))
    with pytest.raises(UnusableSweepError, match="no sweep is used"):
        with_hand(recording(), (sweep(300.0, 400.0, used=False),), Hand(dropped=(350.0,)))


def test_adding_outside_the_recording_or_without_fuel_flow_is_refused_with_the_rows_there_are() -> None:
    with pytest.raises(UnusableSweepError, match=r"5000-5100 s .* holds 0 rows .* from 0 to 599 s"):
        with_hand(recording(), (), Hand(added=((5000.0, 5100.0),)))
    with pytest.raises(UnusableSweepError, match="holds 0 rows"):
        with_hand(recording(flow=False), (), Hand(added=((300.0, 400.0),)))
