"""Receive, fit, release over the wire: what is refused is told on the spot and not written; the rest is in the book at once."""

import html
import re
import secrets
from pathlib import Path
from typing import Any

import pytest

from leanwright.book.kinds import work
from leanwright.workbench import fit, records
from leanwright.workbench.invent import write_first_flight, write_flight_after
from tests.book.job import ADA, FIGURES, VALUES, enter_figures, hangar
from tests.web.wire import Browser, Heard, multipart

JOB = {
    "id": "J-1", "engine": "E1", "set": "PG-set", "order": "O-1", "document": "SI-77 (invented)", "revision": "C",
    "positions": [{"cylinder": 3, "marking": "Q7-104"}, {"cylinder": 2, "marking": "Q7-097"}],
}  # fmt: skip


@pytest.fixture
def hangared(fresh: Browser) -> Browser:
    """A book with an engine, an order, and a wrench out of calibration beside the good one."""
    fresh.post("/book/begin")
    with fresh.served.house.book.using() as book:
        hangar(book)
        old = {
            "id": "TW-11",
            "low": "10",
            "high": "150",
            "unit": "in-lb",
            "calibrated": "2020-01-10",
            "calibration_due": "2021-01-09",
        }
        records.add(book, "tool", old, ADA)
    return fresh


@pytest.fixture
def working(hangared: Browser) -> Browser:
    """The same, the box received, the job begun."""
    for marking, cylinder in (("Q7-104", 3), ("Q7-097", 2)):
        assert came(hangared, marking, cylinder).status == 303
    with hangared.served.house.book.using() as book:
        fit.begin(book, JOB, ADA)
        enter_figures(book)
    return hangared


def came(browser: Browser, marking: str, cylinder: int) -> Heard:
    return browser.post(
        "/receive",
        order="O-1",
        marking=marking,
        cylinder=cylinder,
        by="Ada Example",
        key=secrets.token_hex(16),
    )


def step(browser: Browser, name: str, cylinder: int | None = None, **more: Any) -> Heard:
    where = {"cylinder": cylinder} if cylinder else {}
    filled: dict[str, Any] = {"seen": f"looked: {name}"}
    if name == "marking-read":
        filled = {"marking": {3: "Q7-104", 2: "Q7-097"}[cylinder or 0]}
    elif name == "old-nozzle-out":
        filled = {"marking": "Q7-100", "tag": f"old-{cylinder}"}
    elif name in work.TORQUE_STEPS:
        filled = {"reading": "33", "unit": "in-lb", "tool": "TW-04"}
    elif name in VALUES:
        filled = {"value": VALUES[name], "unit": FIGURES[name][2]}
    return browser.post(
        "/fit/steps",
        job="J-1",
        step=name,
        by="Ada Example",
        key=secrets.token_hex(16),
        **where,
        **(filled | more),
    )


def shown(answer: Heard) -> str:
    return html.unescape(re.sub(r"<[^>]+>", " ", answer.text))


def entries(browser: Browser) -> int:
    with browser.served.house.book.using() as book:
        return int(book.state().head_sequence)


def test_a_nozzle_that_was_not_ordered_is_in_quarantine_at_once(hangared: Browser) -> None:
    assert came(hangared, "Q7-104", 3).status == 303
    assert came(hangared, "Q7-102", 2).status == 303
    page = shown(hangared.get("/receive?order=O-1"))
    assert "In quarantine" in page
    assert "Q7-102" in page
    assert "1 of this order still to come." in page
    assert "Begin the work" not in page
    assert came(hangared, "Q7-097", 2).status == 303
    assert 'class="button first" href="/book/new/job?order=O-1"' in hangared.get("/receive?order=O-1").text


def test_the_same_answer_sent_twice_is_one_entry(hangared: Browser) -> None:
    before = entries(hangared)
    fields = {
        "order": "O-1",
        "marking": "Q7-104",
        "cylinder": 3,
        "by": "Ada Example",
        "key": secrets.token_hex(16),
    }
    assert [hangared.post("/receive", **fields).status for _ in range(3)] == [303, 303, 303]
    assert entries(hangared) == before + 1


