"""The truth of the virtual engine: where its peaks lie."""

from dataclasses import replace

import numpy as np
import pytest

from leanwright.engine import mixture, sharing
from leanwright.quantities import AVGAS_POUNDS_PER_US_GALLON
from leanwright.simulate.draw import REFERENCE, draw_engine, with_spread
from leanwright.simulate.virtual_engine import Setting, VirtualEngine, true_peaks, with_offsets


def healthy(propeller: str = "constant-speed", seed: int = 1) -> VirtualEngine:
    rng = np.random.default_rng(seed)
    return replace(draw_engine(rng, 6, 0.8), propeller=propeller)  # type: ignore[arg-type]  # a name of the two


def test_each_peak_is_where_own_fuel_meets_own_air_at_the_peak_of_its_curve() -> None:
    """F* = phi* A a_i FAR / s_i, with phi* from the equilibrium curve (no late burning)."""
    engine = replace(healthy(), late_burning_k=(0.0,) * 6, egt_per_log_air_f=0.0)
    air = engine.nominal_air_lb_h(REFERENCE) * np.array(engine.air_shares)
    shares = sharing.fuel_shares(engine.nozzle_coefficients)
    phi = np.array(
        [mixture.peak_equivalence_ratio(*p) for p in zip(engine.heat_loss, engine.scatter, strict=True)]
    )
    expected = phi * air * mixture.STOICHIOMETRIC_FUEL_AIR / shares / AVGAS_POUNDS_PER_US_GALLON
    assert true_peaks(engine, REFERENCE).flow_gph == pytest.approx(expected, rel=3e-4)


def test_with_a_constant_speed_both_kinds_of_offset_are_one() -> None:
    peaks = true_peaks(healthy(), REFERENCE)
    assert peaks.offset_at_own_crossing_percent == pytest.approx(peaks.offset_percent, abs=2e-3)


def test_with_a_fixed_pitch_power_falls_along_the_line_and_stretches_the_offsets() -> None:
    engine = with_offsets(healthy("fixed-pitch"), REFERENCE, (4.0, 2.0, 0.0, 0.0, -2.0, -4.0))
    peaks = true_peaks(engine, REFERENCE)
    assert peaks.offset_percent == pytest.approx((4.0, 2.0, 0.0, 0.0, -2.0, -4.0), abs=5e-3)
    assert max(peaks.offset_at_own_crossing_percent) > 4.1
    assert min(peaks.offset_at_own_crossing_percent) < -4.1


def test_offsets_made_and_found_again_are_the_same() -> None:
    wanted = (1.0, -2.0, 3.0, 0.5, -1.5, -1.0)
    peaks = true_peaks(with_offsets(healthy(), REFERENCE, wanted), REFERENCE)
    assert peaks.offset_percent == pytest.approx(np.array(wanted) - np.mean(wanted), abs=5e-3)


@pytest.mark.parametrize("spread", [0.0, 1e-9, 1e-4, 0.3, 0.5, 1.0])
def test_the_spread_asked_for_is_the_spread_made(spread: float) -> None:
    engine = with_spread(healthy(), spread, np.array([1.0, -0.3, 0.2, 0.7, -1.1, -0.5]))
    assert true_peaks(engine, REFERENCE).spread_gph == pytest.approx(spread, abs=2e-3)


def test_offsets_of_nozzles_are_the_same_percent_at_every_power() -> None:
    low = Setting(17.0, 2200.0, REFERENCE.ambient_pressure_inhg, REFERENCE.ambient_temperature_k)
    engine = replace(healthy(), egt_per_log_air_f=0.0)
    assert true_peaks(engine, low).offset_percent == pytest.approx(
        true_peaks(engine, REFERENCE).offset_percent, abs=5e-3
    )
