"""What the step "measure" does before and after the analysis."""

import re
from dataclasses import replace
from io import BytesIO
from typing import Any

import pytest

import leanwright
from leanwright.findings import Statement
from leanwright.recordings.read import read_recording
from leanwright.recordings.recording import Recording
from leanwright.report.words import Voice, say
from leanwright.report.words.catalogue import load
from leanwright.workbench.measure import Hand, measure


def recording(name: str, cylinders: int = 2, flow: str = "11.0") -> Recording:
    header = ["Time (s)", *(f"EGT{n} (F)" for n in range(1, cylinders + 1)), "FF (gal/h)"]
    lines = [",".join([str(t), *["1400"] * cylinders, flow]) for t in range(60)]
    return read_recording(BytesIO("\n".join([",".join(header), *lines, ""]).encode()), name=name)


def test_a_flight_named_twice_counts_once_whatever_it_is_called() -> None:
    once = recording("monday.csv")
    renamed = replace(once, name="copy of monday.csv", sha256="0" * 64)
    measured = measure([once, renamed, recording("tuesday.csv", flow="11.5")])
    assert [result.recording.name for result in measured.results] == ["monday.csv", "tuesday.csv"]
    assert Statement("same-flight-twice", {"left_out": 1}) in measured.balance.reasons


@pytest.mark.parametrize(
    ("given", "shown"),
    [
        (["x"], "'x'"),
        ("flight.csv", "'flight.csv'"),
        ([None], "None"),
        (recording("a.csv"), "Recording"),
        (7, "7"),
    ],
)
def test_anything_but_recordings_is_refused_with_what_to_give(given: Any, shown: str) -> None:
    message = f"a list of recordings is needed, and {shown} was given: measure([leanwright.read_recording(place), ...])"
    with pytest.raises(TypeError, match=f"^{re.escape(message)}$"):
        measure(given)
    with pytest.raises(TypeError, match="read_recording"):
        leanwright.balance(given)


def test_recordings_of_other_engines_are_not_combined() -> None:
    measured = measure([recording("two.csv"), recording("three.csv", 3)])
    assert measured.balance.reasons == (
        Statement("mixed-engines", {"cylinders": {"two.csv": 2, "three.csv": 3}}),
    )
    assert (measured.balance.verdict, measured.balance.spread_gph) == ("cannot-tell", None)


def test_the_number_of_cylinders_can_be_said() -> None:
    measured = measure([recording("two.csv"), recording("three.csv", 3)], cylinders=4)
    assert (measured.profile.cylinders, len(measured.results)) == (4, 2)


def test_the_caller_is_told_of_each_recording_in_turn() -> None:
    told: list[str] = []
    measure([recording("a.csv"), recording("b.csv", flow="12.0")], progress=told.append)
    assert told == ["a.csv", "b.csv"]


def test_where_there_is_no_sweep_the_reason_is_told() -> None:
    reasons = measure([recording("two.csv")]).balance.reasons
    assert [reason.code for reason in reasons] == [
        "verdict-cannot-tell",
        "no-sweep",
        "no-steady-change-of-flow",
    ]


def test_no_place_is_named_before_somebody_says_how_the_cylinders_are_numbered() -> None:
    assert measure([recording("two.csv")]).profile.places == {}
    from_front = measure([recording("four.csv", 4)], numbering="from-front").profile
    assert (from_front.places[1].row, from_front.places[4].row) == (0, 1)


def test_an_odd_number_of_cylinders_has_no_places() -> None:
    assert measure([recording("five.csv", 5)], numbering="from-rear").profile.places == {}


def with_heads(shown: dict[int, str]) -> Recording:
    """Four EGT columns, and CHT columns with these readings at every other row."""
    header = [
        "Time (s)", *(f"EGT{n} (F)" for n in (1, 2, 3, 4)), *(f"CHT{n} (F)" for n in shown), "FF (gal/h)"
    ]  # fmt: skip
    lines = [
        ",".join([str(t), *["1400"] * 4, *(cell if t % 2 else "350" for cell in shown.values()), "11.0"])
        for t in range(60)
    ]
    return read_recording(BytesIO("\n".join([",".join(header), *lines, ""]).encode()), name="heads.csv")


