"""Causes from simulated recordings, from file to answer; the truth is the simulator's."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import cache

import pytest

from leanwright.analysis.bottle_test import Catches
from leanwright.analysis.cause_priors import DEFAULT
from leanwright.analysis.cause_rows import FillUp
from leanwright.analysis.explained import Explained
from leanwright.analysis.measured import Measured
from leanwright.workbench import choose
from leanwright.workbench.cause_files import Health
from leanwright.workbench.explain import Given, believed, explain, still_to_do
from leanwright.workbench.invent import simulate_into
from leanwright.workbench.measure import measure
from leanwright.workbench.nozzle_files import Check
from leanwright.workbench.nozzle_forms import CHECKS
from leanwright.workbench.opening import open_recordings

Fly = Callable[..., Measured]


@pytest.fixture(scope="module")
def fly(tmp_path_factory: pytest.TempPathFactory) -> Fly:
    """Simulate a flight with faults and measure it; each is flown once."""

    @cache
    def flown(fault: str, seed: int = 3, sweeps: int = 4, cylinders: int = 6) -> Measured:
        folder = tmp_path_factory.mktemp("flight")
        places = simulate_into(folder, seed=seed, cylinders=cylinders, faults=(fault,), sweeps=sweeps)
        recordings = [place for place in places if place.name != "truth.json"]
        return measure(open_recordings([str(place) for place in recordings]))

    return flown


def named(explained: Explained) -> Sequence[tuple[str, tuple[int, ...], float]]:
    assert explained.causes is not None
    return [(one.cause, one.cylinders, one.probability) for one in explained.causes.causes]


def test_a_leak_is_no_nozzle(fly: Fly) -> None:
    explained = explain(fly("intake-leak:3:0.1"), None, Given())
    assert explained.causes is not None
    first = explained.causes.causes[0]
    assert (first.cause, first.cylinders) == ("intake-leak", (3,))
    assert "evidence-grows-at-low-pressure" in {told.code for told in first.speaks_for}
    assert explained.causes.headline[0].code == "cause-elsewhere"


def test_a_dead_plug_shows_in_the_ignition_check(fly: Fly) -> None:
    explained = explain(fly("plug-dead:2:60"), None, Given())
    assert explained.causes is not None
    found = next(one for one in explained.causes.causes if one.cause == "plug-dead")
    assert found.cylinders == (2,)
    assert found.probability > 0.9
    fell = next(told for told in found.speaks_for if told.code == "evidence-ignition-fell")
    assert isinstance(fell.values["response_df"], float)
    assert fell.values["response_df"] < -80.0


def test_a_probe_that_comes_and_goes_is_no_nozzle(fly: Fly) -> None:
    said = named(explain(fly("probe-dead:5:60"), None, Given()))
    assert said[0][:2] == ("probe-dead", (5,)) or ("probe-dead", (5,)) in [one[:2] for one in said]
    assert not any(cause.startswith("nozzle") and at == (5,) and chance > 0.5 for cause, at, chance in said)


def test_what_is_new_is_told_from_what_was_always_so(fly: Fly) -> None:
    healthy, blocked = fly("none"), fly("nozzle-blocked:4:8")
    explained = explain(blocked, healthy, Given())
    assert explained.causes is not None
    first = next(one for one in explained.causes.causes if one.cylinders == (4,))
    assert first.cause == "nozzle-blocked"
    assert first.new_probability is not None
    assert first.new_probability > 0.9


def test_a_fill_up_finds_a_misscaled_flow_reading(fly: Fly) -> None:
    sound, off = (FillUp(40.0, counted) for counted in (40.1, 43.0))
    chances = [
        {
            cause: chance
            for cause, at, chance in named(explain(fly("none"), None, Given(health=Health({}, None, one))))
            if not at
        }
        for one in (sound, off)
    ]
    assert chances[0].get("flow-misscaled", 0.0) < 0.1
    assert chances[1]["flow-misscaled"] > 0.7


def test_what_is_missing_is_said_before_any_order(fly: Fly) -> None:
    told = {note.code for note in explain(fly("none"), None, Given()).notes}
    assert {"health-missing", "identity-missing"} <= told
    on_file = Health({"compression": Check("compression", date(2031, 5, 2), sound=False)}, date(2031, 5, 3))
    told = {note.code for note in explain(fly("none"), None, Given(health=on_file)).notes}
    assert told >= {"health-not-sound", "health-missing"}
    assert "identity-missing" not in told


def test_what_is_on_file_is_believed() -> None:
    sound = Health({"intake-leak": Check("intake-leak", date(2031, 5, 2), sound=True)})
    odd = Health({"intake-leak": Check("intake-leak", date(2031, 5, 2), sound=False)})
    usual = DEFAULT.chances["intake-leak"]
    assert (
        believed(DEFAULT, sound).chances["intake-leak"]
        < usual
        < believed(DEFAULT, odd).chances["intake-leak"]
    )


def test_a_bottle_test_of_other_cylinders_is_left_out(fly: Fly) -> None:
    explained = explain(fly("none"), None, Given(catches=Catches({1: (100.0,), 2: (101.0,)})))
    assert explained.bottle is None
    assert "bottle-other-cylinders" in {note.code for note in explained.notes}


def test_a_bottle_test_that_misses_the_metered_fuel_is_told(fly: Fly) -> None:
    catches = Catches(dict.fromkeys(range(1, 7), (100.0,)), metered=660.0)
    explained = explain(fly("none"), None, Given(catches=catches))
    assert explained.bottle is not None
    assert "bottle-total-missed" in {note.code for note in explained.notes}


def test_recordings_of_two_engines_are_not_weighed(fly: Fly) -> None:
    explained = explain(fly("none"), fly("none", cylinders=4), Given())
    assert explained.causes is None
    assert [why.code for why in explained.reasons] == ["causes-two-engines"]


def test_the_same_recording_twice_tells_nothing_of_a_change(fly: Fly) -> None:
    explained = explain(fly("none"), fly("none"), Given())
    assert [why.code for why in explained.reasons] == ["causes-same-recording"]


def test_an_earlier_recording_that_is_later_is_told(fly: Fly) -> None:
    day = datetime(2031, 5, 17)  # noqa: DTZ001  a panel's clock knows no zone

    def dated(measured: Measured, when: datetime) -> Measured:
        results = tuple(
            replace(result, recording=replace(result.recording, started_at=when))
            for result in measured.results
        )
        return replace(measured, results=results)

    now, before = dated(fly("none"), day), dated(fly("nozzle-blocked:4:8"), day + timedelta(days=3))
    assert [why.code for why in explain(now, before, Given()).reasons] == ["causes-before-later"]
    assert explain(now, dated(fly("nozzle-blocked:4:8"), day - timedelta(days=3)), Given()).reasons == ()


def test_without_a_sweep_the_reason_is_the_measurements(fly: Fly) -> None:
    explained = explain(fly("none", sweeps=0), None, Given())
    assert explained.causes is None
    assert explained.reasons


def test_a_sound_compression_and_a_sound_valve_lift_speak_against_little_air_each() -> None:
    day = date(2031, 5, 2)
    files = [{}, {"compression": Check("compression", day, sound=True)}]
    files.append({**files[1], "valve-lift": Check("valve-lift", day, sound=True)})
    chances = [believed(DEFAULT, Health(checks)).chances["low-airflow"] for checks in files]
    assert chances[0] > 2.0 * chances[1] > 4.0 * chances[2]
    assert Health(files[1]).missing == tuple(what for what in CHECKS if what != "compression")


def test_where_little_air_stops_an_order_the_checks_that_tell_it_are_named_until_they_are_on_file(
    fly: Fly,
) -> None:
    now, before = fly("low-airflow:3:12", 5), fly("none", 5)
    checks = {"compression": Check("compression", date(2031, 5, 2), sound=True)}
    given = choose.read_files(choose.Files())
    done = replace(given, of_causes=Given(health=Health(checks)))
    asked = [choose.choose(now, one, before).notes[0] for one in (given, done)]
    assert [one.code for one in asked] == ["plan-look-at-air"] * 2
    assert [one.values["checks"] for one in asked] == [("compression", "valve-lift"), ("valve-lift",)]


def test_a_test_whose_result_is_there_is_not_asked_for_again() -> None:
    checks = {"compression": Check("compression", date(2031, 5, 2), sound=True)}
    health = Health(checks, identity=date(2031, 5, 2), fill_up=FillUp(40.0, 40.2))
    left = {test.name for test in still_to_do(Given(health=health), checks_seen=True).tests}
    everything = {test.name for test in still_to_do(Given(), checks_seen=False).tests}
    assert everything - left == {"compression", "identity-check", "fill-up", "ignition-check"}
