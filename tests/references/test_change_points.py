"""The charts and the regression on a classic series with a known break, and against a reference library.

The flow of the Nile at Aswan, 1871 to 1970 [10^8 m3 a year]: Cobb, Biometrika 65 (1978) 243, which dates the break to 1898; the
series as the packages pydataset 0.2.0 and statsmodels 0.15.0 carry it (they agree).
"""

import numpy as np
import pytest

from leanwright.analysis.chart import cusum, design_for, onset
from leanwright.analysis.trend_forecast import Forecast, Noise

NILE = (
    1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180, 799, 958, 1140, 1100,
    1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833, 701, 916, 692, 1020, 1050, 969, 831, 726, 456,
    824, 702, 1120, 1100, 832, 764, 821, 768, 845, 864, 862, 698, 845, 744, 796, 1040, 759, 781, 865, 845, 944, 984, 897,
    822, 1010, 771, 676, 649, 846, 812, 742, 801, 1040, 860, 874, 848, 890, 744, 749, 838, 1050, 918, 986, 797, 923, 975,
    815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740,
)  # fmt: skip
FIRST_YEAR = 1871
LAST_BEFORE_THE_BREAK = 1898


def standardised(values: tuple[int, ...]) -> list[float]:
    """Each value against its own past, as the program does it, with next to nothing believed beforehand."""
    forecast, noise = Forecast(np.array([1e4])), Noise.beforehand(200.0, 1.0)
    seen = []
    for value in values:
        expected, variance = forecast.expected(np.ones(1))
        seen.append(noise.standardised(value - expected, variance))
        if forecast.learned:
            noise.learn(value - expected, variance)
        forecast.learn(np.ones(1), float(value))
    return seen


def test_the_break_of_the_nile_is_found_and_dated() -> None:
    # The chart is set to alarm in vain once in 500 years on each side.
    design = design_for(0.5, 500.0)
    seen = standardised(NILE)
    alarm = cusum(seen, design).first_alarm(design.limit)
    assert alarm is not None
    place, side = alarm
    assert side == -1
    assert LAST_BEFORE_THE_BREAK < FIRST_YEAR + place <= LAST_BEFORE_THE_BREAK + 8
    assert FIRST_YEAR + onset(seen, place) == pytest.approx(LAST_BEFORE_THE_BREAK + 1, abs=1)


def test_never_to_alarm_is_right_before_the_break_and_misses_it() -> None:
    design = design_for(0.5, 500.0)
    before = NILE[: LAST_BEFORE_THE_BREAK - FIRST_YEAR + 1]
    assert cusum(standardised(before), design).first_alarm(design.limit) is None
    # "Never alarm" is as right as the chart on these years; on the whole series it is wrong, and the chart is not.
    assert cusum(standardised(NILE), design).first_alarm(design.limit) is not None


def test_recursive_residuals_are_those_of_a_reference_library() -> None:
    # statsmodels 0.15.0, RecursiveLS on the first 27 years against a constant and the year's place: resid_recursive[2:8], params.
    published = [-96.754845, 156.648651, 18.024983, -1.104105, -263.88338, 190.722436]
    forecast = Forecast(np.array([1e6, 1e6]))
    seen = []
    for place, value in enumerate(NILE[:27]):
        row = np.array([1.0, float(place)])
        expected, variance = forecast.expected(row)
        seen.append((value - expected) / np.sqrt(variance))
        forecast.learn(row, float(value))
    assert seen[2:8] == pytest.approx(published, abs=0.01)
    assert forecast.mean == pytest.approx([1081.103175, 1.274115], abs=1e-3)
