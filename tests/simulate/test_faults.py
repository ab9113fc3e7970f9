"""Each fault shows in the virtual engine as physics says that it must."""

from dataclasses import replace

import numpy as np
import pytest

from leanwright.simulate.draw import REFERENCE, draw_engine, draw_spec
from leanwright.simulate.faults import DEFAULT_SIZE, Fault, UnknownFaultError, afflict, parse
from leanwright.simulate.flight import SimulatedFlight, simulate_flight
from leanwright.simulate.recorder import Recorder
from leanwright.simulate.virtual_engine import Floats, Setting, VirtualEngine, true_peaks

AMBIENT = (REFERENCE.ambient_pressure_inhg, REFERENCE.ambient_temperature_k)
LOW, MIDDLE, NEARLY_FULL = (
    Setting(16.0, 2350.0, *AMBIENT),
    Setting(20.0, 2350.0, *AMBIENT),
    Setting(23.5, 2350.0, *AMBIENT),
)


def healthy() -> VirtualEngine:
    engine = draw_engine(np.random.default_rng(2), 6, 0.6, "constant-speed")
    return replace(engine, egt_per_log_air_f=0.0)


def moves(text: str, setting: Setting) -> Floats:
    """Change of every offset by a fault [percent]."""
    before = true_peaks(healthy(), setting).offset_percent
    after = true_peaks(afflict(healthy(), (parse(text, 6),)), setting).offset_percent
    return np.subtract(after, before)


def fly(fault: str, seed: int = 11, **named: object) -> SimulatedFlight:
    faults = tuple(parse(text, 6) for text in fault.split(";") if text)
    spec = draw_spec(np.random.default_rng(seed), cylinders=6, faults=faults, **named)  # type: ignore[arg-type]  # as named there
    return simulate_flight(replace(spec, recorder=Recorder(interval_s=1.0)), seed)


@pytest.mark.parametrize("fault", ["nozzle-size:4:-5", "nozzle-blocked:4:5"])
def test_a_nozzle_that_passes_less_leans_its_cylinder_by_as_much_at_every_power(fault: str) -> None:
    """ln(1/0.95) = 5.129 percent against the others, so 5/6 of it against the mean of six."""
    lean = 100.0 * np.log(1.0 / 0.95)
    expected = [-lean / 6.0] * 3 + [lean * 5.0 / 6.0] + [-lean / 6.0] * 2
    for setting in (LOW, MIDDLE, NEARLY_FULL):
        assert moves(fault, setting) == pytest.approx(expected, abs=0.02)


def test_exchanged_nozzles_make_two_equal_and_opposite_changes() -> None:
    change = moves("nozzles-exchanged:2+5:6", MIDDLE)
    assert change[1] == pytest.approx(-change[4], abs=0.02)
    assert abs(change[1]) > 1.0
    assert change[[0, 2, 3, 5]] == pytest.approx(0.0, abs=0.02)


def test_exchanged_nozzles_turn_their_difference_round() -> None:
    before = healthy().nozzle_coefficients
    after = afflict(healthy(), (parse("nozzles-exchanged:2+5:6", 6),)).nozzle_coefficients
    assert (before[1] > before[4]) == (after[1] < after[4])
    assert abs(np.log(after[1] / after[4])) == pytest.approx(np.log(1.06))


def test_an_intake_leak_leans_its_cylinder_more_as_manifold_pressure_falls() -> None:
    """FAA-H-8083-32B p. 10-33; about nothing at full throttle."""
    low, middle, full = (moves("intake-leak:3:0.0625", setting)[2] for setting in (LOW, MIDDLE, NEARLY_FULL))
    assert low > 1.2 * middle > 1.2 * full > 0.0
    assert full < 0.4 * low


def test_a_blocked_bleed_enriches_its_cylinder_more_as_manifold_pressure_falls() -> None:
    low, middle, full = (moves("air-bleed-blocked:3", setting)[2] for setting in (LOW, MIDDLE, NEARLY_FULL))
    assert low < middle < full < 0.0
    assert abs(full) < 0.2 * abs(low)


