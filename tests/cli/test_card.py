"""``leanwright card`` from end to end."""

from collections.abc import Callable
from pathlib import Path

from tests.cli.conftest import Outcome
from tests.cli.flown import fly

Call = Callable[..., Outcome]


def test_a_card_from_nothing_in_the_terminal(leanwright: Call) -> None:
    outcome = leanwright("card")
    assert (outcome.code, outcome.err) == (0, "")
    assert "nothing is known of this engine yet" in outcome.out


def test_a_card_from_a_first_recording_as_sheet_and_page(leanwright: Call, tmp_path: Path) -> None:
    recording = fly(tmp_path, "first", sweeps=2)
    sheet, page = tmp_path / "card.pdf", tmp_path / "card.html"
    outcome = leanwright("card", recording, "--pdf", sheet, "--html", page, "--letter")
    assert (outcome.code, outcome.out) == (0, "")
    assert sheet.read_bytes().startswith(b"%PDF-")
    assert "from sweeps already flown: 2" in page.read_text("utf-8")


def test_a_recording_without_a_sweep_makes_the_card_of_a_first_flight(
    leanwright: Call, tmp_path: Path
) -> None:
    outcome = leanwright("card", fly(tmp_path, "none", sweeps=0))
    assert outcome.code == 0
    assert "nothing is known of this engine yet" in outcome.out


def test_limits_that_make_no_sense_exit_with_2_before_a_recording_is_opened(
    leanwright: Call, tmp_path: Path
) -> None:
    limits = tmp_path / "limits.toml"
    limits.write_text(
        'format = "leanwright/limits/1"\ndocument = "x"\n[[limit]]\nwhat = "CHT"\nunit = "°F"\n'
    )
    outcome = leanwright("card", tmp_path / "nowhere.csv", "--limits", limits)
    assert (outcome.code, outcome.out, outcome.err.count("\n")) == (2, "", 1)
    assert outcome.err.startswith("leanwright: limits.toml: ")


def test_limits_stand_behind_the_document_that_they_are_from(leanwright: Call, tmp_path: Path) -> None:
    limits = tmp_path / "limits.toml"
    limits.write_text(
        'format = "leanwright/limits/1"\ndocument = "Invented manual"\nrevision = "C"\n'
        '[[limit]]\nwhat = "CHT"\nunit = "°F"\nmost = 420\n',
        "utf-8",
    )
    said = " ".join(leanwright("card", "--limits", limits).out.split())
    assert "Limits, typed in by the owner, Invented manual C: CHT: at most 420 °F" in said


def test_recordings_of_two_engines_make_no_card(leanwright: Call, tmp_path: Path) -> None:
    four = tmp_path / "four.csv"
    rows = "".join(f"{t},1400,1400,1400,1400,11.0\n" for t in range(60))
    four.write_text(f"Time (s),EGT1 (F),EGT2 (F),EGT3 (F),EGT4 (F),FF (gal/h)\n{rows}")
    sheet = tmp_path / "card.pdf"
    outcome = leanwright("card", fly(tmp_path, "six", sweeps=2), four, "--pdf", sheet)
    assert outcome.code == 1
    assert outcome.out.startswith("These recordings cannot be of one engine")
    assert not sheet.exists()
