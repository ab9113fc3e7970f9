"""Positions of peaks, and their uncertainties, against certified answers.

Source: NIST/ITL Statistical Reference Datasets (StRD), nonlinear regression, sets Eckerle4 and Gauss1; the files and
where they come from are in ``nist/README.md``.
"""

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import curve_fit, minimize_scalar

from leanwright.analysis.witness import local_vertex

Floats = NDArray[np.float64]

FOLDER = Path(__file__).parent / "nist"
PARAMETER = re.compile(r"^\s*b(\d+) =\s+(\S+)\s+(\S+)\s+(\S+)\s+(\S+)\s*$", re.MULTILINE)


@dataclass(frozen=True)
class Certified:
    """A problem with its certified answer, one entry a parameter."""

    x: Floats
    y: Floats
    starts: tuple[Floats, Floats]
    value: Floats
    deviation: Floats


def certified(name: str) -> Certified:
    text = (FOLDER / f"{name}.dat").read_text("ascii")
    parameters = np.array([match.groups()[1:] for match in PARAMETER.finditer(text)], dtype=np.float64)
    rows = np.array([line.split() for line in text.splitlines()[60:] if line.strip()], dtype=np.float64)
    first, second, value, deviation = parameters.T
    return Certified(rows[:, 1], rows[:, 0], (first, second), value, deviation)


def eckerle4(x: Floats, *b: float) -> Floats:
    return (b[0] / b[1]) * np.exp(-0.5 * ((x - b[2]) / b[1]) ** 2)


def gauss1(x: Floats, *b: float) -> Floats:
    first = b[2] * np.exp(-((x - b[3]) ** 2) / b[4] ** 2)
    second = b[5] * np.exp(-((x - b[6]) ** 2) / b[7] ** 2)
    return baseline(x, *b) + first + second


def baseline(x: Floats, *b: float) -> Floats:
    return b[0] * np.exp(-b[1] * x)


MODELS = {"Eckerle4": eckerle4, "Gauss1": gauss1}


@pytest.mark.parametrize("name", [*MODELS, "Norris"])
def test_the_files_are_those_that_were_certified(name: str) -> None:
    """Source: SHA-256 of the files in the archive, nist/README.md."""
    digest = hashlib.sha256((FOLDER / f"{name}.dat").read_bytes()).hexdigest()
    assert f"`{name}.dat`" in (FOLDER / "README.md").read_text("utf-8")
    assert digest in (FOLDER / "README.md").read_text("utf-8")


@pytest.mark.promise("N1")
@pytest.mark.parametrize("start", [0, 1])
@pytest.mark.parametrize("name", MODELS)
def test_least_squares_reaches_the_certified_peaks_and_their_uncertainty(name: str, start: int) -> None:
    """Source: NIST StRD Eckerle4 (b3) and Gauss1 (b4, b7): six digits of the value, four of its deviation.

    It is the reference library's solver that is checked here, which the simulators and tests lean on.
    """
    problem = certified(name)
    first = problem.starts[start]
    value, covariance = curve_fit(
        MODELS[name], problem.x, problem.y, p0=first, xtol=1e-14, ftol=1e-14, maxfev=10_000
    )
    np.testing.assert_allclose(value, problem.value, rtol=5e-7)
    np.testing.assert_allclose(np.sqrt(np.diag(covariance)), problem.deviation, rtol=5e-5)


def test_the_files_give_the_published_peak_positions() -> None:
    """Source: NIST StRD, certified values of Eckerle4 b3 and Gauss1 b4 and b7, typed from the files."""
    single, double = certified("Eckerle4"), certified("Gauss1")
    assert (single.value[2], single.deviation[2]) == (451.54121844, 0.046800518816)
    assert (double.value[3], double.deviation[3]) == (67.481111276, 0.10460593412)
    assert (double.value[6], double.deviation[6]) == (178.99805021, 0.12436988217)
    assert (single.x.size, double.x.size) == (35, 250)


@pytest.mark.promise("N1")
def test_the_local_fit_finds_the_single_peak_within_its_uncertainty() -> None:
    """Source: NIST StRD Eckerle4, b3 = 451.54122 with s.d. 0.0468.

    A parabola through the seven points within 5 of the top knows less than the right curve through all 35, and says
    so: it must lie within two of its own standard uncertainties, and those must not be more than twice the certified
    one.
    """
    problem = certified("Eckerle4")
    near = np.abs(problem.x - problem.value[2]) < 5.0
    vertex, u_vertex, bend = local_vertex(problem.x[near], problem.y[near])
    assert bend < 0.0
    assert vertex == pytest.approx(problem.value[2], abs=2.0 * u_vertex)
    assert u_vertex < 2.0 * problem.deviation[2]


@pytest.mark.parametrize("parameter", [3, 6])
def test_the_local_fit_finds_peaks_once_what_they_share_is_removed(parameter: int) -> None:
    """Source: NIST StRD Gauss1, b4 = 67.48111 (s.d. 0.1046) and b7 = 178.99805 (s.d. 0.1244).

    The falling baseline, common to both peaks, is taken off at its certified values, as what is common to all
    cylinders is in a sweep. Window: 15 on both sides, 0.6 to 0.8 of the peak's own width.
    """
    problem = certified("Gauss1")
    near = np.abs(problem.x - problem.value[parameter]) < 15.0
    alone = problem.y - baseline(problem.x, *problem.value)
    vertex, u_vertex, _ = local_vertex(problem.x[near], alone[near])
    assert vertex == pytest.approx(problem.value[parameter], abs=2.0 * u_vertex)
    assert u_vertex < 2.0 * problem.deviation[parameter]


@pytest.mark.parametrize("parameter", [3, 6])
def test_a_shared_slope_shifts_a_peak_by_what_the_certified_curve_says(parameter: int) -> None:
    """Source: NIST StRD Gauss1; the top of the certified curve itself, baseline left in.

    The two tops are moved by 1.38 and 0.37 to the left. The local fit follows them within three of its own standard
    uncertainties, for the flanks of the second peak are not alike with the baseline in.
    """
    problem = certified("Gauss1")
    place = problem.value[parameter]
    top = minimize_scalar(
        lambda x: -gauss1(x, *problem.value), bracket=(place - 3.0, place - 1.0, place + 2.0)
    ).x
    near = np.abs(problem.x - place) < 15.0
    vertex, u_vertex, _ = local_vertex(problem.x[near], problem.y[near])
    assert place - top > 0.3
    assert vertex == pytest.approx(top, abs=3.0 * u_vertex)
