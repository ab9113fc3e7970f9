"""Decisions on each cylinder: reached, not reached, unclear."""

from dataclasses import replace

import numpy as np
import pytest

from leanwright.analysis import peak_status as module
from leanwright.analysis.peak_joint import Joint, joint
from leanwright.analysis.peak_place import Swept
from leanwright.analysis.peak_status import Described, decide, rising
from tests.analysis.peak_scene import QUICK, Flown

RANGE = Swept(2.30, 2.60, np.linspace(2.6, 2.3, 31), np.zeros(31))
QUIET = (False, False)


def test_a_peak_well_inside_is_peaked() -> None:
    assert decide(2.45, 0.002, RANGE, well=True, rises=QUIET) == ("peaked", None)


@pytest.mark.parametrize(("position", "side"), [(2.25, "below"), (2.65, "above")])
def test_a_peak_well_outside_is_not_reached_and_lies_beyond_that_end(position: float, side: str) -> None:
    assert decide(position, 0.002, RANGE, well=True, rises=QUIET) == ("not-reached", side)


@pytest.mark.parametrize("position", [2.29, 2.30, 2.31, 2.59, 2.60, 2.61])
def test_a_peak_about_an_end_is_unclear(position: float) -> None:
    assert decide(position, 0.02, RANGE, well=True, rises=QUIET) == ("unclear", None)


def test_a_peak_in_a_sweep_that_the_model_does_not_describe_is_unclear() -> None:
    assert decide(2.45, 0.002, RANGE, well=False, rises=QUIET) == ("unclear", None)


def test_an_uncertain_peak_is_unclear_wherever_it_seems_to_lie() -> None:
    assert decide(2.45, 0.2, RANGE, well=True, rises=QUIET) == ("unclear", None)
    assert decide(2.25, 0.2, RANGE, well=True, rises=QUIET) == ("unclear", None)


def test_egt_that_still_rises_towards_the_near_end_contradicts_a_peak_inside() -> None:
    assert decide(2.34, 0.002, RANGE, well=True, rises=(True, False)) == ("unclear", None)
    assert decide(2.34, 0.002, RANGE, well=True, rises=(False, True)) == ("peaked", None)
    assert decide(2.56, 0.002, RANGE, well=True, rises=(False, True)) == ("unclear", None)


def test_egt_that_still_rises_makes_an_uncertain_peak_outside_not_reached() -> None:
    assert decide(2.25, 0.2, RANGE, well=True, rises=(True, False)) == ("not-reached", "below")


def test_the_two_ends_are_treated_alike() -> None:
    for distance in np.linspace(-0.1, 0.14, 25):
        lean, side = decide(2.30 + distance, 0.003, RANGE, well=True, rises=QUIET)
        rich, other = decide(2.60 - distance, 0.003, RANGE, well=True, rises=QUIET)
        assert lean == rich
        assert (side, other) in {(None, None), ("below", "above")}


def test_more_certainty_never_turns_a_decision_into_unclear() -> None:
    for position in (2.2, 2.28, 2.33, 2.4):
        decisions = [
            decide(position, u, RANGE, well=True, rises=QUIET)[0] for u in (0.1, 0.05, 0.02, 0.01, 0.001)
        ]
        first = next((k for k, one in enumerate(decisions) if one != "unclear"), len(decisions))
        assert len(set(decisions[first:])) <= 1


@pytest.mark.parametrize(
    ("misfit", "own_f", "drop", "well"),
    [
        (1.0, 1.0, 1.0, True),
        (1.0, 1.0, np.nan, True),
        (50.0, 1.0, 1.0, False),
        (1.0, 19.0, 1.0, False),
        (1.0, 1.0, 0.0, False),
    ],
)
def test_a_model_is_believed_that_fits_with_little_noise_and_falls_as_the_readings_do(
    misfit: float, own_f: float, drop: float, *, well: bool
) -> None:
    assert Described(misfit, own_f, drop).well is well


def fitted(flown: Flown) -> Joint:
    return joint(flown.ready())


def test_a_whole_sweep_rises_towards_neither_end_and_falls_as_the_model_does() -> None:
    found = fitted(QUICK)
    assert not np.any(found.rises[0])
    assert found.described[0].well
    assert found.described[0].drop == pytest.approx(1.0, abs=0.3)


def test_egt_rises_towards_the_end_at_which_the_sweep_began_or_ended_too_soon() -> None:
    lean = fitted(
        Flown(
            (0.0, 40.0, 160.0, 180.0), (15.0, 15.0, 13.0, 13.0),
            peaks_gph=QUICK.peaks_gph, lags_s=QUICK.lags_s, interval_s=2.0,
        )
    )  # fmt: skip
    rich = fitted(
        Flown(
            (0.0, 40.0, 160.0, 180.0), (11.2, 11.2, 9.6, 9.6),
            peaks_gph=QUICK.peaks_gph, lags_s=QUICK.lags_s, interval_s=2.0,
        )
    )  # fmt: skip
    assert lean.rises[0][0].all()
    assert not lean.rises[0][1].any()
    assert rich.rises[0][1].all()
    assert not rich.rises[0][0].any()


def test_too_few_readings_near_an_end_rise_nowhere() -> None:
    found = fitted(QUICK)
    one = found.ready[0]
    nothing = np.full_like(one.egt_f, np.nan)
    assert not np.any(rising(one.part, one.passage, found.found, 0, nothing))


def test_a_path_that_stands_still_rises_nowhere() -> None:
    found = fitted(QUICK)
    one = found.ready[0]
    path = one.passage.path
    still = replace(
        path,
        log_flow=np.full_like(path.log_flow, 2.5),
        rate=np.zeros_like(path.rate),
        directions=np.zeros_like(path.directions),
    )
    passage = replace(one.passage, path=still)
    assert not np.any(rising(one.part, passage, found.found, 0, one.egt_f))


def test_a_mean_where_rows_lie_far_apart_is_the_nearest_row() -> None:
    values = np.array([[1.0, 2.0, 4.0], [5.0, np.nan, 7.0]])
    near = module._mean_near(np.array([0.0, 60.0, 120.0]), values, 75.0)
    np.testing.assert_array_equal(near, [2.0, np.nan])
