"""Readings that say nothing, and lean flanks that fall too far, in made sweeps."""

import numpy as np
import pytest
from scipy.ndimage import percentile_filter

from leanwright.analysis.lean_flank import lean_flanks
from leanwright.analysis.plain_top import plain_top
from leanwright.analysis.probe_gaps import LEVEL_PERCENT, probe_gaps, running_level
from leanwright.analysis.sweep import Sweep
from leanwright.recordings.recording import Channel, Recording

TIME = np.arange(0.0, 300.0, 1.0)
FLOW = np.interp(TIME, [60.0, 240.0], [14.0, 10.5])
SWEEP = Sweep(60.0, 240.0, "leaning", True, None, 22.0, 2350.0, 6000.0)
PEAKS = {1: 12.0, 2: 12.1, 3: 11.9, 4: 12.2}


def egt(peak: float) -> np.ndarray:
    """A tent with a rounded top, 900 degF by unit of ln flow rich and 1100 lean."""
    x = np.log(FLOW / peak)
    slope = np.where(x > 0.0, 900.0, 1100.0)
    return np.asarray(1500.0 - slope * (np.sqrt(x**2 + 0.02**2) - 0.02))


def recording(values: dict[int, np.ndarray], flow: np.ndarray = FLOW) -> Recording:
    channels = [Channel("FF", "fuel_flow", None, "gal/h", "header", values=flow)]
    channels += [Channel(f"E{n}", "egt", n, "degF", "header", values=one) for n, one in values.items()]
    return Recording("made", "", TIME, np.arange(TIME.size, dtype=np.int64), tuple(channels), 0, ())


SOUND = {number: egt(peak) for number, peak in PEAKS.items()}


def shares(values: dict[int, np.ndarray]) -> dict[int, float]:
    return {number: one.share for number, one in probe_gaps(recording(values), [SWEEP]).items()}


def test_sound_probes_have_no_gaps() -> None:
    assert shares(SOUND) == dict.fromkeys(PEAKS, 0.0)


def test_missing_readings_are_counted_where_the_mixture_is_rich() -> None:
    rich = FLOW > 10.5 + 0.67 * 3.5
    gone = SOUND[3].copy()
    places = np.flatnonzero(rich)[::4]
    gone[places] = np.nan
    assert shares({**SOUND, 3: gone})[3] == pytest.approx(places.size / rich.sum())


def test_missing_readings_are_counted_where_it_is_lean_too_for_no_misfire_makes_one_missing() -> None:
    gone = SOUND[3].copy()
    lean = (FLOW < 11.6) & (SWEEP.end_s >= TIME)
    gone[lean] = np.nan
    swept = (SWEEP.start_s <= TIME) & (SWEEP.end_s >= TIME)
    found = probe_gaps(recording({**SOUND, 3: gone}), [SWEEP])[3]
    assert (found.share, found.rows) == (lean.sum() / swept.sum(), swept.sum())


def test_jumps_count_and_a_lean_misfire_does_not() -> None:
    rng = np.random.default_rng(1)
    jumps = SOUND[2] - np.where(rng.random(TIME.size) < 0.3, 400.0, 0.0)
    misfire = np.where(FLOW < 11.6, 700.0, SOUND[3])
    found = shares({**SOUND, 2: jumps, 3: misfire})
    assert found[2] == pytest.approx(0.3, abs=0.1)
    assert found[3] == 0.0


def test_a_probe_still_settling_after_a_quick_enrichening_has_no_gaps() -> None:
    """A rich cylinder goes farther down than the others when the lever goes up quickly, and its probe takes its time."""
    late = SOUND[3] - np.where(TIME < 52.0, 200.0 * np.exp(-(TIME - 40.0) / 4.0), 0.0) * (TIME >= 40.0)
    flow = np.where(TIME < 40.0, 11.0, FLOW)
    found = probe_gaps(recording({**SOUND, 3: late}, flow), [SWEEP])
    assert found[3].share == 0.0


def test_where_peaks_lie_in_the_rich_third_only_readings_rich_of_them_count() -> None:
    misfire = np.where(FLOW < 13.2, 700.0, SOUND[3])
    values = recording({**SOUND, 3: misfire})
    assert probe_gaps(values, [SWEEP])[3].share > 0.05
    assert probe_gaps(values, [SWEEP], {60.0: 13.0})[3].share == 0.0


def test_a_reading_that_never_moves_says_nothing() -> None:
    assert shares({**SOUND, 4: np.full(TIME.size, 612.0)})[4] == 1.0


def test_a_cylinder_far_off_the_others_is_not_taken_for_a_gap() -> None:
    assert shares({**SOUND, 1: egt(9.5)})[1] == 0.0


def test_a_lean_flank_that_is_cut_short_stands_out() -> None:
    cut = SOUND[3] - np.where(FLOW < 11.4, 250.0, 0.0)
    found = lean_flanks(recording({**SOUND, 3: cut}), [SWEEP])
    assert found[3].excess_df == pytest.approx(250.0, abs=15.0)
    assert max(one.excess_df for number, one in found.items() if number != 3) < 10.0
    assert (found[3].start_s, found[3].end_s) == (60.0, 240.0)


def test_the_plain_top_lies_where_the_reading_is_highest() -> None:
    found = plain_top(recording(SOUND), SWEEP, 2)
    assert found is not None
    assert found[0] == pytest.approx(np.log(12.1), abs=0.01)


def test_a_top_at_the_end_of_the_sweep_is_none() -> None:
    assert plain_top(recording({**SOUND, 1: egt(9.5)}), SWEEP, 1) is None


@pytest.mark.parametrize("around", [1, 2, 5, 8, 40])
def test_the_running_level_is_that_of_the_reference_library(around: int) -> None:
    values = np.random.default_rng(around).normal(1400.0, 30.0, 40).round(0)
    reference = percentile_filter(values, LEVEL_PERCENT, size=around, mode="nearest")
    assert running_level(values, around).tolist() == reference.tolist()
