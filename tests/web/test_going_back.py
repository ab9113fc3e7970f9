"""Old parts, parcels and sheets over the wire: what goes back is packed, sent and credited, and each sheet can be printed."""

import html
import re
import secrets
from typing import Any

import pytest

from leanwright.book.kinds import work
from leanwright.workbench import fit
from tests.book.job import all_done, begun, steps
from tests.web.wire import Browser, Heard


@pytest.fixture
def fitted(fresh: Browser) -> Browser:
    """A job that is done; the old nozzles lie on the bench."""
    fresh.post("/book/begin")
    with fresh.served.house.book.using() as book:
        begun(book)
        all_done(book)
    return fresh


def post(browser: Browser, target: str, **fields: Any) -> Heard:
    return browser.post(target, key=secrets.token_hex(16), **fields)


def shown(answer: Heard) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.text)).split())


def test_a_parcel_is_packed_sent_and_credited(fitted: Browser) -> None:
    page = fitted.get("/returns?order=O-1")
    assert "Nothing waits to be sent." in shown(page)
    items = re.findall(r'name="items" value="(\d+)"', page.text)
    assert len(items) == 2
    parcel = {
        "parcel": "P-1",
        "to": "Pennygill (invented)",
        "due": "2035-01-31",
        "order": "O-1",
        "deposit": "60,50",
        "currency": "EUR",
    }
    assert post(fitted, "/returns/pack", items=items, **parcel).status == 303
    packed = fitted.get("/returns")
    told = shown(packed)
    assert "1 parcel waits to be sent." in told
    assert "Due 31 January 2035. Deposit 60.50 EUR." in told
    assert "Q7-100 , from cylinder 2" in told
    assert 'name="items"' not in packed.text
    assert post(fitted, "/returns/pack", items=[], **(parcel | {"parcel": "P-2"})).status == 422
    assert post(fitted, "/returns/sent", parcel="P-1", day="2026-11-01", tracking="XY 12").status == 303
    assert post(fitted, "/returns/sent", parcel="P-1", day="2199-01-01").status == 422
    assert post(fitted, "/returns/credited", parcel="P-1", day="2026-11-20", amount="60,50").status == 303
    told = shown(fitted.get("/returns"))
    assert "P-1 , deposit credited" in told
    assert "Sent 1 November 2026, XY 12 . Credited 20 November 2026: 60.50 EUR." in told
    assert post(fitted, "/returns/sent", parcel="nowhere", day="2026-11-01").status == 404
    assert b"BEGIN:VCALENDAR" in fitted.get("/returns/calendar").body


def test_every_sheet_of_the_book_is_printed_from_its_page(fitted: Browser) -> None:
    for kind, of in (("fitting", "J-1"), ("tags", "J-1"), ("receiving", "O-1"), ("labels", "O-1")):
        answer = fitted.get(f"/sheets/{kind}?of={of}")
        assert (answer.status, answer.body[:5]) == (200, b"%PDF-"), kind
        assert answer.header("content-disposition").startswith("attachment")
    for target in (
        "/sheets/record?of=J-1",
        "/sheets/quarantine",
        "/sheets/returns",
        "/sheets/odd",
        "/sheets/fitting?of=J-9",
    ):
        assert fitted.get(target).status == 404, target


def test_a_reading_outside_its_limits_is_asked_for_again_and_another_person_looks(fresh: Browser) -> None:
    fresh.post("/book/begin")
    with fresh.served.house.book.using() as book:
        begun(book, second_person=True)
        steps(book, ["fuel-off"])
        for cylinder in (3, 2):
            steps(book, work.CYLINDER_STEPS[:-1], cylinder)
        for cylinder in (2, 3):
            steps(book, ["looked-at-again"], cylinder)
        steps(book, [one for one in work.ENGINE_STEPS if one not in {"fuel-off", "idle-speed"}])
        fit.do_step(book, {"job": "J-1", "step": "idle-speed", "value": "720", "unit": "rpm"})
    for cylinder in (2, 3):
        page = fresh.get("/fit?job=J-1")
        assert "Another person’s look" in page.text
        answer = post(
            fresh, "/fit/steps", job="J-1", step="inspected-by-another", cylinder=cylinder, by="Bea Example", seen="all tight", result="sound"
        )  # fmt: skip
        assert answer.status == 303, shown(answer)
    told = shown(fresh.get("/fit?job=J-1"))
    assert "720 rpm is entered" in told
    assert "It lies outside the instructions, so this step is open." in told
    assert (
        post(
            fresh, "/fit/steps", job="J-1", step="idle-speed", value="650", unit="rpm", by="Ada Example"
        ).status
        == 303
    )
    assert "Every step is done." in shown(fresh.get("/fit?job=J-1"))
