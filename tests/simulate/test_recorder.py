"""How the panel reads and rounds."""

import numpy as np
import pytest

from leanwright.simulate.recorder import OPTIONAL, Recorder


@pytest.mark.parametrize(
    ("recorder", "quantity", "inside", "written", "unit"),
    [
        (Recorder(), "egt", 1432.4, 1432.0, "degF"),
        (Recorder(egt_unit="degC"), "egt", 1500.0, 816.0, "degC"),
        (Recorder(metric=True), "fuel_flow", 12.0, 45.4, "L/h"),
        (Recorder(flow_step_gph=0.05), "fuel_flow", 12.03, 12.05, "gal/h"),
        (Recorder(flow_step_gph=0.01, metric=True), "fuel_flow", 12.0, 45.4, "L/h"),
        (Recorder(metric=True), "manifold_pressure", 22.0, 745.0, "hPa"),
        (Recorder(manifold_step_inhg=0.01), "manifold_pressure", 22.004, 22.0, "inHg"),
        (Recorder(metric=True), "cht", 400.0, 204.0, "degC"),
        (Recorder(metric=True), "altitude", 6500.0, 1981.0, "m"),
        (Recorder(metric=True), "indicated_airspeed", 100.0, 185.0, "km/h"),
        (Recorder(metric=True), "oil_pressure", 60.0, 4.1, "bar"),
        (Recorder(speed_step_rpm=10.0), "engine_speed", 2347.0, 2350.0, "rpm"),
        (Recorder(), "engine_hours", 412.34, 412.3, "h"),
    ],
)
def test_a_value_is_rounded_in_the_unit_it_is_written_in(
    recorder: Recorder, quantity: str, inside: float, written: float, unit: str
) -> None:
    """Conversions by the factors of NIST SP 811 appendix B."""
    column = recorder.reads(quantity, np.array([inside]))
    assert (column.values.tolist(), column.unit) == ([pytest.approx(written)], unit)


@pytest.mark.parametrize("metric", [False, True])
@pytest.mark.parametrize("quantity", ["egt", "fuel_flow", "engine_speed", *OPTIONAL])
def test_reading_back_is_off_by_half_a_step_at_most(quantity: str, *, metric: bool) -> None:
    recorder = Recorder(metric=metric, egt_unit="degC" if metric else "degF")
    inside = np.linspace(10.0, 400.0, 57)
    column = recorder.reads(quantity, inside)
    step = np.ptp(recorder.reads(quantity, np.array([0.0, 1000.0])).inside) / np.ptp(
        recorder.reads(quantity, np.array([0.0, 1000.0])).values
    )
    assert np.abs(column.inside - inside).max() <= 0.5001 * step * recorder.step(quantity)


def test_instants_are_even_but_for_the_jitter_and_never_go_back() -> None:
    recorder = Recorder(interval_s=2.0, jitter_s=0.05)
    steps = np.diff(recorder.instants(np.random.default_rng(0), 4000.0))
    assert steps.mean() == pytest.approx(2.0, abs=0.01)
    assert steps.std() == pytest.approx(0.05 * np.sqrt(2.0), rel=0.1)
    wild = Recorder(interval_s=2.0, jitter_s=5.0).instants(np.random.default_rng(0), 4000.0)
    assert np.all(np.diff(wild) >= 0.0)


def test_cells_are_lost_by_chance_in_the_share_asked_for() -> None:
    recorder = Recorder(dropout_percent=2.0)
    column = recorder.losing(recorder.reads("egt", np.full(50_000, 1400.0)), np.random.default_rng(1))
    assert np.isnan(column.values).mean() == pytest.approx(0.02, abs=0.003)
