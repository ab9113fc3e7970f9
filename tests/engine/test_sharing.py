"""Flow through nozzles and holes against printed examples and arithmetic."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leanwright.engine import sharing

# Total flows at peak of a worked example with equal air to all six cylinders [gal/h] (derived by hand).
WORKED = np.array([12.0, 12.2, 12.1, 12.6, 12.0, 12.1])


@pytest.mark.parametrize(
    ("diameter", "pressure", "flow"),
    [
        (0.025, 10.0, 3.3341),
        (0.025, 2.0, 1.4911),
        (0.025, 5.0, 2.3576),
        (0.025, 15.0, 4.0834),
        (0.025, 20.0, 4.7151),
        (0.022, 10.0, 2.5819),
        (0.028, 10.0, 4.1823),
    ],
)
def test_nozzle_flow_follows_the_orifice_law(diameter: float, pressure: float, flow: float) -> None:
    """Exact factors; the first agrees with fluids 1.3.1 ``flow_meter_discharge`` (D 0.05 m, C 0.8)."""
    assert sharing.nozzle_flow(diameter, pressure) == pytest.approx(flow, abs=5e-4)


def test_three_percent_more_flow_takes_half_of_that_in_bore() -> None:
    """sqrt(1.03) = 1.01489; and 0.0005 in on a 0.025 in bore is 4.04 percent of flow."""
    assert sharing.nozzle_flow(0.025 * 1.0148892, 5.0) == pytest.approx(
        1.03 * sharing.nozzle_flow(0.025, 5.0), rel=1e-6
    )
    assert sharing.nozzle_flow(0.0255, 5.0) / sharing.nozzle_flow(0.025, 5.0) == pytest.approx(
        1.0404, abs=1e-4
    )


@pytest.mark.parametrize(
    ("n", "factor", "own", "others", "pressure"),
    [
        (6, 1.01, 0.8319, -0.1664, -0.3325),
        (6, 1.02, 1.6611, -0.3322, -0.6633),
        (6, 1.03, 2.4876, -0.4975, -0.9925),
        (6, 1.05, 4.1322, -0.8264, -1.6461),
        (4, 1.03, 2.2333, -0.7444, -1.4833),
        (6, 0.90, -8.4746, 1.6949, 3.4186),
    ],
)
def test_a_changed_nozzle_takes_from_or_gives_to_all_others(
    n: int, factor: float, own: float, others: float, pressure: float
) -> None:
    """Derived: own flow k n/(n-1+k), others n/(n-1+k), line pressure its square."""
    before, factors = np.ones(n), np.array([factor] + [1.0] * (n - 1))
    change = 100.0 * (sharing.fuel_shares(before * factors) / sharing.fuel_shares(before) - 1.0)
    assert change == pytest.approx([own] + [others] * (n - 1), abs=1e-4)
    assert 100.0 * (sharing.pressure_ratio(before, factors) - 1.0) == pytest.approx(pressure, abs=1e-4)


def test_worked_balance_gives_the_shares_of_the_example() -> None:
    shares = sharing.fuel_shares(1.0 / WORKED)
    assert 100.0 * shares == pytest.approx([16.8934, 16.6165, 16.7538, 16.0890, 16.8934, 16.7538], abs=1e-4)


def test_worked_balance_gives_the_flows_of_the_example_after_one_change() -> None:
    """Cylinder 4 brought to the others' median, 12.1: every other cylinder moves too."""
    factors = np.array([1.0, 1.0, 1.0, 12.6 / 12.1, 1.0, 1.0])
    after = sharing.flows_after_change(WORKED, 1.0 / WORKED, factors)
    assert factors[3] == pytest.approx(1.04132, abs=1e-5)
    assert after == pytest.approx([12.0798, 12.2811, 12.1804, 12.1804, 12.0798, 12.1804], abs=1e-4)
    assert after.max() - after.min() == pytest.approx(0.2013, abs=1e-4)
    assert 100.0 * (sharing.pressure_ratio(1.0 / WORKED, factors) - 1.0) == pytest.approx(-1.32, abs=5e-3)


@given(st.lists(st.floats(10.0, 14.0), min_size=4, max_size=8))
def test_even_factors_bring_all_peaks_together_and_keep_the_sum(flows: list[float]) -> None:
    coefficients = np.linspace(0.9, 1.1, len(flows))
    factors = sharing.even_factors(flows, coefficients)
    after = sharing.flows_after_change(flows, coefficients, factors)
    assert after == pytest.approx(after[0], rel=1e-12)
    assert (coefficients * factors).sum() == pytest.approx(coefficients.sum(), rel=1e-12)


