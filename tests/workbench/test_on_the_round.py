"""Where engines stand: a step for each, and the worst first."""

from typing import Any

import pytest

from leanwright.book.ledger import Ledger
from leanwright.workbench import records
from leanwright.workbench.answer_entry import latest_answers
from leanwright.workbench.on_the_round import Stand, stands
from leanwright.workbench.standing import status
from tests.book.job import ADA, begun, box, hangar, up_to

DIGEST = "a" * 64


@pytest.fixture
def book(tmp_path: Any) -> Ledger:
    return records.make_book(str(tmp_path / "book.sqlite"))


def stand(book: Ledger) -> list[Stand]:
    return stands(book.state(), status(book)["due"], latest_answers(book))


def only(book: Ledger) -> tuple[str, str]:
    (one,) = stand(book)
    return one.step, one.about


def answer(book: Ledger, engine: str, verdict: str, spread: str = "0.5") -> None:
    body = {
        "engine": engine,
        "name": "x.csv",
        "sha256": DIGEST,
        "program": "p",
        "verdict": verdict,
        "spread_gph": spread,
    }
    records.add(book, "recording", body, ADA)


def engine(book: Ledger, name: str) -> None:
    records.add(book, "engine", {"id": name, "cylinders": 4}, ADA)


def test_an_engine_goes_round(book: Ledger) -> None:
    engine(book, "E9")
    assert only(book) == ("measure", "")
    answer(book, "E9", "cannot-tell")
    assert only(book) == ("measure", DIGEST)
    answer(book, "E9", "uneven")
    assert only(book) == ("choose", DIGEST)
    answer(book, "E9", "even")
    assert only(book) == ("watch", DIGEST)


def test_an_order_is_received_and_then_fitted(book: Ledger) -> None:
    hangar(book)
    (one,) = stand(book)
    assert (one.step, one.about, one.missing) == ("receive", "O-1", 2)
    box(book)
    assert stand(book)[0].missing == 0


def test_work_goes_on_until_it_is_signed(book: Ledger) -> None:
    begun(book)
    (one,) = stand(book)
    assert (one.step, one.about) == ("fit", "J-1")
    left = one.open_steps
    up_to(book, "marking-read")
    assert 0 < stand(book)[0].open_steps < left


def test_the_worst_comes_first(book: Ledger) -> None:
    begun(book)
    for name, verdict, spread in (
        ("A", "even", "0.1"),
        ("B", "uneven", "0.6"),
        ("C", "uneven", "0.9"),
        ("D", "cannot-tell", "0.5"),
    ):
        engine(book, name)
        answer(book, name, verdict, spread)
    engine(book, "Z")
    assert [one.status["engine"] for one in stand(book)] == ["E1", "C", "B", "D", "Z", "A"]
    reminder = {"text": "Oil.", "due": "2020-01-01", "engine": "A"}
    records.add(book, "reminder", reminder, ADA)
    assert [one.status["engine"] for one in stand(book)][:2] == ["E1", "A"]
