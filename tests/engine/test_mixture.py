"""The exhaust-temperature table against the reference library that can compute it: Cantera.

Each number below was computed with Cantera 3.2.0 outside the project; the points of the table are computed again here.
"""

import importlib.util
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from leanwright.engine import mixture

PLACE = Path(__file__).parents[2] / "benchmarks" / "exhaust_table.py"


@pytest.fixture(scope="module")
def reference() -> ModuleType:
    """The program that computes the cycle with the reference library."""
    spec = importlib.util.spec_from_file_location("exhaust_table_maker", PLACE)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("loss", [0.0, 0.125, 0.25])
@pytest.mark.parametrize("phi", [0.55, 0.8, 0.95, 1.0, 1.0025, 1.05, 1.3, 1.6])
def test_the_table_is_what_equilibrium_thermodynamics_gives(
    reference: ModuleType, phi: float, loss: float
) -> None:
    point = reference.cycle(phi, loss)
    assert mixture.exhaust_temperature(phi, loss) == pytest.approx(point.exhaust_temperature_k, abs=0.02)
    assert mixture.work_per_air(phi, loss) == pytest.approx(1e-3 * point.work_per_air, abs=0.02)


@pytest.mark.parametrize(("phi", "loss"), [(0.875, 0.06), (0.9775, 0.2), (1.12, 0.19)])
def test_between_its_points_the_table_is_right_within_two_kelvin(
    reference: ModuleType, phi: float, loss: float
) -> None:
    assert mixture.exhaust_temperature(phi, loss) == pytest.approx(
        reference.cycle(phi, loss).exhaust_temperature_k, abs=2.0
    )


def test_compression_and_manifold_pressure_do_not_move_the_peak(reference: ModuleType) -> None:
    grid = np.arange(0.99, 1.0201, 0.0025)
    for changed in ({"compression_ratio": 7.3}, {"start_pa": 65e3}):
        temperatures = [reference.cycle(phi, 0.0, **changed).exhaust_temperature_k for phi in grid]
        assert grid[np.argmax(temperatures)] == pytest.approx(1.004, abs=0.003)


@pytest.mark.parametrize(("loss", "peak"), [(0.0, 1.0040), (0.25, 1.0000)])
def test_exhaust_temperature_peaks_between_1_000_and_1_005(loss: float, peak: float) -> None:
    """Computed: 1.003 to 1.005 without loss, 1.000 with a quarter of the heat lost."""
    phi = np.arange(0.99, 1.0101, 0.0005)
    assert phi[np.argmax(mixture.exhaust_temperature(phi, loss))] == pytest.approx(peak, abs=0.002)


@pytest.mark.parametrize(
    ("loss", "lean", "rich", "ratio"), [(0.0, 1170.0, -791.0, 1.48), (0.25, 860.0, -656.0, 1.31)]
)
def test_the_lean_flank_is_steeper_than_the_rich_one(
    loss: float, lean: float, rich: float, ratio: float
) -> None:
    """Slopes over 0.85 to 0.95 and 1.05 to 1.15 [K per unit equivalence ratio], computed."""
    a, b, c, d = mixture.exhaust_temperature([0.85, 0.95, 1.05, 1.15], loss)
    assert (b - a) / 0.1 == pytest.approx(lean, rel=0.02)
    assert (d - c) / 0.1 == pytest.approx(rich, rel=0.02)
    assert (b - a) / (c - d) == pytest.approx(ratio, abs=0.05)


# Loss, scatter, peak, and percent of flow at peak lean and rich at which EGT is 25, 50, 100, 150 degF below its top.
ROUNDED = [
    (0.0, 0.03, 1.006, (-3.2, 3.5), (-4.7, 5.4), (-7.2, 8.8), (-9.6, 12.4)),
    (0.0, 0.05, 1.008, (-4.1, 4.6), (-5.9, 6.8), (-8.7, 10.7), (-11.2, 14.4)),
    (0.25, 0.03, 1.002, (-3.7, 4.0), (-5.5, 6.2), (-8.8, 10.4), (-12.0, 14.7)),
    (0.25, 0.05, 1.003, (-4.7, 5.2), (-6.9, 7.7), (-10.3, 12.3), (-13.6, 16.7)),
    (0.25, 0.08, 1.005, (-6.0, 6.5), (-8.5, 9.7), (-12.4, 14.8), (-15.8, 19.5)),
]


