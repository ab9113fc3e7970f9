"""Gusts and noise: how large each is. Shapes stand in :mod:`leanwright.simulate.flight`."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Weather:
    """Standard deviations and times of every disturbance. "Percent" is of the quantity disturbed."""

    gusty: bool = False
    gust_egt_f: float = 1.2
    """Disturbance that moves all EGTs together, each by its own gain, before the probe [degF]."""
    gust_air_percent: float = 0.03
    """Disturbance of the air flow, seen in manifold pressure and, with a fixed pitch, in speed [percent]."""
    gust_time_s: float = 6.0
    """Time scale of the turbulence [s]."""
    sway_period_s: float = 45.0
    """Period of the slow swaying of height and speed [s]."""
    sway_share: float = 0.4
    """Share of the shared disturbance's variance that sways [-]."""
    power_drift_percent: float = 0.08
    """Slow wandering of the manifold pressure, over five minutes [percent]."""
    shared_drift_f: float = 4.0
    """Slow wandering of all EGTs together, over four minutes [degF]."""
    own_drift_f: float = 0.8
    """Slow wandering of each EGT alone, over five minutes [degF]."""
    own_noise_f: float = 1.0
    """Quick noise of each cylinder, before the probe's lag [degF]."""
    own_noise_time_s: float = 1.5
    """Time over which that noise is correlated [s]."""
    reading_noise_f: float = 0.5
    """White noise of each EGT reading [degF]."""
    metering_noise_percent: float = 0.03
    """Hunting of the metered flow itself, over four seconds [percent]."""
    flow_reading_noise_gph: float = 0.015
    """White noise of the flow reading [gal/h]."""
    warmer_k: float = 0.0
    """Outside air above the standard atmosphere [K]."""