def test_little_air_enriches_its_cylinder_by_as_much_at_every_power_and_cools_its_head() -> None:
    rich = 100.0 * np.log(0.94)
    for setting in (LOW, NEARLY_FULL):
        assert moves("low-airflow:2:6", setting)[1] == pytest.approx(rich * 5.0 / 6.0, abs=0.02)
    engine, weak = healthy(), afflict(healthy(), (parse("low-airflow:2:6", 6),))
    assert weak.cht_rise_f[1] == pytest.approx(0.94 * engine.cht_rise_f[1])
    air = [e.nominal_air_lb_h(MIDDLE) * np.array(e.air_shares) for e in (engine, weak)]
    assert np.delete(air[1], 1) == pytest.approx(np.delete(air[0], 1))


def test_a_dead_plug_lifts_every_reading_of_its_cylinder_and_leaves_the_peaks() -> None:
    assert moves("plug-dead:5:60", MIDDLE) == pytest.approx(0.0, abs=0.02)
    lifted = afflict(healthy(), (parse("plug-dead:5:60", 6),)).curves_f - healthy().curves_f
    assert lifted[4] == pytest.approx(60.0)
    assert lifted[:4] == pytest.approx(0.0)


def test_in_the_ignition_check_the_cylinder_of_a_dead_plug_goes_cold_on_the_other_ignition() -> None:
    """Cylinder 5: its plug of ignition 1 is dead, so it does not fire while ignition 1 alone is on."""
    flight = fly("plug-dead:5", surroundings="whole-flight")
    time = flight.table.time_s
    for check in flight.truth.ignition_checks:
        late = (time > check.end_s - 2.5) & (time < check.end_s - 0.5)
        before = (time > check.start_s - 3.0) & (time < check.start_s)
        change = [
            np.nanmean(flight.table.column("egt", n).inside[late])
            - np.nanmean(flight.table.column("egt", n).inside[before])
            for n in range(1, 7)
        ]
        others = np.delete(change, 4)
        assert np.all(others > 10.0)
        assert change[4] < -150.0 if check.ignition == 1 else abs(change[4]) < 35.0


def test_weak_ignition_makes_the_top_come_early() -> None:
    late_misfire, early_misfire = (
        moves("ignition-weak:1:0.9", MIDDLE)[0],
        moves("ignition-weak:1:1.0", MIDDLE)[0],
    )
    assert early_misfire > 1.0
    assert early_misfire > late_misfire


def test_weak_ignition_cuts_the_lean_flank_and_leaves_the_rich_one() -> None:
    phi = np.linspace(0.30, 2.20, 1901)
    change = (afflict(healthy(), (parse("ignition-weak:1:0.95", 6),)).curves_f - healthy().curves_f)[0]
    assert np.all(change[phi < 0.9] < -200.0)
    assert np.all(np.abs(change[phi > 1.06]) < 1.0)


def test_weak_ignition_makes_its_cylinder_restless_on_the_lean_side() -> None:
    faults = (parse("ignition-weak:1:0.97", 6),)
    spec = draw_spec(
        np.random.default_rng(7), cylinders=6, faults=faults, lean_margin_percent=(9.0, 10.0), gusty=False
    )
    plan = replace(spec.sweeps[0], direction="leaning", rest_after_s=120.0)
    flight = simulate_flight(replace(spec, sweeps=(plan,), recorder=Recorder()), 7)
    after = flight.table.time_s - flight.truth.sweeps[0].end_s
    rest = (after > 30.0) & (after < 110.0)
    egt = np.array([flight.table.column("egt", n).inside[rest] for n in range(1, 7)])
    roughness = np.std(egt - np.median(egt, axis=0), axis=1)
    assert roughness[0] > 1.5 * np.median(roughness[1:])


def test_a_slow_probe_has_the_lag_asked_for() -> None:
    assert afflict(healthy(), (parse("probe-slow:2:9", 6),)).probe_lag_s[1] == 9.0


def test_a_dead_probe_reads_nothing_or_one_value() -> None:
    for seed in range(6):
        values = fly("probe-dead:3", seed).table.column("egt", 3).values
        assert np.isnan(values).all() or np.nanstd(values) == pytest.approx(0.0, abs=1e-9)


