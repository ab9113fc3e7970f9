"""Release: the draft beside what the check found; the signature of the person who releases. The program releases nothing."""

from datetime import date
from typing import Annotated, Final, Literal

import msgspec
from starlette.responses import Response

from leanwright.errors import RefusedEntryError
from leanwright.told import Told
from leanwright.web import refusal
from leanwright.web.pages.books import Key, need, new_key
from leanwright.web.pages.jobs import which_job
from leanwright.web.pages.receiving import Line
from leanwright.web.refusal import RefusedError
from leanwright.web.show import go, page, query
from leanwright.web.visit import Form, Visit, not_found, unusable

LARGEST_PAGE: Final = 8 << 20
"""A scanned page [bytes]."""
Digest = Annotated[str, msgspec.Meta(pattern="^[0-9a-f]{64}$")]


class DraftForm(Form, frozen=True):
    """What the draft of a record needs besides the entries of the work."""

    job: Line
    completed: date
    performed_by: Line
    key: Key
    rules: Literal["us-part-43", "easa-part-ml", "uk-part-ml"] | None = None
    wording: Annotated[str, msgspec.Meta(max_length=20_000)] | None = None
    weight_and_balance: Literal["no-change", "changed"] | None = None


class SignForm(Form, frozen=True):
    """A signature as the signer enters it, for exactly the text that was shown."""

    job: Line
    record: int
    shown_sha256: Digest
    name: Line
    certificate_number: Line
    certificate_kind: Line
    meaning: Literal["performed", "inspected", "released"]
    key: Key


class AttachForm(Form, frozen=True):
    """The signed page, scanned."""

    job: Line
    record: int
    key: Key


def release(visit: Visit) -> Response:
    """The record of a job as it stands, or which jobs there are."""
    need(visit)
    job = visit.query.get("job")
    if job:
        return _screen(visit, job)
    return which_job(visit, Told("Which work is to be released?"), "release")


def draft(visit: Visit, form: DraftForm) -> Response:
    """Write the draft."""
    from leanwright.workbench.records import Said
    from leanwright.workbench.release import draft as write

    need(visit)
    more = {"weight_and_balance": form.weight_and_balance} if form.weight_and_balance else None
    try:
        with visit.house.book.using() as book:
            write(
                book, form.job, completed=form.completed, performed_by=form.performed_by, rules=form.rules,
                wording=form.wording, more=more, said=Said(by=form.performed_by, request_key=form.key),
            )  # fmt: skip
    except RefusedEntryError as error:
        return _screen(visit, form.job, error)
    return go(query("/release", job=form.job), visit)


def sign(visit: Visit, form: SignForm) -> Response:
    """Take in a signature."""
    from leanwright.workbench.records import Said
    from leanwright.workbench.release import take_signature

    need(visit)
    signature = {
        "name": form.name,
        "certificate_number": form.certificate_number,
        "certificate_kind": form.certificate_kind,
        "meaning": form.meaning,
        "shown_sha256": form.shown_sha256,
    }
    try:
        with visit.house.book.using() as book:
            take_signature(book, form.record, signature, Said(by=form.name, request_key=form.key))
    except RefusedEntryError as error:
        return _screen(visit, form.job, error)
    return go(query("/release", job=form.job), visit)


def attach(visit: Visit, form: AttachForm) -> Response:
    """Keep a scan of the signed page with the record; it signs nothing by itself."""
    from leanwright.workbench.records import Said, add, attached

    need(visit)
    file = next((one for one in visit.sent.files if one.filename), None)
    if file is None:
        raise RefusedError(unusable(Told("no file came with it")))
    content = file.file.read(LARGEST_PAGE + 1)
    if len(content) > LARGEST_PAGE:
        raise RefusedError(refusal.TOO_BIG)
    body = {"text": f"Signed page of the record, entry {form.record}.", "entry": form.record}
    said = Said(
        by=visit.preferences.person or None, files=(attached("signed-page", content),), request_key=form.key
    )
    try:
        with visit.house.book.using() as book:
            add(book, "attachment", body, said)
    except RefusedEntryError as error:
        return _screen(visit, form.job, error)
    return go(query("/release", job=form.job), visit)


def _screen(visit: Visit, job: str, refused: RefusedEntryError | None = None) -> Response:
    from leanwright.workbench.release import checked
    from leanwright.workbench.standing import job_status

    with visit.house.book.using() as book:
        state = book.state()
        if job not in state.jobs:
            raise not_found(Told("This job"))
        standing = job_status(state, state.jobs[job])
        record = checked(book, standing["record"]) if standing["record"] is not None else None
        today = book.clock().date().isoformat()
        persons = [one.body for one in state.persons.values()]

    title = Told("Released.") if standing["released"] else Told("Not released.")
    return page(
        visit, "release.html.j2", title=title, step="release", note=Told("Job {job}", job=job), job=standing, record=record, refused=refused,
        today=today, persons=persons, by=visit.preferences.person, key=new_key(), code=422 if refused else 200,
    )  # fmt: skip
