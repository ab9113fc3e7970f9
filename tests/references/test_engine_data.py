"""The top of a smooth curve through measured points of a real engine, against a published smoother.

Source: nitrogen oxides against equivalence ratio, 22 runs of a single-cylinder engine (Brinkman, SAE Trans. 90, 1981), with
the published local regression, as the package scikit-misc carries them (``engine_data/README.md``).
"""

import re
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from leanwright.analysis.witness import WINDOW, local_vertex

Floats = NDArray[np.float64]

FOLDER = Path(__file__).parent / "engine_data"
LOESS_TOP = 0.9215
"""Top of the published local regression (span 2/3, degree 2), computed with scikit-misc 0.5.3 on a grid of 0.00025."""


def numbers(name: str, after: str) -> Floats:
    text = (FOLDER / name).read_text("ascii")
    found = re.findall(r"-?\d+\.\d+", text[text.index(after) + len(after) :])
    return np.array(found[:22], dtype=np.float64)


@pytest.fixture
def runs() -> tuple[Floats, Floats]:
    ratio, oxides = numbers("gas_data", "E (observations)"), numbers("gas_data", "NOx (response)")
    order = np.argsort(ratio)
    return ratio[order], oxides[order]


def top(ratio: Floats, oxides: Floats, half_width: float) -> tuple[float, float]:
    """The plain local fit in ln(ratio), followed to its own vertex as in the second witness."""
    x = np.log(ratio)
    centre, u = float(x[np.argmax(oxides)]), np.inf
    for _ in range(10):
        near = np.abs(x - centre) < half_width
        centre, u, bend = local_vertex(x[near], oxides[near])
        assert bend < 0.0
    return centre, u


def test_the_table_is_the_published_one(runs: tuple[Floats, Floats]) -> None:
    ratio, oxides = runs
    assert (ratio.size, ratio[0], ratio[-1], oxides.max()) == (22, 0.665, 1.224, 5.344)
    fitted = numbers("gas_result", "loess(&gas):")
    assert fitted[:4] == pytest.approx([4.883437, 2.927639, 3.572746, 4.710510], abs=1e-6)


def test_the_plain_fit_finds_the_top_where_the_published_smoother_has_it(
    runs: tuple[Floats, Floats],
) -> None:
    centre, u = top(*runs, WINDOW)
    assert np.exp(centre) == pytest.approx(LOESS_TOP, abs=0.02)
    assert abs(centre - np.log(LOESS_TOP)) < 3.0 * u


def test_a_wide_window_leans_to_the_flatter_flank_which_is_why_one_window_serves_all(
    runs: tuple[Floats, Floats],
) -> None:
    # The flank below the top is the flatter one here. Windows twice as wide differ by more than a percent.
    assert top(*runs, 2.0 * WINDOW)[0] < top(*runs, WINDOW)[0] - 0.01


def test_the_plain_fit_agrees_with_a_quadratic_of_the_library_over_the_same_window(
    runs: tuple[Floats, Floats],
) -> None:
    ratio, oxides = runs
    inside = (ratio > 0.75) & (ratio < 1.08)
    slope = np.polyfit(ratio[inside], oxides[inside], 2)
    vertex, u, _ = local_vertex(ratio[inside], oxides[inside])
    assert vertex == pytest.approx(-slope[1] / (2.0 * slope[0]), abs=1e-9)
    assert 0.001 < u < 0.02
