"""The check of a maintenance record, item by item against the rules. A "no" is a finding, never a judgement of the aircraft."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Final, Literal

from leanwright.book.due import latest_hours
from leanwright.book.job_progress import open_steps, step_words
from leanwright.book.kinds import papers
from leanwright.book.record_draft import approval_of
from leanwright.book.rule_texts import ECFR_AUGUST, ECFR_SEPTEMBER, UK_2020, UK_ANO
from leanwright.book.state import JobState, RecordState, State
from leanwright.book.torque_rules import calibration_due
from leanwright.told import Told, in_a_row

Verdict = Literal["met", "missing", "person-decides", "not-asked"]
MOST_NAMED: Final = 5
"""So many open steps are named; of more there are the first ones and their number."""
_CONTENTS: Final = {1: "a", 2: "b", 3: "c", 4: "c"}
"""Items of the check that the United Kingdom's list of a release's contents names too: work, date, identity and licence."""
_PILOTS: Final = frozenset({"pilot", "pilot-owner"})
_CLASSES: Final = {"minor": Told("minor"), "major": Told("major")}
_RETENTION: Final = {
    "us-part-43": (
        Told("until the work is repeated or superseded, or 1 year"),
        "14 CFR 91.417(b)(1)",
        ECFR_SEPTEMBER,
        1,
    ),
    "easa-part-ml": (Told("36 months"), "M.A.305(e)", UK_2020, 3),
    "uk-part-ml": (Told("36 months"), "M.A.305(e)", UK_2020, 3),
}
_WEIGHED: Final = {None: Told("nothing said"), "no-change": Told("no change"), "changed": Told("changed")}


@dataclass(frozen=True, slots=True)
class ItemCheck:
    """One item of the check: what the rule asks, whether it is met, what was found, the rule and the date of its text."""

    item: int
    asks: Told
    verdict: Verdict
    found: str
    rule: str
    text_of: str


def check(state: State, record: RecordState) -> tuple[ItemCheck, ...]:
    """Check a record item by item; a "no" is a finding, never a judgement of the aircraft."""
    body: papers.MaintenanceRecord = record.item.body
    job = state.jobs[body.job]
    items = (
        _described(body, job),
        _date(body, job),
        _doer(body, record),
        _signature(record),
        _authority(state, body, record),
        *_approval_items(state, job),
        _right_book(body),
        _check_flight(body),
        _tools(state, job),
        _retention(body),
        _unalterable(record),
        *_own_items(state, body, job),
    )
    return tuple(_cited(one, body.rules) for one in items)


def _cited(one: ItemCheck, rules: str) -> ItemCheck:
    """An item with the rule that holds for its record; where only the rule of the United States was read, it says so."""
    if rules == "us-part-43" or not one.rule.startswith("14 CFR"):
        return one
    paragraph = _CONTENTS.get(one.item)
    if paragraph is None:
        return replace(
            one, rule=Told("{rule} (rule of the United States; elsewhere common practice)", rule=one.rule)
        )
    if rules == "uk-part-ml":
        return replace(one, rule=f"UK ANO 2016 art. 47(1)({paragraph})", text_of=UK_ANO)
    rule = Told(
        "ML.A.801; contents as in UK ANO 2016 art. 47(1)({paragraph}), which was the list that could be read",
        paragraph=paragraph,
    )
    return replace(one, rule=rule, text_of=Told("{one}; {other}", one=UK_2020, other=UK_ANO))


def _described(body: papers.MaintenanceRecord, job: JobState) -> ItemCheck:
    plan = job.item.body
    cited = plan.document in body.text and plan.revision in body.text
    verdict: Verdict = "met" if body.work.strip() and cited else "missing"
    found = (
        Told("{document}, revision {revision}", document=plan.document, revision=plan.revision)
        if cited
        else Told("the data and its revision are not in the text")
    )
    return ItemCheck(
        1,
        Told("work described, data cited with revision"),
        verdict,
        found,
        "14 CFR 43.9(a)(1), 43.13(a)",
        ECFR_AUGUST,
    )


def _date(body: papers.MaintenanceRecord, job: JobState) -> ItemCheck:
    """The date is in the text, and no work was done after it."""
    there = body.completed.isoformat() in body.text
    last = max((item.day for item in job.steps.values()), default=body.completed)
    day = body.completed.isoformat()
    found: str = day
    if not there:
        found = Told("{day} is not in the text", day=day)
    elif last > body.completed:
        found = Told("{day}, but work was done on {last}", day=day, last=last.isoformat())
    met = there and last <= body.completed
    return ItemCheck(
        2, Told("date of completion"), "met" if met else "missing", found, "14 CFR 43.9(a)(2)", ECFR_AUGUST
    )


def _doer(body: papers.MaintenanceRecord, record: RecordState) -> ItemCheck:
    signer = _released_by(record)
    same = signer is not None and signer.name == body.performed_by
    there = same or body.performed_by in body.text
    found = Told("the signer did the work") if same else body.performed_by
    return ItemCheck(
        3,
        Told("name of who did the work, if not the signer"),
        "met" if there else "missing",
        found,
        "14 CFR 43.9(a)(3)",
        ECFR_AUGUST,
    )


def _signature(record: RecordState) -> ItemCheck:
    signer = _released_by(record)
    found = (
        f"{signer.name}, {signer.certificate_kind} {signer.certificate_number}"
        if signer
        else Told("not released: nobody has signed")
    )
    return ItemCheck(
        4,
        Told("signature, certificate number, kind of certificate"),
        "met" if signer else "missing",
        found,
        "14 CFR 43.9(a)(4)",
        ECFR_AUGUST,
    )


def _authority(state: State, body: papers.MaintenanceRecord, record: RecordState) -> ItemCheck:
    asks = Told("the signer may sign for this task")
    signer = _released_by(record)
    text_of: str
    if body.rules == "us-part-43":
        rule, text_of = "14 CFR 43.3(g), 43.7(f), Part 43 App. A(c)", ECFR_AUGUST
        words = Told(
            "nozzles are not among the 31 items of preventive maintenance, so a pilot's signature alone is a finding"
        )
    else:
        rule, text_of = "Part-ML App. II (b)(1)-(9)", UK_2020
        words = Told("a pilot-owner may not release work that is critical, complex or needs special tools")
    if signer is None:
        return ItemCheck(5, asks, "missing", Told("nobody has signed yet"), rule, text_of)
    if signer.certificate_kind in _PILOTS:
        return ItemCheck(5, asks, "missing", words, rule, text_of)
    known = state.persons.get(signer.name)
    if known is not None and known.body.certificate_number not in (None, signer.certificate_number):
        return ItemCheck(
            5,
            asks,
            "person-decides",
            Told("the certificate number differs from the one in the book"),
            rule,
            text_of,
        )
    return ItemCheck(
        5,
        asks,
        "person-decides",
        Told("{kind}: whether that fits is for a person", kind=signer.certificate_kind),
        rule,
        text_of,
    )


def _approval_items(state: State, job: JobState) -> Iterator[ItemCheck]:
    approval = approval_of(state, job)
    if approval is None:
        yield ItemCheck(
            6,
            Told("permission of the approval's holder"),
            "not-asked",
            Told("no set under an approval"),
            "14 CFR 91.403(d)",
            ECFR_SEPTEMBER,
        )
        return
    permitted = approval.permission_on_file
    yield ItemCheck(
        6,
        Told("written permission to use the approval on file"),
        "met" if permitted else "missing",
        approval.document
        if permitted
        else Told("no permission on file for {document}", document=approval.document),
        "14 CFR 91.403(d), 21.120",
        ECFR_SEPTEMBER,
    )
    yield ItemCheck(
        6,
        Told("alteration recorded as minor or major"),
        "met" if approval.classification else "missing",
        _CLASSES.get(approval.classification, Told("not recorded")),
        "14 CFR 1.1, 21.93(a)",
        ECFR_AUGUST,
    )
    if approval.classification == "major":
        dated = approval.form_date is not None
        yield ItemCheck(
            6,
            Told(
                "form for major alterations, a copy sent within 48 hours after the approval for return to service"
            ),
            "person-decides" if dated else "missing",
            Told("form of {day}", day=approval.form_date.isoformat())
            if approval.form_date
            else Told("no form entered"),
            "14 CFR Part 43 App. B(a)(1)-(3)",
            ECFR_SEPTEMBER,
        )


def _right_book(body: papers.MaintenanceRecord) -> ItemCheck:
    right = body.book == "engine"
    return ItemCheck(
        7,
        Told("in the record of the equipment worked on: the engine's"),
        "met" if right else "missing",
        Told("for the engine's record") if right else Told("for another record: {book}", book=body.book),
        "14 CFR 43.9(a)",
        ECFR_AUGUST,
    )


def _check_flight(body: papers.MaintenanceRecord) -> ItemCheck:
    found = {
        "logged": Told("the flight is logged in the aircraft's records"),
        "ground-test": Told("ground test: {reason}", reason=body.check_flight_reason or ""),
        "not-needed": Told("not needed: {reason}", reason=body.check_flight_reason or ""),
        None: Told("nothing said"),
    }[body.check_flight]
    said = body.check_flight == "logged" or (body.check_flight is not None and bool(body.check_flight_reason))
    return ItemCheck(
        8,
        Told("check flight logged if needed, or the conclusive ground test named"),
        "met" if said else "missing",
        found,
        "14 CFR 91.407(b)-(c)",
        ECFR_SEPTEMBER,
    )


def _tools(state: State, job: JobState) -> ItemCheck:
    used = sorted({item.body.tool for item in job.torques.values()})
    unclear = [
        tool
        for tool in used
        if tool not in state.tools
        or state.tools[tool].body.calibrated is None
        or calibration_due(state.tools[tool].body, state) is None
    ]
    verdict: Verdict = "missing" if unclear or not used else "met"
    found = (
        Told("no calibration date of {tools}", tools=", ".join(unclear))
        if unclear
        else ", ".join(used) or Told("no tool entered")
    )
    return ItemCheck(
        9,
        Told("tools with identity, calibration date and due date"),
        verdict,
        found,
        Told("{rule} for repair stations, good practice otherwise", rule="14 CFR 145.109(b)"),
        ECFR_SEPTEMBER,
    )


def _retention(body: papers.MaintenanceRecord) -> ItemCheck:
    words, rule, text_of, years = _RETENTION[body.rules]
    until = _years_after(body.completed, years)
    return ItemCheck(
        10,
        Told("kept long enough"),
        "met",
        Told(
            "{words}; at least until {until}. The book keeps it for good",
            words=words,
            until=until.isoformat(),
        ),
        rule,
        text_of,
    )


def _years_after(day: date, years: int) -> date:
    """The same day some years later; after a leap day the first of March."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)


