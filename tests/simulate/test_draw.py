"""What is drawn lies in the ranges that are promised, and is spread over them."""

from collections import Counter

import numpy as np
import pytest

from leanwright.simulate.draw import REFERENCE, draw_recorder, draw_spec, draw_sweeps, draw_weather
from leanwright.simulate.flight import FlightSpec
from leanwright.simulate.layouts import LAYOUTS
from leanwright.simulate.virtual_engine import true_peaks


@pytest.fixture(scope="module")
def specs() -> list[FlightSpec]:
    return [draw_spec(np.random.default_rng(seed), sweeps=2) for seed in range(40)]


def test_about_a_third_have_four_cylinders_and_a_third_a_fixed_pitch(specs: list[FlightSpec]) -> None:
    assert 0.15 < np.mean([spec.engine.cylinders == 4 for spec in specs]) < 0.5
    assert 0.15 < np.mean([spec.engine.propeller == "fixed-pitch" for spec in specs]) < 0.5


def test_half_are_gusty_and_gusts_stay_in_their_range(specs: list[FlightSpec]) -> None:
    assert 0.3 < np.mean([spec.weather.gusty for spec in specs]) < 0.7
    for spec in specs:
        low, high = (2.0, 6.0) if spec.weather.gusty else (0.8, 2.0)
        assert low <= spec.weather.gust_egt_f <= high


def test_engines_stay_in_their_ranges(specs: list[FlightSpec]) -> None:
    lags = np.array([lag for spec in specs for lag in spec.engine.probe_lag_s])
    scatter = np.array([s for spec in specs for s in spec.engine.scatter])
    assert (lags.min(), lags.max()) == pytest.approx((1.0, 5.0), rel=0.1)
    assert np.median(np.log(lags)) == pytest.approx(np.log(5.0) / 2.0, abs=0.12)
    assert 0.03 <= scatter.min() < scatter.max() <= 0.08


def test_spreads_reach_from_none_to_plain(specs: list[FlightSpec]) -> None:
    spreads = [true_peaks(s.engine, REFERENCE).spread_gph * 6.0 / s.engine.cylinders for s in specs]
    assert min(spreads) < 0.02
    assert 1.0 < max(spreads) < 1.45


def test_sweeps_keep_the_rates_and_go_down_and_up_in_turn(specs: list[FlightSpec]) -> None:
    assert all(0.015 <= plan.rate_gph_per_s <= 0.09 for spec in specs for plan in spec.sweeps)
    assert {tuple(plan.direction for plan in spec.sweeps) for spec in specs} == {("leaning", "enriching")}
    assert {plan.movement for spec in specs for plan in spec.sweeps} == {"smooth", "steps", "hesitant"}


def test_single_sweeps_are_leaning_or_enriching() -> None:
    directions = Counter(draw_sweeps(np.random.default_rng(seed))[0].direction for seed in range(80))
    assert 0.1 < directions["enriching"] / 80 < 0.45


def test_four_sweeps_over_two_powers_are_two_pairs() -> None:
    plans = draw_sweeps(np.random.default_rng(3), 4, 2)
    pressures = [plan.manifold_pressure_inhg for plan in plans]
    assert pressures[0] == pressures[1] > pressures[2] == pressures[3]
    assert [plan.return_s is None for plan in plans] == [True, False, True, False]


def test_without_sweeps_there_is_no_plan() -> None:
    assert draw_sweeps(np.random.default_rng(3), 0) == ()


def test_layouts_without_units_are_never_metric_in_flow() -> None:
    bare = next(layout for layout in LAYOUTS.values() if layout.units == "none")
    recorders = [draw_recorder(np.random.default_rng(seed), bare) for seed in range(60)]
    assert not any(recorder.metric for recorder in recorders)
    assert {recorder.egt_unit for recorder in recorders} == {"degF", "degC"}
    assert any(draw_recorder(np.random.default_rng(seed)).metric for seed in range(60))


def test_weather_can_be_asked_for() -> None:
    assert draw_weather(np.random.default_rng(0), gusty=True).gusty
    assert not draw_weather(np.random.default_rng(0), gusty=False).gusty


def test_every_layout_is_drawn() -> None:
    drawn = {draw_spec(np.random.default_rng(seed), spread_gph=0.0).layout for seed in range(80)}
    assert drawn == set(LAYOUTS)