@pytest.mark.parametrize(("loss", "scatter", "peak", "w25", "w50", "w100", "w150"), ROUNDED)
def test_scatter_inside_the_cylinder_rounds_the_top(
    loss: float,
    scatter: float,
    peak: float,
    w25: tuple[float, float],
    w50: tuple[float, float],
    w100: tuple[float, float],
    w150: tuple[float, float],
) -> None:
    """Widths computed from the same cycle on a finer grid, tolerance 0.2 percent of flow."""
    assert mixture.peak_equivalence_ratio(loss, scatter) == pytest.approx(peak, abs=0.0015)
    phi = np.linspace(0.7, 1.3, 3001)
    below = 1.8 * (mixture.rounded_exhaust_temperature(phi, loss, scatter))
    top, i = below.max(), int(np.argmax(below))
    for drop, widths in zip((25.0, 50.0, 100.0, 150.0), (w25, w50, w100, w150), strict=True):
        lean = np.interp(top - drop, below[: i + 1], phi[: i + 1])
        rich = np.interp(drop - top, -below[i:], phi[i:])
        found = (100.0 * (lean / phi[i] - 1.0), 100.0 * (rich / phi[i] - 1.0))
        assert found == pytest.approx(widths, abs=0.2)


def test_without_scatter_rounding_changes_nothing() -> None:
    phi = np.array([0.8, 1.0, 1.2])
    assert mixture.rounded_exhaust_temperature(phi, 0.1, 0.0) == pytest.approx(
        mixture.exhaust_temperature(phi, 0.1)
    )


@pytest.mark.parametrize(("loss", "peak"), [(0.0, 1.08), (0.25, 1.014)])
def test_work_peaks_rich_of_the_exhaust_temperature(loss: float, peak: float) -> None:
    """Computed; without loss it agrees with NACA TR-189's fuel/air ratio of 0.07 to 0.08 for most power."""
    phi = np.arange(0.95, 1.2, 0.001)
    assert phi[np.argmax(mixture.work_per_air(phi, loss))] == pytest.approx(peak, abs=0.01)
    if loss == 0.0:
        assert 0.070 < mixture.STOICHIOMETRIC_FUEL_AIR * peak < 0.080


def test_stoichiometric_ratio_is_that_of_iso_octane(reference: ModuleType) -> None:
    """15.13 by the reference library; Heywood's formula for CHy with y = 2.25 gives the same."""
    gas = reference.mixture_of_gases()
    gas.set_equivalence_ratio(1.0, reference.FUEL, reference.AIR)
    fuel = gas.Y[gas.species_index(reference.FUEL)]
    air_fuel = 1.0 / mixture.STOICHIOMETRIC_FUEL_AIR
    assert air_fuel == pytest.approx((1.0 - fuel) / fuel, abs=0.002)
    assert air_fuel == pytest.approx(34.56 * 6.25 / (12.011 + 1.008 * 2.25), abs=0.02)


def test_fuel_and_air_in_the_right_masses_make_an_equivalence_ratio_of_one() -> None:
    assert mixture.equivalence_ratio(1.0, 15.132) == pytest.approx(1.0)


def test_a_loss_outside_the_table_is_refused() -> None:
    with pytest.raises(ValueError, match=r"loss 0.3 lies outside the table, 0.0 to 0.25"):
        mixture.exhaust_temperature(1.0, 0.3)


def test_a_top_at_the_end_is_refused() -> None:
    with pytest.raises(ValueError, match="there is no top inside"):
        mixture.top(np.arange(3.0), np.arange(3.0))


def test_a_parabola_gives_its_vertex_exactly() -> None:
    x = np.linspace(0.0, 2.0, 21)
    assert mixture.top(x, 5.0 - (x - 1.234) ** 2) == pytest.approx(1.234, abs=1e-12)
