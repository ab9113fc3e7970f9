"""Signs of causes that are no number with a normal error, as likelihood ratios: ignition checks, flanks, gaps."""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import lgamma
from statistics import NormalDist
from typing import Final

import numpy as np

from leanwright.analysis.ignition_check import IgnitionCheck, find_ignition_checks
from leanwright.analysis.lean_flank import Flank, lean_flanks
from leanwright.analysis.measured import Measured
from leanwright.analysis.odd_tops import Ragged, odd_tops
from leanwright.analysis.peak import Peaks
from leanwright.analysis.probe_gaps import Gaps, probe_gaps

# Reasons for every figure stand in docs/theory/causes.md.
GAPS_HEALTHY: Final = 0.006
MANY_ROWS: Final = 10_000
GAPS_TELL: Final = 0.03
FLANK_HEALTHY_F: Final = 14.0
FLANK_ODD: Final = 0.01
FLANK_ODD_F: Final = 60.0
FLANK_ANY: Final = 0.0005
FLANK_RANGE_F: Final = 700.0
FLANK_UNSEEN: Final = 0.3
RAGGED_WEAK: Final = 0.7
RAGGED_SOUND: Final = 0.01
RAGGED_SOUND_AGAIN: Final = 0.003
SILENT_WITHOUT_COUNT: Final = 3.0
COLLAPSE_F: Final = 80.0
COLLAPSE_RANGE_F: Final = 670.0
RESPONSE_ODD: Final = 0.003
RESPONSE_RANGE_F: Final = 1000.0
NO_RESPONSE_F: Final = -15.0
U_NO_RESPONSE_F: Final = 22.0
COMING_BACK: Final = 0.2
COMING_BACK_F: Final = (-100.0, 300.0)
U_RESPONSE_F: Final = 8.0
U_RESPONSE_SHARE: Final = 0.35


@dataclass(frozen=True, slots=True)
class Signs:
    """What was seen, by cylinder; a cylinder of which nothing can be said is not there.

    ``checks`` names the recording of each ignition check.
    """

    checks: tuple[tuple[str, IgnitionCheck], ...] = ()
    flanks: Mapping[int, tuple[str, Flank]] = field(default_factory=dict)
    gaps: Mapping[int, tuple[str, Gaps]] = field(default_factory=dict)
    log_ratio: Mapping[tuple[str, int], float] = field(default_factory=dict)
    """By cause and cylinder: log of the chance of what was seen with the cause over that without it."""
    ragged: Mapping[int, Ragged] = field(default_factory=dict)


def find_signs(measured: Measured) -> Signs:
    """Look for the signs in all recordings of one state.

    Parameters
    ----------
    measured : Measured
        What was measured of it.
    """
    checks: list[tuple[str, IgnitionCheck]] = []
    flanks: dict[int, tuple[str, Flank]] = {}
    gaps: dict[int, tuple[str, Gaps]] = {}
    for result in measured.results:
        recording, sweeps = result.recording, result.sweeps
        spans = [(sweep.start_s, sweep.end_s) for sweep in sweeps]
        checks += [
            (recording.name, check)
            for check in find_ignition_checks(recording, spans, engine=measured.engine)
        ]
        gaps_here = probe_gaps(recording, sweeps, _highest(result.peaks), engine=measured.engine)
        for number, gap in gaps_here.items():
            if number not in gaps or gap.share > gaps[number][1].share:
                gaps[number] = (recording.name, gap)
        for number, flank in lean_flanks(recording, sweeps, engine=measured.engine).items():
            if number not in flanks or flank.excess_df > flanks[number][1].excess_df:
                flanks[number] = (recording.name, flank)
    tops = odd_tops(measured)
    silent = {number for number, (_, gap) in gaps.items() if gap.share > GAPS_TELL}
    unread = {number: one for number, one in tops.silent.items() if number not in gaps}
    silent |= set(unread)
    flanks = {number: one for number, one in flanks.items() if number not in silent}
    ratio: dict[tuple[str, int], float] = {}
    usual = float(np.median([gap.share for _, gap in gaps.values()])) if gaps else 0.0
    for number, (_, gap) in gaps.items():
        ratio["probe-dead", number] = gaps_ratio(gap.share, usual, gap.rows)
    for number in unread:
        ratio["probe-dead", number] = SILENT_WITHOUT_COUNT
    for number, (_, flank) in flanks.items():
        ratio["ignition-weak", number] = flank_ratio(flank.excess_df)
    ragged = {number: one for number, one in tops.ragged.items() if number not in silent}
    for number, top in ragged.items():
        of_flank = ratio.get(("ignition-weak", number), 0.0)
        ratio["ignition-weak", number] = of_flank + ragged_ratio(top.sweeps)
    for number in set(range(1, measured.profile.cylinders + 1)) - silent:
        seen = [
            (check.response_df[number], check.median_df) for _, check in checks if number in check.response_df
        ]
        if seen:
            ratio["plug-dead", number] = ignition_ratio(seen)
    return Signs(tuple(checks), flanks, {**gaps, **unread}, ratio, ragged)


