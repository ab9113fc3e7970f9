"""Minutes of steady cruise: which count, and what they hold."""

from dataclasses import replace

import numpy as np
import pytest

from leanwright.analysis.flight import Phase, PowerUp
from leanwright.analysis.health_cruise import MOST_WINDOWS, find_cruise, silent_shares
from leanwright.recordings.recording import Recording
from tests.analysis.scene import recording

MINUTES = 30
TIME = np.arange(0.0, 60.0 * MINUTES)
FLIGHT = (PowerUp(0, TIME.size, (Phase("cruise", 0.0, 60.0 * MINUTES),)),)


def level(**other: np.ndarray) -> Recording:
    """Half an hour in which nothing moves, but for what is given."""
    still = np.ones(TIME.size)
    channels = {
        "fuel_flow": 12.0 * still,
        "manifold_pressure": 23.0 * still,
        "engine_speed": 2350.0 * still,
        "outside_air_temperature": 41.0 * still,
        "pressure_altitude": 6500.0 * still,
        **other,
    }
    return recording(TIME, {n: 1400.0 + 10.0 * n + 0.0 * TIME for n in (1, 2, 3)}, **channels)


def test_a_minute_holds_its_conditions_and_temperatures() -> None:
    found = find_cruise(level(), FLIGHT, [])
    assert len(found) == MOST_WINDOWS
    one = found[0]
    # Mixture: fuel over what the engine breathes, pressure times speed over the absolute outside temperature.
    assert one.log_mixture == pytest.approx(np.log(12.0 * (41.0 + 459.67) / (23.0 * 2350.0)))
    assert (one.altitude_ft, one.outside_f) == (6500.0, 41.0)
    assert one.egt_f == {1: 1410.0, 2: 1420.0, 3: 1430.0}
    assert one.cht_f == {}


@pytest.mark.parametrize(
    ("quantity", "from_to"),
    [("fuel_flow", (12.0, 10.0)), ("manifold_pressure", (23.0, 20.0)), ("engine_speed", (2400.0, 2200.0))],
)
def test_minutes_in_which_flow_or_power_moves_do_not_count(
    quantity: str, from_to: tuple[float, float]
) -> None:
    begin, end = from_to
    to_and_fro = np.interp(TIME % 120.0, [0.0, 60.0, 120.0], [begin, end, begin])
    moving = np.where((TIME > 300.0) & (TIME < 1500.0), to_and_fro, begin)
    found = find_cruise(level(**{quantity: moving}), FLIGHT, [])
    assert len(found) == 5 + 4, "five minutes before, and five after, the last of them not whole"


def test_minutes_in_a_sweep_or_an_ignition_check_do_not_count() -> None:
    assert find_cruise(level(), FLIGHT, [(0.0, 60.0 * MINUTES)]) == ()
    assert len(find_cruise(level(), FLIGHT, [(300.0, 1500.0)])) == 5 + 4


def test_a_head_counts_once_it_has_settled() -> None:
    warming = np.interp(TIME, [0.0, 600.0], [250.0, 340.0])
    base = level()
    head = replace(base.channels[0], quantity="cht", cylinder=1, values=warming)
    found = find_cruise(replace(base, channels=(*base.channels, head)), FLIGHT, [])
    assert found[0].cht_f == {}
    assert found[-1].cht_f == {1: 340.0}


def test_a_probe_is_silent_where_it_is_missing_far_below_or_never_moves() -> None:
    wave = 10.0 * np.sin(TIME / 50.0)
    egt = dict.fromkeys((1, 2, 3, 4, 5, 6), 1400.0 + wave)
    egt[2] = np.where(TIME < 900.0, np.nan, egt[2])
    egt[4] = np.where(TIME < 450.0, 300.0, egt[4])
    egt[5] = 1400.0 + 0.0 * TIME
    shares = silent_shares(recording(TIME, egt), FLIGHT)
    assert shares == pytest.approx({1: 0.0, 2: 0.5, 3: 0.0, 4: 0.25, 5: 1.0, 6: 0.0}, abs=1e-3)
    assert silent_shares(recording(TIME, egt), ()) == {}
