"""What is said of cylinders and sweeps that cannot be measured well: statuses, bounds and reasons."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from leanwright.analysis import peak as module
from leanwright.analysis import peak_joint
from leanwright.analysis.peak import CylinderPeak, Peaks, find_peaks
from leanwright.analysis.peak_joint import joint
from leanwright.analysis.peak_status import Described
from leanwright.analysis.witness import Vertex
from leanwright.findings import Statement
from leanwright.recordings.recording import Channel, Recording
from tests.analysis.peak_scene import PAIR, QUICK, Flown, values_of, with_values, without

Floats = NDArray[np.float64]

PLAIN = Flown()


@pytest.fixture(scope="module")
def made() -> Recording:
    return PLAIN.recording()


def peaks_of(recording: Recording, flown: Flown = PLAIN) -> Peaks:
    return find_peaks(recording, flown.sweeps())


def of(peaks: Peaks, cylinder: int, s: int = 0) -> CylinderPeak:
    return peaks.sweeps[s].cylinders[cylinder - 1]


def statuses(peaks: Peaks, s: int = 0) -> list[str]:
    return [c.status for c in peaks.sweeps[s].cylinders]


def code(statement: Statement | None) -> str | None:
    return None if statement is None else statement.code


# A sweep that ends too soon, or begins too late.


@pytest.mark.parametrize(
    ("flows", "side", "bound"),
    [((15.0, 15.0, 13.2, 13.2), "below", 13.2), ((11.0, 11.0, 9.4, 9.4), "above", 11.0)],
)
def test_a_sweep_on_one_side_of_all_peaks_reaches_none_and_says_on_which_side(
    flows: tuple[float, ...], side: str, bound: float
) -> None:
    flown = Flown((0.0, 40.0, 160.0, 185.0), flows)
    peaks = peaks_of(flown.recording(), flown)
    for peak in peaks.sweeps[0].cylinders:
        assert peak.status == "not-reached"
        assert peak.bound_side == side
        assert peak.bound_gph == pytest.approx(bound, rel=0.01)
        assert (peak.fuel_flow_at_peak_gph, peak.u_fuel_flow_at_peak_gph, peak.possible_gph) == (
            None,
            None,
            None,
        )
    assert peaks.index == ()
    assert peaks.log_flow.size == 0
    assert peaks.covariance.shape == (0, 0)
    assert all(part.shape == (0, 0) for part in peaks.parts.values())
    assert peaks.sweeps[0].curves == ()


@pytest.mark.parametrize(
    ("direction", "flows"),
    [("leaning", (14.0, 14.0, 11.6, 11.6)), ("enriching", (11.6, 11.6, 14.0, 14.0))],
)
def test_a_cylinder_beyond_the_end_is_not_reached_while_the_others_peak(
    direction: str, flows: tuple[float, ...]
) -> None:
    flown = Flown(
        (0.0, 40.0, 160.0, 185.0), flows, ((40.0, 160.0, direction),),  # type: ignore[arg-type]  # one of the two
        peaks_gph=(10.8, 12.2, 12.4, 12.6, 12.8, 13.0),
    )  # fmt: skip
    peaks = peaks_of(flown.recording(), flown)
    assert statuses(peaks)[1:] == ["peaked"] * 5
    assert of(peaks, 1).status == "not-reached"
    assert of(peaks, 1).bound_side == "below"
    assert of(peaks, 1).bound_gph == pytest.approx(11.6, rel=0.01)
    assert [cylinder for _, cylinder in peaks.index] == [2, 3, 4, 5, 6]


def test_a_peak_at_the_very_end_is_never_called_peaked_and_its_range_holds_the_truth() -> None:
    flown = Flown(
        (0.0, 40.0, 160.0, 185.0), (14.0, 14.0, 11.6, 11.6), peaks_gph=(11.6, 12.2, 12.4, 12.6, 12.8, 13.0)
    )
    peak = of(peaks_of(flown.recording(), flown), 1)
    assert peak.status == "unclear"
    assert code(peak.reason) in {"at-the-end", "poorly-described-sweep"}
    assert peak.possible_gph is not None
    assert peak.possible_gph[0] < 11.6 < peak.possible_gph[1]
    assert peak.fuel_flow_at_peak_gph is None


# Probes.


@pytest.mark.parametrize(
    ("kind", "reason"),
    [
        ("open", "too-few-readings"),
        ("mostly open", "too-few-readings"),
        ("stuck", "reading-hardly-moves"),
        ("cold", "reading-far-below"),
    ],
)
def test_a_dead_probe_has_no_signal_and_leaves_the_others_as_they_were(
    made: Recording, kind: str, reason: str
) -> None:
    egt = values_of(made, "egt", 3)
    values = {
        "open": np.full(egt.size, np.nan),
        "mostly open": np.where(np.arange(egt.size) % 4 == 0, egt, np.nan),
        "stuck": np.full(egt.size, 1390.0),
        "cold": egt - 800.0,
    }[kind]
    peaks = peaks_of(with_values(made, values, "egt", 3))
    assert statuses(peaks) == ["peaked", "peaked", "no-signal", "peaked", "peaked", "peaked"]
    assert code(of(peaks, 3).reason) == reason
    flows = [c.fuel_flow_at_peak_gph for c in peaks.sweeps[0].cylinders if c.status == "peaked"]
    np.testing.assert_allclose(np.array(flows, dtype=np.float64), np.delete(PLAIN.peaks_gph, 2), rtol=0.006)


def test_a_probe_that_comes_and_goes_is_unclear_and_leaves_the_others_as_they_were(made: Recording) -> None:
    egt = values_of(made, "egt", 3)
    egt[(made.time_s > 70.0) & (made.time_s < 110.0)] = np.nan
    peaks = peaks_of(with_values(made, egt, "egt", 3))
    assert statuses(peaks) == ["peaked", "peaked", "unclear", "peaked", "peaked", "peaked"]
    assert code(of(peaks, 3).reason) == "reading-comes-and-goes"
    assert of(peaks, 3).reason is not None
    possible = of(peaks, 3).possible_gph
    assert possible is not None
    assert possible[0] < 10.4
    assert possible[1] > 14.0


def test_spikes_move_a_peak_by_no_more_than_its_uncertainty(made: Recording) -> None:
    plain = of(peaks_of(made), 3)
    egt = values_of(made, "egt", 3)
    egt[[60, 88, 101, 130]] = (3000.0, 0.0, np.nan, 700.0)
    found = of(peaks_of(with_values(made, egt, "egt", 3)), 3)
    assert found.status == plain.status == "peaked"
    assert found.fuel_flow_at_peak_gph == pytest.approx(plain.fuel_flow_at_peak_gph, rel=1e-3)


def test_a_stretch_that_lies_wrong_by_less_than_a_spike_is_left_out(made: Recording) -> None:
    egt = values_of(made, "egt", 3)
    egt[100:107] += 60.0
    found = of(peaks_of(with_values(made, egt, "egt", 3)), 3)
    low, high = found.possible_gph or (found.fuel_flow_at_peak_gph, found.fuel_flow_at_peak_gph)
    assert low is not None
    assert high is not None
    assert low < 12.0 * 1.01
    assert high > 12.0 / 1.01
    assert found.status in {"peaked", "unclear"}


def test_a_cylinder_with_two_tops_is_not_called_peaked(made: Recording) -> None:
    egt = values_of(made, "egt", 3)
    time = made.time_s
    egt -= 80.0 * np.exp(-(((time - 100.0) / 12.0) ** 2)) - 60.0 * np.exp(-(((time - 130.0) / 10.0) ** 2))
    peaks = peaks_of(with_values(made, egt, "egt", 3))
    assert of(peaks, 3).status == "unclear"
    assert of(peaks, 3).possible_gph is not None


def test_a_channel_that_is_missing_is_no_cylinder_of_the_answer(made: Recording) -> None:
    less = replace(made, channels=tuple(c for c in made.channels if c.cylinder != 4))
    assert [c.cylinder for c in peaks_of(less).sweeps[0].cylinders] == [1, 2, 3, 5, 6]
    assert statuses(peaks_of(less)) == ["peaked"] * 5


def test_one_cylinder_alone_is_measured_or_told_unclear() -> None:
    flown = Flown(peaks_gph=(12.0,), lags_s=(2.0,), common_f=0.5)
    peak = of(peaks_of(flown.recording(), flown), 1)
    assert peak.status == "peaked"
    assert peak.fuel_flow_at_peak_gph == pytest.approx(12.0, rel=0.01)


def test_one_dead_probe_alone_has_no_signal() -> None:
    flown = Flown(peaks_gph=(12.0,), lags_s=(2.0,))
    dead = with_values(flown.recording(), np.full(215, 900.0), "egt", 1)
    peak = of(peaks_of(dead, flown), 1)
    assert (peak.status, code(peak.reason)) == ("no-signal", "reading-hardly-moves")


def test_probes_that_are_all_dead_have_no_signal(made: Recording) -> None:
    for cylinder in range(1, 7):
        made = with_values(made, np.full(made.rows_kept, np.nan), "egt", cylinder)
    peaks = peaks_of(made)
    assert statuses(peaks) == ["no-signal"] * 6
    assert peaks.index == ()


def test_a_probe_that_reads_far_below_is_told_by_how_much(made: Recording) -> None:
    cold = with_values(made, values_of(made, "egt", 3) - 800.0, "egt", 3)
    levels = [
        np.median(values_of(cold, "egt", one)[(made.time_s >= 40.0) & (made.time_s <= 160.0)])
        for one in range(1, 7)
    ]
    below = float(np.median(np.delete(levels, 2)) - levels[2])
    assert of(peaks_of(cold), 3) == CylinderPeak(
        3, "no-signal", reason=Statement("reading-far-below", {"below_df": pytest.approx(below, abs=5.0)})
    )


# Flow, power, rows.


def test_without_fuel_flow_there_are_no_peaks_and_it_is_said(made: Recording) -> None:
    peaks = peaks_of(without(made, "fuel_flow"))
    assert peaks.sweeps[0].cylinders == ()
    assert [s.code for s in peaks.sweeps[0].statements] == ["no-fuel-flow"]
    assert peaks.index == ()


@pytest.mark.parametrize("kind", ["missing", "standing still", "few rows"])
def test_too_few_points_are_said(made: Recording, kind: str) -> None:
    flow = values_of(made, "fuel_flow")
    if kind == "missing":
        flow[45:] = np.nan
    elif kind == "standing still":
        flow[:] = 12.0
    rows = slice(None, None, 30) if kind == "few rows" else slice(None)
    thin = replace(
        with_values(made, flow, "fuel_flow"),
        time_s=made.time_s[rows],
        lines=made.lines[rows],
    )
    thin = replace(thin, channels=tuple(thinned(c, rows) for c in thin.channels))
    peaks = peaks_of(thin)
    assert statuses(peaks) == ["unclear"] * 6
    assert {code(c.reason) for c in peaks.sweeps[0].cylinders} == {"too-few-points"}
    assert all(c.possible_gph is not None for c in peaks.sweeps[0].cylinders)


@pytest.mark.parametrize(("end_s", "enough"), [(29.9, False), (30.0, True)])
def test_ten_seconds_are_just_long_enough_for_a_sweep(end_s: float, *, enough: bool) -> None:
    flown = replace(
        QUICK,
        times_s=(0.0, 20.0, 30.0, 50.0),
        flows_gph=(13.5, 13.5, 10.8, 10.8),
        sweeps_s=((20.0, end_s, "leaning"),),
        interval_s=0.5,
    )
    said = {code(one.reason) for one in peaks_of(flown.recording(), flown).sweeps[0].cylinders}
    assert ("too-few-points" not in said) == enough


def thinned(channel: Channel, rows: slice) -> Channel:
    return replace(channel, values=None if channel.values is None else channel.values[rows])


@pytest.mark.parametrize(
    "missing", [("manifold_pressure",), ("engine_speed",), ("manifold_pressure", "engine_speed")]
)
def test_without_power_channels_peaks_are_found_all_the_same(
    made: Recording, missing: tuple[str, ...]
) -> None:
    peaks = peaks_of(without(made, *missing))
    assert statuses(peaks) == ["peaked"] * 6
    np.testing.assert_allclose(peaks.log_flow, peaks_of(made).log_flow, atol=1e-9)


def test_a_throttle_moved_during_the_sweep_is_said_and_nothing_is_measured(made: Recording) -> None:
    pressure = values_of(made, "manifold_pressure")
    pressure[made.time_s > 100.0] *= 1.06
    dead = with_values(made, np.full(made.rows_kept, np.nan), "egt", 2)
    peaks = peaks_of(with_values(dead, pressure, "manifold_pressure"))
    assert statuses(peaks) == ["unclear", "no-signal", "unclear", "unclear", "unclear", "unclear"]
    assert [s.code for s in peaks.sweeps[0].statements] == ["power-changed"]
    possible = of(peaks, 1).possible_gph
    assert possible is not None
    assert possible[0] < 10.4
    assert possible[1] > 14.0


def test_missing_rows_of_flow_are_bridged(made: Recording) -> None:
    flow = values_of(made, "fuel_flow")
    flow[50:160:7] = np.nan
    peaks = peaks_of(with_values(made, flow, "fuel_flow"))
    assert statuses(peaks) == ["peaked"] * 6
    np.testing.assert_allclose(np.exp(peaks.log_flow), PLAIN.peaks_gph, rtol=0.01)


def test_sweeps_that_are_not_used_are_passed_over(made: Recording) -> None:
    left_out = replace(PLAIN.sweeps()[0], used=False, reason=Statement("too-short"))
    assert find_peaks(made, [left_out]).sweeps == ()
    both = find_peaks(made, [left_out, *PLAIN.sweeps()])
    assert [s.sweep for s in both.sweeps] == list(PLAIN.sweeps())


def test_a_sweep_that_cannot_be_fitted_leaves_the_other_as_it_would_be_alone() -> None:
    made = PAIR.recording()
    pressure = values_of(made, "manifold_pressure")
    pressure[made.time_s > 250.0] *= 1.06
    spoilt = with_values(made, pressure, "manifold_pressure")
    peaks = peaks_of(spoilt, PAIR)
    assert statuses(peaks, 0) == ["peaked"] * 6
    assert statuses(peaks, 1) == ["unclear"] * 6
    assert {s for s, _ in peaks.index} == {0}
    np.testing.assert_allclose(np.exp(peaks.log_flow), PAIR.peaks_gph, rtol=0.01)


def test_a_recording_without_sweeps_has_no_peaks(made: Recording) -> None:
    peaks = find_peaks(made, [])
    assert (peaks.sweeps, peaks.index) == ((), ())


def test_two_engines_are_measured_each_by_its_own_channels(made: Recording) -> None:
    other = Flown(peaks_gph=tuple(p + 0.2 for p in PLAIN.peaks_gph), seed=5).recording()
    twin = replace(made, channels=made.channels + tuple(replace(c, engine=2) for c in other.channels))
    first, second = (find_peaks(twin, PLAIN.sweeps(), engine=engine) for engine in (1, 2))
    np.testing.assert_allclose(np.exp(first.log_flow), PLAIN.peaks_gph, rtol=0.006)
    np.testing.assert_allclose(np.exp(second.log_flow), np.array(PLAIN.peaks_gph) + 0.2, rtol=0.006)


def test_a_model_that_describes_badly_is_said_and_widens_the_uncertainty(made: Recording) -> None:
    """All EGTs wander in a way no mixture curve does, each its own way."""
    random = np.random.default_rng(9)
    wild = made
    for cylinder in range(1, 7):
        bumps = sum(
            random.normal(0.0, 12.0) * np.exp(-(((made.time_s - at) / 4.0) ** 2)) for at in range(45, 160, 9)
        )
        wild = with_values(wild, values_of(made, "egt", cylinder) + bumps, "egt", cylinder)
    peaks, plain = peaks_of(wild), peaks_of(made)
    for found, good in zip(peaks.sweeps[0].cylinders, plain.sweeps[0].cylinders, strict=True):
        if found.status == "peaked":
            assert found.u_fuel_flow_at_peak_gph is not None
            assert good.u_fuel_flow_at_peak_gph is not None
            assert found.u_fuel_flow_at_peak_gph > good.u_fuel_flow_at_peak_gph
        else:
            assert found.status == "unclear"
            assert found.possible_gph is not None


@pytest.mark.parametrize(
    ("flown", "why"),
    [
        (replace(QUICK, common_f=60.0), lambda one: {"why": "misfit", "misfit_times": np.sqrt(one.misfit)}),
        (replace(QUICK, own_f=12.0), lambda one: {"why": "scatter", "own_df": one.own_f}),
    ],
)
def test_a_sweep_that_the_model_does_not_describe_is_told_with_the_ground_and_its_number(
    flown: Flown, why: Callable[[Described], dict[str, object]]
) -> None:
    (described,) = joint(flown.ready()).described
    said = [one.reason for one in peaks_of(flown.recording(), flown).sweeps[0].cylinders]
    assert said == [Statement("poorly-described-sweep", why(described))] * 3


def test_a_witness_that_contradicts_is_said_and_widens_the_uncertainty(
    made: Recording, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The plain fit puts cylinder 3 four percent leaner than it is, and is sure of it."""
    plain = peaks_of(made)
    contradicting = Vertex(float(np.log(12.0)) - 0.04, 0.001, inside=True)
    silent = Vertex(float(np.log(12.0)) - 0.04, 0.001, inside=False)
    monkeypatch.setattr(module, "witness", lambda *_: (None, silent, contradicting, None, None, None))
    found = peaks_of(made)
    said = [s for s in found.sweeps[0].statements if s.code == "witness-differs"]
    assert [s.values["cylinder"] for s in said] == [3]
    assert said[0].values["difference_percent"] == pytest.approx(4.0, abs=0.5)
    np.testing.assert_allclose(found.log_flow, plain.log_flow)
    more = np.diag(found.covariance) - np.diag(plain.covariance)
    # Enough to bring the two within three uncertainties of each other.
    assert more[2] == pytest.approx((0.04 / 3.0) ** 2, rel=0.25)
    np.testing.assert_allclose(np.delete(more, 2), 0.0, atol=1e-12)
    np.testing.assert_allclose(sum(found.parts.values()), found.covariance, rtol=1e-6, atol=1e-12)


def test_a_misfit_beyond_what_is_tolerated_is_said_and_widens_all_by_its_root(
    made: Recording, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = peaks_of(made)
    monkeypatch.setattr(peak_joint, "TOLERATED_MISFIT", 0.1)
    found = peaks_of(made)
    (said,) = [s for s in found.sweeps[0].statements if s.code == "poorly-described"]
    factor = 1.0 + float(str(said.values["enlarged_by_percent"])) / 100.0
    assert factor > 1.5
    np.testing.assert_allclose(found.covariance, factor**2 * plain.covariance, rtol=1e-6)
