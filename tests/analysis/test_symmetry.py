"""What physics says must not matter does not: time turned round, flows scaled, temperatures shifted."""

from dataclasses import replace

import numpy as np
import pytest

from leanwright.analysis.flight import find_power_ups
from leanwright.analysis.sweep import Sweep, find_sweeps
from leanwright.recordings.recording import Recording
from tests.analysis.scene import Lever, cruise

TURNED = {"leaning": "enriching", "enriching": "leaning"}


def sweeps_of(flight: Recording) -> tuple[Sweep, ...]:
    return find_sweeps(flight, find_power_ups(flight))


def flight_of(hand: str, interval_s: float) -> Recording:
    """Two sweeps by one kind of hand, a pull, a leaning to cruise."""
    lever = Lever(15.0)
    lever.rest(120)
    for to in (10.0, 14.5):
        if hand == "even":
            lever.move(to, 110)
        elif hand == "in steps":
            lever.steps(to, 15, 8)
        else:
            lever.move(0.5 * (lever.flows[-1] + to), 40)
            lever.rest(8)
            lever.move(to, 50)
        lever.rest(50)
    lever.move(10.5, 3)
    lever.rest(20)
    lever.move(14.5, 3)
    lever.rest(60)
    lever.move(12.8, 50)
    lever.rest(90)
    return cruise(lever, interval_s)


CASES = [(hand, interval_s) for hand in ("even", "in steps", "hesitating") for interval_s in (0.5, 1.0, 4.0)]


@pytest.mark.parametrize(("hand", "interval_s"), CASES)
def test_time_turned_round_gives_the_same_sweeps_the_other_way(hand: str, interval_s: float) -> None:
    flight = flight_of(hand, interval_s)
    last = float(flight.time_s[-1])
    turned = replace(
        flight,
        time_s=last - flight.time_s[::-1],
        channels=tuple(replace(c, values=c.values[::-1]) for c in flight.channels if c.values is not None),
    )
    forward = [s for s in sweeps_of(flight) if s.used]
    backward = [s for s in sweeps_of(turned) if s.used][::-1]
    assert len(forward) == 2
    assert [TURNED[s.direction] for s in backward] == [s.direction for s in forward]
    # The second allowed for the flow reading's lag is taken off both ends, so it counts twice.
    ends = np.array([(last - s.end_s, last - s.start_s) for s in backward])
    assert np.abs(ends - [(s.start_s, s.end_s) for s in forward]).max() < 4.0 + interval_s


@pytest.mark.parametrize(("hand", "interval_s"), CASES)
@pytest.mark.parametrize("factor", [0.6, 1.07, 2.0])
def test_flows_scaled_by_a_factor_change_flows_and_nothing_else(
    hand: str, interval_s: float, factor: float
) -> None:
    flight = flight_of(hand, interval_s)
    scaled = replace(
        flight,
        channels=tuple(
            replace(c, values=c.values * factor) if c.quantity == "fuel_flow" and c.values is not None else c
            for c in flight.channels
        ),
    )
    for plain, other in zip(sweeps_of(flight), sweeps_of(scaled), strict=True):
        assert (plain.direction, plain.used) == (other.direction, other.used)
        np.testing.assert_allclose(
            (other.start_s, other.end_s), (plain.start_s, plain.end_s), rtol=0, atol=1e-6
        )
        for one, two in zip(plain.grounds, other.grounds, strict=True):
            assert one.code == two.code
            for key, value in one.values.items():
                expected = np.asarray(value) * (factor if key.endswith("_gph") else 1.0)
                np.testing.assert_allclose(np.asarray(two.values[key]), expected, rtol=1e-6, atol=1e-9)


@pytest.mark.parametrize(("hand", "interval_s"), CASES)
@pytest.mark.parametrize("shift_df", [-100.0, 37.0])
def test_a_constant_added_to_all_exhaust_temperatures_changes_nothing(
    hand: str, interval_s: float, shift_df: float
) -> None:
    flight = flight_of(hand, interval_s)
    shifted = replace(
        flight,
        channels=tuple(
            replace(c, values=c.values + shift_df) if c.quantity == "egt" and c.values is not None else c
            for c in flight.channels
        ),
    )
    assert sweeps_of(shifted) == sweeps_of(flight)


@pytest.mark.parametrize(("hand", "interval_s"), CASES)
def test_another_clock_moves_the_sweeps_with_it(hand: str, interval_s: float) -> None:
    flight = flight_of(hand, interval_s)
    later = replace(flight, time_s=flight.time_s + 1000.0)
    for plain, other in zip(sweeps_of(flight), sweeps_of(later), strict=True):
        assert other.used == plain.used
        np.testing.assert_allclose(
            (other.start_s - 1000.0, other.end_s - 1000.0), (plain.start_s, plain.end_s), rtol=0, atol=1e-6
        )


@pytest.mark.parametrize(("hand", "interval_s"), CASES)
def test_the_order_of_channels_does_not_matter(hand: str, interval_s: float) -> None:
    flight = flight_of(hand, interval_s)
    assert sweeps_of(replace(flight, channels=flight.channels[::-1])) == sweeps_of(flight)
