"""How an engine leans now: the power that it is asked for where nobody says one."""

from dataclasses import replace

import numpy as np
import pytest

from leanwright.analysis.balance import balance
from leanwright.analysis.leaning import Power, power_of
from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.analysis.sweep import Sweep
from leanwright.engine.profile import opposed
from tests.analysis.made_peaks import made_peaks, made_sweep
from tests.analysis.scene import recording

LAST = replace(made_sweep("enriching", 23.0, 2400.0), start_s=200.0, end_s=300.0)
UNUSED = replace(made_sweep(used=False, pressure=25.0), start_s=400.0, end_s=500.0)


def flown(*sweeps: Sweep) -> Measured:
    """Four cylinders in some sweeps, in air that warms from 30 to 60 degF."""
    used = [one for one in sweeps if one.used]
    peaks = made_peaks(np.full((len(used), 4), 11.5), sweeps=used)
    time = np.arange(0.0, 600.0)
    air = np.where(time < 180.0, 30.0, 60.0)
    result = RecordingResult(recording(time, outside_air_temperature=air), (), peaks, sweeps)
    return Measured((result,), balance([peaks]), opposed(4), 1)


@pytest.mark.parametrize(
    ("sweeps", "power"),
    [
        ((made_sweep(), LAST, UNUSED), Power(23.0, 2400.0, 60.0)),
        ((made_sweep(), UNUSED), Power(22.0, 2300.0, 30.0)),
        ((UNUSED,), Power(None, None, None)),
        ((), Power(None, None, None)),
    ],
)
def test_the_usual_power_is_that_of_the_last_sweep_that_was_used(
    sweeps: tuple[Sweep, ...], power: Power
) -> None:
    assert power_of(flown(*sweeps)) == power
