"""Combining values that disagree, against published worked examples."""

import numpy as np
import pytest
from numpy.typing import NDArray

from leanwright.analysis.random_effects import Combination, combine

Floats = NDArray[np.float64]

# R. N. Kacker, Metrologia 41 (2004) 132-136: nine laboratories; values and variances as they stand in the tests of
# the Python package statsmodels 0.15.0 (statsmodels/stats/tests/test_meta.py, class TestMetaK1).
LABORATORIES = np.array([61.00, 61.40, 62.21, 62.30, 62.34, 62.60, 62.70, 62.84, 65.90])
OF_LABORATORIES = np.array([0.2025, 1.2100, 0.0900, 0.2025, 0.3844, 0.5625, 0.0676, 0.0225, 1.8225])

# Six studies of a standardised mean difference: effects and variances by the R package "meta", as they stand in the
# same file (class TestEffSmdMeta, "compare with package meta").
STUDIES = np.array(
    [0.09452437336063831, 0.27735640148036095, 0.36654634845797818, 0.66438509989113559, 0.46180797677414176,
     0.18516464424648887]
)  # fmt: skip
OF_STUDIES = np.array(
    [0.03337182573880991, 0.03107434965484927, 0.05088322525353587, 0.01055724834741877, 0.04339324466573324,
     0.02363264537147130]
)  # fmt: skip


def mean(values: Floats, variances: Floats) -> Combination:
    return combine(values, np.diag(variances), np.ones((values.size, 1)))


def test_nine_laboratories_have_the_published_between_variance() -> None:
    """Source: Kacker 2004, table 1, first row: tau by Paule and Mandel 0.8399."""
    assert np.sqrt(mean(LABORATORIES, OF_LABORATORIES).between_variance) == pytest.approx(0.8399, abs=6e-5)


def test_nine_laboratories_have_the_mean_of_a_reference_library() -> None:
    """Source: statsmodels 0.15.0, ``combine_effects(method_re="pm")`` on Kacker's data.

    Mean 62.40762, standard error 0.33803, Q 24.80190 with 8 degrees of freedom; tau 0.839877.
    """
    result = mean(LABORATORIES, OF_LABORATORIES)
    assert result.estimate[0] == pytest.approx(62.40762, abs=1e-4)
    assert np.sqrt(result.covariance[0, 0]) == pytest.approx(0.33803, abs=1e-4)
    assert result.misfit == pytest.approx(24.80190, abs=1e-4)
    assert result.degrees_of_freedom == 8
    assert np.sqrt(result.between_variance) == pytest.approx(0.839877, abs=1e-5)


def test_six_studies_have_the_mean_of_a_reference_library() -> None:
    """Source: statsmodels 0.15.0, ``combine_effects(method_re="pm")``, its example of six studies.

    Q 11.91015 with 5 degrees of freedom, tau squared 0.0225576, mean 0.366419 with standard error 0.092390.
    """
    result = mean(STUDIES, OF_STUDIES)
    assert result.misfit == pytest.approx(11.91015, abs=1e-4)
    assert result.degrees_of_freedom == 5
    assert result.between_variance == pytest.approx(0.0225576, abs=1e-6)
    assert result.estimate[0] == pytest.approx(0.366419, abs=1e-5)
    assert np.sqrt(result.covariance[0, 0]) == pytest.approx(0.092390, abs=1e-5)


def test_laboratories_that_agree_are_combined_with_fixed_weights() -> None:
    """Source: statsmodels 0.15.0 on Kacker's data: fixed-effect mean 62.58340, standard error 0.10785.

    Variances ten thousand times as large leave no misfit, so the weights are those of the fixed effect.
    """
    result = mean(LABORATORIES, 1e4 * OF_LABORATORIES)
    assert result.between_variance == 0.0
    assert result.estimate[0] == pytest.approx(62.58340, abs=1e-4)
    assert np.sqrt(result.covariance[0, 0]) / 100.0 == pytest.approx(0.10785, abs=1e-4)