def _highest(peaks: Peaks) -> Mapping[float, float]:
    """The highest flow at peak of each sweep [gal/h], by its start [s]."""
    found = {}
    for swept in peaks.sweeps:
        flows = [
            one.fuel_flow_at_peak_gph for one in swept.cylinders if one.fuel_flow_at_peak_gph is not None
        ]
        if flows:
            found[swept.sweep.start_s] = max(flows)
    return found


def gaps_ratio(share: float, usual: float, rows: int = MANY_ROWS) -> float:
    """Log of the likelihood ratio of a dead or loose probe against a sound one, from its share of silent readings.

    Parameters
    ----------
    share, usual : float
        Share of its readings that say nothing, and the median share over the probes [1].
    rows : int, optional
        Of how many readings [1]: one silent reading of a dozen tells nothing, fifty of six hundred tell much.

    Returns
    -------
    float
        A dead or loose probe is silent for any share alike; a sound one for few readings: its share goes as (1 - p)^(b - 1) with
        mean 1 / (1 + b), and the number of silent rows is binomial in either case (beta-binomial: A. Gelman et al., *Bayesian
        Data Analysis*, 3rd ed., sec. 5.3) [1].
    """
    silent, b = max(share - usual, 0.0) * rows, 1.0 / GAPS_HEALTHY - 1.0
    sound = (
        float(np.log(b))
        + lgamma(rows + 1.0)
        - lgamma(rows - silent + 1.0)
        + lgamma(rows - silent + b)
        - lgamma(rows + b + 1.0)
    )
    return -float(np.log(rows + 1.0)) - sound


def flank_ratio(excess: float) -> float:
    """Log of the likelihood ratio of weak ignition against a sound one, from the lean flank.

    Parameters
    ----------
    excess : float
        How much farther the cylinder's EGT falls lean of its top than the others' do [degF].

    Returns
    -------
    float
        Sound flanks are exponentially distributed, with odd ones that reach farther and hardly any that lie anywhere; weak
        ones lie anywhere, or are not seen [1].
    """
    beyond = float(np.clip(excess, 0.0, FLANK_RANGE_F))
    sound = (
        (1.0 - FLANK_ODD - FLANK_ANY) / FLANK_HEALTHY_F * np.exp(-beyond / FLANK_HEALTHY_F)
        + FLANK_ODD / FLANK_ODD_F * np.exp(-beyond / FLANK_ODD_F)
        + FLANK_ANY / FLANK_RANGE_F
    )
    return float(np.log((1.0 - FLANK_UNSEEN) / FLANK_RANGE_F + FLANK_UNSEEN * sound) - np.log(sound))


def ragged_ratio(sweeps: int) -> float:
    """Log of the likelihood ratio of weak ignition against a sound one, from tops that no curve fits.

    Parameters
    ----------
    sweeps : int
        In how many sweeps the cylinder had no clean top while the others had theirs, about where theirs were [1].

    Returns
    -------
    float
        Weak ignition mostly leaves none, a sound cylinder hardly ever, twice still less [1].
    """
    return float(np.log(RAGGED_WEAK / (RAGGED_SOUND if sweeps == 1 else RAGGED_SOUND_AGAIN)))


def ignition_ratio(seen: Sequence[tuple[float, float]]) -> float:
    """Log of the likelihood ratio of one dead plug against two sound ones, from ignition checks.

    Parameters
    ----------
    seen : sequence of (float, float)
        For each time one ignition fired alone: what the cylinder's EGT did, and the median over all [degF].

    Returns
    -------
    float
        A sound cylinder's EGT rises with the others' each time; with a dead plug it does nothing on one ignition and
        collapses on the other [1]. Where it collapsed at one time it may still be coming back at another.
    """
    sound = 0.0
    still, fallen = [], []
    for response, median in seen:
        u = U_RESPONSE_F + U_RESPONSE_SHARE * abs(median)
        sound += np.log(
            (1.0 - RESPONSE_ODD) * NormalDist(median, u).pdf(response) + RESPONSE_ODD / RESPONSE_RANGE_F
        )
        low, high = COMING_BACK_F
        alone = len(seen) == 1
        quiet = NormalDist(NO_RESPONSE_F, U_NO_RESPONSE_F).pdf(response)
        back = COMING_BACK / (high - low) if low <= response <= high and not alone else 0.0
        still.append((1.0 if alone else 1.0 - COMING_BACK) * quiet + back + 1e-12)
        fallen.append(1.0 / COLLAPSE_RANGE_F if response < -COLLAPSE_F else 1e-9)
    ways = [
        np.prod([fallen[k] if k in down else still[k] for k in range(len(seen))]) for down in _ways(len(seen))
    ]
    return float(np.log(np.mean(ways)) - sound)


def _ways(count: int) -> list[tuple[int, ...]]:
    """In which of some checks the live plug's ignition may have been off: in some but, if there are two, not in all."""
    if count == 1:
        return [(), (0,)]
    if count > 6:
        first = [place for place in range(count) if place % 2 == 0]
        return [tuple(first), tuple(place for place in range(count) if place % 2)]
    return [down for size in range(1, count) for down in itertools.combinations(range(count), size)]
