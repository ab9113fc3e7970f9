"""How a choice comes out, against arithmetic and plain random draws."""

import numpy as np
import pytest

from leanwright.analysis.plan_chance import draws, estimate, highest_after, offsets_after, spread_after
from leanwright.analysis.plan_search import Option
from leanwright.analysis.response import Response
from leanwright.engine.nozzles import NEW_NOZZLE, Tolerance
from leanwright.engine.sharing import flows_after_change
from tests.analysis.plan_scene import TWO_OUT, flown

KEEP = Option(1.0)


def test_the_worked_balance_comes_out_as_by_hand() -> None:
    """Flows 12.0, 12.2, 12.1, 12.6, 12.0, 12.1 with equal air, cylinder 4 brought to 12.1 (derived by hand).

    Continuity and the square-root law of the nozzle's orifice give each flow at peak; the spread falls to 0.2013.
    """
    before = [12.0, 12.2, 12.1, 12.6, 12.0, 12.1]
    factors = np.array([1.0, 1.0, 1.0, 12.6 / 12.1, 1.0, 1.0])
    coefficients = 1.0 / np.array(before)
    after = flows_after_change(before, coefficients, factors)
    assert after == pytest.approx([12.0798, 12.2811, 12.1804, 12.1804, 12.0798, 12.1804], abs=1e-4)
    found, _ = flown(before, u=1e-7)
    chosen = [Option(factor, "order" if factor != 1.0 else "keep") for factor in factors]
    total = float((coefficients * factors).sum() / coefficients.sum())
    spread = spread_after(draws(found), chosen, total)
    assert spread == pytest.approx(0.2013, abs=1e-3)
    assert highest_after(draws(found), chosen, total) == pytest.approx(12.2811, abs=1e-3)


def test_the_balance_gives_back_the_covariance_that_it_was_made_from() -> None:
    found, _ = flown(TWO_OUT, sweeps=1, u=0.002)
    offset, log_mean, covariance = estimate(found)
    # One sweep of independent values: cov of centred offsets u2 (I - 1/6), of the mean u2/6, none between them.
    assert offset == pytest.approx(np.log(TWO_OUT) - np.mean(np.log(TWO_OUT)))
    assert log_mean == pytest.approx(np.mean(np.log(TWO_OUT)))
    expected = np.zeros((7, 7))
    expected[:6, :6] = 4e-6 * (np.eye(6) - 1.0 / 6.0)
    expected[6, 6] = 4e-6 / 6.0
    assert covariance == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("tolerance", [Tolerance(0.5, "uniform"), Tolerance(0.4, "normal")])
def test_a_new_nozzle_adds_its_tolerance_to_what_the_measurement_leaves(tolerance: Tolerance) -> None:
    found, _ = flown(TWO_OUT, u=0.001)
    chosen = [KEEP, KEEP, Option(1.05, "order", tolerance=tolerance), KEEP, KEEP, KEEP]
    drawn = draws(found)
    after = offsets_after(drawn, chosen)
    before = offsets_after(drawn, [KEEP] * 6)
    expected = np.sqrt(before[2].var() + (5.0 / 6.0) ** 2 * tolerance.u**2)
    assert after[2].std() == pytest.approx(expected, rel=0.02)
    assert after[2].mean() - before[2].mean() == pytest.approx(-5.0 / 6.0 * np.log(1.05), abs=1e-4)


def test_exchanged_nozzles_carry_their_own_error_along() -> None:
    # If nozzle A (true flow 1+a) and B (1+b) change places, cylinder A gains b - a and B gains a - b: opposite errors.
    found, _ = flown(TWO_OUT, u=1e-6)
    loose = Tolerance(0.5, "uniform")
    chosen = [
        Option(1.02, "exchange", tolerance=loose, before=loose, from_row=1),
        Option(1.0 / 1.02, "exchange", tolerance=loose, before=loose, from_row=0),
        *[KEEP] * 4,
    ]
    after = offsets_after(draws(found), chosen)
    errors = after[:2] - after[:2].mean(axis=1, keepdims=True)
    assert np.corrcoef(errors)[0, 1] == pytest.approx(-1.0, abs=1e-3)


def test_the_chance_agrees_with_plain_random_draws() -> None:
    found, _ = flown(TWO_OUT, u=0.006)
    chosen = [
        KEEP,
        KEEP,
        Option(1.03, "order", tolerance=NEW_NOZZLE),
        KEEP,
        Option(0.97, "order", tolerance=NEW_NOZZLE),
        KEEP,
    ]
    drawn = draws(found)
    generator = np.random.default_rng(3)
    moved = drawn.offset.copy()
    for row, factor in ((2, 1.03), (4, 0.97)):
        moved[row] -= np.log(factor) + generator.uniform(-0.005, 0.005, moved.shape[1])
    by_hand = drawn.mean_flow * np.ptp(np.exp(moved), axis=0)
    spread = spread_after(drawn, chosen, 1.0)
    assert spread.mean() == pytest.approx(by_hand.mean(), rel=2e-3)
    assert np.mean(spread <= 0.45) == pytest.approx(np.mean(by_hand <= 0.45), abs=0.01)


def test_a_learned_response_stretches_the_change_and_its_doubt() -> None:
    found, _ = flown(TWO_OUT, u=1e-6)
    chosen = [KEEP, KEEP, Option(1.05, "order"), KEEP, KEEP, KEEP]
    drawn = draws(found, Response(0.8, 0.05, 1))
    after, before = offsets_after(drawn, chosen), offsets_after(drawn, [KEEP] * 6)
    assert (after - before)[2].mean() == pytest.approx(-5.0 / 6.0 * 0.8 * np.log(1.05), abs=1e-4)
    assert (after - before)[2].std() == pytest.approx(5.0 / 6.0 * 0.05 * np.log(1.05), rel=0.02)


def test_the_same_balance_gives_the_same_draws() -> None:
    found, _ = flown(TWO_OUT, u=0.002)
    one, two = draws(found), draws(found)
    assert np.array_equal(one.new_flat, two.new_flat)
    assert np.array_equal(one.few().offset, two.few().offset)
