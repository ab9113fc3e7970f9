"""What is believed of causes before any recording is looked at: one place, with the reasons in docs/theory/causes.md."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

Cause = Literal[
    "nozzle-size",
    "nozzle-blocked",
    "nozzles-exchanged",
    "intake-leak",
    "air-bleed-blocked",
    "plug-dead",
    "ignition-weak",
    "low-airflow",
    "probe-slow",
    "probe-dead",
    "probes-exchanged",
    "flow-misscaled",
    "none",
]
CAUSES: Final[tuple[Cause, ...]] = (
    "nozzle-size",
    "nozzle-blocked",
    "nozzles-exchanged",
    "intake-leak",
    "air-bleed-blocked",
    "plug-dead",
    "ignition-weak",
    "low-airflow",
    "probe-slow",
    "probe-dead",
    "probes-exchanged",
    "flow-misscaled",
)
"""Every cause but "none", in the order of :data:`Cause`."""


@dataclass(frozen=True, slots=True)
class Size:
    """One normal piece of the prior of a size: ``weight`` [1], ``mean`` and ``sd`` [unit of the cause's size]."""

    weight: float
    mean: float
    sd: float


CHANCES: Final[Mapping[str, float]] = {
    "nozzle-size": 0.30,
    "nozzle-blocked": 0.10,
    "nozzles-exchanged": 0.05,
    "intake-leak": 0.12,
    "air-bleed-blocked": 0.06,
    "plug-dead": 0.06,
    "ignition-weak": 0.06,
    "low-airflow": 0.06,
    "probe-slow": 0.08,
    "probe-dead": 0.06,
    "probes-exchanged": 0.06,
    "flow-misscaled": 0.08,
}
"""Chance that an engine whose owner asks has the cause at one cylinder or more [1]."""

NEW: Final[Mapping[str, float]] = {
    "nozzle-size": 0.05,
    "nozzle-blocked": 0.90,
    "nozzles-exchanged": 0.80,
    "intake-leak": 0.70,
    "air-bleed-blocked": 0.80,
    "plug-dead": 0.80,
    "ignition-weak": 0.60,
    "low-airflow": 0.60,
    "probe-slow": 0.40,
    "probe-dead": 0.70,
    "probes-exchanged": 0.50,
    "flow-misscaled": 0.50,
}
"""Chance that a cause which is there has come since the earlier recordings [1]."""

SIZES: Final[Mapping[str, tuple[Size, ...]]] = {
    "nozzle-size": (Size(0.5, 0.0, 2.5), Size(0.35, 0.0, 6.0), Size(0.15, 0.0, 13.0)),
    "nozzle-blocked": (Size(0.4, 3.5, 1.5), Size(0.4, 8.0, 3.0), Size(0.2, 18.0, 6.0)),
    "nozzles-exchanged": (Size(1.0, 0.0, 6.0),),
    "intake-leak": (
        Size(0.35, 0.035, 0.008),
        Size(0.3, 0.055, 0.010),
        Size(0.2, 0.085, 0.014),
        Size(0.15, 0.130, 0.022),
    ),
    "air-bleed-blocked": (Size(0.3, 0.12, 0.06), Size(0.35, 0.3, 0.1), Size(0.35, 0.6, 0.25)),
    "plug-dead": (Size(1.0, 55.0, 15.0),),
    "ignition-weak": (Size(0.6, 0.3, 0.4), Size(0.4, 2.5, 1.5)),
    "low-airflow": (Size(0.4, 3.0, 1.2), Size(0.4, 6.5, 2.0), Size(0.2, 14.0, 4.0)),
    "probe-slow": (Size(0.4, 0.95, 0.2), Size(0.4, 1.5, 0.3), Size(0.2, 2.2, 0.35)),
    "probe-dead": (Size(1.0, 0.0, 0.0),),
    "flow-misscaled": (Size(1.0, 0.0, 6.0),),
}
"""Sizes. nozzle-size: flow against the right one [percent]. nozzle-blocked, low-airflow: flow or air lost [percent].
nozzles-exchanged: how far the two differ [percent]. intake-leak: hole [in]. air-bleed-blocked: share of the suction
that reaches the nozzle's chamber [1]. plug-dead: rise of the EGT [degF]. ignition-weak: how early the top seems
[percent]. probe-slow: logarithm of the time constant over the usual one [1]. flow-misscaled: reading over true
flow less 1 [percent]."""


@dataclass(frozen=True, slots=True)
class Scatter:
    """How far healthy engines are from alike, and from one day to the next: standard deviations."""

    offsets_percent: tuple[tuple[float, float], ...] = ((0.5, 0.45), (0.5, 1.1))
    """offsets of cylinders that nobody would call uneven: share of the engines [1], and how far theirs are from alike"""
    offset_of_nozzle_percent: float = 0.35
    """the part of it that the nozzles make, which a bottle test sees"""
    offset_between_settings_percent: float = 0.10
    """how differently a healthy intake shares the air at another setting"""
    offset_between_days_percent: float = 0.15
    height_df: float = 25.0
    """EGT at peak from probe to probe"""
    height_between_days_df: float = 5.0
    usual_lag_s: float = 2.3
    log_lag: float = 0.45
    log_lag_of_engine: float = 0.15
    log_lag_between_days: float = 0.08
    log_lag_of_day: float = 0.1
    """of all lags of a day together: they are told against the flow's, whose reading has a lag too"""
    head_percent: float = 5.0
    """rise of the head over the outside air"""
    head_between_days_percent: float = 1.3
    head_of_offset: float = 0.2
    """the same for each percent by which the cylinder's peak lies off the others': it runs at other mixtures in the same sweep [1]"""
    level_between_days_percent: float = 1.2
    """flow at peak for the same air: fuel, density, the air's own reading"""
    pressure_between_days_percent: float = 1.5
    fill_up_percent: float = 1.0


@dataclass(frozen=True, slots=True)
class Priors:
    """All that is believed beforehand; :data:`DEFAULT` unless the owner says otherwise.

    ``chances`` [1] that an engine has a cause, and ``new`` [1] that it has come of late.
    """

    chances: Mapping[str, float] = field(default_factory=lambda: dict(CHANCES))
    new: Mapping[str, float] = field(default_factory=lambda: dict(NEW))
    sizes: Mapping[str, tuple[Size, ...]] = field(default_factory=lambda: dict(SIZES))
    scatter: Scatter = field(default_factory=Scatter)
    share_of_uneven: float = 0.4
    """Share of the engines with a nozzle of the wrong size whose intake shares the air unevenly: there many cylinders
    have one, always had, and not one by itself [1]."""
    wrong_in_uneven: float = 0.6
    """Chance that a cylinder of such an engine has a nozzle of the wrong size [1]."""
    share_of_intake: float = 0.5
    """Chance that a nozzle of the wrong size is one that does not match its share of the air, rather than one
    whose flow is off: only a bottle test tells the two apart [1]."""


DEFAULT: Final = Priors()
