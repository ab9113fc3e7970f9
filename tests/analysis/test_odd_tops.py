"""Cylinders without a clean top: where they count, and where they are passed over."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from leanwright.analysis.balance import balance
from leanwright.analysis.cause_signs import find_signs
from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.analysis.odd_tops import Ragged, odd_tops
from leanwright.analysis.peak import CylinderPeak
from leanwright.analysis.probe_gaps import Gaps
from leanwright.engine.profile import opposed
from leanwright.findings import Statement
from tests.analysis.made_peaks import made_peaks, made_sweep
from tests.analysis.peak_scene import values_of, with_values
from tests.analysis.scene import recording

FLOWS = (11.0, 11.2, 11.4, 11.6)
SWEEP = made_sweep()
RAGGED = CylinderPeak(4, "unclear", possible_gph=(9.0, 13.0), reason=Statement("not-one-top"))
UNREAD = CylinderPeak(4, "no-signal", reason=Statement("too-few-readings"))


def measured(
    absent: Mapping[tuple[int, int], CylinderPeak], top_gph: float, *, missing: bool = False
) -> Measured:
    """Two sweeps from 13 to 9 gal/h; the EGT of cylinder 4 is highest at ``top_gph``."""
    sweeps = (SWEEP, SWEEP)
    peaks = made_peaks([FLOWS] * 2, sweeps=sweeps, absent=absent)
    time = np.arange(0.0, SWEEP.end_s + 60.0)
    flow = np.interp(time, [SWEEP.start_s, SWEEP.end_s], [13.0, 9.0])
    egt = np.full(time.size, np.nan) if missing else 1400.0 - 60.0 * np.abs(flow - top_gph)
    flown = recording(time, {4: egt}, fuel_flow=flow)
    result = RecordingResult(flown, (), peaks, sweeps)
    return Measured((result,), balance([peaks]), opposed(4), 1)


def test_a_cylinder_without_a_clean_top_among_others_with_theirs_is_named_with_its_sweeps() -> None:
    found = odd_tops(measured({(0, 4): RAGGED, (1, 4): RAGGED}, 11.4))
    name = measured({}, 11.4).results[0].recording.name
    assert found.ragged == {4: Ragged(2, name, SWEEP.start_s, SWEEP.end_s)}
    assert found.silent == {}


@pytest.mark.parametrize("top", [10.0, 12.7])
def test_one_whose_top_lies_far_from_the_others_is_passed_over(top: float) -> None:
    """There the sweep shows too little of it, whatever its ignition is like."""
    assert odd_tops(measured({(0, 4): RAGGED}, top)).ragged == {}


def test_where_others_lack_a_top_as_well_nothing_is_said() -> None:
    absent = {
        (sweep, number): CylinderPeak(number, "unclear", reason=Statement("not-one-top"))
        for sweep in (0, 1)
        for number in (2, 3, 4)
    }
    found = odd_tops(measured(absent, 11.4))
    assert (found.ragged, found.silent) == ({}, {})


def test_a_probe_that_was_not_read_in_most_sweeps_is_silent() -> None:
    both = odd_tops(measured({(0, 4): UNREAD, (1, 4): UNREAD}, 11.4, missing=True))
    assert both.silent[4][1].share == 1.0
    assert odd_tops(measured({(0, 4): UNREAD}, 11.4)).silent == {}


def test_a_probe_that_was_read_now_and_then_is_silent_with_the_share_that_is_missing() -> None:
    seen = measured({(0, 4): UNREAD, (1, 4): UNREAD}, 11.4)
    (result,) = seen.results
    egt = values_of(result.recording, "egt", 4)
    egt[np.arange(egt.size) % 5 != 0] = np.nan
    flown = with_values(result.recording, egt, "egt", 4)
    found = odd_tops(replace(seen, results=(replace(result, recording=flown),)))
    assert found.silent == {4: (flown.name, Gaps(4, 0.8, SWEEP.start_s, SWEEP.end_s, 150))}


def test_a_probe_without_a_column_speaks_for_a_dead_one_by_its_sweeps_alone() -> None:
    seen = measured({(0, 4): UNREAD, (1, 4): UNREAD}, 11.4)
    (result,) = seen.results
    bare = replace(result.recording, channels=result.recording.channels[:1])
    signs = find_signs(replace(seen, results=(replace(result, recording=bare),)))
    assert signs.log_ratio == {("probe-dead", 4): 3.0}
    assert {number: gaps.share for number, (_, gaps) in signs.gaps.items()} == {4: 1.0}
    assert (signs.flanks, signs.ragged) == ({}, {})