def test_refusals_are_told_on_the_spot_and_nothing_is_written(working: Browser) -> None:
    assert step(working, "fuel-off").status == 303
    for name in work.CYLINDER_STEPS[: work.CYLINDER_STEPS.index("marking-read")]:
        assert step(working, name, 3).status == 303, name
    before = entries(working)
    wrong = step(working, "marking-read", 3, marking="Q7-097")
    assert wrong.status == 422
    assert 'role="alert"' in wrong.text
    assert "Q7-104 belongs here" in " ".join(shown(wrong).split())
    working.post("/settings", units="us", language="de", look="system")
    assert "Schraffiert: nicht erlaubt." in step(working, "marking-read", 3, marking="Q7-097").text
    working.post("/settings", units="us", language="en", look="system")
    assert step(working, "marking-read", 3).status == 303
    for name in ("thread-compound", "started-by-hand"):
        assert step(working, name, 3).status == 303
    expired = step(working, "nozzle-torqued", 3, tool="TW-11")
    assert expired.status == 422
    assert "calibration" in shown(expired)
    unit = step(working, "nozzle-torqued", 3, unit="ft-lb")
    assert unit.status == 422
    assert "396" in shown(unit)
    assert entries(working) == before + 3


def test_the_whole_job_until_the_signature(working: Browser) -> None:
    assert step(working, "fuel-off").status == 303
    for cylinder in (3, 2):
        for name in work.CYLINDER_STEPS[:-1]:
            assert step(working, name, cylinder).status == 303, name
    paused = working.post(
        "/fit/pause", job="J-1", because="lunch", by="Ada Example", key=secrets.token_hex(16)
    )
    assert paused.status == 303
    page = working.get("/fit?job=J-1").text
    assert "The work rests." in page
    again = re.findall(r'name="touched" value="([^"]+)"', page)
    assert len(again) == 3
    resumed = working.post(
        "/fit/resume", job="J-1", touched=again, by="Ada Example", key=secrets.token_hex(16)
    )
    assert resumed.status == 303
    for cylinder in (2, 3):
        assert step(working, "looked-at-again", cylinder).status == 303
    for engine_step in work.ENGINE_STEPS[1:]:
        assert step(working, engine_step).status == 303, engine_step
    assert "Every step is done." in working.get("/fit?job=J-1").text
    assert "Not released." in working.get("/release?job=J-1").text
    drafted = working.post(
        "/release/draft", job="J-1", completed="2026-11-29", performed_by="Ada Example", key=secrets.token_hex(16),
        weight_and_balance="no-change",
    )  # fmt: skip
    assert drafted.status == 303, shown(drafted)
    page = working.get("/release?job=J-1").text
    assert "Sign, as the licensed person" in page, shown(working.get("/release?job=J-1"))
    assert re.search(r"\d of the \d+ items checked are missing\.", page)
    assert page.index("Print it to be signed") < page.index("The record")
    record, digest = (
        re.search(f'name="{name}" value="([^"]+)"', page) for name in ("record", "shown_sha256")
    )
    assert record
    assert digest
    signature = {
        "job": "J-1", "record": record[1], "name": "Ada Example", "certificate_number": "1234567",
        "certificate_kind": "mechanic", "meaning": "released",
    }  # fmt: skip
    kind, sent = multipart(
        working.token,
        [("scan.pdf", b"%PDF-1.7 invented")],
        job="J-1",
        record=record[1],
        key=secrets.token_hex(16),
    )
    assert working.ask("POST", "/release/attach", {"Content-Type": kind}, sent).status == 303
    forged = working.post("/release/sign", **signature, shown_sha256="0" * 64, key=secrets.token_hex(16))
    assert forged.status == 422
    signed = working.post("/release/sign", **signature, shown_sha256=digest[1], key=secrets.token_hex(16))
    assert signed.status == 303, shown(signed)
    assert "Released." in working.get("/release?job=J-1").text
    assert "Not released" not in working.get("/release?job=J-1").text


def test_the_next_step_is_the_first_open_one(working: Browser) -> None:
    page = shown(working.get("/fit?job=J-1"))
    assert "Step 1 of" in page
    assert "Fuel off" in page
    step(working, "fuel-off")
    assert "Line off" in shown(working.get("/fit?job=J-1"))


def test_an_answer_is_entered_for_an_engine_and_shown_at_home(hangared: Browser, flight: bytes) -> None:
    with hangared.served.house.book.using() as book:
        records.add(book, "engine", {"id": "E6", "cylinders": 6, "numbering": "from-rear"}, ADA)
    where = hangared.go(hangared.drop(("flight.csv", flight)))
    page = hangared.get(where).text
    assert "Enter it in the book" in page
    key = re.search(r'name="key" value="([0-9a-f]{32})"', page)
    assert key
    fields = {"recording": where.partition("r=")[2], "engine": "E6", "key": key[1]}
    first = hangared.post("/balance/enter", **fields)
    assert first.status == 303, shown(first)
    assert hangared.post("/balance/enter", **fields).header("location") == first.header("location")
    assert hangared.post("/balance/enter", **(fields | {"engine": "E1", "key": "0" * 32})).status == 422
    answer = hangared.get("/")
    home = shown(answer)
    assert "Uneven." in home
    assert "flight.csv" in home
    assert re.search(
        r'<figure class="engine-ladder"><svg[^>]*aria-label="Uneven. The spread is [^"]+"', answer.text
    )


