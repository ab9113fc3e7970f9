"""What was learned of an engine so far, and what a recording shows against it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import BSpline

from leanwright.analysis.health import Seen
from leanwright.analysis.health_cruise import Cruise
from leanwright.analysis.trend_forecast import Forecast, Noise

Floats = NDArray[np.float64]
Quantity = Literal["offset", "egt", "cht", "level"]

# Reasons for every figure stand in docs/theory/watch.md.
SIGMA: Final[Mapping[Quantity, float]] = {"offset": 0.35, "egt": 4.0, "cht": 3.0, "level": 1.5}
"""Scatter from recording to recording before anything is seen [percent, degF, degF, percent]."""
WORTH: Final = 12.0
"""How many readings that belief is worth."""
LEAST: Final[Mapping[Quantity, float]] = {"offset": 0.12, "egt": 2.0, "cht": 2.5, "level": 0.3}
"""No engine scatters less than this [the same]."""
FREE_F: Final = 100.0
BENDS_F: Final = 20.0
"""How far a cylinder's temperature against the others' may bend about a straight line as the mixture changes [degF]."""
SLOPES: Final = np.array([300.0, 60.0, 60.0, 3.0, 3.0, 1500.0])
"""Standard deviations of the straight lines beforehand: mixture, manifold pressure, speed [degF a unit of the logarithm], height
[degF a thousand ft], outside air [degF each 10 degF], and mixture times pressure, for what a leak does."""
KNOT_APART: Final = 0.03
FARTHEST: Final = 0.30
"""Mixtures told apart, and how far from the first one seen (logarithm)."""
KNOTS: Final = np.arange(-FARTHEST - 3 * KNOT_APART, FARTHEST + 3.5 * KNOT_APART, KNOT_APART)
SAME_MIXTURE: Final = 0.012
"""Minutes of cruise within this of each other are one setting (logarithm)."""
FREE_PERCENT: Final = 30.0
OUTLIER: Final = 3.5
"""What lies so far off is not learned: it is an odd day, or a change that the chart will tell [standard deviations]."""
LEAST_TOGETHER: Final = 3
"""Cylinders that have to be seen together before one of them can be told to have moved against the others."""
NOISE_FROM: Final = 3.0
"""The noise is learned only from errors to which what is unknown of the coefficients adds little [1]."""
MEDIAN: Final = 1.57
"""Variance of a median over that of a mean, for many normal values (pi / 2)."""
SILENT: Final = 0.05
"""Readings of a probe that is silent for so much of a flight are not compared."""


@dataclass(frozen=True, slots=True)
class Point:
    """One cylinder in one recording: readings less what was expected, and standardised.

    ``residual`` by quantity [percent, degF]; what was not seen is not there. ``offset_percent`` is the offset itself against
    the mean of all cylinders, with its standard uncertainty, once all of them are known.
    """

    cylinder: int
    offset_percent: float | None = None
    u_offset_percent: float | None = None
    residual: Mapping[Quantity, float] = field(default_factory=dict)
    standardised: Mapping[Quantity, float] = field(default_factory=dict)
    """[standard deviations], by quantity"""
    u_residual: Mapping[Quantity, float] = field(default_factory=dict)
    """Standard uncertainty of the residual while nothing changes [percent, degF], by quantity: noise, and what is not known yet"""
    foreseen: frozenset[Quantity] = frozenset()
    """Quantities of which the past tells enough that the residual says something by itself"""

    def told(self, quantity: Quantity) -> float | None:
        """The residual, where it says something by itself.

        Parameters
        ----------
        quantity : str
            Of what.

        Returns
        -------
        float or None
            ``None`` where it was not seen, or where nobody could have told what was to be expected: in conditions that are new
            to the cylinder as it is now [percent, degF].
        """
        return self.residual.get(quantity) if quantity in self.foreseen else None


@dataclass(frozen=True, slots=True)
class Moment:
    """One recording in the history; residuals of the whole engine's flow at peak [percent]."""

    name: str
    points: tuple[Point, ...]
    level_residual_percent: float | None = None
    level_standardised: float | None = None
    """[standard deviations]"""


