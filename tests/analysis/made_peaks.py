"""Synthetic peaks whose truth and covariance are known. Invented engines; no real data."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.peak import CylinderPeak, Peaks, SweepPeaks
from leanwright.analysis.sweep import Direction, Sweep
from leanwright.findings import Statement

Floats = NDArray[np.float64]


def made_sweep(
    direction: Direction = "leaning",
    pressure: float | None = 22.0,
    speed: float | None = 2300.0,
    *,
    used: bool = True,
) -> Sweep:
    """A sweep at a manifold pressure [inHg] and an engine speed [rpm]."""
    return Sweep(0.0, 150.0, direction, used, None, pressure, speed, 6500.0)


def made_peaks(
    flows: Sequence[Sequence[float]] | Floats,
    u: float = 0.001,
    sweeps: Sequence[Sweep] = (),
    absent: Mapping[tuple[int, int], CylinderPeak] | None = None,
    covariance: Floats | None = None,
    statements: Sequence[Statement] = (),
) -> Peaks:
    """Peaks of ``flows`` [gal/h], shape (sweeps, cylinders).

    ``u`` is their independent relative uncertainty [1] unless a whole covariance is given; ``absent`` replaces
    what is said of (sweep, cylinder) and takes its value away.
    """
    flows = np.array(flows, dtype=np.float64)
    absent = absent or {}
    sweeps = tuple(sweeps) or tuple(made_sweep() for _ in flows)
    index = tuple(
        (row, column + 1)
        for row in range(flows.shape[0])
        for column in range(flows.shape[1])
        if (row, column + 1) not in absent
    )
    whole = u**2 * np.eye(len(index)) if covariance is None else covariance
    return Peaks(
        sweeps=tuple(
            SweepPeaks(
                sweeps[row],
                tuple(
                    absent.get((row, column + 1), CylinderPeak(column + 1, "peaked", flow, u * flow))
                    for column, flow in enumerate(flows[row].tolist())
                ),
                statements=tuple(statements),
            )
            for row in range(flows.shape[0])
        ),
        index=index,
        log_flow=np.array([np.log(flows[row, cylinder - 1]) for row, cylinder in index]),
        covariance=whole,
        parts={"reading-noise": 0.25 * whole, "lag": 0.75 * whole},
    )


def random_covariance(seed: int, size: int, u: float = 0.001) -> Floats:
    """A full covariance with standard uncertainties of about ``u``."""
    mixed = np.random.default_rng(seed).normal(size=(size, size)) / np.sqrt(size)
    whole: Floats = u**2 * (0.5 * mixed @ mixed.T + 0.5 * np.eye(size))
    return whole