def test_before_and_after_put_together_lead_to_the_comparison(fresh: Browser, tmp_path: Path) -> None:
    flights = (write_first_flight(tmp_path), write_flight_after(tmp_path))
    before, after = (fresh.go(fresh.drop((one.name, one.read_bytes()))).partition("r=")[2] for one in flights)
    shown = fresh.get(f"/balance?r={before}&r={after}").text
    assert f'class="button first" href="/prove?before={before}&amp;after={after}"' in shown
    assert 'class="button first" href="/explain' in fresh.get(f"/balance?r={before}").text


def test_a_recording_finds_its_engine_and_a_person_may_change_it(hangared: Browser, flight: bytes) -> None:
    with hangared.served.house.book.using() as book:
        records.add(book, "aircraft", {"id": "ZZ-OAK (invented)"}, ADA)
        records.add(
            book, "engine", {"id": "E6", "cylinders": 6, "numbering": "from-rear", "aircraft": "ZZ-OAK (invented)"}, ADA
        )  # fmt: skip
    where = hangared.go(hangared.drop(("flight.csv", flight)))
    name = where.partition("r=")[2]
    page = hangared.get(where)
    assert "engine <bdi>E6</bdi>, as its file says" in page.text
    assert "Which engine is this recording of?" not in page.text
    other = hangared.post("/recordings/belong", r=[name], engine="", back="answer")
    assert other.header("location") == where
    page = hangared.get(where)
    assert re.search(r'<button type="submit" name="engine" value="E1">', page.text)
    hangared.post("/recordings/belong", r=[name], engine="E1", back="answer")
    assert "engine <bdi>E1</bdi> (" in hangared.get(where).text
    # What a person said stays when the file comes again.
    hangared.drop(("flight.csv", flight))
    assert "engine <bdi>E1</bdi> (" in hangared.get(where).text


def test_an_extension_is_entered_with_the_reading_and_what_the_wrench_has_to_read_is_shown(
    working: Browser,
) -> None:
    before = work.CYLINDER_STEPS[: work.CYLINDER_STEPS.index("nozzle-torqued")]
    for name, cylinder in (("fuel-off", None), *((one, 3) for one in before)):
        assert step(working, name, cylinder).status == 303, name
    asked = {"job": "J-1", "step": "nozzle-torqued", "cylinder": 3, "by": "Ada Example"}
    extension = {"lever": "10", "extension": "4,0", "length_unit": "in", "angle_deg": ""}

    def sent(address: str, **typed: str) -> Heard:
        return working.post(address, **asked, **typed, key=secrets.token_hex(16))

    # 30 to 36 in-lb times A / (A + B), the formula of FAA-H-8083-30B, Fig. 7-33, reckoned by hand; 1 in-lb is 0.112985 N·m.
    for unit, words in (("", "21.43 to 25.71 in-lb"), ("N·m", "2.421 to 2.905 N·m")):
        told = sent("/fit/wrench", unit=unit, **extension)
        assert told.status == 200
        assert f"The wrench has to read {words}." in shown(told)
        assert 'name="lever" inputmode="decimal" maxlength="20" autocomplete="off" value="10"' in told.text
    for wrong, words in (
        ({"lever": ""}, "Lever and extension are two lengths"),
        ({"lever": "0"}, "With a lever of 0 and an extension of 4 at 0 deg the wrench turns nothing"),
    ):
        refused = sent("/fit/wrench", unit="in-lb", **extension | wrong)
        assert (refused.status, words in shown(refused)) == (422, True), shown(refused)
    elsewhere = {"key": secrets.token_hex(16), **extension}
    assert working.post("/fit/wrench", **asked | {"job": "J-9"}, **elsewhere).status == 404
    assert working.post("/fit/wrench", **asked | {"step": "cowling"}, **elsewhere).status == 422
    assert sent("/fit/steps", reading="33", unit="in-lb", tool="TW-04", **extension).status == 422
    assert sent("/fit/steps", reading="23,5", unit="in-lb", tool="TW-04", **extension).status == 303
    with working.served.house.book.using() as book:
        body = book.state().jobs["J-1"].torques["nozzle-torqued", 3].body
    assert (body.reading, body.extension) == (
        "23.5",
        work.Extension(lever="10", extension="4.0", unit="in", angle_deg="0"),
    )
