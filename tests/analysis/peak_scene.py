"""Sweeps made by hand with a known peak, lag and noise. Invented engines; no real data.

The curve is a hyperbola on each side, not the one that the estimator fits; the lags are those of scipy's solver.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter, lsim

from leanwright.analysis.excerpt import Excerpt, excerpt
from leanwright.analysis.peak_joint import Ready, ready
from leanwright.analysis.sweep import Direction, Sweep
from leanwright.recordings.recording import Channel, Recording
from tests.analysis.scene import recording

Floats = NDArray[np.float64]

FINE_S = 0.1
PEAKS_GPH = (11.6, 11.8, 12.0, 12.1, 12.25, 12.4)
LAGS_S = (1.5, 2.0, 2.5, 3.0, 3.5, 2.2)


def lagged(signal: Floats, tau_s: float, step_s: float = FINE_S) -> Floats:
    """A first-order lag that starts settled, by scipy."""
    time = step_s * np.arange(signal.size)
    _, out, _ = lsim(([1.0], [tau_s, 1.0]), signal - signal[0], time)
    return np.asarray(out + signal[0], dtype=np.float64)


def steady_egt(flow: Floats, peak_gph: float, rich: float = 850.0, lean: float = 1100.0) -> Floats:
    """EGT without lag and noise, highest at the peak [degF]."""
    x = np.log(flow / peak_gph)
    return np.asarray(1500.0 - np.where(x > 0, rich, lean) * (np.sqrt(x**2 + 0.04**2) - 0.04))


@dataclass(frozen=True)
class Flown:
    """What is flown: the lever's corners in time [s] and flow [gal/h], the engine, the noise."""

    times_s: Sequence[float] = (0.0, 40.0, 160.0, 175.0, 180.0, 215.0)
    flows_gph: Sequence[float] = (14.0, 14.0, 10.4, 10.4, 14.0, 14.0)
    sweeps_s: Sequence[tuple[float, float, Direction]] = ((40.0, 160.0, "leaning"),)
    peaks_gph: Sequence[float] = PEAKS_GPH
    lags_s: Sequence[float] = LAGS_S
    interval_s: float = 1.0
    flow_step_gph: float = 0.1
    egt_step_f: float = 1.0
    common_f: float = 2.0
    own_f: float = 1.0
    flow_noise_gph: float = 0.02
    seed: int = 1
    slowing: float = 0.0
    """How far ln(power) falls with the square of ln(13 gal/h over flow): a fixed pitch [1]"""
    egt_per_log_power_f: float = 0.0
    """How far all EGTs fall with it [degF]"""
    power: Mapping[str, float] = field(
        default_factory=lambda: {"manifold_pressure": 22.4, "engine_speed": 2300.0}
    )

    def recording(self) -> Recording:
        """The recording."""
        random = np.random.default_rng(self.seed)
        fine = np.arange(0.0, self.times_s[-1], FINE_S)
        flow = np.interp(fine, self.times_s, self.flows_gph)
        log_power = -self.slowing * np.clip(np.log(13.0 / flow), 0.0, None) ** 2
        cooling = self.egt_per_log_power_f * log_power
        rows = np.arange(0, fine.size, round(self.interval_s / FINE_S))
        white = random.normal(0.0, self.common_f * np.sqrt(1.0 - np.exp(-2 * FINE_S / 8.0)), fine.size)
        common = np.asarray(lfilter([1.0], [1.0, -np.exp(-FINE_S / 8.0)], white))
        egt = {}
        for number, (peak, lag) in enumerate(zip(self.peaks_gph, self.lags_s, strict=True), start=1):
            steady = steady_egt(flow * np.exp(-log_power), peak) + cooling
            seen = lagged(steady + common + 10.0 * number, lag)[rows]
            egt[number] = rounded(seen + random.normal(0.0, self.own_f, rows.size), self.egt_step_f)
        shown = lagged(flow, 1.0)[rows] + random.normal(0.0, self.flow_noise_gph, rows.size)
        made = recording(
            fine[rows],
            egt,
            fuel_flow=rounded(shown, self.flow_step_gph),
            **{
                name: value * np.exp(log_power[rows] * (name == "manifold_pressure"))
                for name, value in self.power.items()
            },
        )
        steps = {"egt": self.egt_step_f, "fuel_flow": self.flow_step_gph}
        return replace(
            made, channels=tuple(replace(c, resolution=steps.get(c.quantity)) for c in made.channels)
        )

    def sweeps(self) -> tuple[Sweep, ...]:
        """The sweeps."""
        return tuple(sweep(*one) for one in self.sweeps_s)

    def excerpts(self) -> tuple[Excerpt, ...]:
        """Each sweep cut out, up to the middle of the rest between it and the next."""
        made, ends = self.recording(), [one[:2] for one in self.sweeps_s]
        middles = [0.5 * (first[1] + second[0]) for first, second in pairwise(ends)]
        limits = pairwise([-np.inf, *middles, np.inf])
        parts = [
            excerpt(made, one, not_before_s=before, not_after_s=after)
            for one, (before, after) in zip(self.sweeps(), limits, strict=True)
        ]
        return tuple(part for part in parts if part is not None)

    def ready(self) -> tuple[Ready, ...]:
        """Each sweep ready for the fit."""
        return tuple(ready(part) for part in self.excerpts())


QUICK = Flown(peaks_gph=(11.7, 12.0, 12.3), lags_s=(1.5, 2.5, 3.5), interval_s=2.0)
"""Three cylinders: quick to fit."""
PAIR = Flown(
    times_s=(0.0, 40.0, 160.0, 200.0, 320.0, 360.0),
    flows_gph=(14.0, 14.0, 10.4, 10.4, 14.0, 14.0),
    sweeps_s=((40.0, 160.0, "leaning"), (200.0, 320.0, "enriching")),
)


def rounded(values: Floats, step: float) -> Floats:
    return np.asarray(np.round(values / step) * step) if step > 0.0 else values


def sweep(start_s: float, end_s: float, direction: Direction = "leaning") -> Sweep:
    return Sweep(start_s, end_s, direction, True, None, 22.4, 2300.0, 6500.0)


def cut(made: Recording, one: Sweep) -> Excerpt:
    part = excerpt(made, one)
    assert part is not None
    return part


def offsets_percent(flows_gph: Sequence[float] | Floats) -> Floats:
    """100 ln(F / geometric mean)."""
    log = np.log(np.asarray(flows_gph, dtype=np.float64))
    return np.asarray(100.0 * (log - log.mean()))


def changed(made: Recording, quantity: str, cylinder: int | None = None, /, **new: object) -> Recording:
    """The recording with something of one channel replaced."""

    def one(channel: Channel) -> Channel:
        meant = (channel.quantity, channel.cylinder) == (quantity, cylinder)
        return replace(channel, **new) if meant else channel  # type: ignore[arg-type]  # passed through as named

    return replace(made, channels=tuple(one(channel) for channel in made.channels))


def with_values(made: Recording, values: Floats, quantity: str, cylinder: int | None = None) -> Recording:
    return changed(made, quantity, cylinder, values=np.asarray(values, dtype=np.float64))


def without(made: Recording, *quantities: str) -> Recording:
    return replace(made, channels=tuple(c for c in made.channels if c.quantity not in quantities))


def values_of(made: Recording, quantity: str, cylinder: int | None = None) -> Floats:
    found = made.values(quantity, cylinder)
    assert found is not None
    return found.copy()
