"""Power-ups and phases, from whatever channels there are."""

import numpy as np

from leanwright.analysis.flight import Phase, PowerUp, find_power_ups, why_no_flight
from leanwright.findings import Statement
from tests.analysis.scene import recording


def test_a_recording_without_rows_has_no_power_up_and_says_so() -> None:
    empty = recording(np.empty(0))
    assert find_power_ups(empty) == ()
    assert why_no_flight(empty, ()) == Statement("no-rows")


def test_level_flight_alone_is_one_cruise() -> None:
    time = np.arange(0.0, 600.0)
    flight = recording(time, altitude=np.full(600, 6500.0), indicated_airspeed=np.full(600, 140.0))
    assert find_power_ups(flight) == (PowerUp(0, 600, (Phase("cruise", 0.0, 599.0),)),)
