"""``leanwright sheet`` from end to end."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import Outcome
from tests.workbench import sheet_book

Call = Callable[..., Outcome]


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A book in a file, closed again."""
    folder = tmp_path / "book"
    folder.mkdir(mode=0o700)
    with sheet_book.new_book(folder) as book:
        sheet_book.begun(book)
    return folder / "book.sqlite"


def test_a_sheet_in_the_terminal(leanwright: Call, place: Path) -> None:
    outcome = leanwright("sheet", "fitting", "--book", place, "--ascii")
    assert (outcome.code, outcome.err) == (0, "")
    assert outcome.out.startswith("Fit two nozzles: 3 and 6\n")
    assert outcome.out.isascii()


def test_a_sheet_to_print_is_the_same_on_the_same_day(leanwright: Call, place: Path, tmp_path: Path) -> None:
    one, two = tmp_path / "one.pdf", tmp_path / "two.pdf"
    for sheet in (one, two):
        outcome = leanwright(
            "sheet", "quarantine", "--book", place, "--pdf", sheet, "--letter", "--print-date", "2031-05-03",
            "--language", "de",
        )  # fmt: skip
        assert (outcome.code, outcome.out, outcome.err) == (0, "", f"{sheet} geschrieben.\n")
    assert one.read_bytes() == two.read_bytes()
    assert one.read_bytes().startswith(b"%PDF-")


def test_the_fitting_worksheet_comes_on_paper_and_for_a_phone_in_one_go(
    leanwright: Call, place: Path, tmp_path: Path
) -> None:
    paper, phone = tmp_path / "fitting.pdf", tmp_path / "fitting.html"
    outcome = leanwright("sheet", "fitting", "--book", place, "--pdf", paper, "--html", phone)
    assert (outcome.code, outcome.out) == (0, "")
    assert outcome.err.splitlines() == [f"Wrote {phone}.", f"Wrote {paper}."]
    assert paper.read_bytes().startswith(b"%PDF-")
    assert phone.read_text("utf-8").startswith("<!DOCTYPE html>")


def test_printing_writes_nothing_into_the_book(leanwright: Call, place: Path, tmp_path: Path) -> None:
    before = leanwright("book", "list", "--book", place, "--json").out
    leanwright("sheet", "receiving", "--book", place, "--pdf", tmp_path / "sheet.pdf")
    assert leanwright("book", "list", "--book", place, "--json").out == before


def test_nothing_to_print_exits_with_1_and_one_sentence(leanwright: Call, place: Path) -> None:
    outcome = leanwright("sheet", "record", "--book", place)
    assert (outcome.code, outcome.out) == (1, "")
    assert outcome.err == "There is no record in the book. Enter it first: leanwright book add.\n"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["fitting", "--of", "J-9"], "There is no job 'J-9' in the book; there is: J-1."),
        (["cards"], "'cards'"),
        (["fitting", "--print-date", "3 May"], "'3 May'"),
        (["labels", "--html", "labels.html"], "for the fitting worksheet alone"),
    ],
)
def test_what_cannot_be_used_exits_with_2_and_one_line(
    leanwright: Call, place: Path, arguments: list[str], said: str
) -> None:
    outcome = leanwright("sheet", *arguments, "--book", place)
    assert (outcome.code, outcome.out) == (2, "")
    assert said in outcome.err
    assert len(outcome.err.splitlines()) == 1


def test_a_book_that_is_not_there_exits_with_2(leanwright: Call, tmp_path: Path) -> None:
    assert leanwright("sheet", "fitting", "--book", tmp_path / "no.sqlite").code == 2
