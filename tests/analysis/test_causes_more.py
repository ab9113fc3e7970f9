"""What is said of causes when little was seen, and how bounds and missing channels enter the evidence."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pytest

from leanwright.analysis.balance import balance
from leanwright.analysis.cause_evidence import gather
from leanwright.analysis.cause_priors import CAUSES, DEFAULT, Priors
from leanwright.analysis.cause_rows import Evidence, Row, Setting, State
from leanwright.analysis.cause_signs import Signs
from leanwright.analysis.causes import weigh
from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.analysis.peak import CylinderPeak
from leanwright.analysis.sweep import Sweep
from leanwright.analysis.troubleshooting import TESTS, Search
from leanwright.engine.profile import opposed
from leanwright.findings import Statement
from tests.analysis.made_peaks import made_peaks, made_sweep
from tests.analysis.scene import recording

RARE = 1e-12
Rows = list[tuple[Row, float, float]]


def only(**chances: float) -> Priors:
    """Priors under which nothing but the causes named can be there."""
    named = {name.replace("_", "-"): chance for name, chance in chances.items()}
    return replace(DEFAULT, chances={**dict.fromkeys(CAUSES, RARE), **named})


def setting(pressure: float | None, state: State = "now") -> Setting:
    return Setting(state, pressure, 24.0, 276.0, 2350.0, 4.0, (("a.csv", 0.0, 60.0),))


def seen(rows: Rows, *settings: Setting) -> Evidence:
    return Evidence(
        (1, 2, 3, 4),
        settings,
        tuple(row for row, _, _ in rows),
        np.array([value for _, value, _ in rows]),
        np.diag([u**2 for _, _, u in rows]),
        Signs(),
        any(row.state == "before" for row, _, _ in rows),
    )


def offsets(place: int, values: Sequence[float], state: State = "now") -> Rows:
    centred = np.array(values) - np.mean(values)
    return [(Row("offset", state, number, place), float(one), 0.1) for number, one in enumerate(centred, 1)]


def codes(told: Sequence[Statement]) -> list[str]:
    return [one.code for one in told]


def test_a_cause_of_the_whole_engine_is_told_without_a_cylinder() -> None:
    told = weigh(seen([(Row("fill-up"), 9.0, 1.0)]), only(flow_misscaled=0.08))
    assert codes(told.headline) == ["cause-elsewhere-engine"]
    assert told.headline[0].values["cause"] == "flow-misscaled"
    assert [(one.cause, one.cylinders) for one in told.suspected] == [("flow-misscaled", ())]
    assert (told.undecided_between, told.tests, told.settle) == ((), (), None)


def test_an_even_choice_with_nothing_is_left_open_and_the_test_names_no_cylinder() -> None:
    """At 0 percent the wrong scale is the less likely by sqrt(38 / 2): a prior of 0.8 leaves it open."""
    told = weigh(seen([(Row("fill-up"), 0.0, 1.0)]), only(flow_misscaled=0.8))
    odds = 4.0 * (2.0 / 38.0) ** 0.5
    assert codes(told.headline) == ["cause-open", "cause-chance", "cause-chance"]
    found = {one.cause: one.probability for one in told.causes}
    assert found["flow-misscaled"] == pytest.approx(odds / (1.0 + odds), rel=1e-6)
    assert set(told.undecided_between) == {"none", "flow-misscaled"}
    assert told.settle is not None
    assert (told.settle.code, told.settle.values["test"]) == ("settle", "fill-up")


def test_what_the_evidence_lacks_is_said() -> None:
    none = weigh(seen([(Row("fill-up"), 0.0, 1.0)]), only(flow_misscaled=0.08))
    one = weigh(seen(offsets(0, [0.0] * 4), setting(22.0)), only(nozzle_size=0.1))
    assert codes(none.notes) == ["causes-no-sweep", "causes-no-before", "causes-no-ignition-check"]
    assert codes(one.notes) == ["causes-one-pressure", "causes-no-before", "causes-no-ignition-check"]


@pytest.mark.parametrize(
    ("powers", "code"), [((22.0,), "cause-of-nozzle-one-power"), ((22.0, 18.0), "cause-of-nozzle")]
)
def test_a_nozzle_seen_at_one_power_is_told_so(powers: Sequence[float], code: str) -> None:
    rows = [row for place in range(len(powers)) for row in offsets(place, [-6.0, 0.0, 0.0, 0.0])]
    told = weigh(seen(rows, *(setting(one) for one in powers)), only(nozzle_size=0.1))
    assert codes(told.headline) == [code]
    assert told.headline[0].values["cylinders_meant"] == (1,)


def one_test(name: str) -> Search:
    return Search(tuple(test for test in TESTS if test.name == name))


@pytest.mark.parametrize(
    ("test", "pressure", "settles"),
    [
        (
            "another-sweep",
            22.0,
            Statement("settle-sweep", {"manifold_pressure_inhg": 18.0, "bound_side": "below"}),
        ),
        (
            "another-sweep",
            17.0,
            Statement("settle-sweep", {"manifold_pressure_inhg": 21.0, "bound_side": "above"}),
        ),
        (
            "leak-check",
            22.0,
            Statement("settle-at", {"test": "leak-check", "cost_h": 1.0, "cylinders_meant": (1,)}),
        ),
    ],
)
def test_another_sweep_is_flown_away_from_the_pressure_flown(
    test: str, pressure: float, settles: Statement
) -> None:
    """Lean at one cylinder, a blocked nozzle or a leak thrice as usual: one pressure cannot tell."""
    rows = offsets(0, [5.0, 0.0, 0.0, 0.0])
    told = weigh(seen(rows, setting(pressure)), only(nozzle_blocked=0.1, intake_leak=0.3), one_test(test))
    assert told.settle == settles
    assert codes(told.headline) == ["cause-open-at", "cause-chance-at", "cause-chance-at"]


def test_a_cylinder_is_no_surer_than_that_its_probe_was_always_where_it_is_believed() -> None:
    """By hand: ignition is weak for sure; one of the six pairs of leads was always exchanged with a chance of 0.06, and three of
    them hold the probe that shows it.
    """
    signs = Signs(
        log_ratio={("ignition-weak", number): 60.0 if number == 2 else -60.0 for number in (1, 2, 3, 4)}
    )
    sure = replace(seen(offsets(0, [0.0] * 4), setting(22.0)), signs=signs)
    told = weigh(sure, only(ignition_weak=0.1, probes_exchanged=0.06))
    assert [(one.cause, one.cylinders) for one in told.causes] == [
        ("ignition-weak", (2,)),
        ("probes-exchanged", ()),
    ]
    assert told.causes[0].probability == pytest.approx(1.0 - 3.0 * 0.06 / 6.0, abs=1e-6)


def test_leads_exchanged_since_are_told_as_new() -> None:
    rows: Rows = []
    for state, turned, first in (("before", 1.0, 2), ("now", -1.0, 0)):
        at: State = "before" if state == "before" else "now"
        rows += offsets(first, [2.0 * turned, 0.0, -2.0 * turned, 0.0], at)
        rows += offsets(first + 1, [2.0 * turned, 0.0, -2.0 * turned, 0.0], at)
        heights = [30.0, 0.0, -25.0, -5.0] if at == "before" else [-25.0, 0.0, 30.0, -5.0]
        rows += [(Row("height", at, number), one, 4.0) for number, one in enumerate(heights, 1)]
        lags = [0.3, 0.8, 1.3, 0.9] if at == "before" else [1.3, 0.8, 0.3, 0.9]
        rows += [(Row("lag", at, number), one, 0.1) for number, one in enumerate(lags, 1)]
    powers = (setting(22.5), setting(18.0), setting(22.5, "before"), setting(18.0, "before"))
    told = weigh(seen(rows, *powers))
    found = next(one for one in told.causes if one.cause == "probes-exchanged")
    assert found.label == ("probes-exchanged", (1, 3))
    assert found.new_probability == pytest.approx(1.0)
    assert "causes-no-before" not in codes(told.notes)


FLOWS = (11.0, 11.5, 12.0, 12.5)


def measured(
    absent: Mapping[tuple[int, int], CylinderPeak] | None = None,
    sweeps: Sequence[Sweep] = (),
    **channels: float,
) -> Measured:
    """Sweeps of a four-cylinder engine with steady channels, each a reading a second."""
    sweeps = tuple(sweeps) or (made_sweep(),)
    peaks = made_peaks([FLOWS] * len(sweeps), sweeps=sweeps, absent=absent)
    time = np.arange(200.0)
    flown = recording(time, **{name: np.full(time.size, value) for name, value in channels.items()})
    result = RecordingResult(flown, (), peaks, sweeps)
    return Measured((result,), balance([peaks]), opposed(4), 1)


def value(evidence: Evidence, place: int | None) -> tuple[float, float]:
    assert place is not None
    return float(evidence.values[place]), float(evidence.covariance[place, place]) ** 0.5


OTHERS = float(np.mean(np.log(FLOWS[:3])))


@pytest.mark.parametrize(
    ("peak", "percent", "u"),
    [
        (
            CylinderPeak(4, "not-reached", bound_gph=12.2, bound_side="above"),
            100.0 * (np.log(12.2) - OTHERS) + 4.0,
            4.0,
        ),
        (
            CylinderPeak(4, "not-reached", bound_gph=10.8, bound_side="below"),
            100.0 * (np.log(10.8) - OTHERS) - 4.0,
            4.0,
        ),
        (
            CylinderPeak(4, "unclear", possible_gph=(12.0, 13.0)),
            100.0 * (np.log(12.0 * 13.0) / 2.0 - OTHERS),
            100.0 * np.log(13.0 / 12.0) / 12.0**0.5,
        ),
        (
            CylinderPeak(4, "unclear", possible_gph=(12.4, 12.4)),
            100.0 * (np.log(12.4) - OTHERS),
            0.5,
        ),
    ],
)
def test_a_cylinder_without_a_peak_lies_where_its_bound_or_range_says(
    peak: CylinderPeak, percent: float, u: float
) -> None:
    """A range counts as a rectangular distribution, half width over sqrt 3 (JCGM 100:2008, 4.3.7)."""
    found = gather(measured({(0, 4): peak}), None, Signs())
    assert value(found, found.row("offset", "now", 4, 0)) == pytest.approx((percent, u))


def test_a_cylinder_without_signal_has_no_offset() -> None:
    found = gather(measured({(0, 4): CylinderPeak(4, "no-signal")}), None, Signs())
    assert found.row("offset", "now", 3, 0) is not None
    assert found.row("offset", "now", 4, 0) is None
    assert found.row("level") is None


def test_one_cylinder_alone_has_no_offset_and_makes_no_setting() -> None:
    lost = {(0, number): CylinderPeak(number, "no-signal") for number in (2, 3, 4)}
    found = gather(measured(lost), None, Signs())
    assert found.settings == ()
    assert not any(row.quantity == "offset" for row in found.rows)


def test_a_sweep_of_which_no_cylinder_peaked_adds_nothing() -> None:
    lost = {(1, number): CylinderPeak(number, "unclear", possible_gph=(11.0, 12.0)) for number in range(1, 5)}
    found = gather(measured(lost, (made_sweep(), made_sweep())), None, Signs())
    assert len(found.settings) == 1
    assert len(found.settings[0].spans) == 1


def test_without_altitude_the_air_outside_has_at_least_the_manifold_pressure() -> None:
    low, high = (
        gather(measured(None, [replace(made_sweep(pressure=one), altitude_ft=None)]), None, Signs())
        for one in (20.0, 28.0)
    )
    assert low.settings[0].ambient_pressure_inhg == 24.0
    assert high.settings[0].ambient_pressure_inhg == 28.0


def test_line_pressure_at_the_peaks_goes_with_the_square_of_the_flow_there() -> None:
    """Flow through an orifice: pressure drop goes with the square of the flow (Bernoulli). The middle of the four peaks lies
    at the root of 11.5 times 12 gal/h.
    """
    usual, read, fast = (
        gather(measured(None, (), **channels), None, Signs()).settings[0].line_pressure_psi
        for channels in (
            {"fuel_flow": 8.0},
            {"fuel_flow": 8.0, "fuel_pressure": 3.0},
            {"fuel_flow": 16.0, "fuel_pressure": 12.0},
        )
    )
    assert usual == pytest.approx(4.0 * 11.5 * 12.0 / 11.0**2)
    assert read == pytest.approx(3.0 * 11.5 * 12.0 / 8.0**2)
    assert fast == pytest.approx(read)


def test_nozzle_pressure_is_left_out_where_it_reads_next_to_nothing() -> None:
    good, low = (gather(measured(fuel_flow=12.0, fuel_pressure=psi), None, Signs()) for psi in (5.0, 0.2))
    assert value(good, good.row("pressure")) == pytest.approx((100.0 * np.log(5.0 / 144.0), 0.5))
    assert low.row("pressure") is None


def test_level_needs_pressure_speed_and_outside_air() -> None:
    whole = gather(measured(outside_air_temperature=40.0), None, Signs())
    air = np.log(22.0 * 2300.0 / (40.0 + 459.67))
    assert value(whole, whole.row("level")) == pytest.approx((100.0 * (np.mean(np.log(FLOWS)) - air), 0.5))
    for lacking in (
        measured(),
        measured(None, [made_sweep(pressure=None)], outside_air_temperature=40.0),
        measured(None, [made_sweep(speed=None)], outside_air_temperature=40.0),
        measured(outside_air_temperature=float("nan")),
    ):
        assert gather(lacking, None, Signs()).row("level") is None


def test_another_sweep_names_no_pressure_where_none_was_read() -> None:
    told = weigh(seen([(Row("fill-up"), 0.0, 1.0)]), only(intake_leak=0.6), one_test("another-sweep"))
    assert told.settle is not None
    assert told.settle.code == "settle-at"
    assert told.settle.values["cylinders_meant"] == (1, 2, 3, 4)


def test_a_number_that_makes_a_cause_likely_speaks_for_it_though_a_rival_would_explain_it_too() -> None:
    """New and lean is a blocked nozzle; that a nozzle of another size would show the same is nothing against it."""
    rows = [*offsets(0, [0.0, 0.0, 7.0, 0.0]), *offsets(1, [0.0, 0.0, 0.1, 0.0], "before")]
    told = weigh(
        seen(rows, setting(22.0), setting(22.0, "before")), only(nozzle_blocked=0.1, nozzle_size=0.3)
    )
    first = told.causes[0]
    assert (first.cause, first.cylinders) == ("nozzle-blocked", (3,))
    assert "evidence-changed" in codes(first.speaks_for)
    assert first.against == ()


def test_an_offset_is_judged_against_the_cylinders_that_nothing_is_wrong_with() -> None:
    """With another far richer the third lies near the mean of all, and 4 percent from the two that are even."""
    told = weigh(seen(offsets(0, [2.4, 2.3, -1.6, -5.9]), setting(22.0)), only(nozzle_size=0.3))
    found = {one.cylinders: one for one in told.causes if one.cause == "nozzle-size"}
    assert codes(found[3,].speaks_for) == ["evidence-offset"]
    assert found[3,].speaks_for[0].values["offset_percent"] == pytest.approx(-0.9)


def test_causes_that_stand_together_are_no_rivals_and_none_is_sure() -> None:
    told = weigh(seen([(Row("fill-up"), 0.0, 1.0)]), only(intake_leak=0.97))
    first = told.causes[0]
    values = {"cause": "intake-leak", "probability": first.probability, "cylinders_meant": first.cylinders}
    assert told.headline == (Statement("cause-weak", {}), Statement("cause-chance-at", values))
    assert told.undecided_between == ()
