"""Histories made of evidence, without recordings: what alarms, when, and since when."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from leanwright.analysis.chart import cusum_run_length
from leanwright.analysis.health import Seen
from leanwright.analysis.health_cruise import Cruise
from leanwright.analysis.trend import FLIGHTS_A_YEAR, YEARS_WITHOUT, Change, chart_design, follow

CYLINDERS = (1, 2, 3, 4, 5, 6)
OFFSETS = np.array([1.5, -1.0, 0.4, -0.6, 0.7, -1.0])
HEIGHTS = np.array([0.0, 20.0, -15.0, 8.0, -3.0, 12.0])


def history(
    count: int,
    seed: int,
    *,
    offset: np.ndarray | None = None,
    egt: np.ndarray | None = None,
    since: int = 0,
    noise_f: float = 2.0,
) -> list[Seen]:
    """Flights of one engine; from ``since`` on offsets [percent] and temperatures [degF] are moved."""
    rng = np.random.default_rng(seed)
    moved_offset = np.zeros(6) if offset is None else offset
    moved_egt = np.zeros(6) if egt is None else egt
    made = []
    for number in range(count):
        changed = number >= since
        x = float(rng.uniform(-0.05, 0.05))
        season = 60.0 + 25.0 * np.sin(number / 20.0)
        values = 1400.0 + 40.0 * rng.standard_normal() + HEIGHTS + OFFSETS * 60.0 * x + changed * moved_egt
        values = values + noise_f * rng.standard_normal(6)
        cruise = Cruise(
            x - 2.0, 2.3, 3.05 + 0.05 * float(rng.standard_normal()), 7.75, 6000.0, season,
            dict(zip(CYLINDERS, values.tolist(), strict=True)), {},
        )  # fmt: skip
        swept = bool(rng.random() < 0.5)
        offsets = OFFSETS + changed * moved_offset + 0.3 * rng.standard_normal(6)
        made.append(
            Seen(
                f"flight-{number}", None, CYLINDERS, CYLINDERS if swept else (),
                offsets - offsets.mean() if swept else np.zeros(0), np.eye(6 if swept else 0) * 0.1**2, None, (cruise,),
                dict.fromkeys(CYLINDERS, -15.0), dict.fromkeys(CYLINDERS, 0.0), int(swept), 3600.0,
            )
        )  # fmt: skip
    return made


def one(values: Sequence[float], cylinder: int) -> np.ndarray:
    moved = np.zeros(6)
    moved[cylinder - 1] = values[0]
    return moved


def test_all_charts_together_alarm_once_in_a_hundred_engine_years_at_most() -> None:
    for cylinders in (4, 6):
        design = chart_design(cylinders)
        sides = 2 * (4 * cylinders + 1)
        alarms_a_year = sides * FLIGHTS_A_YEAR / cusum_run_length(design, two_sided=False)
        assert alarms_a_year <= 1.001 / YEARS_WITHOUT


def test_no_recording_can_alarm_by_itself() -> None:
    design = chart_design(6)
    assert design.cap - design.allowance < design.limit < 2.0 * (design.cap - design.allowance)


def test_a_sound_engine_stays_quiet_through_seasons_and_powers() -> None:
    assert [follow(history(200, seed)).changes for seed in range(6)] == [()] * 6


def test_never_to_alarm_would_miss_what_the_charts_find() -> None:
    # "Never alarm" is right on every sound engine and finds nothing; the charts have to do better on the same flights.
    found = [
        any(c.cylinder == 3 for c in follow(history(80, seed, offset=one([3.0], 3), since=50)).changes)
        for seed in range(8)
    ]
    assert sum(found) >= 7


def test_a_cylinder_that_runs_leaner_is_found_and_dated() -> None:
    (change,) = follow(history(80, 3, offset=one([3.0], 3), egt=one([12.0], 3), since=50)).changes
    assert (change.cylinder, change.side) == (3, 1)
    assert abs(change.first - 50) <= 2
    assert change.raised - 50 <= 6
    assert change.size[change.quantities[0]] == pytest.approx(
        {"offset": 3.0, "egt": 12.0}[change.quantities[0]], rel=0.3
    )


def test_an_odd_day_is_no_change() -> None:
    odd = history(80, 5)
    odd[40] = replace(
        odd[40], cruise=(replace(odd[40].cruise[0], egt_f={**odd[40].cruise[0].egt_f, 2: 1500.0}),)
    )
    assert follow(odd).changes == ()


def test_what_changed_is_told_once_and_learned_anew() -> None:
    trend = follow(history(120, 7, egt=one([40.0], 5), since=60))
    assert [(c.cylinder, c.quantities) for c in trend.changes] == [(5, ("egt",))]
    later = [p.residual["egt"] for m in trend.moments[100:] for p in m.points if p.cylinder == 5]
    assert abs(float(np.mean(later))) < 3.0


def test_a_residual_in_conditions_that_are_new_to_the_cylinder_is_not_told() -> None:
    flights = history(62, 7, egt=one([40.0], 5), since=60)
    far = flights[61].cruise[0]
    # Far richer than the two flights since the change: how the cylinder behaves there is to be learned again.
    flights.append(
        replace(flights[61], name="rich", cruise=(replace(far, log_mixture=far.log_mixture + 0.12),))
    )
    trend = follow(flights)
    assert [(c.cylinder, c.raised) for c in trend.changes] == [(5, 61)]
    rich, before = ({point.cylinder: point for point in trend.moments[place].points}[5] for place in (62, 59))
    assert before.told("egt") == before.residual["egt"]
    assert before.u_residual["egt"] == pytest.approx(2.0, rel=0.3), "the noise of these flights [degF]"
    assert rich.told("egt") is None
    assert rich.u_residual["egt"] > 2.0 * before.u_residual["egt"]


def test_work_that_was_told_raises_no_alarm() -> None:
    flights = history(120, 7, egt=one([40.0], 5), since=60)
    assert follow(flights, {60: [(5, "egt"), (5, "cht")]}).changes == ()


def partly(flights: list[Seen], passed: tuple[int, ...], u_percent: float = 0.1) -> list[Seen]:
    """The same flights, without cruise; where there was a sweep only some cylinders passed their peak."""
    made = []
    for seen in flights:
        rows = [number - 1 for number in passed] if seen.offset_cylinders else []
        offsets = seen.offset_percent[rows] if rows else np.zeros(0)
        made.append(
            replace(
                seen, offset_cylinders=passed if rows else (), offset_percent=offsets - (offsets.mean() if rows else 0.0),
                covariance_percent=np.eye(len(rows)) * u_percent**2, cruise=(),
            )
        )  # fmt: skip
    return made


def test_a_leaning_past_three_peaks_tells_of_these_three_cylinders_alone() -> None:
    flights = history(90, 3, offset=one([4.0], 3), since=60)
    trend = follow([*flights[:40], *partly(flights[40:], (2, 3, 5))])
    assert {(c.cylinder, c.quantities) for c in trend.changes} == {(3, ("offset",))}
    assert abs(trend.changes[0].first - 60) <= 2
    told = {p.cylinder for m in trend.moments[40:] for p in m.points if p.told("offset") is not None}
    assert told == {2, 3, 5}


def test_an_offset_told_is_that_of_the_recording_before_and_after_a_change() -> None:
    # The offset's definition: against the mean of all cylinders. A change must not move what it is told against.
    flights = history(90, 3, offset=one([4.0], 3), since=60)
    for seen, moment in zip(flights, follow(flights).moments, strict=True):
        told = [point.offset_percent for point in moment.points]
        if seen.offset_cylinders:
            assert told == pytest.approx(seen.offset_percent.tolist(), abs=1e-9)
        else:
            assert told == [None] * 6


def test_two_peaks_say_nothing_of_either_cylinder() -> None:
    flights = history(90, 3, offset=one([4.0], 3), since=60)
    trend = follow([*flights[:40], *partly(flights[40:], (2, 3))])
    assert trend.changes == ()
    assert all(not p.residual for m in trend.moments[40:] for p in m.points)


def test_a_doubtful_leaning_weighs_by_its_own_uncertainty() -> None:
    flights = history(90, 3, offset=one([4.0], 3), since=60)
    last = max(place for place, seen in enumerate(flights) if seen.offset_cylinders)
    sharp, dull = (follow(partly(flights, CYLINDERS, u)).moments[last] for u in (0.1, 3.0))
    u_sharp, u_dull = (moment.points[2].u_residual["offset"] for moment in (sharp, dull))
    assert u_sharp < 0.6
    assert u_dull > 3.0


def test_a_head_that_runs_hotter_is_found_by_its_own_temperature() -> None:
    rng = np.random.default_rng(13)
    made = []
    for number, seen in enumerate(history(90, 5)):
        heads = 340.0 + 4.0 * np.arange(6) + 2.0 * rng.standard_normal(6) + (number >= 60) * one([25.0], 2)
        cruise = replace(seen.cruise[0], cht_f=dict(zip(CYLINDERS, heads.tolist(), strict=True)))
        made.append(replace(seen, cruise=(cruise,)))
    (change,) = follow(made).changes
    assert (change.cylinder, change.quantities, change.side) == (2, ("cht",), 1)
    assert abs(change.first - 60) <= 1
    assert change.size["cht"] == pytest.approx(25.0, abs=6.0)


def test_a_flow_that_reads_otherwise_at_the_same_power_is_a_change_of_the_whole_engine() -> None:
    rng = np.random.default_rng(17)
    made = [
        replace(
            seen, air_level_percent=float(rng.standard_normal() + (number >= 60) * 6.0) if seen.offset_cylinders else None
        )
        for number, seen in enumerate(history(120, 5))
    ]  # fmt: skip
    (change,) = follow(made).changes
    assert (change.cylinder, change.quantities, change.side) == (None, ("level",), 1)
    assert abs(change.first - 60) <= 4
    assert change.size["level"] == pytest.approx(6.0, abs=1.5)


def test_a_probe_that_was_exchanged_unsaid_is_found_and_dated() -> None:
    (change,) = follow(history(90, 19, egt=one([-25.0], 6), since=60)).changes
    assert (change.cylinder, change.quantities, change.side) == (6, ("egt",), -1)
    assert abs(change.first - 60) <= 1


def test_most_cylinders_at_once_are_a_question_about_the_engine() -> None:
    other = np.array([40.0, -35.0, 30.0, -45.0, 0.0, 0.0])
    (change,) = follow(history(90, 9, egt=other, since=60)).changes[:1]
    assert change == Change(None, ("cylinders",), 0, change.first, change.raised, {})
    assert abs(change.first - 60) <= 1


def test_a_dead_plug_and_a_silent_probe_are_told_at_once_and_once() -> None:
    flights = history(30, 11)
    for number in range(20, 30):
        flights[number] = replace(
            flights[number],
            plug_ratio={**flights[number].plug_ratio, 4: 16.0},
            silent={**flights[number].silent, 2: 1.0},
        )
    told = [(c.cylinder, c.quantities, c.first, c.raised) for c in follow(flights).changes]
    assert told == [(4, ("ignition-check",), 20, 20), (2, ("probe",), 20, 20)]


def test_gaps_without_any_evidence_change_nothing() -> None:
    flights = history(60, 13)
    empty = replace(
        flights[0],
        offset_cylinders=(),
        offset_percent=np.zeros(0),
        covariance_percent=np.zeros((0, 0)),
        cruise=(),
    )
    mixed = [flight for each in flights for flight in (each, empty, empty)]
    plain, sparse = follow(flights), follow(mixed)
    assert sparse.changes == plain.changes == ()
    assert [m.points for m in sparse.moments[::3]] == [m.points for m in plain.moments]


def test_an_empty_history_has_no_trend() -> None:
    assert follow([]).moments == ()