@pytest.mark.parametrize(
    ("shown", "cylinders"),
    [
        (dict.fromkeys((1, 2, 3, 4), "351"), 4),
        (dict.fromkeys((1, 2, 3, 4, 5, 6), "351"), 6),
        ({4: "351", 5: "350", 6: "350"}, 4),
        ({4: "351", 5: "", 6: ""}, 4),
        ({1: "351", 2: "351"}, 4),
    ],
    ids=["as many heads", "two more heads", "heads that stand still", "heads without a second reading", "fewer heads"],
)  # fmt: skip
def test_a_cylinder_of_which_only_the_head_is_shown_counts(shown: dict[int, str], cylinders: int) -> None:
    assert measure([with_heads(shown)]).profile.cylinders == cylinders


def test_a_single_egt_column_is_one_cylinder() -> None:
    assert measure([recording("one.csv", 1)]).profile.cylinders == 1


def twin() -> Recording:
    """A recording of two engines, without a fuel flow for the third that there is not."""
    names = [f"E{engine} EGT{number} (F)" for engine in (1, 2) for number in (1, 2, 3, 4)]
    header = ",".join(["Time (s)", *names, "FF1 (gal/h)", "FF2 (gal/h)"])
    lines = [",".join([str(t), *["1400"] * 8, "11.0", "11.1"]) for t in range(60)]
    return read_recording(BytesIO("\n".join([header, *lines, ""]).encode()), name="twin.csv")


def test_an_engine_that_the_recording_has_not_is_blamed_not_its_fuel_flow() -> None:
    measured = measure([twin()], engine=3)
    told = Statement("no-such-engine", {"engine": 3, "engines": (1, 2)})
    assert measured.balance.reasons == (told,)
    assert say(told, Voice(load("en"))) == (
        "There is no engine 3; the recordings have engine 1 and 2. Name one of those with --engine."
    )
    assert "no-such-engine" not in [reason.code for reason in measure([twin()], engine=2).balance.reasons]


def test_fewer_cylinders_than_the_labels_name_is_a_finding() -> None:
    measured = measure([recording("four.csv", 4)], cylinders=2)
    found = [f for f in measured.results[0].recording.findings if f.code == "more-cylinders-than-stated"]
    assert [(f.severity, f.cylinder) for f in found] == [("warning", 3)]
    assert found[0].message.startswith("You say 2 cylinders, but the file has EGT of cylinder 3, 4 too")
    assert measure([recording("four.csv", 4)], cylinders=4).results[0].recording.findings == ()


def test_recordings_that_name_two_aircraft_or_engines_are_not_combined() -> None:
    one = replace(recording("a.csv"), metadata=("# Registration: EXAMPLE-1", "# Interval: 1 s"))
    two = replace(recording("b.csv", flow="11.5"), metadata=('product,"panel",tail number="EXAMPLE 2"',))
    measured = measure([one, two])
    assert measured.balance.reasons == (
        Statement("mixed-engines-stated", {"stated": {"a.csv": "EXAMPLE-1", "b.csv": "EXAMPLE 2"}}),
    )
    same = replace(two, metadata=("Aircraft;example 1",))
    assert "mixed-engines-stated" not in [reason.code for reason in measure([one, same]).balance.reasons]


def test_without_a_clock_and_an_interval_no_sweep_is_used() -> None:
    lines = [f"{1400 + t % 7},{1390 + t % 5},{14.0 - t / 100:.2f}" for t in range(200)]
    bare = read_recording(
        BytesIO("\n".join(["EGT1 (F),EGT2 (F),FF (gal/h)", *lines, ""]).encode()), name="bare.csv"
    )
    measured = measure([bare], by_hand={"bare.csv": Hand(added=((20.0, 150.0),))})
    assert not any(sweep.used for sweep in measured.results[0].sweeps)
    assert "no-time" in [reason.code for reason in measured.balance.reasons]


def test_a_twin_is_told_by_the_number_of_its_engine() -> None:
    reasons = measure([twin()], engine=2).balance.reasons
    assert Statement("engine-of-several", {"engine": 2, "engines": (1,)}) in reasons
    assert "engine-of-several" not in [
        reason.code for reason in measure([recording("a.csv")]).balance.reasons
    ]
