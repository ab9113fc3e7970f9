"""How a hand moves the mixture lever from one end of a sweep to the other."""

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Movement = Literal["smooth", "steps", "hesitant"]

_STEP_S = 0.1


def path(
    rng: np.random.Generator, start: float, end: float, rate: float, movement: Movement
) -> tuple[Floats, Floats]:
    """Times from the first movement [s] and lever positions, straight between them.

    ``rate`` is the mean rate without the rests of a hesitant hand [lever units a second]; ``start`` and ``end`` in the
    same units. ``smooth`` turns a vernier in short twists, ``steps`` moves and waits, ``hesitant`` stops, changes its
    pace and now and then goes back a little.
    """
    distance = abs(end - start)
    move = {"smooth": _smooth, "steps": _steps, "hesitant": _hesitant}[movement]
    times, way = move(rng, distance, rate)
    return times, start + np.sign(end - start) * way


def hurried(times: Floats, way: Floats, between: Sequence[float], factor: float) -> Floats:
    """Times of the same way [s], so many times faster between two positions of the lever."""
    middle = 0.5 * (way[1:] + way[:-1])
    faster = (middle > between[0]) & (middle < between[1])
    steps = np.diff(times) / np.where(faster, factor, 1.0)
    return np.concatenate([times[:1], times[0] + np.cumsum(steps)])


def _smooth(rng: np.random.Generator, distance: float, rate: float) -> tuple[Floats, Floats]:
    t = np.arange(0.0, 1.3 * distance / rate + 4.0, _STEP_S)
    twist = 1.0 + rng.uniform(0.1, 0.7) * np.sin(
        2.0 * np.pi * t / rng.uniform(1.5, 5.0) + rng.uniform(0.0, 6.28)
    )
    pace = (
        np.minimum(1.0, t / rng.uniform(0.5, 2.0))
        * twist
        * (1.0 + rng.uniform(-0.3, 0.3) * (t / t[-1] - 0.5))
    )
    return _until(t, np.cumsum(pace * rate * _STEP_S), distance)


def _steps(rng: np.random.Generator, distance: float, rate: float) -> tuple[Floats, Floats]:
    """Steps of 0.7 to 2.2 percent of the flow, each taken within a second, then a rest that keeps the mean rate."""
    size = rng.uniform(0.007, 0.022)
    times, way = [0.0], [0.0]
    while way[-1] < distance:
        step = size * rng.uniform(0.6, 1.4)
        moving = min(rng.uniform(0.3, 0.9), 0.6 * step / rate)
        resting = max(step / rate - moving, 0.05) * rng.uniform(0.8, 1.2)
        times += [times[-1] + moving, times[-1] + moving + resting]
        way += [way[-1] + step] * 2
    return _until(np.array(times[:-1]), np.array(way[:-1]), distance)


def _hesitant(rng: np.random.Generator, distance: float, rate: float) -> tuple[Floats, Floats]:
    times, way = [0.0], [0.0]
    while True:
        pace = rate * np.exp(rng.uniform(-0.7, 0.7))
        moving = rng.uniform(2.0, 12.0)
        times.append(times[-1] + moving)
        way.append(way[-1] + pace * moving)
        if way[-1] >= distance:
            break
        times.append(times[-1] + rng.uniform(1.5, 9.0))
        way.append(way[-1])
        if rng.random() < 0.2:
            times.append(times[-1] + rng.uniform(0.5, 1.5))
            way.append(way[-1] - rng.uniform(0.0, 0.004))
    return _until(np.array(times), np.array(way), distance)


def _until(times: Floats, way: Floats, distance: float) -> tuple[Floats, Floats]:
    """Cut where the distance is reached."""
    last = int(np.argmax(way >= distance))
    before = times[last - 1] + (times[last] - times[last - 1]) * (distance - way[last - 1]) / (
        way[last] - way[last - 1]
    )
    return np.append(times[:last], before), np.append(way[:last], distance)
