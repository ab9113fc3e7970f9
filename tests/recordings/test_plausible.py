"""What a unit's values can tell: rows that say nothing are left out."""

import numpy as np

from leanwright.recordings.plausible import drawn_flow_gph, flow_share


def test_rows_in_which_no_air_is_drawn_say_nothing_of_the_flow() -> None:
    speed_rpm = np.array([0.0, 2300.0, 2300.0])
    pressure_inhg = np.array([29.9, 22.0, 0.0])
    flow = np.array([10.0, 12.0, 12.0])
    drawn = drawn_flow_gph(speed_rpm, pressure_inhg, 6)
    assert flow_share(flow, drawn, "gal/h") == flow_share(flow[1:2], drawn[1:2], "gal/h")
    assert flow_share(flow[:1], np.zeros(1), "gal/h") is None
