"""Histories of an engine made of evidence alone, quiet and with something that changes, for the charts of a watch."""

from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from leanwright.analysis.health import Seen
from leanwright.analysis.health_cruise import Cruise
from leanwright.analysis.trend import follow
from leanwright.analysis.trend_past import Quantity

Result = dict[str, object]
Restarts = dict[int, list[tuple[int | None, Quantity]]]


@dataclass(frozen=True)
class History:
    """What is flown, and what changes from the flight ``since`` on: offsets, levels [percent], temperatures [degF]."""

    flights: int = 36
    cylinders: int = 6
    seed: int = 7
    since: int = 20
    offset: dict[int, float] = field(default_factory=dict)
    egt: dict[int, float] = field(default_factory=dict)
    cht: dict[int, float] = field(default_factory=dict)
    level: float = 0.0
    plug: dict[int, float] = field(default_factory=dict)
    silent: dict[int, float] = field(default_factory=dict)
    restarts: Restarts = field(default_factory=dict)

    def seen(self) -> list[Seen]:
        """The evidence of every flight."""
        rng = np.random.default_rng(self.seed)
        own = 1.2 * rng.standard_normal(self.cylinders)
        heights = 15.0 * rng.standard_normal(self.cylinders)
        return [self._flight(number, rng, own, heights) for number in range(self.flights)]

    def _flight(self, number: int, rng: np.random.Generator, own: np.ndarray, heights: np.ndarray) -> Seen:
        numbers = tuple(range(1, self.cylinders + 1))

        def moved(what: dict[int, float]) -> np.ndarray:
            there = what if number >= self.since else {}
            return np.array([there.get(one, 0.0) for one in numbers])

        offsets = own + moved(self.offset) + 0.2 * rng.standard_normal(self.cylinders)
        passed = [0, self.cylinders, self.cylinders - 1, 2][int(rng.integers(4))]
        cruise = tuple(
            self._minute(number, rng, own, heights + moved(self.egt), moved(self.cht))
            for _ in range(int(rng.integers(1, 4)))
        )
        told = offsets[:passed] - (offsets[:passed].mean() if passed else 0.0)
        covariance = np.diag(0.08 + 0.02 * np.arange(passed)) + 0.01
        level = 280.0 + self.level * (number >= self.since) + 0.8 * float(rng.standard_normal())
        return Seen(
            f"flight-{number:02d}", None, numbers, numbers[:passed], told, covariance, level if passed else None, cruise,
            dict(zip(numbers, (moved(self.plug) - 15.0).tolist(), strict=True)),
            dict(zip(numbers, moved(self.silent).tolist(), strict=True)), int(passed > 0), 3600.0,
        )  # fmt: skip

    def _minute(
        self, number: int, rng: np.random.Generator, own: np.ndarray, heights: np.ndarray, heads: np.ndarray
    ) -> Cruise:
        mixture = float(rng.uniform(-0.06, 0.06)) if rng.random() < 0.7 else -0.01
        pressure, season = 0.06 * float(rng.standard_normal()), 20.0 * np.sin(number / 8.0)
        egt = 1400.0 + heights + 300.0 * mixture + 5.0 * own * mixture + 60.0 * pressure
        egt += 2.5 * rng.standard_normal(self.cylinders)
        cht = 330.0 + heads + 0.2 * heights + 0.4 * season + 1.5 * rng.standard_normal(self.cylinders)
        numbers = range(1, self.cylinders + 1)
        return Cruise(
            mixture - 2.0, 2.3 + mixture, 3.05 + pressure, 7.75, 6000.0 + 900.0 * pressure, 60.0 + season,
            dict(zip(numbers, egt.tolist(), strict=True)), dict(zip(numbers, cht.tolist(), strict=True)),
        )  # fmt: skip


HISTORIES: dict[str, History] = {
    "quiet": History(),
    "offset-moves": History(offset={3: 2.5}),
    "temperature-moves": History(egt={2: 30.0}, cylinders=4, seed=8),
    "head-moves": History(cht={5: -25.0}, seed=9),
    "plug-and-probe": History(plug={1: 40.0}, silent={4: 0.3}, seed=10),
    "level-moves": History(level=9.0, seed=11),
    "most-move": History(egt={1: 40.0, 2: -40.0, 3: 45.0, 4: -40.0}, seed=12),
    "work-was-done": History(
        offset={2: -2.5}, egt={2: 20.0}, seed=13, restarts={20: [(2, "offset"), (2, "egt")], 28: [(None, "cht")]}
    ),
}  # fmt: skip


def followed(history: History) -> Result:
    """What a watch tells of a history: changes, and every number of its moments."""
    trend = follow(history.seen(), history.restarts)
    points = [point for moment in trend.moments for point in moment.points]
    told = {
        f"{name}-{quantity}": [getattr(point, name).get(quantity) for point in points]
        for name in ("residual", "standardised", "u_residual")
        for quantity in ("offset", "egt", "cht")
    }
    return told | {
        "changes": trend.changes,
        "design": trend.design,
        "offset": [point.offset_percent for point in points],
        "u_offset": [point.u_offset_percent for point in points],
        "foreseen": Counter(quantity for point in points for quantity in point.foreseen),
        "level": [moment.level_residual_percent for moment in trend.moments],
        "level-standardised": [moment.level_standardised for moment in trend.moments],
    }
