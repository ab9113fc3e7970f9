"""What the readings scatter by besides the model: each probe's own noise, and the size of what all share."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.passage import Passage
from leanwright.analysis.probe_lag import lagged_noise

Floats = NDArray[np.float64]

OWN_TIME_S = 2.0
SLOW_F = 1.0
SLOW_TIME_S = 120.0
GAIN = 0.1
"""Standard deviation of the share by which cylinders answer differently to what disturbs all of them."""
GAIN_TIME_S = 12.0
COMMON_RANGE_F = (0.3, 20.0)
DRIFT_RANGE_F = (0.3, 40.0)
FORMER = 2.0
"""How many latents' worth of earlier knowledge stands behind the first sizes."""
OWN_RANGE_F = (0.3, 20.0)


@dataclass(frozen=True, slots=True)
class NoiseLevel:
    """Standard deviations before the probes' lag [degF]."""

    common_f: float = 3.0
    drift_f: float = 4.0
    own_f: float = 1.2


def whiteners(passage: Passage, level: NoiseLevel, log_lag: Floats) -> Floats:
    """Inverse lower factors of each cylinder's own covariance, eq. (9).

    Parameters
    ----------
    passage : Passage
        The sweep.
    level : NoiseLevel
        Sizes of the noise.
    log_lag : ndarray
        ln(lag in s) of each probe [1], shape (cylinders,).

    Returns
    -------
    ndarray
        [1/degF], shape (cylinders, means, means).
    """
    apart = np.abs(passage.time_s[:, None] - passage.time_s)
    shared = SLOW_F**2 * np.exp(-apart / SLOW_TIME_S)
    shared += (GAIN * level.common_f) ** 2 * np.exp(-apart / GAIN_TIME_S)
    total = shared + level.own_f**2 * own_covariance(passage, log_lag)
    every = np.arange(apart.shape[0])
    total[:, every, every] += passage.variance
    return np.linalg.inv(np.linalg.cholesky(total))


def own_covariance(passage: Passage, log_lag: Floats) -> Floats:
    """Covariance of each cylinder's own noise as its probe shows it, for unit variance before the probe.

    Parameters
    ----------
    passage : Passage
        The sweep.
    log_lag : ndarray
        ln(lag in s) of each probe [1], shape (cylinders,).

    Returns
    -------
    ndarray
        [1], shape (cylinders, means, means).
    """
    apart = np.abs(passage.time_s[:, None] - passage.time_s)
    return lagged_noise(apart, np.exp(log_lag)[:, None, None], OWN_TIME_S)


def own_level(
    passage: Passage, level: NoiseLevel, log_lag: Floats, whitener: Floats, left: Floats, free: float
) -> float:
    """Size of the own noise that the residuals tell, eq. (17).

    Parameters
    ----------
    passage : Passage
        The sweep.
    level : NoiseLevel
        Sizes that the residuals were whitened with.
    log_lag : ndarray
        ln(lag in s) of each probe that they were whitened with [1], shape (cylinders,).
    whitener : ndarray
        What they were whitened with [1/degF], shape (cylinders, means, means).
    left : ndarray
        Whitened residuals [1], shape (cylinders, means).
    free : float
        Share of the residuals that the fit left free [1].

    Returns
    -------
    float
        Standard deviation of the own noise [degF].
    """
    factor = np.matmul(
        whitener, np.linalg.cholesky(own_covariance(passage, log_lag) + 1e-9 * np.eye(left.shape[1]))
    )
    seen = np.einsum("imn,im->in", factor, left)
    ratio = float((seen**2).sum()) / max(free * float((factor**2).sum()), 1e-9)
    return float(np.clip(level.own_f * np.sqrt(ratio), *OWN_RANGE_F))


def shared_level(
    first_f: float, present_f: float, latent: Floats, certain: Floats, limits_f: tuple[float, float]
) -> float:
    """Size of noise that all share, from its latents, eq. (16).

    Parameters
    ----------
    first_f : float
        Size that is expected beforehand [degF].
    present_f : float
        Size that the latents are in units of [degF].
    latent : ndarray
        Their values [1], shape (latents,).
    certain : ndarray
        Share of each that the data tell [1], shape (latents,).
    limits_f : tuple of float
        Smallest and largest size [degF].

    Returns
    -------
    float
        Standard deviation [degF].
    """
    total = present_f**2 * float(latent @ latent) + FORMER * first_f**2
    return float(np.clip(np.sqrt(total / (float(certain.sum()) + FORMER)), *limits_f))