def test_a_loose_probe_reads_part_of_the_time_and_is_missing_or_far_too_low_else() -> None:
    loose, sound = (fly(f, 4, sweeps=2).table.column("egt", 3).inside for f in ("probe-dead:3:60", ""))
    good = np.abs(loose - sound) < 5.0
    assert 0.35 < good.mean() < 0.85
    assert np.isnan(loose[~good]).any()
    assert np.nanmin(loose - sound) < -140.0


def test_exchanged_probes_show_each_others_temperatures_and_leave_the_heads() -> None:
    plain, exchanged = fly(""), fly("probes-exchanged:1+6")
    for channel, shows in ((1, 6), (6, 1), (2, 2)):
        difference = exchanged.table.column("egt", channel).inside - plain.table.column("egt", shows).inside
        assert np.abs(difference).max() < 8.0
    assert exchanged.table.column("cht", 1).values == pytest.approx(
        plain.table.column("cht", 1).values, abs=3.0
    )
    assert exchanged.truth.offset_percent == plain.truth.offset_percent


def test_a_misscaled_flow_reads_wrong_by_one_factor_and_changes_nothing_else() -> None:
    plain, wrong = fly(""), fly("flow-misscaled::6")
    ratio = wrong.table.column("fuel_flow").inside / plain.table.column("fuel_flow").inside
    assert np.median(ratio) == pytest.approx(1.06, abs=0.01)
    assert wrong.truth.flow_reading_factor == pytest.approx(1.06)
    assert wrong.truth.flow_lag_s == plain.truth.flow_lag_s
    assert wrong.truth.sweeps[0].flow_at_peak_gph == plain.truth.sweeps[0].flow_at_peak_gph


def test_the_fault_none_changes_nothing() -> None:
    assert afflict(healthy(), (parse("none", 6),)) == healthy()


def test_several_faults_add_up() -> None:
    both = afflict(healthy(), (parse("nozzle-blocked:1:5", 6), parse("probe-slow:4:9", 6)))
    assert both == afflict(
        afflict(healthy(), (parse("probe-slow:4:9", 6),)), (parse("nozzle-blocked:1:5", 6),)
    )


@pytest.mark.parametrize("kind", sorted(DEFAULT_SIZE))
def test_every_kind_has_a_default_cylinder_and_size(kind: str) -> None:
    fault = parse(kind, 4)
    assert fault.size == DEFAULT_SIZE[kind]
    assert afflict(draw_engine(np.random.default_rng(0), 4, 0.3), (fault,)).cylinders == 4


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("nozzle-blocked", Fault("nozzle-blocked", (3,), 8.0)),
        ("nozzle-size:2:+3.5", Fault("nozzle-size", (2,), 3.5)),
        ("probes-exchanged:1+4", Fault("probes-exchanged", (1, 4), 0.0)),
        ("nozzles-exchanged", Fault("nozzles-exchanged", (2, 3), 5.0)),
        ("flow-misscaled::4", Fault("flow-misscaled", (), 4.0)),
        ("intake-leak:4:", Fault("intake-leak", (4,), 0.0625)),
    ],
)
def test_a_fault_is_read(text: str, fault: Fault) -> None:
    assert parse(text, 6) == fault


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("rust", "there is no kind 'rust'"),
        ("nozzle-blocked:9", "cylinder 9 is not one of 1 to 6"),
        ("nozzle-blocked:0", "cylinder 0 is not one of 1 to 6"),
        ("nozzle-blocked:two", "'two' is not a cylinder number"),
        ("nozzle-blocked:1+2", "1 different cylinder number"),
        ("probes-exchanged:2", "2 different cylinder number"),
        ("probes-exchanged:2+2", "2 different cylinder number"),
        ("nozzle-blocked:1:lots", "the size 'lots' is not a number"),
        ("nozzle-blocked:1:120", "the size 120 is not between 0 and 90"),
        ("nozzle-blocked:1:nan", "the size nan is not between 0 and 90"),
        ("nozzle-blocked:1:2:3", "4 parts were given"),
        ("flow-misscaled:2:5", "it concerns the whole engine"),
    ],
)
def test_a_fault_that_cannot_be_is_refused_with_its_reason(text: str, reason: str) -> None:
    with pytest.raises(UnknownFaultError, match="Write KIND") as refused:
        parse(text, 6)
    assert reason in str(refused.value)
    assert (refused.value.text, refused.value.reason in str(refused.value)) == (text, True)
