"""Means, deviations, straight lines and parabolas to the digits that are certified (N1).

Source: NIST/ITL Statistical Reference Datasets (StRD). Norris is the file as it stands in the wheel of SciPy (``nist/README.md``);
NumAcc1 to NumAcc4 are made by their rule, and Pontius is typed, both from memory: that Pontius gives its certified residual
deviation to twelve digits shows that it was remembered right.
"""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from leanwright.analysis.witness import local_vertex

Floats = NDArray[np.float64]

NORRIS = Path(__file__).parent / "nist" / "Norris.dat"
NORRIS_CERTIFIED = np.array([-0.262323073774029, 1.00211681802045])
PONTIUS_Y = np.array(
    [
        ".11019",
        ".21956",
        ".32949",
        ".43899",
        ".54803",
        ".65694",
        ".76562",
        ".87487",
        ".98292",
        "1.09146",
        "1.20001",
        "1.30822",
        "1.41599",
        "1.52399",
        "1.63194",
        "1.73947",
        "1.84646",
        "1.95392",
        "2.06128",
        "2.16844",
        ".11052",
        ".22018",
        ".32939",
        ".43886",
        ".54798",
        ".65739",
        ".76596",
        ".87474",
        ".98300",
        "1.09150",
        "1.20004",
        "1.30818",
        "1.41613",
        "1.52408",
        "1.63159",
        "1.73965",
        "1.84696",
        "1.95445",
        "2.06177",
        "2.16829",
    ],
    dtype=np.float64,
)
PONTIUS_X = np.tile(150_000.0 * np.arange(1, 21), 2)
PONTIUS_CERTIFIED = np.array([0.673565789473684e-3, 0.732059160401003e-6, -0.316081871345029e-14])
PONTIUS_RESIDUAL_DEVIATION = 0.205177424076185e-3
UNIVARIATE = {
    "NumAcc1": (np.array([10_000_001.0, 10_000_003.0, 10_000_002.0]), 10_000_002.0, 1.0, 13.0),
    "NumAcc2": (np.array([1.2, *500 * [1.1, 1.3]]), 1.2, 0.1, 13.0),
    "NumAcc3": (np.array([1_000_000.2, *500 * [1_000_000.1, 1_000_000.3]]), 1_000_000.2, 0.1, 8.0),
    "NumAcc4": (np.array([10_000_000.2, *500 * [10_000_000.1, 10_000_000.3]]), 10_000_000.2, 0.1, 8.0),
}
"""Values, certified mean and standard deviation, and the digits of the latter that can be had in double precision."""


def digits(found: Floats | float, certified: Floats | float) -> float:
    """How many digits of the worst value are right: the base-ten logarithm of its relative error, without its sign."""
    error = np.max(np.abs(np.asarray(found) / np.asarray(certified) - 1.0))
    return float(-np.log10(max(error, 1e-16)))


def line(x: Floats, y: Floats) -> Floats:
    """Offset and slope of the straight line as the program fits one."""
    return np.asarray(np.linalg.lstsq(np.column_stack((np.ones_like(x), x)), y, rcond=None)[0])


def norris() -> tuple[Floats, Floats]:
    """Readings of a monitor against a reference."""
    rows = np.array(
        [row.split() for row in NORRIS.read_text("ascii").splitlines()[60:] if row.strip()], dtype=np.float64
    )
    return rows[:, 1], rows[:, 0]


@pytest.mark.promise("N1")
@pytest.mark.parametrize("name", UNIVARIATE)
def test_means_and_deviations_have_the_certified_digits(name: str) -> None:
    """Source: NIST StRD, univariate sets NumAcc1 to NumAcc4."""
    values, mean, deviation, certain = UNIVARIATE[name]
    assert digits(float(values.mean()), mean) >= 13.0
    assert digits(float(values.std(ddof=1)), deviation) >= certain


@pytest.mark.promise("N1")
def test_a_straight_line_has_the_certified_digits_and_canary_a_spoiled_set_misses_them() -> None:
    """Source: NIST StRD, linear regression, Norris."""
    x, y = norris()
    assert digits(line(x, y), NORRIS_CERTIFIED) >= 11.0
    spoiled = np.where(np.arange(y.size) == 0, y + 1e-6, y)
    assert digits(line(x, spoiled), NORRIS_CERTIFIED) < 11.0


@pytest.mark.promise("N1")
def test_the_local_parabola_has_the_certified_digits_and_canary_a_spoiled_set_misses_them() -> None:
    """Source: NIST StRD, linear regression, Pontius: a parabola, here by its top and its bend."""
    _, slope, bend = PONTIUS_CERTIFIED
    certified = np.array([-slope / (2.0 * bend), 2.0 * bend])
    top, _, second = local_vertex(PONTIUS_X, PONTIUS_Y)
    assert digits(np.array([top, second]), certified) >= 11.0
    spoiled = np.where(np.arange(PONTIUS_Y.size) == 0, PONTIUS_Y + 1e-6, PONTIUS_Y)
    top, _, second = local_vertex(PONTIUS_X, spoiled)
    assert digits(np.array([top, second]), certified) < 7.0


def test_what_was_typed_from_memory_gives_the_certified_residual_deviation() -> None:
    """Source: NIST StRD, Pontius, certified residual standard deviation 0.205177424076185E-03."""
    residual = PONTIUS_Y - np.polynomial.polynomial.polyval(PONTIUS_X, PONTIUS_CERTIFIED)
    deviation = float(residual @ residual / (PONTIUS_X.size - 3)) ** 0.5
    assert digits(deviation, PONTIUS_RESIDUAL_DEVIATION) >= 12.0
