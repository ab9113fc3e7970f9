"""In which order a file's rows were written: the oldest first, as a panel does, or the newest first."""

import itertools
from collections.abc import Iterable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.findings import Finding

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]

FEWEST_STEPS: Final = 5
FALLING_SHARE: Final = 0.9


def oldest_first(seconds: Floats, headers: Iterable[int]) -> tuple[Rows, tuple[int, ...]] | None:
    """The rows from the oldest on, and the rows before which a header stands then; ``None`` if they are so already.

    ``seconds`` [s] holds no NaN; a header may part the file into sections, which are judged one by one.

    >>> oldest_first(np.array([5.0, 4, 3, 2, 1, 0]), ())
    (array([5, 4, 3, 2, 1, 0]), ())
    """
    count = seconds.size
    edges = sorted({0, *(row for row in headers if 0 < row < count), count})
    sections = [np.arange(first, last) for first, last in itertools.pairwise(edges)]
    falls = [_falls(seconds[rows]) for rows in sections]
    if True not in falls:
        return None
    if False not in falls and _falls_throughout(seconds[edges[:-1]]):
        return np.arange(count)[::-1].copy(), tuple(sorted(count - row for row in edges[1:-1]))
    turned = [rows[::-1] if fall else rows for rows, fall in zip(sections, falls, strict=True)]
    return np.concatenate(turned), tuple(edges[1:-1])


def _falls(seconds: Floats) -> bool | None:
    """Whether time falls steadily from row to row; ``None`` where too few steps tell."""
    steps = np.diff(seconds)
    steps = steps[steps != 0]
    return None if steps.size < FEWEST_STEPS else float(np.mean(steps < 0)) >= FALLING_SHARE


def _falls_throughout(seconds: Floats) -> bool:
    return bool(np.all(np.diff(seconds) <= 0))


def told() -> Finding:
    """What is said of a file whose rows were turned round."""
    return Finding(
        "note",
        "newest-first",
        "The newest row stands first: the rows are read from the last line up, and keep the line numbers of the file.",
    )
