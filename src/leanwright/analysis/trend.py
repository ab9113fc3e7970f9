"""An engine over time: what each recording shows against the engine's own past, and when that says that something changed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from leanwright.analysis.chart import Design, design_for, next_sums
from leanwright.analysis.health import Seen
from leanwright.analysis.trend_past import Moment, Past, Quantity

Floats = NDArray[np.float64]

# Reasons for every figure stand in docs/theory/watch.md.
FLIGHTS_A_YEAR: Final = 100.0
YEARS_WITHOUT: Final = 100.0
"""One false alarm in so many engine-years at most."""
ALLOWANCE: Final = 1.25
CAP: Final = 6.0
TAILS: Final = (np.inf, 5.0, 3.0)
"""The rate is kept for normal errors and for those with so heavy tails (degrees of freedom of Student's distribution)."""
SURE_RATIO: Final = float(np.log(1e6))
"""A dead plug is told at once when its ignition check is a million times likelier with it (logarithm): with a sound plug that
comes once in a million checks at most."""
SILENT: Final = 0.10
"""A probe is told as dead when so much of a flight is silent."""


@dataclass(frozen=True, slots=True)
class Change:
    """Something changed: where (``None``: the whole engine), seen in what, which way, since when, and when that was known.

    ``first`` and ``raised`` are places of recordings from 0; ``size`` is how far what was seen moved since [percent, degF], by
    quantity.
    """

    cylinder: int | None
    quantities: tuple[str, ...]
    side: int
    first: int
    raised: int
    size: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Trend:
    """The whole history."""

    moments: tuple[Moment, ...]
    changes: tuple[Change, ...]
    design: Design


def chart_design(cylinders: int) -> Design:
    """The chart that all series of an engine share, so that all of them together alarm once in a hundred years in vain.

    The limit is the largest that normal and heavy-tailed errors ask for.

    Parameters
    ----------
    cylinders : int
        How many the engine has [1].

    Returns
    -------
    Design
        Of one side of one series: four series a cylinder and one of the engine, two sides each.
    """
    sides = 2.0 * (4.0 * cylinders + 1.0)
    run_length = sides * FLIGHTS_A_YEAR * YEARS_WITHOUT
    designs = [design_for(ALLOWANCE, run_length, CAP, freedom) for freedom in TAILS]
    return max(designs, key=lambda one: one.limit)


@dataclass(slots=True)
class _Series:
    """Standardised values of one chart since it was begun, with the places of their recordings, and both sums."""

    values: list[float] = field(default_factory=list)
    places: list[int] = field(default_factory=list)
    upper: float = 0.0
    lower: float = 0.0

    def add(self, value: float, place: int, design: Design) -> None:
        """Take the value of a recording in."""
        self.values.append(value)
        self.places.append(place)
        self.upper, self.lower = next_sums(self.upper, self.lower, value, design)


Charted = Quantity | Literal["egt-size"]
Charts = dict[tuple[Charted, int | None], _Series]


def folded(value: float) -> float:
    """How far off a value is, whichever way, as a standard normal value.

    A cylinder that runs leaner is hotter on the rich side of its peak and cooler on the lean side: flown on both in turn, its
    one-sided sums take each other back.

    Parameters
    ----------
    value : float
        Standardised [standard deviations].

    Returns
    -------
    float
        Never so small that too little scatter alarms [standard deviations].

    Examples
    --------
    >>> round(folded(-6.0), 1), round(folded(0.6745), 1)
    (5.9, 0.0)
    """
    return max(-float(ndtri(2.0 * ndtr(-abs(value)))), -ALLOWANCE)


def follow(
    history: Sequence[Seen], restarts: Mapping[int, Sequence[tuple[int | None, Quantity]]] | None = None
) -> Trend:
    """Go through an engine's recordings in order of time.

    Parameters
    ----------
    history : sequence of Seen
        One a recording, in order of time.
    restarts : mapping of int to sequence of (int or None, str), optional
        What begins anew before the recording at a place, after work on a cylinder (``None``: the whole engine).

    Returns
    -------
    Trend
        Residuals of each recording, and what changed.
    """
    numbers = sorted({number for seen in history for number in seen.cylinders})
    design = chart_design(max(len(numbers), 1))
    past, charts = Past(), Charts()
    standing: set[tuple[str, int]] = set()
    moments: list[Moment] = []
    changes: list[Change] = []
    for place, seen in enumerate(history):
        for cylinder, quantity in (restarts or {}).get(place, ()):
            for number in numbers if cylinder is None else (cylinder,):
                past.loosen(number, quantity)
                _stop(charts, quantity, number)
        moment, lessons = past.compare(seen)
        moments.append(moment)
        _add(charts, moment, place, design)
        found = [*_signs(seen, standing, place), *_alarms(charts, design, moments, place, len(numbers))]
        for lesson in lessons:
            lesson.learn()
        for change in found:
            _begin_anew(past, charts, history, change, numbers)
        changes += found
    return Trend(tuple(moments), tuple(changes), design)


def _stop(charts: Charts, quantity: Quantity, cylinder: int | None) -> None:
    """Begin the charts of a quantity anew."""
    charts.pop((quantity, cylinder), None)
    if quantity == "egt":
        charts.pop(("egt-size", cylinder), None)


def _add(charts: Charts, moment: Moment, place: int, design: Design) -> None:
    for point in moment.points:
        for quantity, value in point.standardised.items():
            charts.setdefault((quantity, point.cylinder), _Series()).add(value, place, design)
            if quantity == "egt":
                charts.setdefault(("egt-size", point.cylinder), _Series()).add(folded(value), place, design)
    if moment.level_standardised is not None:
        charts.setdefault(("level", None), _Series()).add(moment.level_standardised, place, design)


def _signs(seen: Seen, standing: set[tuple[str, int]], place: int) -> list[Change]:
    """What one recording shows by itself, told once: a plug that does not fire, a probe that says nothing."""
    found = []
    for what, values, limit in (
        ("ignition-check", seen.plug_ratio, SURE_RATIO),
        ("probe", seen.silent, SILENT),
    ):
        for number, value in values.items():
            if value <= limit:
                if value <= 0.0 or what == "probe":
                    standing.discard((what, number))
            elif (what, number) not in standing:
                standing.add((what, number))
                found.append(Change(number, (what,), 1, place, place, {what: float(value)}))
    return found


def _alarms(
    charts: Charts, design: Design, moments: Sequence[Moment], place: int, cylinders: int
) -> list[Change]:
    """Cylinders of which a chart alarms now; when most of them do at once, the engine as a whole."""
    raised: dict[int | None, list[tuple[Charted, int]]] = {}
    for (quantity, cylinder), chart in charts.items():
        if not chart.places or chart.places[-1] != place:
            continue
        if max(chart.upper, chart.lower) > design.limit:
            side = 1 if chart.upper >= chart.lower else -1
            raised.setdefault(cylinder, []).append((quantity, side))
    at_once = [cylinder for cylinder in raised if cylinder is not None]
    changes = [_dated(cylinder, alarms, charts, moments, place) for cylinder, alarms in raised.items()]
    if cylinders > 2 and 2 * len(at_once) > cylinders:
        first = min(change.first for change in changes)
        return [Change(None, ("cylinders",), 0, first, place, {})]
    return changes


def _dated(
    cylinder: int | None,
    alarms: Sequence[tuple[Charted, int]],
    charts: Charts,
    moments: Sequence[Moment],
    place: int,
) -> Change:
    """The change with the recording from which it most likely was there, told by all its charts together."""
    series = [charts[quantity, cylinder] for quantity, _side in alarms]
    candidates = sorted({at for one in series for at in one.places})
    weights = []
    for candidate in candidates:
        after = [
            [value for value, at in zip(one.values, one.places, strict=True) if at >= candidate]
            for one in series
        ]
        weights.append(sum(sum(values) ** 2 / len(values) for values in after if values))
    first = candidates[int(np.argmax(weights))]
    seen: list[Quantity] = []
    for charted, _side in alarms:
        quantity: Quantity = "egt" if charted == "egt-size" else charted
        if quantity not in seen:
            seen.append(quantity)
    size: dict[str, float] = {one: _moved(moments[first : place + 1], cylinder, one) for one in seen}
    return Change(cylinder, tuple(seen), alarms[0][1], first, place, size)


def _moved(moments: Sequence[Moment], cylinder: int | None, quantity: Quantity) -> float:
    """Mean of what was seen less what was expected, over some recordings [percent, degF]."""
    if cylinder is None:
        levels = [one.level_residual_percent for one in moments if one.level_residual_percent is not None]
        return float(np.mean(levels)) if levels else 0.0
    found = [
        point.residual[quantity]
        for one in moments
        for point in one.points
        if point.cylinder == cylinder and quantity in point.residual
    ]
    return float(np.mean(found)) if found else 0.0


def _begin_anew(
    past: Past, charts: Charts, history: Sequence[Seen], change: Change, numbers: Sequence[int]
) -> None:
    """What changed is learned anew from the recordings since."""
    whole = change.quantities == ("cylinders",)
    where: Sequence[int | None] = numbers if whole else (change.cylinder,)
    what: tuple[Quantity, ...] = (
        ("offset", "egt", "cht") if change.cylinder is not None or whole else ("level",)
    )
    for cylinder in where:
        for quantity in what:
            past.loosen(cylinder, quantity)
            _stop(charts, quantity, cylinder)
    for seen in history[change.first : change.raised + 1]:
        _, lessons = past.compare(seen)
        for lesson in lessons:
            if lesson.cylinder in where and lesson.quantity in what:
                lesson.learn(even_if_far=True)
