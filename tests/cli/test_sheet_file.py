"""``--pdf`` writes the sheet whole or not at all; languages reach every output."""

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from leanwright.cli import usage
from leanwright.report.words.catalogue import LANGUAGES
from leanwright.simulate.story import write_first_flight
from tests.cli.conftest import Outcome

Call = Callable[..., Outcome]
HEADER = "Time (s),EGT1 (F),EGT2 (F),FF (gal/h),RPM (rpm),MAP (inHg)\n"


@pytest.fixture
def flight(tmp_path: Path) -> Path:
    """A short recording without a sweep: every output is made of it, quickly."""
    place = tmp_path / "flight.csv"
    rows = "".join(f"{i},1400,1390,{11.0 + 0.1 * (i % 3):.1f},2400,22.5\n" for i in range(300))
    place.write_text(HEADER + rows)
    return place


def test_the_sheet_is_written_and_said_on_standard_error(
    leanwright: Call, flight: Path, tmp_path: Path
) -> None:
    place = tmp_path / "sheet.pdf"
    outcome = leanwright("balance", flight, "--pdf", place, "--paper", "a4", "--print-date", "2031-05-02")
    assert (outcome.code, outcome.err) == (1, f"Wrote {place}.\n")
    assert place.read_bytes()[:5] == b"%PDF-"
    assert b"2031" in place.read_bytes()


def test_the_same_recording_gives_the_same_sheet(leanwright: Call, flight: Path, tmp_path: Path) -> None:
    for name in ("one.pdf", "two.pdf"):
        leanwright("balance", flight, "--pdf", tmp_path / name)
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


def test_a_sheet_that_cannot_be_written_exits_with_2_and_leaves_nothing(
    leanwright: Call, flight: Path, tmp_path: Path
) -> None:
    outcome = leanwright("balance", flight, "--pdf", tmp_path / "nowhere" / "sheet.pdf")
    assert (outcome.code, outcome.out, outcome.err.count("\n")) == (2, "", 1)
    assert "sheet.pdf" in outcome.err


@pytest.mark.parametrize(
    "wrong", [("--paper", "foolscap"), ("--print-date", "02.05.2031"), ("--language", "xx")]
)
def test_wrong_paper_date_or_language_exits_with_2(
    leanwright: Call, flight: Path, wrong: tuple[str, str]
) -> None:
    outcome = leanwright("balance", flight, *wrong)
    assert (outcome.code, outcome.out, outcome.err.count("\n")) == (2, "", 1)
    assert wrong[0] in outcome.err


def test_the_languages_offered_are_those_that_there_are() -> None:
    assert usage.LANGUAGES == LANGUAGES


@pytest.mark.parametrize(
    ("language", "said"),
    [("en", "Wrote"), ("de", "geschrieben"), ("fr", "écrit"), ("es", "Escrito"), ("it", "Scritto"), ("pt", "Escrito")],
)  # fmt: skip
def test_text_page_document_and_messages_follow_the_language(
    leanwright: Call, flight: Path, tmp_path: Path, language: str, said: str
) -> None:
    page = tmp_path / "page.html"
    outcome = leanwright("balance", flight, "--language", language, "--html", page)
    document = json.loads(leanwright("balance", flight, "--language", language, "--json").out)
    assert said in outcome.err
    assert f'<html lang="{language}">' in page.read_text("utf-8")
    shown = " ".join(outcome.out.split())
    assert all(reason in shown for reason in document["reasons"])
    english = json.loads(leanwright("balance", flight, "--json").out)["reasons"]
    assert (document["reasons"] == english) == (language == "en")


def test_what_was_understood_is_told_in_the_language(leanwright: Call, flight: Path) -> None:
    outcome = leanwright("channels", flight, "--language", "de")
    assert "Verstanden: alle 6 Spalten." in outcome.out
    assert "Ladedruck" in outcome.out


def test_without_a_sheet_the_typesetter_is_not_loaded(flight: Path) -> None:
    program = (
        "import sys; sys.argv = ['leanwright', 'balance', sys.argv[1]]\n"
        "from leanwright.cli.start import run\n"
        "try:\n    run()\nexcept SystemExit:\n    pass\n"
        "print('typst' in sys.modules, file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", program, flight], capture_output=True, text=True, check=True)
    assert done.stderr == "False\n"


def test_the_demo_speaks_the_language(
    leanwright: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Measuring takes seconds and is tested elsewhere: here a flight without a sweep is measured in its place.
    def short(folder: Path) -> Path:
        folder.mkdir()
        place = write_first_flight(folder)
        lines = place.read_text("utf-8").splitlines(keepends=True)
        place.write_text("".join(lines[:200]), "utf-8")
        return place

    monkeypatch.setattr("leanwright.workbench.invent.write_first_flight", short)
    outcome = leanwright("demo", "--no-browser", "--language", "de", "--out", tmp_path / "demo")
    assert outcome.code == 0
    assert "Ein erfundener Flug eines erfundenen Motors" in outcome.err
    assert "Beispiel. Alle Daten sind erfunden." in outcome.out
    assert '<html lang="de">' in (tmp_path / "demo" / "balance.html").read_text("utf-8")
