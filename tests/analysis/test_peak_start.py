"""Where the fit begins, and that it begins again where the first place may mislead."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from leanwright.analysis import peak_start as module
from leanwright.analysis.passage import Passage
from leanwright.analysis.peak_fit import Fit, Point, fit, starting_point
from leanwright.analysis.peak_joint import Ready
from leanwright.analysis.peak_place import places_of
from leanwright.analysis.peak_start import best_fit, start
from tests.analysis.peak_scene import QUICK, Flown

Floats = NDArray[np.float64]


@pytest.fixture(scope="module")
def one() -> Ready:
    return QUICK.ready()[0]


def test_the_start_is_near_the_peaks_whichever_way_the_lever_went(one: Ready) -> None:
    first = start(one.part, one.passage, one.egt_f)
    np.testing.assert_allclose(np.exp(first.position), QUICK.peaks_gph, rtol=0.02)
    # The scene's tops are 1510, 1520 and 1530 degF.
    np.testing.assert_allclose(first.top_f + one.passage.level_f, [1510.0, 1520.0, 1530.0], atol=8.0)


def test_a_cylinder_without_readings_starts_where_the_others_do(one: Ready) -> None:
    egt = one.egt_f.copy()
    egt[1] = np.nan
    first = start(one.part, one.passage, egt)
    assert first.position[1] == pytest.approx(np.median(first.position[[0, 2]]))
    nothing = start(one.part, one.passage, np.full_like(egt, np.nan))
    assert np.isfinite(nothing.position).all()


def test_a_doubtful_sweep_is_fitted_from_other_places_too_and_the_likeliest_is_kept(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    flown = Flown(
        (0.0, 40.0, 160.0, 180.0), (14.0, 14.0, 11.75, 11.75),
        peaks_gph=QUICK.peaks_gph, lags_s=QUICK.lags_s, interval_s=2.0,
    )  # fmt: skip
    ready = flown.ready()[0]
    costs = []

    def watched(*arguments: object, **named: object) -> object:
        found = fit(*arguments, **named)  # type: ignore[arg-type]  # passed through
        costs.append(found.cost)
        return found

    monkeypatch.setattr(module, "fit", watched)
    best = best_fit([ready.part], [ready.passage], [start(ready.part, ready.passage, ready.egt_f)])
    assert len(costs) > 1
    assert best.cost == min(costs)


@pytest.mark.parametrize(
    ("elsewhere", "all_again"), [(module.ELSEWHERE, 0), (-1.0, 2)], ids=["same", "elsewhere"]
)
def test_among_many_sweeps_a_doubtful_one_has_all_fitted_again_only_where_it_leads_elsewhere(
    monkeypatch: pytest.MonkeyPatch, elsewhere: float, all_again: int
) -> None:
    ready = QUICK.ready() * 5
    together: list[Floats] = []
    alone: list[Floats] = []

    def watched(passages: Sequence[Passage], position: Floats, point: Point) -> Fit:
        (together if len(passages) > 1 else alone).append(position)
        return fit(passages, position, point)

    monkeypatch.setattr(module, "fit", watched)
    monkeypatch.setattr(module, "POOR", 0.0)
    monkeypatch.setattr(module, "ELSEWHERE", elsewhere)
    best_fit(
        [one.part for one in ready],
        [one.passage for one in ready],
        [start(one.part, one.passage, one.egt_f) for one in ready],
    )
    assert len(ready) > module.TRIED_TOGETHER
    assert (len(together), len(alone)) == (1 + all_again, 3 * len(ready))


def test_the_fit_from_the_truth_is_no_likelier_than_the_one_kept(one: Ready) -> None:
    first = start(one.part, one.passage, one.egt_f)
    best = best_fit([one.part], [one.passage], [first])
    position = np.log(np.array([QUICK.peaks_gph]))
    true = fit([one.passage], position, starting_point([one.passage], position, first.top_f[None]))
    assert best.cost <= true.cost + 1.0


def test_a_start_that_is_off_by_a_little_ends_at_the_same_place(one: Ready) -> None:
    first = start(one.part, one.passage, one.egt_f)
    ends = [
        best_fit([one.part], [one.passage], [replace(first, position=first.position + shift)])
        for shift in (0.0, 0.01, -0.01)
    ]
    assert np.ptp([end.cost for end in ends]) < 0.5
    places = np.array([places_of(end).position[0] for end in ends])
    u = np.sqrt(np.diag(places_of(ends[0]).covariance(ends[0].covariance)))
    assert (np.ptp(places - places.mean(1, keepdims=True), axis=0) < 0.2 * u).all()
