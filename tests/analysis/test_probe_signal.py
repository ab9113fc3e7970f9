"""Readings that no probe can have shown, and probes that say nothing."""

from dataclasses import replace

import numpy as np
import pytest

from leanwright.analysis.excerpt import Excerpt
from leanwright.analysis.probe_signal import ProbeSignal, median, probe_signal, without_spikes
from tests.analysis.peak_scene import Flown


@pytest.fixture(scope="module")
def part() -> Excerpt:
    return Flown().excerpts()[0]


def signal_with(part: Excerpt, cylinder: int, values: np.ndarray) -> ProbeSignal:
    egt = part.egt_f.copy()
    egt[cylinder - 1] = values
    bad = replace(part, egt_f=egt)
    return probe_signal(bad, without_spikes(bad))


def test_medians_leave_missing_values_out() -> None:
    random = np.random.default_rng(1)
    values = random.normal(size=(7, 9))
    values[random.random((7, 9)) < 0.3] = np.nan
    np.testing.assert_allclose(median(values), np.nanmedian(values, axis=1))
    assert np.isnan(median(np.full((1, 4), np.nan)))[0]


def test_good_readings_are_all_kept(part: Excerpt) -> None:
    np.testing.assert_array_equal(without_spikes(part), part.egt_f)


@pytest.mark.parametrize("wrong", [3000.0, 200.0, -40.0, 1e30, np.inf, np.nan])
def test_a_reading_that_no_probe_can_have_shown_is_left_out_and_no_other(part: Excerpt, wrong: float) -> None:
    egt = part.egt_f.copy()
    egt[2, 90] = wrong
    kept = without_spikes(replace(part, egt_f=egt))
    assert np.isnan(kept[2, 90])
    assert np.isfinite(np.delete(kept, 90, axis=1)).all()


def test_a_cylinder_far_from_the_others_throughout_keeps_its_readings(part: Excerpt) -> None:
    egt = part.egt_f.copy()
    egt[2] -= 150.0
    assert np.isfinite(without_spikes(replace(part, egt_f=egt))).all()


def test_a_single_row_is_kept(part: Excerpt) -> None:
    one = replace(part, time_s=part.time_s[:1], egt_f=part.egt_f[:, :1])
    np.testing.assert_array_equal(without_spikes(one), part.egt_f[:, :1])


@pytest.mark.parametrize("at_the_start", [True, False])
def test_a_gap_at_an_end_of_the_sweep_counts_from_that_end(part: Excerpt, *, at_the_start: bool) -> None:
    """By hand: the time without a reading less the usual step from row to row, over the length of the sweep."""
    inside = np.flatnonzero(part.inside)
    egt = part.egt_f.copy()
    egt[2, inside[:40] if at_the_start else inside[-40:]] = np.nan
    gap = probe_signal(part, egt).gap
    times = part.time_s[inside]
    without = times[40] - times[0] if at_the_start else times[-1] - times[-41]
    step = float(np.median(np.diff(times)))
    assert gap[2] == pytest.approx((without - step) / (part.end_s - part.start_s))
    assert np.delete(gap, 2).tolist() == [0.0] * (gap.size - 1)


def test_healthy_probes_are_neither_silent_nor_intermittent(part: Excerpt) -> None:
    signal = probe_signal(part, without_spikes(part))
    assert not signal.none.any()
    assert not signal.intermittent.any()
    np.testing.assert_allclose(signal.kept, 1.0)
    np.testing.assert_allclose(signal.gap, 0.0, atol=1e-9)


@pytest.mark.parametrize("kind", ["open", "stuck", "cold"])
def test_a_dead_probe_is_silent_and_no_other(part: Excerpt, kind: str) -> None:
    rows = part.time_s.size
    values = {
        "open": np.full(rows, np.nan),
        "stuck": np.full(rows, 1400.0),
        "cold": part.egt_f[3] - 900.0,
    }[kind]
    signal = signal_with(part, 4, values)
    assert signal.none.tolist() == [False, False, False, True, False, False]


def test_a_probe_that_comes_and_goes_is_intermittent_and_no_other(part: Excerpt) -> None:
    values = part.egt_f[3].copy()
    values[(part.time_s > 80.0) & (part.time_s < 125.0)] = np.nan
    signal = signal_with(part, 4, values)
    assert not signal.none.any()
    assert signal.intermittent.tolist() == [False, False, False, True, False, False]
    assert signal.gap[3] == pytest.approx(44.0 / 120.0, abs=0.02)


def test_a_probe_that_starts_late_has_a_gap_too(part: Excerpt) -> None:
    values = part.egt_f[3].copy()
    values[part.time_s < 90.0] = np.nan
    assert signal_with(part, 4, values).gap[3] == pytest.approx(49.0 / 120.0, abs=0.02)