@dataclass(slots=True)
class Lesson:
    """A reading that can be learned: of which cylinder and quantity, and whether it lies far off."""

    cylinder: int | None
    quantity: Quantity
    forecast: Forecast
    row: Floats
    """[units of the conditions], shape (coefficients,)"""
    value: float
    """[percent or degF]"""
    noise_over: float
    """Variance of its noise over the usual one [1]."""
    noise: Noise
    error: float
    """Reading less what was expected [percent or degF]."""
    variance: float
    """Variance of that error over that of the usual noise [1]."""
    far: bool

    @property
    def foreseen(self) -> bool:
        """Whether what is unknown of the coefficients adds little to the noise."""
        return self.variance - self.noise_over < NOISE_FROM

    @property
    def u_error(self) -> float:
        """Standard uncertainty of the error while nothing changes [percent or degF]."""
        return self.noise.sigma * float(np.sqrt(self.variance))

    def learn(self, *, even_if_far: bool = False) -> None:
        """Take it in, unless it lies far off.

        Parameters
        ----------
        even_if_far : bool
            Take it in all the same: it is known that something changed.
        """
        if self.foreseen and self.forecast.learned:
            # Winsorised: what lies far off counts as lying at the edge, or heavy tails would make the noise look small.
            self.noise.learn(min(abs(self.error), OUTLIER * self.u_error), self.variance)
        if even_if_far or not self.far:
            self.forecast.learn(self.row, self.value, self.noise_over)


class Past:
    """What was learned of an engine so far."""

    def __init__(self) -> None:
        self._of: dict[tuple[Quantity, int | None], Forecast] = {}
        self._noise = {
            quantity: Noise.beforehand(sigma, WORTH, LEAST[quantity]) for quantity, sigma in SIGMA.items()
        }
        self._centre: Cruise | None = None

    def loosen(self, cylinder: int | None, quantity: Quantity) -> None:
        """Something was changed: what may have moved is open again, the rest stays as it was learned.

        Parameters
        ----------
        cylinder : int or None
            Where; ``None`` for the whole engine [1].
        quantity : str
            What of it.
        """
        forecast = self._of.get((quantity, cylinder))
        if forecast is None:
            return
        if quantity in {"offset", "level"}:
            del self._of[quantity, cylinder]
        else:
            forecast.covariance = forecast.covariance + np.diag((_spreads() / SIGMA[quantity]) ** 2)

    def compare(self, seen: Seen) -> tuple[Moment, list[Lesson]]:
        """Hold a recording against what was learned; nothing is learned yet.

        Parameters
        ----------
        seen : Seen
            Its evidence.

        Returns
        -------
        tuple of Moment and list of Lesson
            Residuals [percent, degF], and what can be learned.
        """
        lessons = [*self._offsets(seen), *self._temperatures(seen, "egt"), *self._temperatures(seen, "cht")]
        level = self._level(seen)
        points = [self._point(number, seen, lessons) for number in seen.cylinders]
        moment = Moment(
            seen.name,
            tuple(points),
            level.error if level else None,
            self._standardised(level) if level else None,
        )
        return moment, [*lessons, *([level] if level else [])]

    def _point(self, number: int, seen: Seen, lessons: Sequence[Lesson]) -> Point:
        mine = [one for one in lessons if one.cylinder == number and one.forecast.learned]
        offset = u = None
        # Of too few cylinders together nothing can be said.
        values = {one.cylinder: one.value for one in lessons if one.quantity == "offset"}
        if number in values:
            past = {other: self._of.get(("offset", other)) for other in seen.cylinders}
            # One that passed no peak here counts as it was known before.
            every = [
                values.get(other, float(known.mean[0]) if known is not None and known.learned else None)
                for other, known in past.items()
            ]
            if all(one is not None for one in every):
                offset = values[number] - float(np.mean([one for one in every if one is not None]))
                row = seen.offset_cylinders.index(number)
                u = float(np.sqrt(max(float(seen.covariance_percent[row, row]), 0.0)))
        return Point(
            number,
            offset,
            u,
            {one.quantity: one.error for one in mine},
            {one.quantity: self._standardised(one) for one in mine},
            {one.quantity: one.u_error for one in mine},
            frozenset(one.quantity for one in mine if one.foreseen),
        )

    def _standardised(self, lesson: Lesson) -> float:
        return self._noise[lesson.quantity].standardised(lesson.error, lesson.variance)

    def _lesson(
        self,
        cylinder: int | None,
        quantity: Quantity,
        row: Floats,
        value: float,
        error: float,
        *,
        noise_over: float,
        variance: float,
    ) -> Lesson:
        noise = self._noise[quantity]
        forecast = self._forecast(quantity, cylinder)
        far = forecast.learned > 0 and abs(noise.standardised(error, variance)) > OUTLIER
        return Lesson(cylinder, quantity, forecast, row, value, noise_over, noise, error, variance, far)

    def _forecast(self, quantity: Quantity, cylinder: int | None) -> Forecast:
        if (quantity, cylinder) not in self._of:
            free = _spreads() if quantity in {"egt", "cht"} else np.array([FREE_PERCENT])
            self._of[quantity, cylinder] = Forecast(free / SIGMA[quantity])
        return self._of[quantity, cylinder]

    def _offsets(self, seen: Seen) -> list[Lesson]:
        """Offsets against those known; the level of the cylinders seen is the median of those known."""
        noise, row = self._noise["offset"], np.ones(1)
        values = dict(zip(seen.offset_cylinders, seen.offset_percent.tolist(), strict=True))
        learned = {number for number in values if self._forecast("offset", number).learned}
        anything = any(key[0] == "offset" and one.learned for key, one in self._of.items())
        if len(values) < LEAST_TOGETHER or (anything and len(learned) < LEAST_TOGETHER):
            return []
        apart = {number: values[number] - self._forecast("offset", number).mean[0] for number in learned}
        level = float(np.median(list(apart.values()))) if apart else 0.0
        over = {
            number: float(seen.covariance_percent[place, place]) / noise.sigma**2
            for place, number in enumerate(seen.offset_cylinders)
        }
        of_level = (1.0 + float(np.median(list(over.values())))) * MEDIAN / max(len(learned), LEAST_TOGETHER)
        lessons = []
        for number, value in values.items():
            expected, variance = self._forecast("offset", number).expected(row)
            noise_over = 1.0 + over[number] + of_level
            lessons.append(
                self._lesson(
                    number, "offset", row, value - level, value - level - expected,
                    noise_over=noise_over, variance=variance - 1.0 + noise_over,
                )
            )  # fmt: skip
        return lessons

    def _temperatures(self, seen: Seen, quantity: Literal["egt", "cht"]) -> list[Lesson]:
        """Temperatures against those expected in these conditions; what all have in common is taken out."""
        cruise = _main_setting(seen.cruise)
        if not cruise:
            return []
        self._centre = self._centre or cruise[0]
        lessons = []
        found: dict[int, tuple[Floats, float]] = {}
        rows = np.array([_conditions(one, self._centre) for one in cruise])
        for number in seen.cylinders:
            of = [place for place, one in enumerate(cruise) if number in _temperature(one, quantity)]
            if of and seen.silent.get(number, 0.0) <= SILENT:
                mean = float(np.mean([_temperature(cruise[place], quantity)[number] for place in of]))
                found[number] = rows[of].mean(axis=0), mean
        if len(found) < LEAST_TOGETHER:
            return []
        apart = {
            number: value - self._forecast(quantity, number).expected(row)[0]
            for number, (row, value) in found.items()
        }
        level = float(np.median(list(apart.values())))
        for number, (row, value) in found.items():
            _, variance = self._forecast(quantity, number).expected(row)
            lessons.append(
                self._lesson(
                    number,
                    quantity,
                    row,
                    value - level,
                    apart[number] - level,
                    noise_over=1.0,
                    variance=variance,
                )
            )
        return lessons

    def _level(self, seen: Seen) -> Lesson | None:
        """Mean flow at peak over what the engine breathes, the cylinders' own offsets taken out."""
        known = [self._of.get(("offset", number)) for number in seen.offset_cylinders]
        if (
            seen.air_level_percent is None
            or not known
            or any(one is None or not one.learned for one in known)
        ):
            return None
        value = seen.air_level_percent - float(np.mean([one.mean[0] for one in known if one is not None]))
        forecast = self._forecast("level", None)
        if not forecast.learned:
            forecast.mean = np.array([value])
        expected, variance = forecast.expected(np.ones(1))
        return self._lesson(
            None, "level", np.ones(1), value, value - expected, noise_over=1.0, variance=variance
        )


