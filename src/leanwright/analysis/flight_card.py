"""What to fly next: how fast to move the lever, where to turn round, how many sweeps, and how sure that will be."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.analysis.peak import SweepPeaks
from leanwright.analysis.sweep import Direction, Sweep
from leanwright.showing import html_of

RICH_MARGIN: Final = 0.10
LEAN_MARGIN: Final = 0.06
"""How far the sweep goes beyond the first and the last peak [1] (common practice: as far as it runs smoothly)."""
BRISK_MARGIN: Final = 0.02
"""From so far above the first peak to so far below the last [1] the lever may move twice as fast: the tops tell little."""
BRISK_TIMES: Final = 2.0
LAG_SHIFT: Final = 0.01
"""Share of the flow by which the slowest probe may lag behind [1] (common practice)."""
ROWS_A_FLANK: Final = 5
FLANK: Final = 0.05
"""Rows that a flank of this width [1] should hold at least (common practice)."""
SLOWEST_GPH_PER_S: Final = 0.015
FASTEST_GPH_PER_S: Final = 0.05
"""Within the rates at which the program was tried in simulation, 0.015 to 0.09 gal/h per s."""
UNKNOWN_RATE_GPH_PER_S: Final = 0.025
STEP_DOWN_INHG: Final = 4.0
LOWEST_INHG: Final = 15.0
APART_INHG: Final = 2.5
"""Manifold pressures nearer than this do not tell a leak from a nozzle (common practice)."""
FEWEST_PEAKS: Final = 2
"""A sweep that shows fewer tells nothing of a spread [1]."""
FEWEST_SWEEPS: Final = 4
MOST_SWEEPS: Final = 8
TYPICAL_U_GPH: Final = 0.012
TYPICAL_TIMES: Final = 1.9
"""Standard uncertainty of the spread after four sweeps [gal/h], and the factor either way that holds nine flights of ten,
in simulated flights of engines drawn from all ranges (python -m benchmarks.card)."""
OWN_TIMES: Final = 1.25
"""The same factor where an earlier flight of the engine tells."""
LEAN_FLANK_COSTS: Final = 2.0
"""How much more an equally short lean flank leaves open of a top's place than a rich one [1]: of 200 simulated first flights and
those flown by their cards (python -m benchmarks.card, seeds 508 000 to 527 900)."""
SHORTEST_FLANK: Final = 0.01
"""A flank is counted as no shorter than this [1]: its peak was found, so some of it was seen (common practice)."""
OWN_NOISE: Final = 0.16
"""Weight of the typical engine in what is expected of this one, over the number of sweeps flown [1]: variance of the logarithm of
what one sweep tells of its own uncertainty, over that between engines (python -m benchmarks.card)."""
GOAL_SHARE: Final = 0.1
GOAL_GPH: Final = 0.5


@dataclass(frozen=True, slots=True)
class CardSweep:
    """One sweep to fly. Flows [gal/h] and time [s] are ``None`` where nothing is known of the engine yet.

    The lever goes from ``start_gph`` to ``end_gph``; between ``brisk_gph`` it may go twice as fast.
    """

    number: int
    direction: Direction
    first_pressure: bool
    manifold_pressure_inhg: float | None = None
    start_gph: float | None = None
    brisk_gph: tuple[float, float] | None = None
    end_gph: float | None = None
    duration_s: float | None = None


@dataclass(frozen=True, slots=True)
class FlightCard:
    """All that is computed of a card.

    ``expected_u_spread_gph`` is the standard uncertainty of the spread that these sweeps are expected to give, between
    ``likely_u_spread_gph`` in nine flights of ten. ``enough`` tells whether that is what was wanted.
    """

    sweeps: tuple[CardSweep, ...]
    rate_gph_per_s: float
    interval_s: float | None
    largest_lag_s: float | None
    wanted_u_spread_gph: float
    expected_u_spread_gph: float
    likely_u_spread_gph: tuple[float, float]
    enough: bool
    sweeps_before: int

    _repr_html_ = html_of


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit of the flight manual: ``most`` and ``least`` [``unit``, as the owner typed it]."""

    what: str
    unit: str
    most: float | None = None
    least: float | None = None


@dataclass(frozen=True, slots=True)
class Limits:
    """The limits that the owner typed in, and the document that they are from."""

    document: str
    revision: str
    limits: tuple[Limit, ...]


