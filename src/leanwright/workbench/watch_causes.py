"""Why a watched engine changed: the recordings before and since, weighed as ``causes`` weighs them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.balance import balance
from leanwright.analysis.cause_evidence import gather
from leanwright.analysis.cause_priors import DEFAULT
from leanwright.analysis.cause_rows import Evidence, Row, diagonal
from leanwright.analysis.cause_signs import find_signs, gaps_ratio
from leanwright.analysis.causes import weigh
from leanwright.analysis.health import Seen
from leanwright.analysis.health_cause import cruise_rows
from leanwright.analysis.measured import Measured
from leanwright.analysis.trend import Change, Trend
from leanwright.engine.profile import unplaced
from leanwright.workbench.measure import measure
from leanwright.workbench.opening import read_kept

Floats = NDArray[np.float64]
MOST_BEFORE: Final = 6
MOST_SINCE: Final = 16


@dataclass(frozen=True, slots=True)
class Weighed:
    """The likeliest cause of a change and its chance [1]; others of at least 5 percent beside it."""

    cause: str
    cylinder: int | None
    probability: float
    others: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Flown:
    """Where each file of the history lies, and which engine of a twin is watched."""

    places: Mapping[str, Path]
    engine: int = 1


def weigh_change(
    change: Change, history: Sequence[Seen], trend: Trend, flown: Flown, between: tuple[int, int]
) -> Weighed:
    """The cause of a change, from recordings before its onset and since.

    Those count that lie ``between`` two places (the second not with it), where nothing else is known to have changed.
    """
    if change.quantities == ("ignition-check",):
        return _at_once("plug-dead", change, change.size["ignition-check"], history)
    if change.quantities == ("probe",):
        usual = float(np.median(list(history[change.raised].silent.values())))
        return _at_once("probe-dead", change, gaps_ratio(change.size["probe"], usual), history)
    begun, until = between
    swept = [place for place in range(begun, change.first) if history[place].sweeps]
    since = list(range(change.first, min(until, change.first + MOST_SINCE)))
    before = _measured([history[place].name for place in swept[-MOST_BEFORE:]], flown)
    now = _measured([history[place].name for place in since], flown)
    if now is None:
        return Weighed("none", change.cylinder, 0.0)
    evidence = gather(now, before, find_signs(now))
    if (
        not any((row.quantity, row.state) == ("offset", "now") for row in evidence.rows)
        and before is not None
    ):
        rows, values, covariance = cruise_rows(evidence, before, history, trend, since)
        evidence = _with(evidence, rows, values, covariance)
    return _chosen(evidence, change)


def _at_once(cause: str, change: Change, log_ratio: float, history: Sequence[Seen]) -> Weighed:
    """The chance that one recording's sign gives, with what is believed beforehand."""
    beforehand = DEFAULT.chances[cause] / max(len(history[change.raised].cylinders), 1)
    odds = float(np.log(beforehand / (1.0 - beforehand))) + log_ratio
    return Weighed(cause, change.cylinder, float(1.0 / (1.0 + np.exp(-np.clip(odds, -700.0, 700.0)))))


def _chosen(evidence: Evidence, change: Change) -> Weighed:
    """The likeliest new cause where the change was seen."""
    if not evidence.rows:
        return Weighed("none", change.cylinder, 0.0)
    found = [one for one in weigh(evidence).causes if one.cause != "none"]
    here = [
        (one.cause, one.probability * (1.0 if one.new_probability is None else one.new_probability))
        for one in found
        if change.cylinder in one.cylinders or (change.cylinder is None and not one.cylinders)
    ]
    if not here:
        return Weighed("none", change.cylinder, 0.0)
    here.sort(key=lambda one: -one[1])
    return Weighed(here[0][0], change.cylinder, here[0][1], tuple(here[1:4]))


def _with(evidence: Evidence, rows: Sequence[Row], values: Floats, covariance: Floats) -> Evidence:
    return replace(
        evidence,
        rows=(*evidence.rows, *rows),
        values=np.concatenate([evidence.values, values]),
        covariance=diagonal([evidence.covariance, covariance]),
    )


def _measured(names: Sequence[str], flown: Flown) -> Measured | None:
    """Recordings of one state put together, without asking whether they agree: they may not."""
    results = []
    for name in names:
        place = flown.places.get(name.split(": ")[0])
        if place is None or not place.is_file():
            continue
        recordings = read_kept(place)
        results += [measure([one], engine=flown.engine).results[0] for one in recordings]
    if not results:
        return None
    highest = max((max(one.recording.cylinders(flown.engine), default=0) for one in results), default=0)
    answer = balance([one.peaks for one in results], cylinders=highest)
    return Measured(tuple(results), answer, unplaced(highest), flown.engine)
