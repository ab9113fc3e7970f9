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
FEW: Final = 16
"""Of numbers with more decimals the first ones tell it already."""


def smallest_step(values: Floats) -> float | None:
    """Smallest step between different values, of six digits; ``None`` with fewer than two.

    >>> smallest_step(np.array([14.1, 14.3, np.nan, 15.0, 14.1])), smallest_step(np.array([7.0, 7.0]))
    (0.2, None)
    """
    finite = np.isfinite(values)
    known = values if finite.all() else values[finite]
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
        if _are_whole(known[:FEW] * scale) and _are_whole(counts := known * scale):
            met = np.zeros(round(high * scale) - round(low * scale) + 1, dtype=np.bool_)
            met[(counts - round(low * scale) + 0.5).astype(np.int64)] = True
            places = np.flatnonzero(met)
            return float((places[1:] - places[:-1]).min()) / scale if places.size > 1 else np.inf
    return None


def _are_whole(counts: Floats) -> bool:
    return bool(np.abs(counts - np.rint(counts)).max() < WITHIN)