@dataclass(frozen=True, slots=True)
class _Known:
    """What earlier sweeps tell of the engine; ``told`` is what their flanks told, in the measure of :func:`_told` [1].

    ``passing_share`` is the part of the uncertainty that is not expected again [1].
    """

    highest_gph: float
    lowest_gph: float
    pressures_inhg: tuple[float | None, float | None]
    mean_flow_gph: float
    largest_lag_s: float
    interval_s: float
    u_spread_gph: float
    sweeps: int
    told: float
    passing_share: float


def flight_card(measured: Measured | None, wanted_u_spread_gph: float | None = None) -> FlightCard:
    """Work out a card, from nothing or from what was flown before.

    Parameters
    ----------
    measured : Measured, optional
        What earlier recordings of this engine gave. Where they hold no spread, the card is one from nothing.
    wanted_u_spread_gph : float, optional
        Standard uncertainty of the spread that is wanted [gal/h]; a tenth of the goal if not given.

    Returns
    -------
    FlightCard
        Sweeps down and up in turn, at two manifold pressures.

    Notes
    -----
    Shared disturbance makes most of the uncertainty, and a slower sweep gathers more of it: so the uncertainty of a
    sweep hardly depends on its pace, falls with the root of the number of sweeps, and is the larger the shorter the
    flanks that were flown (seen in simulated flights, see docs/theory/card.md).

    Examples
    --------
    >>> card = flight_card(None)
    >>> len(card.sweeps), card.sweeps[0].start_gph, card.enough
    (4, None, True)
    """
    known = _known(measured)
    goal = measured.balance.goal_gph if measured is not None else GOAL_GPH
    wanted = GOAL_SHARE * goal if wanted_u_spread_gph is None else wanted_u_spread_gph
    count, expected = FEWEST_SWEEPS, _expected(known, FEWEST_SWEEPS)
    while expected > wanted and count < MOST_SWEEPS:
        count += 2
        expected = _expected(known, count)
    times = OWN_TIMES if known else TYPICAL_TIMES
    rate = _rate(known)
    return FlightCard(
        tuple(_sweep(number, known, rate) for number in range(count)),
        rate,
        known.interval_s if known else None,
        known.largest_lag_s if known else None,
        wanted,
        expected,
        (expected / times, expected * times),
        expected <= wanted,
        known.sweeps if known else 0,
    )


def _known(measured: Measured | None) -> _Known | None:
    if measured is None:
        return None
    balance = measured.balance
    flows = [one.fuel_flow_at_peak_gph for one in balance.cylinders if one.fuel_flow_at_peak_gph is not None]
    used = [
        (result, peaks) for result in measured.results for peaks in result.peaks.sweeps if peaks.sweep.used
    ]
    told = [one for result, peaks in used if (one := _told_by(result, peaks)) is not None]
    lags = [
        peak.lag_s
        for result in measured.results
        for sweep in result.peaks.sweeps
        for peak in sweep.cylinders
        if peak.lag_s is not None
    ]
    intervals = [one.recording.interval_s for one in measured.results if one.recording.interval_s]
    if balance.u_spread_gph is None or balance.mean_flow_gph is None or not (told and lags and intervals):
        return None
    return _Known(
        max(flows),
        min(flows),
        _pressures([peaks.sweep for _, peaks in used]),
        balance.mean_flow_gph,
        max(lags),
        max(intervals),
        balance.u_spread_gph,
        len(told),
        sum(told),
        _passing(dict(balance.budget), len(told)),
    )


def _passing(budget: Mapping[str, float], sweeps: int) -> float:
    """Share of the variance that is not expected again [1].

    Lag goes with sweeps both ways; and by how much so few sweeps disagree is known too poorly to count with: all of it
    for two, half for four.
    """
    return budget.get("lag", 0.0) + budget.get("between-sweeps", 0.0) * min(1.0, 2.0 / sweeps)


