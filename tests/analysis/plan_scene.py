"""Balances with a known truth for the tests of planning and comparing. Invented engines; no real data."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.balance import Balance, balance
from leanwright.analysis.peak import CylinderPeak, Peaks
from tests.analysis.made_peaks import made_peaks, made_sweep

Floats = NDArray[np.float64]

TWO_OUT = (12.0, 12.05, 12.6, 11.95, 11.4, 12.0)
"""Cylinder 3 lean by 5 percent, 5 rich by as much, the others close."""


def flown(
    flows: Sequence[float],
    *,
    sweeps: int = 4,
    u: float = 0.001,
    seed: int | None = None,
    absent: Sequence[int] = (),
) -> tuple[Balance, list[Peaks]]:
    """A balance of so many sweeps, with or without errors of ``u`` [1] in each, and its peaks."""
    rows = np.tile(np.array(flows), (sweeps, 1))
    if seed is not None:
        rows = rows * np.exp(np.random.default_rng(seed).normal(0.0, u, rows.shape))
    kinds = [made_sweep("enriching" if one % 2 else "leaning") for one in range(sweeps)]
    lost = {
        (sweep, number): CylinderPeak(number, "no-signal") for sweep in range(sweeps) for number in absent
    }
    peaks = [made_peaks(rows, u=u, sweeps=kinds, absent=lost)]
    return balance(peaks, cylinders=len(flows)), peaks
