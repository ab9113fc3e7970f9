"""The plain local fit."""

from dataclasses import replace

import numpy as np
import pytest

from leanwright.analysis.witness import (
    WINDOW,
    Vertex,
    local_vertex,
    objections,
    running_mean,
    witness,
)
from tests.analysis.peak_scene import PAIR, Flown


def test_vertex_of_an_exact_parabola_is_found_without_uncertainty() -> None:
    x = np.linspace(2.0, 3.0, 21)
    vertex, u_vertex, bend = local_vertex(x, 7.0 - 40.0 * (x - 2.4) ** 2)
    assert vertex == pytest.approx(2.4, abs=1e-12)
    assert u_vertex == pytest.approx(0.0, abs=1e-9)
    assert bend == pytest.approx(-80.0)


def test_running_mean_leaves_missing_values_out() -> None:
    means = running_mean(np.array([0.0, 1.0, 2.0, 10.0]), np.array([1.0, np.nan, 3.0, np.nan]), 4.0)
    np.testing.assert_allclose(means, [2.0, 2.0, 2.0, np.nan])


def test_running_mean_of_a_straight_line_is_the_line() -> None:
    time = np.arange(20.0)
    means = running_mean(time, 3.0 * time, 5.0)
    np.testing.assert_allclose(means[3:-3], 3.0 * time[3:-3])


def test_a_straight_line_has_no_vertex() -> None:
    x = np.linspace(-1.0, 1.0, 11)
    vertex, u_vertex, bend = local_vertex(x, np.zeros(11))
    assert vertex == pytest.approx(0.0)
    assert (u_vertex, bend) == (np.inf, 0.0)


def test_the_uncertainty_of_a_vertex_is_what_repeated_noise_scatters_it_by() -> None:
    random = np.random.default_rng(2)
    x = np.linspace(-0.08, 0.08, 40)
    found = [local_vertex(x, -9000.0 * (x - 0.01) ** 2 + random.normal(0.0, 1.0, 40)) for _ in range(400)]
    scatter = float(np.std([one[0] for one in found]))
    assert float(np.mean([one[1] for one in found])) == pytest.approx(scatter, rel=0.2)
    assert float(np.mean([one[0] for one in found])) == pytest.approx(0.01, abs=3e-4)


def test_peaks_are_found_within_three_of_their_uncertainties_whichever_way_the_lever_went() -> None:
    for part in PAIR.excerpts():
        vertices = witness(part)
        assert len(vertices) == 6
        for vertex, peak in zip(vertices, PAIR.peaks_gph, strict=True):
            assert vertex is not None
            assert vertex.inside
            assert abs(vertex.log_flow - np.log(peak)) < 3.0 * vertex.u_log_flow


def test_a_sweep_that_stops_short_has_no_vertex_inside() -> None:
    part = Flown((0.0, 40.0, 160.0, 180.0), (15.0, 15.0, 13.0, 13.0)).excerpts()[0]
    assert not any(vertex is not None and vertex.inside for vertex in witness(part))


def test_too_few_readings_have_no_vertex() -> None:
    part = Flown().excerpts()[0]
    egt = part.egt_f.copy()
    egt[0, 45:] = np.nan
    egt[1] = np.nan
    rows = np.flatnonzero(part.inside)
    egt[2, np.setdiff1d(rows, rows[::14])] = np.nan
    vertices = witness(replace(part, egt_f=egt))
    assert vertices[:3] == (None, None, None)
    assert vertices[3] is not None


@pytest.mark.parametrize(("near", "enough"), [(5, False), (6, True)])
def test_six_readings_about_the_top_are_just_enough_for_a_vertex(near: int, *, enough: bool) -> None:
    part = Flown().excerpts()[0]
    rows = np.flatnonzero(part.inside)
    away = np.abs(np.log(part.flow_gph[rows] / 12.0))
    about, far = rows[away < 0.7 * WINDOW], rows[away > 1.3 * WINDOW]
    read = [*about[np.linspace(0, about.size - 1, near, dtype=int)], *far[::4]]
    egt = np.full(part.egt_f.shape, np.nan)
    egt[:, read] = 1500.0 - 9000.0 * np.log(part.flow_gph[read] / 12.0) ** 2
    assert [one is not None for one in witness(replace(part, egt_f=egt))] == [enough] * 6


def test_a_reading_that_stands_still_where_it_is_highest_has_no_vertex_inside() -> None:
    """As where a panel shows no more than so many degrees: where in it the top lies cannot be told."""
    part = Flown().excerpts()[0]
    lean = np.clip(np.log(12.6 / part.flow_gph), 0.0, None)
    egt = np.broadcast_to(1500.0 - 9000.0 * lean**2, part.egt_f.shape).copy()
    vertices = witness(replace(part, egt_f=egt))
    assert [(one.inside, one.u_log_flow) for one in vertices if one is not None] == [(False, np.inf)] * 6


def test_known_lags_place_the_peaks_more_closely_than_common_ones() -> None:
    for part in PAIR.excerpts():
        known = witness(part, np.full(6, 1.3))
        for usual, better in zip(witness(part), known, strict=True):
            assert usual is not None
            assert better is not None
            assert better.log_flow == pytest.approx(usual.log_flow)
            assert better.u_log_flow < usual.u_log_flow


def vertex(percent: float, u_percent: float = 0.15, *, inside: bool = True) -> Vertex:
    return Vertex(2.5 + percent / 100.0, u_percent / 100.0, inside)


def test_one_cylinder_off_the_others_by_three_uncertainties_is_objected_to() -> None:
    vertices = [vertex(0.3), vertex(0.3), vertex(-0.2), vertex(0.3), vertex(0.3), None]
    said = objections(vertices, [2.5] * 6)
    assert [one is not None for one in said] == [False, False, True, False, False, False]
    assert said[2] == pytest.approx((0.005, 0.0015))
    assert objections([vertex(0.3), vertex(0.3), vertex(-0.14), vertex(0.3)], [2.5] * 4) == (None,) * 4


def test_a_bias_that_all_share_is_that_of_the_curve_up_to_one_percent() -> None:
    assert objections([vertex(0.9)] * 4, [2.5] * 4) == (None,) * 4
    assert all(one is not None for one in objections([vertex(1.5)] * 4, [2.5] * 4))


def test_a_lone_witness_has_to_allow_for_the_shape_of_the_curve() -> None:
    assert objections([vertex(0.9), None], [2.5] * 2) == (None, None)
    assert objections([vertex(1.2), None], [2.5] * 2)[0] is not None
    assert objections([vertex(1.2, inside=False), None], [2.5] * 2) == (None, None)