def _told_by(result: RecordingResult, peaks: SweepPeaks) -> float | None:
    """What a sweep's flanks told; nothing where it gave fewer than two peaks."""
    flows = [one.fuel_flow_at_peak_gph for one in peaks.cylinders if one.fuel_flow_at_peak_gph is not None]
    swept = result.recording.values("fuel_flow", None, peaks.sweep.engine)
    if swept is None or len(flows) < FEWEST_PEAKS:
        return None
    rows = slice(*np.searchsorted(result.recording.time_s, [peaks.sweep.start_s, peaks.sweep.end_s]))
    good = swept[rows][np.isfinite(swept[rows]) & (swept[rows] > 0.0)]
    return _told(float(good.max()), float(good.min()), max(flows), min(flows)) if good.size else None


def _told(rich_gph: float, lean_gph: float, highest_gph: float, lowest_gph: float) -> float:
    """What a sweep between two flows tells of the spread, in an arbitrary measure: one over a variance [1].

    A top's place is told by its two flanks, each the less the shorter it is; the spread rests on the highest and the
    lowest peak.
    """
    left_open = 0.0
    for peak_gph in (highest_gph, lowest_gph):
        rich = max(float(np.log(rich_gph / peak_gph)), SHORTEST_FLANK)
        lean = max(float(np.log(peak_gph / lean_gph)), SHORTEST_FLANK)
        left_open += 1.0 / rich + LEAN_FLANK_COSTS / lean
    return 1.0 / left_open


def _pressures(used: Sequence[Sweep]) -> tuple[float | None, float | None]:
    """Two manifold pressures far enough apart: those flown, or the one flown and a lower one."""
    flown = [sweep.manifold_pressure_inhg for sweep in used if sweep.manifold_pressure_inhg is not None]
    if not flown:
        return None, None
    if max(flown) - min(flown) >= APART_INHG:
        return max(flown), min(flown)
    first = float(np.mean(flown))
    lower = first - STEP_DOWN_INHG
    return (first, lower) if lower >= LOWEST_INHG else (first + STEP_DOWN_INHG, first)


def _rate(known: _Known | None) -> float:
    """Mean pace of the lever [gal/h per s]: slow enough for the slowest probe and for the recording interval."""
    if known is None:
        return UNKNOWN_RATE_GPH_PER_S
    of_lag = LAG_SHIFT * known.mean_flow_gph / known.largest_lag_s
    of_interval = FLANK * known.mean_flow_gph / (ROWS_A_FLANK * known.interval_s)
    return float(np.clip(min(of_lag, of_interval), SLOWEST_GPH_PER_S, FASTEST_GPH_PER_S))


def _expected(known: _Known | None, sweeps: int) -> float:
    """Standard uncertainty of the spread that so many sweeps are expected to give [gal/h]."""
    if known is None:
        return TYPICAL_U_GPH * float(np.sqrt(FEWEST_SWEEPS / sweeps))
    rich, lean = known.highest_gph * (1.0 + RICH_MARGIN), known.lowest_gph * (1.0 - LEAN_MARGIN)
    tells = sweeps * _told(rich, lean, known.highest_gph, known.lowest_gph)
    lasting = max(1.0 - known.passing_share, 0.1)
    own = known.u_spread_gph * float(np.sqrt(lasting * known.told / tells))
    typical = _expected(None, sweeps)
    return float(own * (typical / own) ** (OWN_NOISE / known.sweeps))


def _sweep(number: int, known: _Known | None, rate: float) -> CardSweep:
    direction: Direction = "enriching" if number % 2 else "leaning"
    first = number // 2 % 2 == 0
    plain = CardSweep(number + 1, direction, first)
    if known is None:
        return plain
    pressure = known.pressures_inhg[0 if first else 1]
    reference = known.pressures_inhg[0]
    share = pressure / reference if pressure is not None and reference is not None else 1.0
    high, low = known.highest_gph * share, known.lowest_gph * share
    rich, lean = high * (1.0 + RICH_MARGIN), low * (1.0 - LEAN_MARGIN)
    brisk = high * (1.0 + BRISK_MARGIN), low * (1.0 - BRISK_MARGIN)
    slow = (rich - brisk[0] + brisk[1] - lean) / rate
    duration = slow + (brisk[0] - brisk[1]) / (BRISK_TIMES * rate)
    made = replace(
        plain,
        manifold_pressure_inhg=pressure,
        start_gph=rich,
        brisk_gph=brisk,
        end_gph=lean,
        duration_s=duration,
    )
    if direction == "enriching":
        made = replace(made, start_gph=lean, brisk_gph=brisk[::-1], end_gph=rich)
    return made