def _temperature(one: Cruise, quantity: Literal["egt", "cht"]) -> Mapping[int, float]:
    return one.egt_f if quantity == "egt" else one.cht_f


def _main_setting(cruise: Sequence[Cruise]) -> list[Cruise]:
    """The minutes at the mixture that was flown longest."""
    near = [
        [other for other in cruise if abs(other.log_mixture - one.log_mixture) <= SAME_MIXTURE]
        for one in cruise
    ]
    return max(near, key=len, default=[])


def _spreads() -> Floats:
    """Standard deviations of all coefficients beforehand [degF, and degF a unit of each condition]."""
    return np.concatenate([[FREE_F], SLOPES, np.full(KNOTS.size - 4, BENDS_F)])


def _conditions(one: Cruise, centre: Cruise) -> Floats:
    """A row of the design: level, straight lines, and a smooth bend with the mixture (cubic B-splines)."""
    x = float(np.clip(one.log_mixture - centre.log_mixture, -FARTHEST, FARTHEST))
    lines = [
        1.0,
        x,
        one.log_pressure - centre.log_pressure,
        one.log_speed - centre.log_speed,
        (one.altitude_ft - centre.altitude_ft) / 1000.0,
        (one.outside_f - centre.outside_f) / 10.0,
        x * (one.log_pressure - centre.log_pressure),
    ]
    return np.concatenate([lines, BSpline.design_matrix([x], KNOTS, 3).toarray()[0]])
