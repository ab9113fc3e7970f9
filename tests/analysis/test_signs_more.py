"""Signs of causes where a recording lacks something, and the sentences made of them, from made signals."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from leanwright.analysis.cause_models import Model, Piece
from leanwright.analysis.cause_rows import Evidence, Row, Setting, State
from leanwright.analysis.cause_search import Explanation, Posterior
from leanwright.analysis.cause_signs import Signs, find_signs, ignition_ratio
from leanwright.analysis.cause_witness import ForAgainst, weigh_witnesses
from leanwright.analysis.ignition_check import IgnitionCheck, find_ignition_checks
from leanwright.analysis.lean_flank import Flank, lean_flanks
from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.analysis.odd_tops import Ragged
from leanwright.analysis.plan_chance import Draws
from leanwright.analysis.plan_sweeps import (
    disagreeing,
    next_flight,
    surer,
    sweeps_to_settle,
    sweeps_used,
)
from leanwright.analysis.planned import Choice, PlannedCylinder
from leanwright.analysis.probe_gaps import Gaps, probe_gaps
from leanwright.analysis.sweep import Sweep
from leanwright.analysis.troubleshooting import (
    Search,
    Trial,
    best_policy_cost,
    exact_cost,
    greedy_cost,
    listed_cost,
    ranked,
)
from leanwright.engine.profile import EngineProfile
from leanwright.recordings.recording import Recording
from tests.analysis.plan_scene import TWO_OUT
from tests.analysis.plan_scene import flown as balanced
from tests.analysis.scene import exhaust, recording

Floats = NDArray[np.float64]

TIME = np.arange(0.0, 200.0, 1.0)
CHECKS = ((60.0, 72.0), (90.0, 100.0))


def on(spans: Sequence[tuple[float, float]] = CHECKS) -> Floats:
    """1 in the stretches, 0 elsewhere."""
    return np.asarray([any(start <= t <= end for start, end in spans) for t in TIME], dtype=np.float64)


def egts(rise: Floats, count: int = 4) -> dict[int, Floats]:
    return {number: 1000.0 + 10.0 * number + rise for number in range(1, count + 1)}


def run_up(
    egt: Mapping[int, Floats] | None = None,
    spans: Sequence[tuple[float, float]] = CHECKS,
    **channels: Floats,
) -> Recording:
    """A run-up in which one ignition fires alone in some stretches; channels named replace the usual ones."""
    usual = {
        "engine_speed": 1750.0 - 80.0 * on(spans),
        "fuel_flow": np.full(TIME.size, 4.8),
        "manifold_pressure": np.full(TIME.size, 16.0),
    }
    return recording(TIME, dict(egt or egts(40.0 * on(spans))), **{**usual, **channels})


def without(made: Recording, quantity: str) -> Recording:
    return replace(made, channels=tuple(one for one in made.channels if one.quantity != quantity))


def starts(found: Sequence[IgnitionCheck]) -> list[float]:
    return [one.start_s for one in found]


def test_without_manifold_pressure_the_fuel_flow_alone_tells_that_nothing_was_touched() -> None:
    found = find_ignition_checks(without(run_up(), "manifold_pressure"))
    assert starts(found) == pytest.approx([60.0, 90.0], abs=1.0)
    assert [one.median_df for one in found] == pytest.approx([40.0, 40.0])


def test_without_an_engine_speed_the_rising_egts_alone_tell() -> None:
    found = find_ignition_checks(without(run_up(), "engine_speed"))
    assert starts(found) == pytest.approx([60.0, 90.0], abs=1.0)


def test_an_engine_speed_that_was_never_read_tells_of_no_check_on_the_ground() -> None:
    assert find_ignition_checks(run_up(engine_speed=np.full(TIME.size, np.nan))) == ()


def test_egts_that_were_hardly_ever_read_tell_of_no_check() -> None:
    gone = {number: np.where(TIME < 2.0, row, np.nan) for number, row in egts(40.0 * on()).items()}
    assert find_ignition_checks(run_up(gone)) == ()


def test_an_egt_without_numbers_is_left_out_of_the_check() -> None:
    made = run_up()
    text = tuple(
        replace(one, values=None) if (one.quantity, one.cylinder) == ("egt", 2) else one
        for one in made.channels
    )
    found = find_ignition_checks(replace(made, channels=text))
    assert [set(one.response_df) for one in found] == [{1, 3, 4}, {1, 3, 4}]


def test_a_check_in_which_two_of_four_egts_are_missing_is_passed_over() -> None:
    rows = egts(40.0 * on())
    for number in (1, 2):
        rows[number][50:80] = np.nan
    assert starts(find_ignition_checks(run_up(rows))) == pytest.approx([90.0], abs=1.0)


def test_a_fuel_flow_that_was_not_read_in_a_check_does_not_hide_it() -> None:
    found = find_ignition_checks(run_up(fuel_flow=np.where(on(CHECKS[:1]), np.nan, 4.8)))
    assert starts(found) == pytest.approx([60.0, 90.0], abs=1.0)


def test_a_rise_that_wavers_is_one_check() -> None:
    rise = 100.0 * on(((60.0, 66.0),)) + 60.0 * on(((67.0, 68.0),)) + 95.0 * on(((69.0, 75.0),))
    found = find_ignition_checks(run_up(egts(rise), engine_speed=np.full(TIME.size, 2400.0)))
    assert starts(found) == pytest.approx([60.0], abs=1.0)


def test_two_checks_in_quick_succession_are_both_told_against_the_rows_before() -> None:
    spans = ((60.0, 62.0), (66.0, 76.0))
    found = find_ignition_checks(run_up(spans=spans))
    assert starts(found) == pytest.approx([60.0, 66.0], abs=1.0)
    assert [one.median_df for one in found] == pytest.approx([40.0, 40.0])


def test_a_throttle_moved_right_after_a_check_leaves_the_rows_before_to_tell() -> None:
    moved = on(((102.0, TIME[-1]),))
    rows = egts(40.0 * on() + 300.0 * moved)
    found = find_ignition_checks(
        run_up(
            rows,
            manifold_pressure=np.where(moved, 24.0, 16.0),
            engine_speed=np.where(moved, 2300.0, 1750.0 - 80.0 * on()),
        )
    )
    assert found[0].median_df == pytest.approx(40.0)


# sweeps ---------------------------------------------------------------------------------------------------------------

SWEPT = np.arange(0.0, 300.0, 1.0)
FLOW = np.interp(SWEPT, [60.0, 240.0], [14.0, 10.5])
SWEEP = Sweep(60.0, 240.0, "leaning", True, None, 22.0, 2350.0, 6000.0)
LEFT_OUT = replace(SWEEP, used=False)
SOUND = exhaust(FLOW, (12.0, 12.1, 11.9, 12.2))


def swept(egt: dict[int, Floats], flow: Floats = FLOW) -> Recording:
    return recording(SWEPT, egt, fuel_flow=flow)


def test_a_sweep_that_was_left_out_tells_nothing_of_flanks_and_gaps() -> None:
    assert lean_flanks(swept(SOUND), [LEFT_OUT]) == {}
    assert probe_gaps(swept(SOUND), [LEFT_OUT]) == {}


def test_without_fuel_flow_there_are_neither_flanks_nor_gaps() -> None:
    assert lean_flanks(recording(SWEPT, SOUND), [SWEEP]) == {}
    assert probe_gaps(recording(SWEPT, SOUND), [SWEEP]) == {}


def test_a_sweep_of_a_few_rows_tells_nothing() -> None:
    assert lean_flanks(swept(SOUND), [replace(SWEEP, start_s=296.0, end_s=299.0)]) == {}


def test_a_sweep_outside_the_recording_has_no_gaps() -> None:
    assert probe_gaps(swept(SOUND), [replace(SWEEP, start_s=900.0, end_s=990.0)]) == {}


def test_a_probe_that_was_not_read_or_never_passed_its_top_has_no_flank() -> None:
    silent = np.full(SWEPT.size, np.nan)
    rising = exhaust(FLOW, (9.5,))[1]
    found = lean_flanks(swept({**SOUND, 5: silent, 6: rising}), [SWEEP])
    assert set(found) == set(SOUND)


def test_rows_at_one_flow_are_compared_in_their_order_in_time() -> None:
    """Many readings of a flow are the same; a sort that mixes them compares other rows on other processors."""
    before_the_top = np.clip(280.0 - SWEPT, 0.0, None)
    flow = np.where(before_the_top > 0.0, 1.0, 1.3)
    rising = {number: 1500.0 - (3.0 if number == 3 else 1.0) * before_the_top for number in (1, 2, 3, 4)}
    found = lean_flanks(
        swept(rising, flow), [replace(SWEEP, direction="enriching", start_s=0.0, end_s=300.0)]
    )
    # The first row is compared with the last one at its flow, where the others are almost at their top.
    assert found[3].excess_df == pytest.approx(3.0 * 280.0, abs=15.0)


def test_a_flank_needs_two_others_to_be_compared_with() -> None:
    assert lean_flanks(swept({1: SOUND[1], 2: SOUND[2]}), [SWEEP]) == {}
    assert lean_flanks(swept({1: SOUND[1]}), [SWEEP]) == {}


@pytest.mark.parametrize("order", [1, -1])
def test_of_two_sweeps_the_flank_that_falls_farthest_is_kept(order: int) -> None:
    flow = np.concatenate([FLOW, FLOW])
    time = np.arange(0.0, 600.0, 1.0)
    egt = exhaust(flow, (12.0, 12.1, 11.9, 12.2))
    egt[3] = egt[3] - np.where(flow < 11.4, np.where(time < 300.0, 250.0, 100.0), 0.0)
    sweeps = [SWEEP, replace(SWEEP, start_s=360.0, end_s=540.0)]
    found = lean_flanks(recording(time, egt, fuel_flow=flow), sweeps[::order])
    assert found[3].start_s == SWEEP.start_s


def measured(*recordings: Recording) -> Measured:
    balance, peaks = balanced((12.0, 12.1, 11.9, 12.2))
    results = tuple(RecordingResult(one, (), peaks[0], (SWEEP,)) for one in recordings)
    return Measured(results, balance, EngineProfile(4, None, (1, 3, 2, 4), {}), 1)


def test_signs_of_two_recordings_keep_the_worst_of_each_and_a_silent_probe_has_no_flank() -> None:
    cut = {**SOUND, 3: SOUND[3] - np.where(FLOW < 11.4, 250.0, 0.0), 4: np.full(SWEPT.size, np.nan)}
    sound = replace(swept(SOUND), name="sound")
    faulty = replace(swept(cut), name="faulty")
    for order in ((sound, faulty), (faulty, sound)):
        signs = find_signs(measured(*order))
        assert signs.flanks[3][0] == "faulty"
        assert signs.gaps[4][0] == "faulty"
        assert 4 not in signs.flanks
        assert signs.log_ratio["probe-dead", 4] > 5.0
        assert signs.log_ratio["ignition-weak", 3] > 0.0 > signs.log_ratio["ignition-weak", 1]


def test_ignition_checks_tell_of_plugs_without_any_sweep_used() -> None:
    rows = egts(40.0 * on())
    rows[2] = 1020.0 - 500.0 * on(CHECKS[1:])
    balance, peaks = balanced((12.0, 12.1, 11.9, 12.2))
    seen = Measured(
        (RecordingResult(run_up(rows), (), peaks[0], ()),),
        balance,
        EngineProfile(5, None, (1, 3, 2, 4, 5), {}),
        1,
    )
    signs = find_signs(seen)
    assert {number for _, number in signs.log_ratio} == {1, 2, 3, 4}
    assert signs.log_ratio["plug-dead", 2] > 0.0 > signs.log_ratio["plug-dead", 1]


def test_many_checks_of_a_dead_plug_are_taken_in_turns() -> None:
    assert ignition_ratio([(-10.0, 40.0), (-550.0, 42.0)] * 4) > ignition_ratio([(40.0, 40.0)] * 8)


# witnesses ------------------------------------------------------------------------------------------------------------


def setting(pressure: float | None, state: State = "now") -> Setting:
    return Setting(state, pressure, 24.0, 276.0, 2350.0, 4.0, (("a.csv", 0.0, 60.0),))


def weighed(
    rows: Mapping[Row, tuple[float, float]],
    cause: str,
    cylinders: tuple[int, ...],
    settings: tuple[Setting, ...] = (),
    signs: Signs | None = None,
) -> ForAgainst:
    """Witnesses of a cause whose effect on each row is given beside its value; every row is sure to 1."""
    size = len(rows)
    values = np.array([value for value, _ in rows.values()])
    seen = Evidence(
        (1, 2),
        settings,
        tuple(rows),
        values,
        np.eye(size),
        signs or Signs(),
        any(row.state == "before" for row in rows),
    )
    piece = Piece(cause, cylinders, new=False, slot=(cause, 0), log_odds=0.0)
    effect = np.array([[one for _, one in rows.values()]])
    model = Model(
        (piece,),
        effect,
        np.zeros((1, size)),
        ((1.0, np.zeros((size, size))),),
        np.zeros(1, np.bool_),
        np.zeros(4),
        0.0,
    )
    with_it, without_it = Explanation((piece,), None, 0.6), Explanation((), None, 0.4)
    found = Posterior((with_it, without_it), model, values)
    return weigh_witnesses(seen, found, with_it, without_it, cause, cylinders)


def codes(told: ForAgainst) -> tuple[set[str], set[str]]:
    return {one.code for one in told.speaks_for}, {one.code for one in told.against}


def test_numbers_of_the_whole_engine_speak_for_or_against_a_cause_of_it() -> None:
    rows = {
        Row("level"): (6.0, 6.0),
        Row("level", "before"): (0.0, 0.0),
        Row("pressure"): (0.0, 6.0),
        Row("pressure", "before"): (0.0, 0.0),
        Row("fill-up"): (5.0, 5.0),
    }
    told = weighed(rows, "flow-misscaled", ())
    assert codes(told) == ({"evidence-level", "evidence-fill-up"}, {"evidence-pressure"})


def test_an_engine_of_which_nothing_was_measured_has_no_witnesses() -> None:
    assert weighed({Row("height", "now", 1): (0.0, 0.0)}, "flow-misscaled", ()) == ForAgainst((), ())


def test_an_offset_at_two_pressures_since_before_is_told_as_change_and_slope() -> None:
    settings = (setting(24.0), setting(18.0), setting(24.0, "before"))
    rows = {
        Row("offset", "now", 1, 0): (4.0, 4.0),
        Row("offset", "now", 2, 0): (-4.0, -4.0),
        Row("offset", "now", 1, 1): (12.0, 12.0),
        Row("offset", "now", 2, 1): (-12.0, -12.0),
        Row("offset", "before", 1, 2): (0.0, 0.0),
        Row("offset", "before", 2, 2): (0.0, 0.0),
    }
    told = weighed(rows, "intake-leak", (1,), settings)
    assert codes(told) == ({"evidence-changed", "evidence-grows-at-low-pressure"}, set())
    assert {one.values["side"] for one in told.speaks_for} == {"lean"}


def test_an_offset_that_stayed_speaks_against_a_cause_that_would_move_it() -> None:
    settings = (setting(24.0), setting(None), setting(24.0, "before"))
    states: tuple[State, ...] = ("now", "now", "before")
    rows = {
        Row("offset", state, cylinder, number): (0.0, (9.0 if cylinder == 1 else -9.0) * (state == "now"))
        for number, state in enumerate(states)
        for cylinder in (1, 2)
    }
    assert codes(weighed(rows, "intake-leak", (1,), settings)) == (set(), {"evidence-unchanged"})


def test_a_rich_offset_without_a_before_is_told_as_it_is() -> None:
    rows = {Row("offset", "now", 1, 0): (-5.0, -5.0), Row("offset", "now", 2, 0): (5.0, 5.0)}
    told = weighed(rows, "nozzle-size", (1,), (setting(24.0),))
    assert codes(told) == ({"evidence-offset"}, set())
    assert told.speaks_for[0].values["side"] == "rich"


@pytest.mark.parametrize(
    ("quantity", "code"),
    [("height", "evidence-height"), ("lag", "evidence-lag"), ("bottle", "evidence-bottle")],
)
def test_a_cylinder_against_the_others_is_told_without_a_before(quantity: str, code: str) -> None:
    rows = {
        Row(quantity, "now", 1): (-6.0, -6.0),  # type: ignore[arg-type]  # one of the names above
        Row(quantity, "now", 2): (0.0, 0.0),  # type: ignore[arg-type]  # the same
    }
    assert codes(weighed(rows, "probe-slow", (1,))) == ({code}, set())


@pytest.mark.parametrize(
    ("quantity", "code"),
    [
        ("height", "evidence-height-changed"),
        ("lag", "evidence-lag-changed"),
        ("head", "evidence-head-changed"),
    ],
)
def test_what_changed_at_a_cylinder_since_before_is_told(quantity: str, code: str) -> None:
    rows = {
        Row(quantity, state, cylinder): (effect, effect)  # type: ignore[arg-type]  # names of the lists above and below
        for state in ("now", "before")
        for cylinder in (1, 2)
        for effect in (6.0 * (state == "now" and cylinder == 1),)
    }
    assert code in codes(weighed(rows, "probe-slow", (1,)))[0]


def test_signs_of_a_cylinder_are_told_with_where_they_were_seen() -> None:
    checks = tuple(
        ("a.csv", IgnitionCheck(start, start + 10.0, {1: response, 2: 40.0}, 40.0))
        for start, response in ((60.0, 0.0), (90.0, -500.0))
    )
    signs = Signs(
        checks,
        {1: ("b.csv", Flank(1, 250.0, 60.0, 240.0))},
        {1: ("c.csv", Gaps(1, 0.25, 50.0, 250.0, 200))},
        {("plug-dead", 1): 6.0, ("ignition-weak", 1): 4.0, ("probe-dead", 1): -5.0},
        {1: Ragged(3, "b.csv", 300.0, 420.0)},
    )
    rows = {Row("fill-up"): (0.0, 0.0)}
    plug = weighed(rows, "plug-dead", (1,), signs=signs).speaks_for[0]
    flank, ragged = weighed(rows, "ignition-weak", (1,), signs=signs).speaks_for
    assert (ragged.code, ragged.values["sweeps"], ragged.values["start_s"]) == (
        "evidence-ragged-top",
        3,
        300.0,
    )
    gaps = weighed(rows, "probe-dead", (1,), signs=signs).against[0]
    assert [plug.code, flank.code, gaps.code] == [
        "evidence-ignition-fell",
        "evidence-flank",
        "evidence-gaps",
    ]
    assert (plug.values["response_df"], plug.values["start_s"]) == (-500.0, 90.0)
    assert (flank.values["excess_df"], flank.values["recording"]) == (250.0, "b.csv")
    assert (gaps.values["silent_percent"], gaps.values["end_s"]) == (25.0, 250.0)
    assert weighed(rows, "plug-dead", (2,), signs=signs) == ForAgainst((), ())


def test_an_egt_that_rose_in_every_check_speaks_against_a_dead_plug() -> None:
    signs = Signs(
        (("a.csv", IgnitionCheck(60.0, 70.0, {1: 38.0}, 40.0)),), log_ratio={("plug-dead", 1): -6.0}
    )
    told = weighed({Row("fill-up"): (0.0, 0.0)}, "plug-dead", (1,), signs=signs)
    assert codes(told) == (set(), {"evidence-ignition-rose"})


def test_a_cause_in_no_explanation_is_told_by_its_signs_alone() -> None:
    signs = Signs(gaps={1: ("c.csv", Gaps(1, 0.25, 50.0, 250.0, 200))}, log_ratio={("probe-dead", 1): 5.0})
    seen = Evidence((1, 2), (), (Row("height", "now", 1),), np.ones(1), np.eye(1), signs, with_before=False)
    model = Model(
        (),
        np.zeros((0, 1)),
        np.zeros((0, 1)),
        ((1.0, np.zeros((1, 1))),),
        np.zeros(0, np.bool_),
        np.zeros(4),
        0.0,
    )
    nothing = Explanation((), None, 1.0)
    found = Posterior((nothing,), model, np.ones(1))
    assert codes(weigh_witnesses(seen, found, None, nothing, "probe-dead", (1,))) == (
        {"evidence-gaps"},
        set(),
    )


# what more sweeps and tests give --------------------------------------------------------------------------------------


def change(cylinder: int, factor: float) -> Choice:
    cylinders = tuple(
        PlannedCylinder(one, factor, origin="order") if one == cylinder else PlannedCylinder(one)
        for one in range(1, 7)
    )
    return Choice("change", 1, 1, cylinders, 0.2, 0.1, (0.0, 0.4), 0.9, 0.9, 0.0, 0.0)


def test_a_balance_without_offsets_has_no_two_sweeps_that_agree() -> None:
    balance, peaks = balanced(TWO_OUT)
    bare = replace(balance, cylinders=tuple(replace(one, offset_percent=None) for one in balance.cylinders))
    assert disagreeing(balance, peaks, change(3, 1.05)) == ()
    assert disagreeing(bare, peaks, change(3, 1.05)) == (3,)


def test_sweeps_that_give_a_value_are_counted_over_all_recordings() -> None:
    _, peaks = balanced(TWO_OUT, sweeps=3)
    assert sweeps_used([*peaks, *peaks]) == 6
    assert sweeps_used([]) == 0


def test_more_sweeps_settle_a_spread_by_the_root_of_their_number() -> None:
    balance, _ = balanced(TWO_OUT)
    away = 1.645 * 0.1
    near = replace(balance, goal_gph=0.5, spread_gph=0.5 + away, u_spread_gph=0.14)
    assert sweeps_to_settle(near, 4) == 4
    assert sweeps_to_settle(replace(near, spread_gph=0.5), 4) is None
    assert sweeps_to_settle(replace(near, spread_gph=None), 0) == 4
    halved = next_flight(near, 4, 12).expected_u_spread_gph
    assert halved == pytest.approx(0.07)
    assert next_flight(near, 0, 4).expected_u_spread_gph is None


def test_more_sweeps_draw_the_offsets_nearer_to_their_mean_and_leave_tolerances_alone() -> None:
    row = np.array([-1.0, 1.0])
    drawn = Draws(np.array([[0.0, 4.0]]), row, row[None], row[None], row[None], row[None], row)
    nearer = surer(drawn, 4, 12)
    np.testing.assert_allclose(nearer.offset, [[1.0, 3.0]])
    np.testing.assert_array_equal(nearer.new_flat, drawn.new_flat)


CHEAP = Trial("leak-check", 1.0, ({"intake-leak": 1.0, "nozzle-size": 0.0},))
MUTE = Trial("fill-up", 0.3, ({"flow-misscaled": 0.95},))
EVEN = {"nozzle-size": 0.5, "intake-leak": 0.5}


def test_where_no_test_tells_anything_every_order_costs_an_open_end() -> None:
    search = Search(tests=(MUTE,), not_found=8.0)
    assert ranked(EVEN, search) == ()
    assert best_policy_cost(EVEN, search) == exact_cost(EVEN, search) == 8.0
    assert listed_cost(EVEN, search) == pytest.approx(8.3)
    assert greedy_cost(list(EVEN), [0.5, 0.5], frozenset(), search) == 8.0


def test_a_test_dearer_than_no_answer_is_never_made() -> None:
    search = Search(tests=(replace(CHEAP, cost=20.0),), not_found=8.0)
    assert best_policy_cost(EVEN, search) == exact_cost(EVEN, search) == 8.0


def test_a_listed_test_that_tells_nothing_is_paid_for_all_the_same() -> None:
    search = Search(tests=(MUTE, CHEAP))
    assert listed_cost(EVEN, search) == pytest.approx(1.3, abs=1e-6)
    assert best_policy_cost(EVEN, search) == pytest.approx(1.0, abs=1e-6)
