"""How the lever is moved."""

import numpy as np
import pytest

from leanwright.simulate import lever
from leanwright.simulate.lever import Movement


@pytest.mark.parametrize("movement", ["smooth", "steps", "hesitant"])
@pytest.mark.parametrize(("start", "end"), [(1.2, 0.9), (0.9, 1.2)])
@pytest.mark.parametrize("rate", [0.0015, 0.009])
def test_the_lever_goes_from_end_to_end_in_about_the_time_that_the_rate_says(
    movement: Movement, start: float, end: float, rate: float
) -> None:
    for seed in range(20):
        times, way = lever.path(np.random.default_rng(seed), start, end, rate, movement)
        assert (way[0], way[-1]) == pytest.approx((start, end))
        assert np.all(np.diff(times) > 0.0)
        assert way.min() >= min(start, end) - 1e-12
        assert way.max() <= max(start, end) + 1e-12
        moved = abs(end - start) / rate
        assert 0.5 * moved < times[-1] < (3.2 if movement == "hesitant" else 1.6) * moved + 12.0


def test_a_smooth_hand_never_stops_or_goes_back() -> None:
    _, way = lever.path(np.random.default_rng(1), 1.2, 0.9, 0.003, "smooth")
    assert np.all(np.diff(way) < 0.0)


def test_steps_are_short_moves_with_rests_between() -> None:
    times, way = lever.path(np.random.default_rng(1), 1.2, 0.9, 0.003, "steps")
    rests = np.diff(times)[np.diff(way) == 0.0]
    assert rests.size > 8
    assert np.median(rests) > 1.0


def test_a_hesitant_hand_stops_and_sometimes_goes_back() -> None:
    paths = [lever.path(np.random.default_rng(s), 1.2, 0.9, 0.002, "hesitant")[1] for s in range(20)]
    assert all((np.diff(way) == 0.0).sum() >= 2 for way in paths)
    assert any((np.diff(way) > 0.0).any() for way in paths)
