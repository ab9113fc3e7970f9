"""What all sweeps together leave open about a cylinder whose peak was never found."""

import numpy as np
import pytest

from leanwright.analysis.bound import Limits, limits
from leanwright.analysis.peak import CylinderPeak, SweepPeaks
from leanwright.analysis.sweep import Sweep
from leanwright.findings import Statement
from tests.analysis.made_peaks import made_sweep

REASON = Statement("ends-before-peak")


def sweep(*cylinders: CylinderPeak, of: Sweep | None = None) -> SweepPeaks:
    return SweepPeaks(of or made_sweep(), cylinders)


def below(flow: float) -> CylinderPeak:
    return CylinderPeak(3, "not-reached", bound_gph=flow, bound_side="below", reason=REASON)


def above(flow: float) -> CylinderPeak:
    return CylinderPeak(3, "not-reached", bound_gph=flow, bound_side="above")


def found(*sweeps: SweepPeaks, means: tuple[float, ...] = ()) -> Limits:
    """Limits of cylinder 3 where the sweeps have these mean flows [gal/h], and the balance 12 gal/h."""
    levels = {position: float(np.log(mean)) for position, mean in enumerate(means)}
    return limits(3, sweeps, levels, float(np.log(12.0)))


def flows(limit: Limits) -> tuple[float, float]:
    return 12.0 * float(np.exp(limit.low)), 12.0 * float(np.exp(limit.high))


def test_a_bound_is_taken_to_the_mean_flow_of_the_balance() -> None:
    limit = found(sweep(below(9.0)), means=(10.0,))
    assert (limit.status, limit.side, limit.reason) == ("not-reached", "below", REASON)
    assert flows(limit) == pytest.approx((0.0, 9.0 * 1.2))


def test_the_tightest_of_several_bounds_counts() -> None:
    limit = found(sweep(above(12.4)), sweep(above(12.6)), sweep(above(10.4)), means=(12.0, 12.0, 10.0))
    assert limit.side == "above"
    assert flows(limit) == pytest.approx((12.6, np.inf))


def test_bounds_from_both_sides_leave_a_possible_range() -> None:
    limit = found(sweep(above(12.4)), sweep(below(12.9)), means=(12.0, 12.0))
    assert (limit.status, limit.side, limit.certain) == ("unclear", None, True)
    assert flows(limit) == pytest.approx((12.4, 12.9))
    assert limit.farthest == (limit.low, limit.high)


def test_bounds_that_contradict_may_each_be_off_by_as_much_as_they_lie_apart() -> None:
    limit = found(sweep(above(12.9)), sweep(below(12.4)), means=(12.0, 12.0))
    assert (limit.status, limit.certain) == ("unclear", False)
    assert flows(limit) == pytest.approx((12.4**2 / 12.9, 12.9**2 / 12.4))
    assert limit.farthest == (-np.inf, np.inf)


def test_possible_ranges_are_narrowed_by_one_another() -> None:
    unclear = [
        CylinderPeak(3, "unclear", possible_gph=(11.5, 12.2)),
        CylinderPeak(3, "unclear", possible_gph=(11.9, 12.6)),
    ]
    limit = found(*(sweep(one) for one in unclear), means=(12.0, 12.0))
    assert (limit.status, limit.certain) == ("unclear", False)
    assert flows(limit) == pytest.approx((11.9, 12.2))


def test_a_bound_beats_a_sweep_without_a_signal() -> None:
    limit = found(sweep(CylinderPeak(3, "no-signal")), sweep(above(12.5)), means=(12.0, 12.0))
    assert (limit.status, limit.side) == ("not-reached", "above")


def test_unclear_beats_no_signal() -> None:
    silent = CylinderPeak(3, "no-signal", reason=Statement("probe-open"))
    limit = found(sweep(silent), sweep(CylinderPeak(3, "unclear")), means=(12.0, 12.0))
    assert limit.status == "unclear"
    # It burns from 8 to 16 parts of air (FAA-H-8083-32B, p. 2-4) where the others peak at 15 and start 15 % richer.
    assert flows(limit) == pytest.approx((12.0 * 8 / 15, 12.0 * 1.15 * 16 / 15), rel=0.01)


def test_a_bound_without_a_figure_is_unclear() -> None:
    limit = found(sweep(CylinderPeak(3, "not-reached")), means=(12.0,))
    assert limit.status == "unclear"
    assert np.isfinite([limit.low, limit.high]).all()


def test_a_range_with_one_open_side_is_closed_beyond_its_known_end() -> None:
    silent, seen = CylinderPeak(3, "unclear", possible_gph=(0.0, 5.0)), CylinderPeak(1, "peaked", 12.0, 0.01)
    limit = found(sweep(silent, seen), means=(12.0,))
    assert limit.high == pytest.approx(np.log(5.0 / 12.0))
    assert limit.low < limit.high


def test_no_signal_keeps_its_reason() -> None:
    limit = found(sweep(CylinderPeak(3, "no-signal", reason=REASON)), means=(12.0,))
    assert limit == Limits(3, "no-signal", reason=REASON)


def test_a_cylinder_that_no_sweep_knows_has_no_signal() -> None:
    assert found(sweep(CylinderPeak(1, "peaked", 12.0, 0.01)), means=(12.0,)) == Limits(3, "no-signal")


def test_a_sweep_that_is_not_used_does_not_count() -> None:
    assert found(sweep(above(12.5), of=made_sweep(used=False)), means=(12.0,)).status == "no-signal"


def test_a_sweep_without_peaks_is_placed_by_its_power() -> None:
    low_power = made_sweep(pressure=22.0 * 0.75)
    limit = found(
        sweep(CylinderPeak(1, "peaked", 12.0, 0.01)), sweep(above(9.3), of=low_power), means=(12.0,)
    )
    # 9.3 gal/h at three quarters of the power is 12.4 gal/h, less the 3 % of doubt.
    assert flows(limit) == pytest.approx((12.4 * np.exp(-0.03), np.inf))


@pytest.mark.parametrize(
    "unknown", [made_sweep(pressure=None), made_sweep(speed=None), made_sweep(pressure=0.0)]
)
def test_without_its_power_a_sweep_without_peaks_is_taken_with_more_doubt(unknown: Sweep) -> None:
    limit = found(sweep(CylinderPeak(1, "peaked", 12.0, 0.01)), sweep(above(12.4), of=unknown), means=(12.0,))
    assert flows(limit) == pytest.approx((12.4 * np.exp(-0.09), np.inf))


def test_a_peak_that_cannot_be_compared_leaves_a_range_about_its_flow() -> None:
    alone = sweep(CylinderPeak(3, "peaked", 12.5, 0.05))
    limit = found(sweep(CylinderPeak(1, "peaked", 12.0, 0.01)), alone, means=(12.0,))
    assert limit.status == "unclear"
    assert limit.reason == Statement("cylinder-not-compared", {"cylinder": 3})
    assert flows(limit) == pytest.approx((12.4 * np.exp(-0.03), 12.6 * np.exp(0.03)))


def test_where_no_cylinder_peaked_a_single_sweep_keeps_its_own_bounds() -> None:
    limit = limits(3, [sweep(above(12.5))], {}, 0.0)
    assert np.exp(limit.low) == pytest.approx(12.5)


def test_where_no_cylinder_peaked_several_sweeps_are_taken_with_doubt() -> None:
    limit = limits(3, [sweep(above(12.5)), sweep(above(10.0))], {}, 0.0)
    assert np.exp(limit.low) == pytest.approx(12.5 * np.exp(-0.09))
