"""Offsets as evidence: the setting at which they were flown."""

import numpy as np
import pytest

from leanwright.analysis.balance import balance
from leanwright.analysis.cause_offsets import add_offsets
from leanwright.analysis.cause_rows import Rows
from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.engine.profile import opposed
from tests.analysis.made_peaks import made_peaks, made_sweep
from tests.analysis.scene import recording

AT_PEAK_GPH = 11.5


@pytest.mark.parametrize(
    ("flow_gph", "line_psi", "at_peak_psi"),
    [
        # The pressure in the lines goes with the square of the flow (Bernoulli).
        (23.0, 8.0, 8.0 * (AT_PEAK_GPH / 23.0) ** 2),
        (AT_PEAK_GPH, 8.0, 8.0),
        # Without a flow the pressure says nothing: the usual one, 4 psi at 11 gal/h.
        (0.0, 8.0, 4.0 * (AT_PEAK_GPH / 11.0) ** 2),
        (-1.0, 8.0, 4.0 * (AT_PEAK_GPH / 11.0) ** 2),
        (np.nan, 8.0, 4.0 * (AT_PEAK_GPH / 11.0) ** 2),
        (23.0, np.nan, 4.0 * (AT_PEAK_GPH / 11.0) ** 2),
    ],
)
def test_the_pressure_in_the_lines_is_the_recorded_one_at_the_flow_of_the_peaks_or_the_usual_one(
    flow_gph: float, line_psi: float, at_peak_psi: float
) -> None:
    sweeps = (made_sweep(),)
    peaks = made_peaks([[AT_PEAK_GPH] * 4], sweeps=sweeps)
    time = np.arange(0.0, 200.0)
    seen = recording(time, fuel_flow=np.full(200, flow_gph), fuel_pressure=np.full(200, line_psi))
    measured = Measured((RecordingResult(seen, (), peaks, sweeps),), balance([peaks]), opposed(4), 1)
    made = Rows()
    add_offsets(made, "now", measured)
    assert [one.line_pressure_psi for one in made.settings] == pytest.approx([at_peak_psi])