def _unalterable(record: RecordState) -> ItemCheck:
    signed = bool(record.signatures)
    found = Told("chained; a correction is a new dated entry") if signed else Told("nothing is signed yet")
    return ItemCheck(
        11,
        Told("unalterable after signature"),
        "met",
        found,
        "14 CFR 3.403(b); AMC to M.A.305",
        ECFR_SEPTEMBER,
    )


def _open(count: int, named: Told) -> Told:
    if count <= MOST_NAMED:
        return Told("open: {named}", named=named)
    return Told("{count} steps open, the first: {named}", count=count, named=named)


def _own_items(state: State, body: papers.MaintenanceRecord, job: JobState) -> Iterator[ItemCheck]:
    """What no rule's text asks in these words, and holds up a release all the same."""
    left = open_steps(job)
    named = in_a_row([step_words(*one) for one in left[:MOST_NAMED]])
    yield ItemCheck(
        12,
        Told("no step open"),
        "missing" if left else "met",
        _open(len(left), named) if left else Told("all steps done"),
        Told("common practice"),
        "",
    )
    hours = latest_hours(state, job.item.body.engine)
    # Total time is asked of inspection entries (14 CFR 43.11(a)(2)), not of these: a record without it has no defect.
    yield ItemCheck(
        13,
        Told("hours of the engine"),
        "met" if hours is not None else "not-asked",
        f"{hours} h" if hours is not None else Told("not entered; 43.9(a) does not ask for it"),
        Told("{rule}, for inspections only", rule="14 CFR 43.11(a)(2)"),
        ECFR_SEPTEMBER,
    )
    yield ItemCheck(
        14,
        Told("weight and balance stated, no change included"),
        "met" if body.weight_and_balance else "missing",
        _WEIGHED[body.weight_and_balance],
        Told("common practice"),
        "",
    )


def _released_by(record: RecordState) -> Any:
    return next(
        (one.signature for one in record.signatures if one.signature and one.signature.meaning == "released"),
        None,
    )
