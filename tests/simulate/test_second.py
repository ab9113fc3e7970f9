"""The second simulator: its curve law against the values of the library it follows, its noise against its moments."""

import numpy as np
import pytest

from leanwright.simulate import second
from leanwright.simulate.draw import REFERENCE
from leanwright.simulate.motion import FIRST, STEP_S
from leanwright.simulate.virtual_engine import true_peaks
from leanwright.simulate.weather import Weather


def test_the_law_peaks_where_the_library_peaks() -> None:
    """JSBSim 1.3.3, ``FGPiston.cpp``, ``doEGT``: phi 1.050 and 1143 K at 15 degC outside (computed from its text)."""
    phi = np.linspace(0.8, 1.3, 5001)
    law = second.unrounded_k(phi)
    assert phi[np.argmax(law)] == pytest.approx(1.050, abs=0.001)
    assert law.max() == pytest.approx(1143.0, abs=1.0)


def test_scatter_rounds_the_top_and_lowers_it() -> None:
    phi = np.linspace(0.9, 1.2, 601)
    sharp, round_top = (second.exhaust_k(phi, 0.0, scatter) for scatter in (1e-6, 0.05))
    assert round_top.max() < sharp.max() - 8.0
    assert 1.05 < phi[np.argmax(round_top)] < 1.08


def test_work_is_the_library_s_power_factor() -> None:
    """Whole between fuel/air 0.0779 and 0.0885, 0.931 at 0.0694, 0.836 at 0.0631 (same file)."""
    phi = 14.7 * np.array([0.0631, 0.0694, 0.0779, 0.0885])
    assert second.work(phi, 0.0, 0.0) == pytest.approx([0.836, 0.931, 1.0, 1.0])


def test_the_true_spread_is_made_under_the_other_law_too() -> None:
    spec = second.draw_second_spec(np.random.default_rng(4), cylinders=6, spread_gph=0.7)
    assert true_peaks(spec.engine, REFERENCE).spread_gph == pytest.approx(0.7, rel=1e-3)
    drawn = second.draw_second_spec(np.random.default_rng(4), cylinders=4)
    assert 0.0 < true_peaks(drawn.engine, REFERENCE).spread_gph < 1.4 * 4 / 6 + 1e-3


def test_a_probe_of_two_stages_delays_a_ramp_by_its_whole_lag_and_starts_flat() -> None:
    t = np.arange(0.0, 60.0, STEP_S)
    reading = second.SECOND.probe(3.0 * t, 4.0)
    assert reading[-1] == pytest.approx(3.0 * (t[-1] - 4.0), abs=1e-3)
    assert reading[3] < FIRST.probe(3.0 * t, 4.0)[3]


def test_the_flow_meter_counts_the_fuel_and_is_late_by_its_lag() -> None:
    flow = 10.0 + 0.05 * np.arange(0.0, 80.0, STEP_S)
    reading = second.SECOND.flow_reading(flow, 1.5)
    assert (flow - reading)[100:] == pytest.approx(0.05 * 1.5, abs=0.03)
    assert np.mean((flow - reading)[100:]) == pytest.approx(0.05 * 1.5, abs=0.005)


def test_noises_have_about_the_size_asked_for_and_heavier_tails() -> None:
    rng, weather, size = (
        np.random.default_rng(3),
        Weather(reading_noise_f=1.0, own_noise_f=2.0, own_drift_f=0.0),
        400_000,
    )
    reading = second.SECOND.reading_noise(weather, rng, size)
    assert np.std(reading[np.abs(reading) < 10.0]) == pytest.approx(1.0, abs=0.05)
    assert np.mean(np.abs(reading) > 4.0) > 1e-3
    assert second.SECOND.own_noise(weather, rng, size).std() == pytest.approx(2.0, abs=0.2)
    gusts = second.SECOND.gusts(Weather(gust_egt_f=3.0, gusty=True), rng, size)
    assert gusts.egt_f.std() == pytest.approx(3.0, rel=0.25)
    assert FIRST.reading_noise(weather, rng, size).std() == pytest.approx(1.0, abs=0.01)


def test_the_same_seed_gives_the_same_recording() -> None:
    spec = second.draw_second_spec(np.random.default_rng(1), sweeps=2, surroundings="whole-flight")
    one, other = second.simulate_second(spec, 1), second.simulate_second(spec, 1)
    for a, b in zip(one.table.columns, other.table.columns, strict=True):
        assert np.array_equal(a.values, b.values, equal_nan=True)
    assert one.truth == other.truth
