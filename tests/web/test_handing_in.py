"""The worksheet leaves the workbench as a file, and its result comes back by file or by text."""

import json
import re
from typing import Any

import pytest

from leanwright.web.headers import DOWNLOAD_POLICY
from tests.book.job import begun
from tests.web.wire import Browser, Heard, multipart


@pytest.fixture
def working(fresh: Browser) -> Browser:
    fresh.post("/book/begin")
    with fresh.served.house.book.using() as book:
        begun(book)
    return fresh


def result(browser: Browser, **more: Any) -> str:
    """What a phone gives back after two steps, the second of them out of order."""
    with browser.served.house.book.using() as book:
        left, name, today = (
            {"sequence": book.state().head_sequence, "hash": book.head()},
            book.name,
            book.clock().date(),
        )
    bodies: list[dict[str, Any]] = [
        {"step": "fuel-off", "seen": "lever back"},
        {"step": "line-marked", "cylinder": 3, "seen": "painted"},
    ]
    steps = [
        {"key": f"{number:032x}", "kind": "fitting-step", "body": {"job": "J-1", **body}, "by": "Ada Example",
         "time": f"{today}T10:00:00Z", "date": f"{today}"}
        for number, body in enumerate(bodies)
    ]  # fmt: skip
    whole = {
        "format": "leanwright/worksheet-result/1",
        "sheet": "a" * 32,
        "ledger": name,
        "job": "J-1",
        "left": left,
        "steps": steps,
    }
    return json.dumps(whole | more)


def hand_in(browser: Browser, file: bytes | None = None, **fields: str) -> Heard:
    kind, sent = multipart(
        browser.token, [("worksheet-J-1.json", file)] if file is not None else [], **fields
    )
    return browser.ask("POST", "/fit/hand-in", {"Content-Type": kind}, sent)


def test_the_worksheet_leaves_as_a_file_and_never_as_a_page(working: Browser) -> None:
    assert "/fit/worksheet?job=J-1" in working.get("/fit?job=J-1").text
    answer = working.get("/fit/worksheet?job=J-1")
    assert (answer.status, answer.header("content-type")) == (200, "text/html; charset=utf-8")
    assert answer.header("content-disposition") == 'attachment; filename="leanwright-worksheet.html"'
    assert answer.header("content-security-policy") == DOWNLOAD_POLICY
    assert '"job":"J-1"' in answer.text
    assert working.get("/fit/worksheet?job=J-2").status == 404
    assert working.get("/fit/worksheet").status == 200


def test_a_result_is_held_against_the_book_step_by_step_and_entered_once(working: Browser) -> None:
    assert working.get("/fit/hand-in").status == 200
    content = result(working)
    first = hand_in(working, content.encode())
    assert first.status == 422
    assert "1 of 2 steps are entered. 1 is refused." in first.text
    assert "both ends marked (3) comes after line at nozzle: wrench read (3), which is open." in re.sub(
        r"<[^>]+>", "", first.text
    )
    again = hand_in(working, text=content)
    assert "0 of 2 steps are entered. 1 were in the book already. 1 is refused." in again.text
    assert "Step 2 of" in working.get("/fit?job=J-1").text


def test_what_is_no_result_is_told_and_nothing_is_written(working: Browser) -> None:
    with working.served.house.book.using() as book:
        before = book.head()
    for file, fields in (
        (b"no result", {}), (None, {}), (None, {"text": "{}"}), (b"\xff\x00", {}), (b"x" * (2 << 20), {}),
        (result(working, ledger="another").encode(), {}), (None, {"text": result(working, job="J-9")}),
    ):  # fmt: skip
        answer = hand_in(working, file, **fields)
        assert answer.status in {413, 422}, fields
        assert "Traceback" not in answer.text
    with working.served.house.book.using() as book:
        assert book.head() == before
