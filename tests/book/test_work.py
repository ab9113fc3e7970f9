"""The round with the wrench in the hand: receiving, fitting, release; what is refused and why."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
import vobject

from leanwright.book import ledger
from leanwright.book.kinds import work
from leanwright.book.ledger import Ledger
from leanwright.book.verify import verify
from leanwright.errors import RefusedEntryError
from leanwright.workbench import fit, receive, records, release, returns, standing
from tests.book import job
from tests.book.conftest import SetClock


def test_a_box_is_matched_marking_by_marking_and_what_does_not_fit_is_in_quarantine(book: Ledger) -> None:
    job.hangar(book)
    typed = "Q7-104, 2\nQ7-104, 3\nQ7-104, 3\nQ9-001\nQ7-102; 2"
    came = receive.read_markings(typed.replace(";", ","))
    results = receive.receive_all(book, "O-1", came, job.ADA)
    assert [(one.result, one.instead_of) for one in results] == [
        ("wrong-row", "Q7-097"),
        ("right", None),
        ("double", None),
        ("not-ordered", None),
        ("wrong-number", "Q7-097"),
    ]
    listed = receive.receiving_list(book, "O-1")
    assert [one["marking"] for one in listed["quarantine"]] == ["Q7-104", "Q7-104", "Q9-001", "Q7-102"]
    assert listed["missing"] == [{"marking": "Q7-097", "quantity": 1}]


def test_a_nozzle_in_the_bag_of_another_cylinder_is_in_the_wrong_row_however_many_came(book: Ledger) -> None:
    job.hangar(book)
    came = receive.read_markings("Q7-104, 3\nQ7-104, 2\nQ7-104, 3\nQ7-104")
    results = receive.receive_all(book, "O-1", came, job.ADA)
    assert [(one.result, one.instead_of) for one in results] == [
        ("right", None),
        ("wrong-row", "Q7-097"),
        ("double", None),
        ("double", None),
    ]


def test_only_a_person_of_the_book_lets_a_part_out_of_quarantine_and_says_why(book: Ledger) -> None:
    job.hangar(book)
    entry = receive.receive(book, "O-1", receive.Came("Q9-001"), job.ADA).written.sequence
    assert job.refusal(book, lambda: receive.let_out(book, entry, "Nobody", "because")) == "no-such-person"
    assert (
        job.refusal(book, lambda: receive.let_out(book, 1, "Ada Example", "because")) == "not-in-quarantine"
    )
    receive.let_out(book, entry, "Ada Example", "papers came by post", job.ADA)
    assert (
        job.refusal(book, lambda: receive.let_out(book, entry, "Ada Example", "again")) == "released-already"
    )
    assert receive.quarantine_list(book.state()) == []


def test_an_entry_of_a_job_that_another_program_began_says_its_engine(book: Ledger, clock: SetClock) -> None:
    other = ledger.open_ledger(book.store, clock, "leanwright test")
    assert other.state().jobs == {}
    job.begun(book)
    written = records.add(other, "pause", {"job": "J-1", "because": "telephone"}, job.ADA)
    assert book.entry(written.sequence)[0].entry.subject == "engine E1"


def test_an_entry_says_what_it_is_about(book: Ledger) -> None:
    job.begun(book)
    returns.pack(book, {"id": "P-1", "due": "2031-06-01", "items": [{"marking": "Q7-100"}]}, job.ADA)
    records.add(book, "note", {"text": "a"}, job.ADA)
    found = {one.entry.kind: one.entry.subject for one, _ in book.entries()}
    assert found == {
        "owner": "book",
        "person": "book",
        "aircraft": "aircraft X-TEST",
        "engine": "engine E1",
        "tool": "tool TW-04",
        "nozzle-set": "nozzle-set PG-set",
        "order": "order O-1",
        "as-found": "engine E1",
        "receipt": "engine E1",
        "job": "engine E1",
        "figure": "engine E1",
        "parcel": "parcel P-1",
        "note": "book",
    }
    assert standing.status(book)["due"][0]["text"] == "Send back parcel P-1"


def test_a_receipt_cannot_be_written_kinder_than_the_match(book: Ledger) -> None:
    job.hangar(book)
    body = {"order": "O-1", "marking": "Q9-001", "result": "right"}
    assert job.refusal(book, lambda: records.add(book, "receipt", body)) == "not-the-match"


@pytest.mark.parametrize(
    ("before", "action", "code"),
    [
        ("marking-read", lambda book: job.step(book, "marking-read", 3, marking="Q7-097"), "position-rule"),
        (
            "marking-read",
            lambda book: job.step(book, "marking-read", 3, marking="Q7-100"),
            "not-planned-here",
        ),
        ("marking-read", lambda book: job.step(book, "marking-read", 3, marking="Z"), "not-of-set"),
        ("line-off", lambda book: job.step(book, "started-by-hand", 3), "out-of-order"),
        ("line-off", lambda book: job.step(book, "line-off", 4), "not-of-this-job"),
        ("line-off", lambda book: job.step(book, "line-off"), "all-of-them"),
        ("line-off", lambda book: job.step(book, "line-off", 3, seen=None), "nothing-seen"),
        (
            "old-nozzle-out",
            lambda book: job.step(book, "old-nozzle-out", 3, marking="Q7-099"),
            "other-marking",
        ),
        (
            "nozzle-torqued",
            lambda book: job.step(book, "nozzle-torqued", 3, reading="33", unit="ft-lb"),
            "torque-outside",
        ),
        (
            "nozzle-torqued",
            lambda book: job.step(
                book,
                "nozzle-torqued",
                3,
                reading="9.9",
                extension={"lever": "3", "extension": "7", "unit": "in"},
            ),
            "outside-wrench",
        ),
        ("nozzle-torqued", lambda book: job.step(book, "nozzle-torqued", 3, reading="45"), "torque-outside"),
        ("nozzle-torqued", lambda book: job.step(book, "nozzle-torqued", 3, tool="TW-05"), "no-such-tool"),
        ("nozzle-torqued", lambda book: job.step(book, "nozzle-torqued", 3, unit="oz"), "not-of-its-kind"),
        ("line-torqued-at-nozzle", lambda book: job.step(book, "line-marked", 3), "out-of-order"),
    ],
)
def test_the_work_is_refused_until_it_is_put_right(
    book: Ledger, before: str, action: Callable[[Ledger], None], code: str
) -> None:
    job.begun(book)
    job.up_to(book, before)
    assert job.refusal(book, lambda: action(book)) == code


def test_the_line_comes_off_only_when_the_fuel_is(book: Ledger) -> None:
    job.begun(book)
    assert job.refusal(book, lambda: job.step(book, "line-off", 3)) == "fuel-on"


def test_a_nozzle_in_quarantine_is_not_fitted_before_it_is_let_out(book: Ledger) -> None:
    job.begun(book)
    held = receive.quarantine(book, "Q7-104", "thread damaged", "20718", job.ADA).sequence
    job.up_to(book, "marking-read")
    read = {"job": "J-1", "step": "marking-read", "cylinder": 3, "marking": "Q7-104", "serial": "20718"}
    assert job.refusal(book, lambda: fit.do_step(book, read, job.ADA)) == "in-quarantine"
    receive.let_out(book, held, "Bea Example", "looked at under a glass; the thread is whole", job.BEA)
    fit.do_step(book, read, job.ADA)
    assert book.state().fitted["E1"][3].serial == "20718"


def test_why_a_nozzle_is_in_quarantine_is_said_in_words(book: Ledger) -> None:
    job.begun(book)
    receive.receive(book, "O-1", receive.Came("Q7-102", 3), job.ADA)
    job.up_to(book, "marking-read")
    read = {"job": "J-1", "step": "marking-read", "cylinder": 3, "marking": "Q7-102"}
    with pytest.raises(RefusedEntryError, match=r"in quarantine since .* \(wrong number, entry \d+\)"):
        fit.do_step(book, read, job.ADA)


def test_one_nozzle_is_not_in_two_places(book: Ledger) -> None:
    positions = [{"cylinder": 3, "marking": "Q7-104"}, {"cylinder": 4, "marking": "Q7-104"}]
    job.begun(book, positions=positions)
    job.up_to(book, "thread-compound", 3)
    job.steps(book, ("line-off", "old-nozzle-out", "seat-inspected"), 4)
    read = {"job": "J-1", "step": "marking-read", "cylinder": 4, "marking": "Q7-104"}
    with pytest.raises(RefusedEntryError, match=r"Q7-104 is already in 3\. Read the marking again"):
        fit.do_step(book, read, job.ADA)


def test_a_wrench_out_of_calibration_or_of_unknown_calibration_is_refused(book: Ledger) -> None:
    job.begun(book)
    wrench = {"low": "10", "high": "150", "unit": "in-lb"}
    records.add(book, "tool", {"id": "OLD", **wrench, "calibrated": "2029-04-30"}, job.ADA)
    records.add(book, "tool", {"id": "DUE", **wrench, "calibration_due": "2031-04-30"}, job.ADA)
    job.up_to(book, "nozzle-torqued")
    assert job.refusal(book, lambda: job.step(book, "nozzle-torqued", 3, tool="OLD")) == "calibration-unknown"
    assert job.refusal(book, lambda: job.step(book, "nozzle-torqued", 3, tool="DUE")) == "calibration-over"
    # Two FAA publications name a month and a year: the interval is the owner's setting, with its source.
    source = "FAA-H-8083-30B, p. 7-49"
    records.add(book, "interval", {"what": "wrench-calibration", "days": 30, "source": source}, job.ADA)
    assert job.refusal(book, lambda: job.step(book, "nozzle-torqued", 3, tool="OLD")) == "calibration-over"


@pytest.mark.parametrize(
    ("reading", "unit", "words"),
    [
        (
            "33",
            "ft-lb",
            (
                "33 ft-lb is 396 in-lb. The instructions say 30 to 36 in-lb. "
                "Likely mistake: 12 times too much; 33 in-lb was entered as 33 ft-lb."
            ),
        ),
        (
            "33",
            "N·m",
            (
                "33 N·m is 292.1 in-lb. The instructions say 30 to 36 in-lb. "
                "Likely mistake: 8.85 times too much; 33 in-lb was entered as 33 N·m."
            ),
        ),
        (
            "2.75",
            "in-lb",
            (
                "2.75 in-lb. The instructions say 30 to 36 in-lb. "
                "Likely mistake: 12 times too little; 2.75 ft-lb was entered as 2.75 in-lb."
            ),
        ),
        (
            "3.73",
            "in-lb",
            (
                "3.73 in-lb. The instructions say 30 to 36 in-lb. "
                "Likely mistake: 8.85 times too little; 3.73 N·m was entered as 3.73 in-lb."
            ),
        ),
        (
            "38",
            "N·m",
            (
                "38 N·m is 336.3 in-lb. The instructions say 30 to 36 in-lb. "
                "Likely mistake: 10.2 times too much; 38 kgf·cm was entered as 38 N·m."
            ),
        ),
        (
            "45",
            "in-lb",
            (
                "45 in-lb. The instructions say 30 to 36 in-lb. "
                "Likely mistake: 1.36 times too much, as when N·m are taken for ft-lb. "
                "Compare the unit on the wrench with that of the instructions."
            ),
        ),
        ("70", "in-lb", "70 in-lb. The instructions say 30 to 36 in-lb. Read the wrench again."),
    ],
)
def test_a_likely_mistake_of_units_is_named(book: Ledger, reading: str, unit: str, words: str) -> None:
    job.begun(book)
    wide = {"id": "WIDE", "low": "0.1", "high": "1000", "unit": "in-lb", "calibration_due": "2032-01-01"}
    records.add(book, "tool", wide, job.ADA)
    job.up_to(book, "nozzle-torqued")
    with pytest.raises(RefusedEntryError) as caught:
        job.step(book, "nozzle-torqued", 3, reading=reading, unit=unit, tool="WIDE")
    assert str(caught.value) == words
    # The narrow wrench tells the same mix-up: what its own range says of it would name another.
    with pytest.raises(RefusedEntryError) as caught:
        job.step(book, "nozzle-torqued", 3, reading=reading, unit=unit)
    assert str(caught.value) == words


def test_an_extension_is_reckoned_with(book: Ledger) -> None:
    job.begun(book)
    job.up_to(book, "nozzle-torqued")
    extension = {"lever": "10", "extension": "4", "unit": "in"}
    assert (
        job.refusal(book, lambda: job.step(book, "nozzle-torqued", 3, extension=extension))
        == "torque-outside"
    )
    needed = fit.wrench_has_to_read(33.0, "in-lb", lever=10.0, extension=4.0)["reading"]
    job.step(book, "nozzle-torqued", 3, reading=f"{needed:.1f}", extension=extension)


def test_an_unusual_figure_is_entered_by_a_second_person(book: Ledger) -> None:
    job.begun(book)
    figure = {
        "job": "J-1",
        "what": "nozzle-torque",
        "low": "230",
        "high": "250",
        "unit": "in-lb",
        "document": "SI",
        "revision": "C",
    }
    first = fit.enter_figure(book, figure, job.ADA).sequence
    tool = {"id": "BIG", "low": "100", "high": "400", "unit": "in-lb", "calibration_due": "2032-01-01"}
    records.add(book, "tool", tool, job.ADA)
    job.up_to(book, "nozzle-torqued")
    torque = {"reading": "240", "tool": "BIG"}
    assert job.refusal(book, lambda: job.step(book, "nozzle-torqued", 3, **torque)) == "unusual-figure"
    again = {**figure, "confirms": first}
    assert job.refusal(book, lambda: fit.enter_figure(book, again, job.ADA)) == "same-person"
    assert (
        job.refusal(book, lambda: fit.enter_figure(book, {**again, "high": "260"}, job.BEA))
        == "figures-differ"
    )
    fit.enter_figure(book, again, job.BEA)
    job.step(book, "nozzle-torqued", 3, **torque)


def test_after_an_interruption_the_last_three_steps_are_touched_again(book: Ledger) -> None:
    job.begun(book)
    job.up_to(book, "thread-compound")
    fit.pause(book, "J-1", "telephone", job.ADA)
    assert job.refusal(book, lambda: job.step(book, "thread-compound", 3)) == "paused"
    asked = fit.worksheet(book, "J-1")["touch_again"]
    assert [one["step"] for one in asked] == ["old-nozzle-out", "seat-inspected", "marking-read"]
    touched: list[tuple[str, int | None]] = [(one["step"], one["cylinder"]) for one in asked]
    assert job.refusal(book, lambda: fit.resume(book, "J-1", touched[1:], job.ADA)) == "not-touched"
    fit.resume(book, "J-1", touched, job.ADA)
    job.step(book, "thread-compound", 3)


def body_of(book: Ledger, number: int) -> dict[str, Any]:
    """What an entry says."""
    return dict(records.parse_body(bytes(book.entry(number)[0].entry.body), "body"))


def test_what_was_entered_wrongly_is_corrected_while_the_work_rests_and_no_work_is_done(book: Ledger) -> None:
    job.begun(book)
    job.up_to(book, "line-torqued-at-nozzle")
    torque, removal, seat = (
        book.state().jobs["J-1"].steps[step, 3].latest
        for step in ("nozzle-torqued", "old-nozzle-out", "seat-inspected")
    )
    fit.pause(book, "J-1", "telephone", job.ADA)
    reading = body_of(book, torque)
    # The same rules hold: a correction is refused for what a reading is refused for.
    outside = {**reading, "reading": "333"}
    assert (
        job.refusal(book, lambda: records.correct(book, torque, outside, "misread", job.ADA))
        == "torque-outside"
    )
    records.correct(book, torque, {**reading, "reading": "34"}, "misread: 34, not 33", job.ADA)
    records.correct(book, removal, {**body_of(book, removal), "tag": "old-3a"}, "the tag", job.ADA)
    records.correct(book, seat, {**body_of(book, seat), "seen": "clean and dry"}, "said in full", job.ADA)
    state = book.state().jobs["J-1"]
    assert state.paused is not None
    assert state.steps["nozzle-torqued", 3].body.reading == "34"
    assert [step for step, _ in state.done][-3:] == ["thread-compound", "started-by-hand", "nozzle-torqued"]
    assert job.refusal(book, lambda: job.step(book, "line-torqued-at-nozzle", 3)) == "paused"


def test_a_correction_made_days_later_belongs_to_the_day_of_the_work(book: Ledger, clock: SetClock) -> None:
    job.begun(book)
    job.up_to(book, "line-torqued-at-nozzle")
    torque = book.state().jobs["J-1"].steps["nozzle-torqued", 3].latest
    records.add(book, "tool", {"id": "TW-05", "low": "10", "high": "150", "unit": "in-lb",
                               "calibrated": "2031-01-01", "calibration_due": "2031-05-04"}, job.ADA)  # fmt: skip
    clock.forward(days=3)
    # The wrench was in calibration on the day of the work, and is not on the day of the correction.
    records.correct(book, torque, {**body_of(book, torque), "tool": "TW-05"}, "the other wrench", job.ADA)
    state = book.state_at(day=date(2031, 5, 3)).jobs["J-1"]
    assert state.steps["nozzle-torqued", 3].body.tool == "TW-05"
    assert [step for step, _ in state.done][-1] == "nozzle-torqued"


def test_a_job_from_the_box_to_the_signature(book: Ledger) -> None:
    job.begun(book)
    job.all_done(book)
    assert fit.worksheet(book, "J-1")["open_steps"] == []
    assert release.engine_release(book, "E1") == "not released"
    more = {
        "weight_and_balance": "no-change",
        "check_flight": "ground-test",
        "check_flight_reason": "run to full power",
    }
    drafted = release.draft(
        book, "J-1", completed=date(2031, 5, 3), performed_by="Ada Example", more=more, said=job.ADA
    )
    found = release.checked(book, drafted.sequence)
    # Nobody has signed: items 4 and 5 of the check, and nothing else.
    assert (found["status"], found["missing"]) == ("not released", [4, 5])
    assert "nozzle Q7-104 fitted" in found["text"]
    assert "wrench TW-04 read 33 in-lb" in found["text"]
    sign = release.take_signature
    assert (
        job.refusal(book, lambda: sign(book, drafted.sequence, job.signature("something else")))
        == "other-text"
    )
    sign(book, drafted.sequence, job.signature(found["text"]), job.BEA)
    found = release.checked(book, drafted.sequence)
    assert (found["status"], found["missing"]) == ("released", [])
    assert release.engine_release(book, "E1") == "no open work"
    assert (
        job.refusal(book, lambda: sign(book, drafted.sequence, job.signature(found["text"])))
        == "released-already"
    )
    assert job.refusal(book, lambda: job.step(book, "cowling")) == "signed"
    placed = {cylinder: one.marking for cylinder, one in book.state().fitted["E1"].items()}
    assert placed == {1: "Q7-100", 2: "Q7-097", 3: "Q7-104", 4: "Q7-100"}
    assert verify(book.store).problems == ()


def test_a_signature_that_lacks_something_is_refused_in_plain_words(book: Ledger) -> None:
    job.begun(book)
    drafted = release.draft(book, "J-1", completed=date(2031, 5, 3), performed_by="Ada Example", said=job.ADA)

    def said_of(wrong: dict[str, Any]) -> str:
        with pytest.raises(RefusedEntryError) as caught:
            release.take_signature(book, drafted.sequence, {**job.signature("text"), **wrong}, job.BEA)
        return str(caught.value)

    assert 'certificate_number is ""; it must not be empty' in said_of({"certificate_number": ""})
    assert "'certificate_kind' is missing" in said_of({"certificate_kind": None})
    assert 'meaning is "approved"; it has to be one of inspected, performed, released' in said_of(
        {"meaning": "approved"}
    )


def test_a_corrected_draft_is_signed_by_nobody(book: Ledger) -> None:
    job.begun(book)
    job.all_done(book)
    drafted = release.draft(book, "J-1", completed=date(2031, 5, 3), performed_by="Ada Example", said=job.ADA)
    text = release.checked(book, drafted.sequence)["text"]
    release.take_signature(book, drafted.sequence, job.signature(text), job.BEA)
    old = book.entry(drafted.sequence)[0].entry
    body = records.parse_body(bytes(old.body), "body")
    records.correct(book, drafted.sequence, {**body, "text": f"{text}\nmore"}, "a line was missing", job.ADA)
    assert release.engine_release(book, "E1") == "not released"


def test_an_open_step_holds_up_the_release(book: Ledger) -> None:
    job.begun(book, second_person=True)
    job.all_done(book)
    drafted = release.draft(book, "J-1", completed=date(2031, 5, 3), performed_by="Ada Example", said=job.ADA)
    found = release.checked(book, drafted.sequence)
    assert (
        job.refusal(
            book, lambda: release.take_signature(book, drafted.sequence, job.signature(found["text"]))
        )
        == "steps-open"
    )
    for cylinder in (2, 3):
        look = {
            "job": "J-1",
            "engine": "E1",
            "cylinder": cylinder,
            "by": "Bea Example",
            "found": "marked",
            "result": "sound",
        }
        fit.inspect(book, look, job.BEA)
    release.take_signature(book, drafted.sequence, job.signature(found["text"]), job.BEA)


def test_an_inspection_before_the_work_is_done_is_no_inspection_of_it(book: Ledger) -> None:
    job.begun(book, second_person=True)
    job.up_to(book, "line-marked", 3)
    look = {
        "job": "J-1",
        "engine": "E1",
        "cylinder": 3,
        "by": "Bea Example",
        "found": "as marked",
        "result": "sound",
    }
    fit.inspect(book, look, job.BEA)
    job.steps(book, ("line-marked", "clamp-back"), 3)
    waiting = {"step": "inspected-by-another", "cylinder": 3}
    assert waiting in fit.worksheet(book, "J-1")["open_steps"]
    fit.inspect(book, look, job.BEA)
    assert waiting not in fit.worksheet(book, "J-1")["open_steps"]
    # The second look belongs to the one who did the work, and changes nothing; a torque read anew does.
    job.step(book, "looked-at-again", 3)
    assert waiting not in fit.worksheet(book, "J-1")["open_steps"]
    job.step(book, "line-torqued-at-nozzle", 3)
    assert waiting in fit.worksheet(book, "J-1")["open_steps"]


def test_a_record_dated_before_the_last_work_is_a_finding_and_hours_say_when_they_were_read(
    book: Ledger,
) -> None:
    job.hangar(book)
    job.box(book)
    reading = {"engine": "E1", "text": "read"}
    records.add(book, "note", reading, records.Said(by="Ada Example", worked="2031-04-01", hours="1200.5"))
    plan = {"id": "J-1", "engine": "E1", "document": "SI", "revision": "C"}
    fit.begin(book, {**plan, "positions": [{"cylinder": 3, "marking": "Q7-104"}]}, job.ADA)
    job.step(book, "fuel-off")

    def items(day: date) -> tuple[str, dict[int, Any]]:
        drafted = release.draft(book, "J-1", completed=day, performed_by="Ada Example", said=job.ADA)
        found = release.checked(book, drafted.sequence)
        return found["text"], {one["item"]: one for one in found["items"]}

    text, early = items(date(2031, 5, 2))
    assert "Engine hours (tachometer): 1200.5 h, read on 2031-04-01" in text
    assert (early[2]["verdict"], early[2]["found"]) == (
        "missing",
        "2031-05-02, but work was done on 2031-05-03",
    )
    assert items(date(2031, 5, 3))[1][2]["verdict"] == "met"
    at = records.Said(by="Ada Example", worked="2031-05-03", hours="1201")
    records.add(book, "note", reading, at)
    assert "Engine hours (tachometer): 1201 h\n" in items(date(2031, 5, 3))[0]


def test_a_pilots_signature_alone_is_a_finding(book: Ledger) -> None:
    job.begun(book)
    job.all_done(book)
    drafted = release.draft(book, "J-1", completed=date(2031, 5, 3), performed_by="Ada Example", said=job.ADA)
    text = release.checked(book, drafted.sequence)["text"]
    release.take_signature(book, drafted.sequence, job.signature(text, certificate_kind="pilot"), job.BEA)
    items = {one["item"]: one for one in release.checked(book, drafted.sequence)["items"]}
    assert items[5]["verdict"] == "missing"
    assert "43.3(g)" in items[5]["rule"]
    # Total time is no item of 43.9(a): a record without it has no defect for that.
    assert items[13]["verdict"] == "not-asked"


def test_a_value_outside_its_limits_is_written_down_and_stays_open(book: Ledger) -> None:
    job.begun(book)
    job.all_done(book)
    job.step(book, "metered-pressure", value="21")
    assert {"step": "metered-pressure", "cylinder": None} in fit.worksheet(book, "J-1")["open_steps"]


def test_a_parcel_goes_one_way_and_what_is_due_is_a_calendar_that_others_read(book: Ledger) -> None:
    job.hangar(book)
    parcel = {
        "id": "P-1",
        "to": "Märchen & Söhne (invented); Straße 1, Köln",
        "due": "2031-06-01",
        "items": [{"marking": "Q7-100"}],
    }
    returns.pack(book, parcel, job.ADA)
    records.add(
        book, "reminder", {"text": "Look at the lines;\nwith a lamp, " * 5, "due": "2031-05-01"}, job.ADA
    )
    events = vobject.readOne(returns.calendar(book).decode()).vevent_list
    told = {event.summary.value: event.dtstart.value for event in events}
    assert told["Send back parcel P-1 to Märchen & Söhne (invented); Straße 1, Köln"] == date(2031, 6, 1)
    assert date(2031, 5, 1) in told.values()
    assert all(len(line) <= 75 for line in returns.calendar(book).split(b"\r\n"))
    status = standing.status(book)
    assert (status["overdue"], status["due"][0]["what"]) == (1, "reminder")
    returns.mark_sent(book, "P-1", "2031-05-02", "tracking 1", job.ADA)
    assert job.refusal(book, lambda: returns.pack(book, parcel)) == "parcel-goes-back"
    returns.mark_credited(book, "P-1", "2031-05-03", said=job.ADA)
    assert returns.to_send(book.state()) == []


def test_cleaning_and_documents_fall_due_by_date_and_by_hours(book: Ledger) -> None:
    job.hangar(book)
    at = records.Said(by="Ada Example", worked="2031-05-01", hours="1000")
    records.add(book, "as-found", {"engine": "E1", "cylinder": 1, "marking": "Q7-100", "source": "read"}, at)
    source = "owner's own (invented)"
    records.add(
        book, "interval", {"what": "nozzle-cleaning", "days": 365, "hours": "100", "source": source}, job.ADA
    )
    document = {"id": "D-9", "type": "directive", "revision": "2", "engine": "E1", "next_due_hours": "1050"}
    records.add(book, "document", document, job.ADA)
    told = {one["what"]: (one["day"], one["hours"], one["overdue"]) for one in returns.due_list(book)}
    # The newest of the nozzles was found on 3 May, at hours that nobody entered.
    assert told["nozzle-cleaning"] == ("2032-05-02", None, False)
    assert told["document"] == (None, "1050", False)
    later = records.Said(by="Ada Example", worked="2031-05-03", hours="1050.0")
    records.add(book, "note", {"text": "read", "engine": "E1"}, later)
    told = {one["what"]: (one["day"], one["hours"], one["overdue"]) for one in returns.due_list(book)}
    assert told["document"] == (None, "1050", True)


def test_the_engine_is_shown_as_it_was_on_a_date(book: Ledger) -> None:
    job.begun(book)
    job.all_done(book)
    now = standing.engine_at(book, "E1", day=date(2031, 5, 3))
    assert [one["marking"] for one in now["fitted"]] == ["Q7-100", "Q7-097", "Q7-104", "Q7-100"]
    assert [one["place"] for one in now["fitted"]] == ["rear right", "rear left", "front right", "front left"]
    before = standing.engine_at(book, "E1", day=date(2031, 5, 2))
    assert [one["marking"] for one in before["fitted"]] == [None] * 4
    assert job.refusal(book, lambda: standing.engine_at(book, "E9")) == "no-such-engine"
    assert [one["tag"] for one in returns.old_parts(book, "J-1")] == ["old-2", "old-3"]


@pytest.mark.parametrize(
    ("kind", "body", "code"),
    [
        ("job", {"positions": []}, "job-positions"),
        ("job", {"positions": [{"cylinder": 3, "marking": "Q7-097"}]}, "position-rule"),
        ("job", {"id": "J-1"}, "job-there"),
        ("figure", {"low": "40", "high": "30"}, "limits"),
        ("figure", {"unit": "oz"}, "torque-unit"),
        ("figure", {"confirms": 1}, "no-such-figure"),
        ("step", {"step": "nozzle-torqued"}, "needs-reading"),
        ("step", {"step": "old-nozzle-out"}, "needs-removal"),
        ("step", {"step": "ground-run", "cylinder": 3, "seen": "ran"}, "no-cylinder"),
        ("step", {"step": "ground-run"}, "nothing-seen"),
        ("step", {"step": "idle-speed"}, "no-value"),
        ("step", {"step": "idle-speed", "value": "650", "unit": "Hz"}, "other-unit"),
    ],
)
def test_more_that_is_refused(book: Ledger, kind: str, body: dict[str, Any], code: str) -> None:
    job.begun(book)
    plan = {"id": "J-2", "engine": "E1", "set": "PG-set", "document": "SI", "revision": "C"}
    plan["positions"] = [{"cylinder": 3, "marking": "Q7-104"}]  # type: ignore[assignment]  # one field of another kind
    figure = {
        "job": "J-1",
        "what": "nozzle-torque",
        "low": "30",
        "high": "36",
        "unit": "in-lb",
        "document": "SI",
        "revision": "C",
    }
    made = {
        "job": lambda: fit.begin(book, {**plan, **body}, job.ADA),
        "figure": lambda: fit.enter_figure(book, {**figure, **body}, job.BEA),
        "step": lambda: fit.do_step(book, {"job": "J-1", **body}, job.ADA),
    }
    assert job.refusal(book, made[kind]) == code


def test_the_second_look_goes_another_way_round(book: Ledger) -> None:
    positions = [{"cylinder": one, "marking": "Q7-100"} for one in (1, 2, 3)]
    job.hangar(book)
    plan = {
        "id": "J-1",
        "engine": "E1",
        "document": "SI-77 (invented)",
        "revision": "C",
        "positions": positions,
    }
    fit.begin(book, plan, job.ADA)
    job.enter_figures(book, document="SI")
    job.step(book, "fuel-off")
    for cylinder in (1, 2, 3):
        job.steps(book, work.CYLINDER_STEPS[:3], cylinder)
        read = {
            "job": "J-1",
            "step": "marking-read",
            "cylinder": cylinder,
            "marking": "Q7-100",
            "serial": f"{cylinder}",
        }
        fit.do_step(book, read, job.ADA)
        job.steps(book, work.CYLINDER_STEPS[4:-1], cylinder)
    job.step(book, "looked-at-again", 1)
    assert job.refusal(book, lambda: job.step(book, "looked-at-again", 2)) == "same-order"
    job.step(book, "looked-at-again", 3)


def test_a_backup_more_than_a_day_old_is_noticed(book: Ledger, clock: SetClock) -> None:
    records.add(book, "note", {"text": "a"}, job.ADA)
    assert standing.status(book)["backup"]["overdue"] is False
    clock.forward(hours=25)
    assert standing.status(book)["backup"]["overdue"] is True
    book.note_event("backup", {"head": book.head(), "entries": 1, "file": "x"})
    clock.forward(hours=30)
    assert standing.status(book)["backup"]["overdue"] is False
    records.add(book, "note", {"text": "b"}, job.ADA)
    assert standing.status(book)["backup"]["overdue"] is True


@pytest.mark.parametrize(
    ("rules", "cited", "kept"),
    [
        ("us-part-43", "14 CFR 43.9(a)(2)", "1 year"),
        ("uk-part-ml", "UK ANO 2016 art. 47(1)(b)", "36 months"),
        ("easa-part-ml", "ML.A.801", "36 months"),
    ],
)
def test_each_item_of_the_check_cites_the_rule_of_its_own_record(
    book: Ledger, rules: str, cited: str, kept: str
) -> None:
    job.begun(book)
    drafted = release.draft(
        book, "J-1", completed=date(2031, 5, 3), performed_by="Ada Example", rules=rules, said=job.ADA
    )
    items = {one["item"]: one for one in release.checked(book, drafted.sequence)["items"]}
    assert items[2]["rule"].startswith(cited)
    assert kept in items[10]["found"]
    foreign = [one for one in items.values() if one["rule"].startswith("14 CFR")]
    assert all(rules == "us-part-43" or "common practice" in one["rule"] for one in foreign)
    assert all(one["text_of"] for one in items.values() if one["rule"] != "common practice")


@pytest.mark.parametrize(
    ("time", "code"),
    [
        ("now", "signature-time"),
        ("2031-05-03", "signature-time"),
        ("2031-5-3T12:00:00Z", "signature-time"),
        ("2031-05-03T12:11:00Z", "signed-in-the-future"),
    ],
)
def test_a_signature_names_a_moment_that_has_been(book: Ledger, time: str, code: str) -> None:
    job.begun(book)
    job.all_done(book)
    drafted = release.draft(book, "J-1", completed=date(2031, 5, 3), performed_by="Ada Example", said=job.ADA)
    text = release.checked(book, drafted.sequence)["text"]
    signed = job.signature(text, time=time)
    assert job.refusal(book, lambda: release.take_signature(book, drafted.sequence, signed, job.BEA)) == code
    # A device may be a little ahead.
    release.take_signature(book, drafted.sequence, job.signature(text, time="2031-05-03T12:09:00Z"), job.BEA)


def test_a_name_typed_otherwise_is_no_second_person(book: Ledger) -> None:
    job.begun(book, second_person=True)
    job.all_done(book)
    look = {"job": "J-1", "engine": "E1", "cylinder": 2, "found": "marked", "result": "sound"}
    fit.inspect(book, {**look, "by": "ada  example"}, records.Said(by="ada  example"))
    assert {"step": "inspected-by-another", "cylinder": 2} in fit.worksheet(book, "J-1")["open_steps"]
    fit.inspect(book, {**look, "by": "Bea Example"}, job.BEA)
    assert {"step": "inspected-by-another", "cylinder": 2} not in fit.worksheet(book, "J-1")["open_steps"]


def test_work_entered_late_from_paper_is_not_lost_behind_its_own_job(book: Ledger) -> None:
    """The job was entered today; its steps say the day before yesterday, when they were done."""
    job.begun(book)
    late = records.Said(by="Ada Example", worked="2031-05-01")
    fit.do_step(book, {"job": "J-1", "step": "fuel-off", "seen": "selector off"}, late)
    fit.do_step(book, {"job": "J-1", "step": "line-off", "cylinder": 3, "seen": "capped"}, late)
    fit.remove(book, {"job": "J-1", "cylinder": 3, "marking": "Q7-100", "tag": "old-3"}, late)
    removed = book.state().jobs["J-1"]
    assert removed.done == [("fuel-off", None), ("line-off", 3), ("old-nozzle-out", 3)]
    assert 3 not in book.state().fitted["E1"]
    apart = receive.quarantine(book, "Q9-001", "no papers", said=job.ADA).sequence
    receive.let_out(book, apart, "Ada Example", "papers came", late)
    assert receive.quarantine_list(book.state()) == []
    drafted = release.draft(book, "J-1", completed=date(2031, 5, 1), performed_by="Ada Example", said=late)
    text = release.checked(book, drafted.sequence)["text"]
    signed = job.signature(text, meaning="performed")
    release.take_signature(
        book, drafted.sequence, signed, records.Said(by="Bea Example", worked="2031-05-01")
    )
    assert len(release.checked(book, drafted.sequence)["signatures"]) == 1
    # A book that is opened anew sees the same as one that remembers.
    assert ledger.open_ledger(book.store, book.clock, "t").state() == book.state()
