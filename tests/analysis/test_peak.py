"""Peaks of whole sweeps: values, covariance, and what physics says must not matter."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from leanwright.analysis.peak import Peaks, SweepPeaks, find_peaks
from leanwright.recordings.recording import Recording
from tests.analysis.peak_scene import PAIR, PEAKS_GPH, Flown, offsets_percent, values_of, with_values

Floats = NDArray[np.float64]


@pytest.fixture(scope="module")
def one() -> Peaks:
    return find_peaks(Flown().recording(), Flown().sweeps())


@pytest.fixture(scope="module")
def pair() -> Peaks:
    return find_peaks(PAIR.recording(), PAIR.sweeps())


def flows(peaks: SweepPeaks) -> Floats:
    found = [c.fuel_flow_at_peak_gph for c in peaks.cylinders]
    assert None not in found
    return np.array(found, dtype=np.float64)


def offsets(peaks: Peaks, s: int = 0) -> tuple[Floats, Floats]:
    """Offsets of one sweep and their standard uncertainties [percent]."""
    rows = [k for k, (place, _) in enumerate(peaks.index) if place == s]
    centred = np.eye(len(rows)) - 1.0 / len(rows)
    covariance = centred @ peaks.covariance[np.ix_(rows, rows)] @ centred
    return 100.0 * centred @ peaks.log_flow[rows], 100.0 * np.sqrt(np.diag(covariance))


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("interval_s", [0.5, 2.0, 5.0])
def test_every_cylinder_peaks_at_its_flow_within_four_uncertainties(seed: int, interval_s: float) -> None:
    flown = Flown(seed=seed, interval_s=interval_s)
    peaks = find_peaks(flown.recording(), flown.sweeps())
    assert [c.status for c in peaks.sweeps[0].cylinders] == ["peaked"] * 6
    u = np.array([c.u_fuel_flow_at_peak_gph for c in peaks.sweeps[0].cylinders], dtype=np.float64)
    assert np.all(np.abs(flows(peaks.sweeps[0]) - flown.peaks_gph) < 4.0 * u)
    found, u_offset = offsets(peaks)
    assert np.all(np.abs(found - offsets_percent(flown.peaks_gph)) < 4.0 * u_offset)
    assert u_offset.max() < 0.5


def test_each_answer_belongs_to_its_sweep_and_cylinder(pair: Peaks) -> None:
    assert [peaks.sweep for peaks in pair.sweeps] == list(PAIR.sweeps())
    assert pair.index == tuple((s, c) for s in range(2) for c in range(1, 7))
    for row, (s, cylinder) in enumerate(pair.index):
        peak = pair.sweeps[s].cylinders[cylinder - 1]
        assert peak.cylinder == cylinder
        assert peak.fuel_flow_at_peak_gph == pytest.approx(float(np.exp(pair.log_flow[row])))
        u = float(np.sqrt(pair.covariance[row, row]))
        assert peak.fuel_flow_at_peak_gph is not None
        assert peak.u_fuel_flow_at_peak_gph == pytest.approx(u * peak.fuel_flow_at_peak_gph)


def test_the_covariance_is_one_and_its_parts_sum_to_it(one: Peaks, pair: Peaks) -> None:
    for peaks in (one, pair):
        np.testing.assert_allclose(peaks.covariance, peaks.covariance.T, atol=1e-15)
        assert np.linalg.eigvalsh(peaks.covariance).min() > 0.0
        np.testing.assert_allclose(sum(peaks.parts.values()), peaks.covariance, rtol=1e-6, atol=1e-12)
        assert set(peaks.parts) == {"reading-noise", "shared-disturbance", "lag", "quantisation"}


def test_sweeps_of_one_recording_are_correlated_through_the_lags_they_share(pair: Peaks) -> None:
    """More lag moves a leaning sweep's peak one way and an enriching sweep's the other."""
    across = np.diag(pair.covariance[:6, 6:])
    assert np.all(across < 0.0)


def test_leaning_and_enriching_cancel_the_lag(pair: Peaks) -> None:
    """The mean of the two is far less uncertain by lag than either, and right."""
    mean = np.concatenate((np.eye(6), np.eye(6)), axis=1) / 2.0
    centred = np.eye(6) - 1.0 / 6.0
    lag_of_mean = centred @ mean @ pair.parts["lag"] @ mean.T @ centred
    lag_of_one = centred @ pair.parts["lag"][:6, :6] @ centred
    assert np.trace(lag_of_mean) < 0.2 * np.trace(lag_of_one)
    whole = centred @ mean
    error = 100.0 * whole @ pair.log_flow - offsets_percent(PAIR.peaks_gph)
    assert np.all(np.abs(error) < 4.0 * 100.0 * np.sqrt(np.diag(whole @ pair.covariance @ whole.T)))


def test_a_slow_probe_is_told_and_does_not_move_its_peak() -> None:
    flown = Flown(lags_s=(2.0, 2.0, 2.0, 9.0, 2.0, 2.0), interval_s=0.5)
    peaks = find_peaks(flown.recording(), flown.sweeps())
    lags = [c.lag_s for c in peaks.sweeps[0].cylinders]
    assert lags[3] == pytest.approx(9.0, rel=0.3)
    assert max(lag for k, lag in enumerate(lags) if k != 3 and lag is not None) < 4.0
    found, u = offsets(peaks)
    assert abs(found[3] - offsets_percent(flown.peaks_gph)[3]) < 4.0 * u[3]


def test_lags_and_heights_are_told_with_their_uncertainty(one: Peaks) -> None:
    for peak, lag in zip(one.sweeps[0].cylinders, Flown().lags_s, strict=True):
        assert peak.lag_s is not None
        assert peak.u_lag_s is not None
        assert abs(peak.lag_s - lag) < 4.0 * peak.u_lag_s + 0.1
        # The scene's own tops: 1500 degF, and ten more a cylinder.
        assert peak.peak_egt_f == pytest.approx(1500.0 + 10.0 * peak.cylinder, abs=5.0)


def test_the_witness_is_beside_the_answer(one: Peaks) -> None:
    for peak, true in zip(one.sweeps[0].cylinders, Flown().peaks_gph, strict=True):
        assert peak.witness_gph == pytest.approx(true, rel=0.015)


def scaled(made: Recording, factor: float) -> Recording:
    flow = with_values(made, factor * values_of(made, "fuel_flow"), "fuel_flow")
    return replace(
        flow,
        channels=tuple(
            replace(c, resolution=factor * c.resolution) if c.quantity == "fuel_flow" and c.resolution else c
            for c in flow.channels
        ),
    )


def test_a_flow_meter_that_reads_more_moves_flows_and_nothing_else(one: Peaks) -> None:
    found = find_peaks(scaled(Flown().recording(), 1.1), Flown().sweeps())
    np.testing.assert_allclose(found.log_flow, one.log_flow + np.log(1.1), atol=2e-5)
    np.testing.assert_allclose(found.covariance, one.covariance, rtol=1e-2, atol=1e-10)


def test_warmer_exhaust_moves_no_peak(one: Peaks) -> None:
    made = Flown().recording()
    for cylinder in range(1, 7):
        made = with_values(made, values_of(made, "egt", cylinder) + 50.0, "egt", cylinder)
    found = find_peaks(made, Flown().sweeps())
    np.testing.assert_allclose(found.log_flow, one.log_flow, atol=1e-8)
    for warm, cold in zip(found.sweeps[0].cylinders, one.sweeps[0].cylinders, strict=True):
        assert warm.peak_egt_f is not None
        assert cold.peak_egt_f is not None
        assert warm.peak_egt_f - cold.peak_egt_f == pytest.approx(50.0, abs=1e-4)


def test_a_clock_that_starts_later_moves_nothing(one: Peaks) -> None:
    made = Flown().recording()
    later = replace(made, time_s=made.time_s + 1000.0)
    sweeps = [replace(s, start_s=s.start_s + 1000.0, end_s=s.end_s + 1000.0) for s in Flown().sweeps()]
    np.testing.assert_allclose(find_peaks(later, sweeps).log_flow, one.log_flow, atol=1e-7)


def test_the_order_of_the_cylinders_does_not_matter(one: Peaks) -> None:
    made = Flown().recording()
    turned = replace(
        made,
        channels=tuple(
            replace(c, cylinder=7 - c.cylinder) if c.cylinder is not None else c for c in made.channels
        ),
    )
    found = find_peaks(turned, Flown().sweeps())
    np.testing.assert_allclose(found.log_flow, one.log_flow[::-1], atol=1e-5)


def test_another_power_of_the_same_steadiness_moves_nothing(one: Peaks) -> None:
    made = Flown().recording()
    made = with_values(made, values_of(made, "manifold_pressure") * 0.9, "manifold_pressure")
    np.testing.assert_allclose(find_peaks(made, Flown().sweeps()).log_flow, one.log_flow, atol=1e-9)


def test_curves_are_drawn_for_every_cylinder_that_peaked(one: Peaks) -> None:
    assert [curve.cylinder for curve in one.sweeps[0].curves] == [1, 2, 3, 4, 5, 6]
    for curve in one.sweeps[0].curves:
        assert curve.point_flow_gph.shape == curve.point_egt_below_peak_f.shape
        assert curve.fit_flow_gph.shape == curve.fit_egt_below_peak_f.shape
        assert curve.fit_egt_below_peak_f.max() == pytest.approx(0.0, abs=2.0)


@pytest.mark.parametrize(("cooling", "within"), [(100.0, 0.10), (200.0, 0.17), (300.0, 0.28)])
def test_exhaust_that_cools_with_the_power_moves_no_peak_far(cooling: float, within: float) -> None:
    """Less power, cooler exhaust: where power falls faster and faster on the way, tops met late seem to come early, here by 0.26,
    0.38 and 0.5 percent at the ends if that is not allowed for.
    """
    flown = Flown(slowing=1.2, egt_per_log_power_f=cooling, flow_step_gph=0.0, egt_step_f=0.0, common_f=0.5)
    found = find_peaks(flown.recording(), flown.sweeps())
    offsets = 100.0 * (found.log_flow - found.log_flow.mean())
    u = 100.0 * np.sqrt(np.diag(found.covariance))
    np.testing.assert_allclose(offsets, offsets_percent(PEAKS_GPH), atol=within)
    assert np.all(np.abs(offsets - offsets_percent(PEAKS_GPH)) < 2.5 * u)


def test_power_that_follows_the_mixture_is_taken_out() -> None:
    """With a fixed pitch air and fuel fall together: a peak at a mixture is crossed at a lower flow.

    Here power sinks by 0.15 percent for each percent of flow below 13 gal/h.
    """
    flown = Flown(flow_step_gph=0.0, common_f=0.5)
    made = flown.recording()
    share = -0.15 * np.clip(np.log(13.0 / values_of(made, "fuel_flow")), 0.0, None)
    smooth = np.convolve(np.pad(share, 4, mode="edge"), np.ones(9) / 9.0, mode="valid")
    made = with_values(made, 22.4 * np.exp(smooth), "manifold_pressure")
    found = find_peaks(made, flown.sweeps())
    assert [c.status for c in found.sweeps[0].cylinders] == ["peaked"] * 6
    # What is crossed is the flow as read; the position at common power lies apart from it by the power.
    np.testing.assert_allclose(flows(found.sweeps[0]), flown.peaks_gph, rtol=0.012)
    apart = np.log(flows(found.sweeps[0])) - found.log_flow
    assert np.all(np.diff(apart) > 0.0)
    u = [c.u_fuel_flow_at_peak_gph for c in found.sweeps[0].cylinders]
    plain = np.sqrt(np.diag(found.covariance)) * flows(found.sweeps[0])
    assert np.all(np.array(u, dtype=np.float64) > plain)
