"""The card of the next flight: turn-round points, pace, number of sweeps, and what they are expected to give."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from leanwright.analysis.balance import balance
from leanwright.analysis.flight_card import flight_card
from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.analysis.peak import CylinderPeak, Peaks, SweepPeaks
from leanwright.analysis.sweep import Sweep
from leanwright.engine.profile import opposed
from tests.analysis.made_peaks import made_peaks, made_sweep
from tests.analysis.scene import recording

FLOWS = (11.0, 11.5, 12.0, 12.5)


def with_lag(peaks: Peaks, lag_s: float) -> Peaks:
    swept = tuple(
        SweepPeaks(one.sweep, tuple(replace(peak, lag_s=lag_s, u_lag_s=0.1) for peak in one.cylinders))
        for one in peaks.sweeps
    )
    return replace(peaks, sweeps=swept)


def measured(
    pressures: Sequence[float] = (22.0, 22.0),
    *,
    lag_s: float = 2.0,
    interval_s: float = 1.0,
    u: float = 0.002,
    lean_end_gph: float = 10.0,
    blind: int = 0,
) -> Measured:
    """Sweeps from 14 to 10 gal/h of an engine whose peaks lie from 11 to 12.5; ``blind`` more of them show no peak."""
    sweeps: list[Sweep] = [
        made_sweep("enriching" if number % 2 else "leaning", pressure=one)
        for number, one in enumerate(pressures)
    ]
    peaks = with_lag(made_peaks([FLOWS] * len(sweeps), u=u, sweeps=tuple(sweeps)), lag_s)
    time = np.arange(0.0, 200.0, interval_s)
    rows = (time >= sweeps[0].start_s) & (time <= sweeps[0].end_s)
    flow = np.where(rows, np.interp(time, [sweeps[0].start_s, sweeps[0].end_s], [14.0, lean_end_gph]), 14.0)
    unseen = tuple(CylinderPeak(number, "unclear") for number in range(1, 5))
    seen = replace(peaks, sweeps=peaks.sweeps + (SweepPeaks(sweeps[0], unseen),) * blind)
    result = RecordingResult(recording(time, fuel_flow=flow), (), seen, tuple(sweeps))
    return Measured((result,), balance([peaks]), opposed(4), 1)


def test_from_nothing_four_sweeps_at_two_pressures_and_no_flow_is_made_up() -> None:
    card = flight_card(None)
    assert [(one.direction, one.first_pressure) for one in card.sweeps] == [
        ("leaning", True), ("enriching", True), ("leaning", False), ("enriching", False),
    ]  # fmt: skip
    assert {
        (one.start_gph, one.brisk_gph, one.end_gph, one.manifold_pressure_inhg) for one in card.sweeps
    } == {(None, None, None, None)}
    assert (card.interval_s, card.largest_lag_s, card.sweeps_before) == (None, None, 0)


def test_recordings_without_a_spread_tell_nothing() -> None:
    nothing = Measured((), balance([]), opposed(4), 1)
    assert flight_card(nothing).sweeps == flight_card(None).sweeps


def test_turn_round_points_lie_beyond_the_first_and_the_last_peak() -> None:
    down, up = flight_card(measured()).sweeps[:2]
    flows = [one.fuel_flow_at_peak_gph or 0.0 for one in measured().balance.cylinders]
    assert down.start_gph == pytest.approx(1.10 * max(flows))
    assert down.end_gph == pytest.approx(0.94 * min(flows))
    assert down.brisk_gph == pytest.approx((1.02 * max(flows), 0.98 * min(flows)))
    assert (up.start_gph, up.end_gph) == (down.end_gph, down.start_gph)
    assert up.brisk_gph == pytest.approx((0.98 * min(flows), 1.02 * max(flows)))


def test_time_is_the_way_over_the_pace_twice_as_fast_through_the_tops() -> None:
    card = flight_card(measured())
    one = card.sweeps[0]
    assert one.brisk_gph is not None
    assert one.start_gph is not None
    assert one.end_gph is not None
    flanks = one.start_gph - one.brisk_gph[0] + one.brisk_gph[1] - one.end_gph
    tops = one.brisk_gph[0] - one.brisk_gph[1]
    assert one.duration_s == pytest.approx((flanks + tops / 2.0) / card.rate_gph_per_s)


def test_flows_at_the_lower_pressure_go_with_the_air() -> None:
    first, lower = (flight_card(measured()).sweeps[number] for number in (0, 2))
    assert (first.manifold_pressure_inhg, lower.manifold_pressure_inhg) == (22.0, 18.0)
    assert first.start_gph is not None
    assert lower.start_gph == pytest.approx(first.start_gph * 18.0 / 22.0)


@pytest.mark.parametrize(
    ("flown", "wanted"),
    [((22.0, 19.0), (22.0, 19.0)), ((22.0, 21.0), (21.5, 17.5)), ((17.0, 17.0), (21.0, 17.0))],
)
def test_two_pressures_far_enough_apart_to_tell_a_leak(
    flown: tuple[float, float], wanted: tuple[float, float]
) -> None:
    card = flight_card(measured(flown))
    assert (card.sweeps[0].manifold_pressure_inhg, card.sweeps[2].manifold_pressure_inhg) == wanted


def test_slow_probes_and_rare_rows_ask_for_a_slower_lever_within_what_was_tried() -> None:
    usual = flight_card(measured(lag_s=4.0))
    assert usual.rate_gph_per_s == pytest.approx(0.01 * (measured().balance.mean_flow_gph or 0.0) / 4.0)
    assert flight_card(measured(lag_s=60.0)).rate_gph_per_s == 0.015
    assert flight_card(measured(lag_s=0.1)).rate_gph_per_s == 0.05
    assert flight_card(measured(lag_s=0.5, interval_s=6.0)).rate_gph_per_s < 0.021


def test_uncertainty_falls_with_the_root_of_the_sweeps_until_it_is_enough() -> None:
    """Independent sweeps: JCGM 100:2008, 4.2.3."""
    four = flight_card(measured(), 1.0)
    six = flight_card(measured(), 0.99 * four.expected_u_spread_gph)
    assert (len(four.sweeps), len(six.sweeps)) == (4, 6)
    assert six.expected_u_spread_gph == pytest.approx(four.expected_u_spread_gph * (4.0 / 6.0) ** 0.5)
    assert four.enough
    assert six.enough


def test_longer_flanks_than_were_flown_are_expected_to_tell_more() -> None:
    """One over the length of each flank, the lean one twice, of the highest and the lowest peak; by hand."""

    def left_open(rich: float, lean: float) -> float:
        return float(sum(1.0 / np.log(rich / peak) + 2.0 / np.log(peak / lean) for peak in (12.5, 11.0)))

    far, near = (flight_card(measured(u=0.02, lean_end_gph=end), 1.0) for end in (10.0, 10.8))
    by_hand = (left_open(14.0, 10.0) / left_open(14.0, 10.8)) ** 0.5
    # Two sweeps were flown, so each is drawn 0.08 of the way to the typical engine; the last row lies within a second.
    assert near.expected_u_spread_gph / far.expected_u_spread_gph == pytest.approx(by_hand**0.92, rel=0.05)


def test_a_sweep_that_showed_no_peak_is_not_counted_as_one_that_told_something() -> None:
    plain, with_blind = flight_card(measured()), flight_card(measured(blind=2))
    assert with_blind == plain


def test_more_than_eight_sweeps_are_never_asked_for() -> None:
    card = flight_card(measured(), 1e-6)
    assert (len(card.sweeps), card.enough) == (8, False)
    low, high = card.likely_u_spread_gph
    assert low < card.expected_u_spread_gph < high


def test_the_wanted_uncertainty_is_a_tenth_of_the_goal() -> None:
    assert flight_card(measured()).wanted_u_spread_gph == pytest.approx(0.1 * measured().balance.goal_gph)
    assert flight_card(None).wanted_u_spread_gph == pytest.approx(0.05)
