"""Sweeps said by hand on the command line, and the ramp check."""

import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from leanwright.analysis.by_hand import Hand
from leanwright.analysis.flight import find_power_ups
from leanwright.analysis.sweep import find_sweeps
from leanwright.cli.by_hand import hands
from leanwright.errors import UnusableOptionError
from leanwright.recordings.read import read_recording
from leanwright.simulate.story import write_first_flight, write_flight_after
from tests.cli.conftest import Outcome

Call = Callable[..., Outcome]


def test_times_are_seconds_or_clock_and_belong_to_the_only_recording() -> None:
    said = hands(["flight.csv"], ["1810-1975.5", "0:30:10-0:32:55", "1:05-2:00"], ["90", "1:00:00"])
    assert said == {"flight.csv": Hand(((1810.0, 1975.5), (1810.0, 1975.0), (65.0, 120.0)), (90.0, 3600.0))}


def test_with_several_recordings_the_name_says_which() -> None:
    said = hands(["a.csv", "b 2:3.csv"], ["b 2:3.csv:10-100"], ["a.csv:0:10"])
    assert said == {"b 2:3.csv": Hand(((10.0, 100.0),)), "a.csv": Hand((), (10.0,))}


@pytest.mark.parametrize(
    ("names", "text", "message"),
    [
        (["a.csv"], "soon", "not a time like"),
        (["a.csv"], "100-90", "ends before it starts"),
        (["a.csv", "b.csv"], "90-100", "say which recording '90-100' means: a.csv, b.csv"),
        (["a.csv"], "c.csv:90-100", "say which recording"),
        (["a.csv", "a.csv"], "a.csv:90-100", "the name of several recordings; rename one"),
    ],
)
def test_what_cannot_be_understood_is_refused(names: list[str], text: str, message: str) -> None:
    with pytest.raises(UnusableOptionError, match=message):
        hands(names, [text], [])


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("de", "--sweep: „soon“ ist keine Zeit wie 1810-1975 oder 0:30:10-0:32:55."),
        ("fr", "--sweep : « soon » n'est pas un temps comme 1810-1975 ou 0:30:10-0:32:55."),
    ],
)
def test_a_refusal_of_an_option_is_in_the_language_that_was_asked_for(
    leanwright: Call, first_flight: Path, language: str, said: str
) -> None:
    outcome = leanwright("balance", first_flight, "--sweep", "soon", "--language", language)
    assert outcome.code == 2
    assert outcome.err.replace("\u00a0", " ").strip() == f"leanwright: {said}"


def first_used(place: Path) -> float:
    """A time within the first sweep of a recording that is used [s]."""
    recording = read_recording(place)
    return next(one.start_s for one in find_sweeps(recording, find_power_ups(recording)) if one.used) + 5.0


@pytest.fixture(scope="module")
def first_flight(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_first_flight(tmp_path_factory.mktemp("demo"))


def test_what_was_done_by_hand_is_marked_in_every_output(
    leanwright: Call, first_flight: Path, tmp_path: Path
) -> None:
    found = [s for s in json.loads(leanwright("balance", first_flight, "--json").out)["recordings"][0]["sweeps"]
             if s["used"]]  # fmt: skip
    first, last = found[0], found[-1]
    trim = f"{first['start_s'] + 2:.0f}-{first['end_s'] - 2:.0f}"
    arguments = ["balance", first_flight, "--sweep", trim, "--drop-sweep", f"{last['start_s'] + 5:.0f}"]
    document = json.loads(leanwright(*arguments, "--json").out)
    hand = [s for s in document["recordings"][0]["sweeps"] if s["by_hand"]]
    assert [(s["used"], s["reason"]) for s in hand] == [(True, None), (False, "It was left out by hand.")]
    page = tmp_path / "answer.html"
    text = leanwright(*arguments, "--html", page).out
    assert "by hand" in text
    assert page.read_text("utf-8").count("by hand") >= 2


@pytest.mark.parametrize("command", ["causes", "plan", "leaning", "card", "pack"])
def test_what_rests_on_a_sweep_said_by_hand_says_so(
    leanwright: Call, first_flight: Path, tmp_path: Path, command: str
) -> None:
    dropped = first_used(first_flight)
    out = ["--out", tmp_path / "pack.zip"] if command == "pack" else []
    outcome = leanwright(command, first_flight, "--drop-sweep", f"{dropped:.0f}", *out)
    assert outcome.code == 0
    if command == "pack":
        with zipfile.ZipFile(tmp_path / "pack.zip") as pack:
            assert "It was left out by hand." in " ".join(pack.read("page.txt").decode().split())
            sweeps = json.loads(pack.read("result.json"))["recordings"][0]["sweeps"]
        assert [(one["used"], one["by_hand"]) for one in sweeps if one["by_hand"]] == [(False, True)]
    else:
        assert "By hand: one sweep added, trimmed or left out." in " ".join(outcome.out.split())


def test_a_comparison_takes_a_sweep_by_hand_of_either_state(leanwright: Call, first_flight: Path) -> None:
    after = write_flight_after(first_flight.parent)
    both = ["compare", "--before", first_flight, "--after", after]
    outcome = leanwright(*both, "--json", "--drop-sweep", f"{after.name}:{first_used(after):.0f}")
    document = json.loads(outcome.out)
    assert "By hand: one sweep added, trimmed or left out." in document["reasons"]
    hand = [
        [one["by_hand"] for one in document[state]["recordings"][0]["sweeps"]].count(True)
        for state in ("before", "after")
    ]
    assert hand == [0, 1]
    assert "say which recording '90-100' means" in leanwright(*both, "--sweep", "90-100").err


def test_a_card_from_nothing_takes_no_sweep(leanwright: Call) -> None:
    outcome = leanwright("card", "--drop-sweep", "90")
    assert (outcome.code, outcome.err) == (
        2,
        "leanwright: --drop-sweep: It needs a recording to be said of.\n",
    )


def test_the_ramp_check_says_one_thing_and_the_document_holds_it(
    leanwright: Call, first_flight: Path
) -> None:
    outcome = leanwright("balance", first_flight, "--ramp-check")
    assert (outcome.code, outcome.err) == (0, "")
    assert outcome.out.startswith("These sweeps are good: the spread is 0.")
    document = json.loads(leanwright("balance", first_flight, "--json").out)
    assert document["ramp_check"]["sentence"] == " ".join(outcome.out.split())


def test_one_sweep_alone_asks_for_another_the_other_way(leanwright: Call, first_flight: Path) -> None:
    sweeps = json.loads(leanwright("balance", first_flight, "--json").out)["recordings"][0]["sweeps"]
    used = [s for s in sweeps if s["used"]]
    drops = [word for s in used[1:] for word in ("--drop-sweep", f"{s['start_s'] + 5:.0f}")]
    outcome = leanwright("balance", first_flight, "--ramp-check", *drops)
    assert outcome.out.startswith("Fly one more sweep. All so far were leaning;")
