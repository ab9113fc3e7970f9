"""The range of equal normal values, which is what noise alone makes of a spread, against control-chart constants."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import norm

from leanwright.analysis import spread
from leanwright.analysis.spread import posterior

Floats = NDArray[np.float64]

# Factors d2 and d3 of control charts for ranges: mean and standard deviation of the range of n values from a normal
# population of unit standard deviation. ASTM, Manual on Presentation of Data and Control Chart Analysis (MNL 7), table
# of factors for computing control limits; the digits read in copies of that table in textbooks.
FACTORS = {
    2: (1.128, 0.853),
    3: (1.693, 0.888),
    4: (2.059, 0.880),
    5: (2.326, 0.864),
    6: (2.534, 0.848),
    7: (2.704, 0.833),
    8: (2.847, 0.820),
}


def integrated(count: int) -> tuple[float, float]:
    """Mean and standard deviation of the range from its distribution, by the trapezium rule.

    P(range <= w) = n times the integral of phi(x) (Phi(x + w) - Phi(x))^(n - 1) over x, x being the smallest value.
    """
    smallest, width = np.linspace(-8.0, 8.0, 801), np.linspace(0.0, 12.0, 1201)[:, None]
    between = norm.cdf(smallest + width) - norm.cdf(smallest)
    above = 1.0 - np.trapezoid(count * norm.pdf(smallest) * between ** (count - 1), smallest, axis=1)
    average = float(np.trapezoid(above, width[:, 0]))
    square = float(np.trapezoid(2.0 * width[:, 0] * above, width[:, 0]))
    return average, float(np.sqrt(square - average**2))


@pytest.mark.parametrize("count", FACTORS)
def test_the_table_is_what_the_integral_gives(count: int) -> None:
    """Source: ASTM MNL 7, d2 and d3, against the distribution of the range itself, integrated."""
    assert integrated(count) == pytest.approx(FACTORS[count], abs=6e-4)


@pytest.mark.parametrize("count", FACTORS)
def test_without_a_prior_equal_cylinders_seem_apart_by_the_control_chart_factors(
    count: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Source: ASTM MNL 7, d2 and d3.

    The prior is taken away by a scale so wide that nothing is shrunk; the flows are about 12 gal/h, each uncertain by
    0.1 %.
    """
    monkeypatch.setattr(spread, "_scales", lambda uniform, *_: np.full_like(uniform, 1e6))
    u = 0.001
    covariance = np.zeros((count + 1, count + 1))
    covariance[:-1, :-1] = u**2 * (np.eye(count) - 1.0 / count)
    drawn = posterior(np.zeros(count), np.log(12.0), covariance).spread() / (12.0 * u)
    average, deviation = FACTORS[count]
    assert drawn.mean() == pytest.approx(average, abs=0.005)
    assert drawn.std() == pytest.approx(deviation, abs=0.005)
