"""The book in the browser: an entry is corrected in its own form, and the original is one click away."""

import re
from pathlib import Path

import pytest

from tests.web.forms import enter, pairs
from tests.web.wire import Browser, Heard


def correction(browser: Browser, number: int, typed: dict[str, str], reason: str, key: str) -> Heard:
    whole = {f"/0/{place}": value for place, value in typed.items()}
    return browser.post(f"/book/entries/{number}/correct", reason=reason, key=key, **pairs(whole))


def test_a_correction_stands_in_its_place_and_the_original_is_one_click_away(fresh: Browser) -> None:
    fresh.post("/book/begin")
    fresh.post("/book/notes", text="lent to the club", key="0" * 32)
    page = fresh.get("/book/entries/1").text
    assert ">lent to the club</textarea>" in page
    assert '"text":' not in page  # nobody has to write JSON
    assert correction(fresh, 1, {"text": "lent to the school"}, "it was the school", "1" * 32).status == 303
    now = fresh.get("/book/entries/2").text
    assert "lent to the school" in now
    assert "Why: “<bdi>it was the school</bdi>”" in now
    assert 'href="/book/entries/1"' in now
    before = fresh.get("/book/entries/1").text
    assert "This no longer holds." in before
    assert "lent to the club" in before


def test_the_lines_of_a_text_stay_lines(fresh: Browser) -> None:
    fresh.post("/book/begin")
    fresh.post("/book/notes", text="one\ntwo", key="0" * 32)
    assert ">one\ntwo</textarea>" in fresh.get("/book/entries/1").text
    assert correction(fresh, 1, {"text": "one\r\nthree"}, "miscounted", "1" * 32).status == 303
    assert ">one\nthree</textarea>" in fresh.get("/book/entries/2").text


def test_of_two_corrections_of_one_entry_the_second_is_refused_and_stays_as_it_was_typed(
    fresh: Browser,
) -> None:
    fresh.post("/book/begin")
    fresh.post("/book/notes", text="first", key="0" * 32)
    assert correction(fresh, 1, {"text": "second"}, "in one window", "1" * 32).status == 303
    other = correction(fresh, 1, {"text": "third"}, "in another window", "2" * 32)
    assert other.status == 422
    assert "Nothing was saved yet." in other.text
    assert "second" in other.text
    assert ">third</textarea>" in other.text
    assert 'action="/book/entries/2/correct"' in other.text


def test_work_with_a_day_is_entered_shown_and_corrected(fresh: Browser) -> None:
    fresh.post("/book/begin")
    enter(fresh, "engine", {"id": "E1", "cylinders": "6", "numbering": "from-rear"})
    key = re.search(r'name="key" value="([0-9a-f]{32})"', fresh.get("/book/new/work?engine=E1").text)
    assert key
    typed = {
        "/0/engine": "E1",
        "/0/what": "cleaning",
        "/0/text": "all six",
        "/0/cylinders": "1, 2, 3, 4, 5, 6",
    }
    sent = fresh.post("/book/new/work", key=key[1], by="Ada Example", worked="2020-04-12", **pairs(typed))
    assert sent.status == 303
    page = fresh.get("/book/entries/2").text
    assert "12\u00a0April\u00a02020" in page
    assert ">all six</textarea>" in page
    assert correction(fresh, 2, {"engine": "E1", "what": "", "text": "x"}, "trying", "3" * 32).status == 422


def test_where_no_backup_can_be_put_it_is_told(fresh: Browser) -> None:
    assert fresh.post("/book/begin").status == 303
    (fresh.served.house.desk.folder / "backups").write_text("in the way", "utf-8")
    answer = fresh.post("/book/backups")
    assert (answer.status, "This cannot be saved" in answer.text) == (503, True)


def test_where_no_book_can_be_made_it_is_told(
    fresh: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "taken").write_text("in the way", "utf-8")
    monkeypatch.setattr(fresh.served.house.book, "place", str(tmp_path / "taken" / "book.sqlite"))
    answer = fresh.post("/book/begin")
    assert (answer.status, "This cannot be saved" in answer.text) == (503, True)
