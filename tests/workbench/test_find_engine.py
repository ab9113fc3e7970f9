"""A recording finds its engine by what its file says, and never where two fit or something contradicts."""

from dataclasses import replace
from pathlib import Path

import pytest

from leanwright.book.ledger import Ledger
from leanwright.workbench import records
from leanwright.workbench.desk import About
from leanwright.workbench.find_engine import find_engine
from tests.report import examples


@pytest.fixture
def book(tmp_path: Path) -> Ledger:
    made = records.make_book(str(tmp_path / "book.sqlite"))
    for name in ("ZZ-ONE", "ZZ-TWO"):
        records.add(made, "aircraft", {"id": name})
    for name, aircraft, serial in (
        ("single", "ZZ-ONE", "S-1"),
        ("left", "ZZ-TWO", "S-2"),
        ("right", "ZZ-TWO", "S-3"),
        ("spare", None, "S-4"),
    ):
        body = {"id": name, "cylinders": 6, "serial": serial, "aircraft": aircraft}
        records.add(made, "engine", {key: value for key, value in body.items() if value is not None})
    return made


def earlier(engine: str, aircraft: str, stated_engine: str = "") -> About:
    return About(
        "a" * 64,
        "x.csv",
        "b" * 64,
        "2031-05-17",
        engine=engine,
        stated_aircraft=aircraft,
        stated_engine=stated_engine,
    )


@pytest.mark.parametrize(
    ("lines", "before", "found"),
    [
        (["Aircraft: zz one"], [], "single"),
        (["Registration,ZZ-ONE"], [], "single"),
        (["Engine S/N: S-2"], [], "left"),
        (["Aircraft: ZZ-TWO", "Engine S/N: S-3"], [], "right"),
        (["Engine S/N: S-4", "Aircraft: ZZ-ONE"], [], "spare"),
        # Two engines in one aircraft; the words of an earlier recording tell which, unless they told both.
        (["Aircraft: ZZ-TWO"], [], ""),
        (["Aircraft: ZZ-TWO"], [earlier("left", "ZZ TWO")], "left"),
        (["Aircraft: ZZ-TWO"], [earlier("left", "ZZ-TWO"), earlier("right", "ZZ-TWO")], ""),
        (["Aircraft: ZZ-TWO"], [earlier("single", "ZZ-TWO")], ""),
        # An aircraft that the book does not know, as an earlier recording has it.
        (["Aircraft: Z-NINE"], [earlier("spare", "Z-NINE")], "spare"),
        (["Aircraft: Z-NINE"], [earlier("gone from the book", "Z-NINE")], ""),
        (["Aircraft: Z-NINE"], [earlier("spare", "Z-NINE", "S-4")], ""),
        # The engine is in another aircraft by the book.
        (["Aircraft: ZZ-ONE", "Engine S/N: S-2"], [], ""),
        (["Engine: 1450.2"], [], ""),
        ([], [earlier("single", "")], ""),
    ],
)  # fmt: skip
def test_an_engine_is_found_by_the_words_of_the_file(
    book: Ledger, lines: list[str], before: list[About], found: str
) -> None:
    recording = replace(examples.recording(examples.SIX), metadata=tuple(lines))
    assert find_engine(recording, book.state(), before) == found


def test_without_a_book_no_engine_is_found() -> None:
    recording = replace(examples.recording(examples.SIX), metadata=("Aircraft: ZZ-ONE",))
    assert find_engine(recording, None, [earlier("single", "ZZ-ONE")]) == ""
