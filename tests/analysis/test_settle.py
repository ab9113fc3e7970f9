"""How many more sweeps would settle it."""

import numpy as np
import pytest

from leanwright.analysis.settle import MOST_SWEEPS, lasting_share, sweeps_to_settle


@pytest.mark.parametrize(("spread", "u", "sweeps"), [(0.4, 0.1, 1), (0.62, 0.15, 2), (0.3, 0.16, 3)])
def test_with_that_many_more_the_goal_is_outside_a_one_sided_interval_and_with_one_fewer_inside(
    spread: float, u: float, sweeps: int
) -> None:
    more = sweeps_to_settle(spread, u, 0.5, sweeps)
    assert more is not None

    def reach(count: int) -> float:
        # The uncertainty of a mean falls with the root of the number; 1.645 is the normal 95 % point.
        return 1.645 * u * float(np.sqrt(sweeps / (sweeps + count)))

    assert reach(more) <= abs(spread - 0.5)
    assert more == 1 or reach(more - 1) > abs(spread - 0.5)


def test_a_spread_at_the_goal_is_settled_by_no_number_that_anybody_flies() -> None:
    assert sweeps_to_settle(0.5, 0.05, 0.5, 2) is None
    just = 1.645 * 0.1 * np.sqrt(2 / (2 + MOST_SWEEPS))
    assert sweeps_to_settle(0.5 - 1.001 * just, 0.1, 0.5, 2) == MOST_SWEEPS
    assert sweeps_to_settle(0.5 - 0.999 * just, 0.1, 0.5, 2) is None


def test_what_sweeps_do_not_shrink_is_taken_out_of_what_they_may() -> None:
    assert sweeps_to_settle(0.34, 0.0293, 0.31, 2) == 4
    assert sweeps_to_settle(0.34, 0.0293, 0.31, 2, 0.8) is None
    more = sweeps_to_settle(0.4, 0.08, 0.5, 2, 0.25)
    assert more is not None
    variances = [0.08**2 * (0.25 + 0.75 * 2 / (2 + count)) for count in (more, more - 1)]
    assert variances[0] <= (0.1 / 1.645) ** 2 < variances[1]


def test_power_that_nobody_recorded_stays_however_many_sweeps_are_flown() -> None:
    assert lasting_share([("unknown-power", 0.8), ("lag", 0.2)]) == 0.8
    assert lasting_share([("lag", 1.0)]) == 0.0
