"""Shares from a bottle test: by hand, with the law of propagation, and what is told of the entry."""

import numpy as np
import pytest

from leanwright.analysis.bottle_test import Catches, bottle_shares


def test_shares_and_their_uncertainty_by_hand() -> None:
    """Two nozzles, one catch each of 1 % (JCGM 100, 5.1.2): ln s1 = ln m1 - ln(m1 + m2), so u = s2 sqrt(2) u(m)."""
    found = bottle_shares(Catches({1: (100.0,), 2: (300.0,)}, u_percent=1.0))
    assert found.shares.tolist() == [0.25, 0.75]
    assert found.u_percent == pytest.approx([0.75 * 2**0.5, 0.25 * 2**0.5])


def test_what_all_shares_have_in_common_is_known_exactly() -> None:
    found = bottle_shares(Catches({1: (90.0, 91.0), 2: (100.0, 99.5), 3: (110.0, 111.0)}))
    assert found.shares.sum() == pytest.approx(1.0)
    assert found.shares @ found.covariance_percent @ found.shares == pytest.approx(0.0, abs=1e-12)


def test_repeats_shrink_the_uncertainty_with_the_root_of_their_number() -> None:
    once = bottle_shares(Catches({1: (100.0,), 2: (100.0,)}, u_percent=1.0))
    four = bottle_shares(Catches({1: (100.0,) * 4, 2: (100.0,) * 4}, u_percent=1.0))
    assert four.u_percent == pytest.approx(once.u_percent / 2.0)


@pytest.mark.parametrize(
    ("metered", "code"), [(400.0, "bottle-total-agrees"), (420.0, "bottle-total-missed"), (None, None)]
)
def test_the_sum_is_held_against_the_metered_fuel(metered: float | None, code: str | None) -> None:
    found = bottle_shares(Catches({1: (200.0,), 2: (200.0,)}, metered))
    assert [told.code for told in found.told] == ([code] if code else [])


def test_repeats_that_scatter_are_told() -> None:
    found = bottle_shares(Catches({1: (100.0, 106.0), 2: (100.0, 94.0)}))
    assert [told.code for told in found.told] == ["bottle-repeats-differ"]
    spread = np.log(106.0 / 100.0) / 2**0.5, np.log(100.0 / 94.0) / 2**0.5
    assert found.told[0].values["scatter_percent"] == pytest.approx(
        100.0 * float(np.sqrt(np.mean(np.square(spread))))
    )