@given(st.lists(st.floats(0.8, 1.25), min_size=4, max_size=8))
def test_changing_nozzles_and_changing_back_is_no_change(factors: list[float]) -> None:
    flows, coefficients = np.linspace(11.0, 13.0, len(factors)), np.linspace(1.1, 0.9, len(factors))
    there = sharing.flows_after_change(flows, coefficients, factors)
    back = sharing.flows_after_change(there, coefficients * np.array(factors), 1.0 / np.array(factors))
    assert back == pytest.approx(flows, rel=1e-12)


LEAK: dict[tuple[float, float], dict[float, float]] = {
    (29.92, 288.15): {15: 2.48, 18: 2.04, 20: 1.78, 22: 1.52, 25: 1.13, 28: 0.67, 29.5: 0.31},
    (22.22, 272.30): {15: 1.70, 18: 1.20, 20: 0.83, 22: 0.25},
}


@pytest.mark.parametrize(
    ("outside", "temperature", "manifold", "percent"),
    [(p, t, m, percent) for (p, t), row in LEAK.items() for m, percent in row.items()],
)
def test_a_leak_adds_air_that_fades_toward_full_throttle(
    outside: float, temperature: float, manifold: float, percent: float
) -> None:
    """Hole of 1/16 in, coefficient 0.8, 90 in3, 2400 rpm, volumetric efficiency 0.85, U.S. Standard Atmosphere.

    Derived from isentropic orifice flow; the trend is that of FAA-H-8083-32B p. 10-33.
    """
    leak = sharing.orifice_air_flow(0.0625, outside, manifold, temperature)
    own = sharing.engine_air_flow(90.0, 2400.0, manifold, temperature)
    assert 100.0 * leak / own == pytest.approx(percent, abs=0.02)


def test_a_leak_turns_outward_when_the_manifold_is_above_ambient() -> None:
    inward = sharing.orifice_air_flow(0.05, 30.0, 25.0, 290.0)
    assert sharing.orifice_air_flow(0.05, 25.0, 30.0, 290.0) == pytest.approx(-inward)


def test_open_bleeds_share_the_fuel_by_coefficient_alone() -> None:
    coefficients = [0.9, 1.0, 1.1, 1.0]
    shares, pressure = sharing.shares_under_suction(coefficients, np.array([6.0, 12.0]), np.zeros((4, 2)))
    assert shares == pytest.approx(np.tile(sharing.fuel_shares(coefficients)[:, None], 2))
    assert pressure == pytest.approx([(6.0 / 4.0) ** 2, (12.0 / 4.0) ** 2])


def test_a_blocked_bleed_draws_fuel_and_draws_more_as_manifold_pressure_falls() -> None:
    suction = np.zeros((4, 3))
    suction[1] = [0.0, 1.0, 3.0]
    shares, pressure = sharing.shares_under_suction(np.ones(4), np.full(3, 8.0), suction)
    assert shares.sum(axis=0) == pytest.approx(1.0)
    assert np.all(np.diff(shares[1]) > 0.0)
    assert np.all(np.diff(pressure) < 0.0)


@given(st.floats(1.0, 30.0), st.floats(0.0, 4.0))
def test_the_line_pressure_found_passes_the_metered_flow(total: float, suction: float) -> None:
    """Forward and back, wherever suction alone would not pass more than is metered."""
    c = np.array([0.9, 1.0, 1.1, 1.0, 1.05, 0.95])
    e = np.array([[suction], [0.0], [0.0], [0.5 * suction], [0.0], [0.0]])
    shares, pressure = sharing.shares_under_suction(c, np.array([total]), e)
    if pressure[0] > 1e-8:
        assert (c[:, None] * np.sqrt(pressure + e)).sum() == pytest.approx(total, rel=1e-9)
    assert shares.sum() == pytest.approx(1.0)


def test_air_of_an_engine_goes_with_speed_and_pressure() -> None:
    one = sharing.engine_air_flow(540.0, 2400.0, 22.0, 280.0)
    assert sharing.engine_air_flow(540.0, 1200.0, 22.0, 280.0) == pytest.approx(one / 2.0)
    assert sharing.engine_air_flow(90.0, 2400.0, 22.0, 280.0) == pytest.approx(one / 6.0)
