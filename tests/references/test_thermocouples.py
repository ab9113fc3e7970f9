"""A real thermocouple is no straight line, and its terminals are not at 0 degC: neither may move a peak.

Source: type K reference function of the ITS-90, NIST Monograph 175 (its table of emf against temperature, reference
junction at 0 degC), and the worked cold junction of the documentation of the package thermocouple-its90. A panel that takes the emf
for a straight line, or whose terminals warm up, shows wrong temperatures, but the highest stays the highest: the fuel flow
at the top, and with it every offset, has to come out as with a panel that does it right.
"""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from benchmarks.corpus import as_recording
from leanwright.recordings.recording import Recording
from leanwright.simulate.draw import draw_spec
from leanwright.simulate.flight import simulate_flight
from leanwright.workbench.measure import measure

Floats = NDArray[np.float64]

CELSIUS = [0, 25, 100, 200, 300, 400, 500, 600, 700, 750, 760, 800, 850, 900, 1000, 1100]
MILLIVOLT = [
    0.0, 1.00024, 4.09623, 8.13847, 12.20857, 16.39714, 20.64429, 24.90547, 29.12897, 31.21345, 31.62771, 33.27538,
    35.31311, 37.32592, 41.27561, 45.11874,
]  # fmt: skip
STRAIGHT_MV = 8.13847 / 200.0
"""What a panel takes for a degree that is right at 0 and at 200 degC [mV/degC]."""
WARM_TERMINALS_C = 24.31
"""A meter that reads 4.096 mV with its terminals at 25 degC sees 124.31 degC, not 100 (the package's documentation)."""

emf = CubicSpline(CELSIUS, MILLIVOLT)
celsius_of = CubicSpline(MILLIVOLT, CELSIUS)


def straight(egt_f: Floats) -> Floats:
    """What a panel shows that takes the emf for a straight line [degF]."""
    return np.asarray(32.0 + 1.8 * emf((egt_f - 32.0) / 1.8) / STRAIGHT_MV)


def warm(egt_f: Floats) -> Floats:
    """What a panel shows that takes its terminals, at 25 degC, for 0 degC [degF]."""
    return np.asarray(32.0 + 1.8 * celsius_of(emf((egt_f - 32.0) / 1.8) - MILLIVOLT[1]))


def shown_by(panel: object, recording: Recording) -> Recording:
    """The recording as another panel would have written it, each EGT through its curve."""
    assert callable(panel)
    channels = tuple(
        replace(one, values=panel(one.values)) if one.quantity == "egt" and one.values is not None else one
        for one in recording.channels
    )
    return replace(recording, channels=channels)


def test_the_curve_between_the_points_of_the_table_is_that_of_the_table() -> None:
    left_out = [place for place, at in enumerate(CELSIUS) if at not in {750, 850}]
    curve = CubicSpline(np.take(CELSIUS, left_out), np.take(MILLIVOLT, left_out))
    assert curve([750.0, 850.0]) == pytest.approx([31.21345, 35.31311], abs=0.001)
    # 0.04138 mV/degC at 760 degC, from the same reference function.
    assert emf(760.0, 1) == pytest.approx(0.04138, abs=3e-5)


def test_a_meter_at_the_temperature_of_its_terminals_is_wrong_by_about_that() -> None:
    # The points are 100 degC apart there: a curve through them knows 0.2 degC.
    assert celsius_of(4.096 + MILLIVOLT[1]) == pytest.approx(100.0 + WARM_TERMINALS_C, abs=0.2)


@pytest.mark.parametrize("seed", [71, 72, 73, 74])
def test_neither_a_straight_line_nor_warm_terminals_move_an_offset(seed: int) -> None:
    spec = draw_spec(np.random.default_rng(seed), cylinders=6, sweeps=2, powers=1, spread_gph=0.9)
    recording = as_recording(simulate_flight(spec, seed))
    right = measure([recording]).balance
    egt = next(one.values for one in recording.channels if one.quantity == "egt")
    assert egt is not None
    for panel, wrong_by_f in ((straight, 5.0), (warm, 40.0)):
        shown = shown_by(panel, recording)
        assert np.nanmax(np.abs(panel(egt) - egt)) > wrong_by_f
        answer = measure([shown]).balance
        assert answer.verdict == right.verdict
        assert [one.cylinder for one in answer.cylinders] == [one.cylinder for one in right.cylinders]
        assert [one.offset_percent for one in answer.cylinders] == pytest.approx(
            [one.offset_percent for one in right.cylinders], abs=0.03
        )
        assert answer.spread_gph == pytest.approx(right.spread_gph, abs=0.005)


def test_canary_a_curve_that_folds_back_moves_the_tops() -> None:
    spec = draw_spec(np.random.default_rng(71), cylinders=6, sweeps=2, powers=1, spread_gph=0.9)
    recording = as_recording(simulate_flight(spec, 71))
    right = measure([recording]).balance
    folded = measure([shown_by(lambda egt: -egt, recording)]).balance
    assert folded.spread_gph != pytest.approx(right.spread_gph, abs=0.005)
