"""The smallest step between the values of a column: how finely it was written."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

DECIMALS: Final = (0, 1, 2)
LARGEST: Final = 1e6
MOST_STEPS: Final = 1 << 18
WITHIN: Final = 1e-6
"""How far [of the last decimal] a value may lie from a number with so many decimals, for the rounding of floats."""


def smallest_step(values: Floats) -> float | None:
    """Smallest step between different values, of six digits; ``None`` with fewer than two.

    >>> smallest_step(np.array([14.1, 14.3, np.nan, 15.0, 14.1])), smallest_step(np.array([7.0, 7.0]))
    (0.2, None)
    """
    known = values[np.isfinite(values)]
    step = _step_of_decimals(known)
    if step is None:
        # Sorted by itself: the library's own function for this loads a part of it that nothing else here needs.
        steps = np.diff(np.sort(known))
        step = float(np.min(steps, where=steps > 0, initial=np.inf))
    return float(f"{step:.6g}") if np.isfinite(step) else None


def _step_of_decimals(known: Floats) -> float | None:
    """The same of numbers with few decimals, which need not be sorted; ``None`` for others, infinity for no step."""
    if not known.size:
        return np.inf
    low, high = float(known.min()), float(known.max())
    for decimals in DECIMALS:
        scale = 10.0**decimals
        if max(-low, high) * scale > LARGEST or (high - low) * scale >= MOST_STEPS:
            return None
        counts = known * scale
        whole = np.rint(counts)
        if np.abs(counts - whole).max() < WITHIN:
            met = np.zeros(int(whole.max() - whole.min()) + 1, dtype=np.bool_)
            met[(whole - whole.min()).astype(np.int64)] = True
            steps = np.diff(np.flatnonzero(met))
            return float(steps.min()) / scale if steps.size else np.inf
    return None
