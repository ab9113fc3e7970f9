"""The worksheet leaves as one file for a phone, and what was entered in it comes back."""

from typing import Annotated, Final

import msgspec
from starlette.responses import Response

from leanwright.told import Told
from leanwright.web import refusal
from leanwright.web.pages.books import need
from leanwright.web.pages.jobs import which_job
from leanwright.web.refusal import Refusal, RefusedError
from leanwright.web.show import download, page
from leanwright.web.visit import Form, Visit, not_found

LARGEST: Final = 1 << 20
"""A result [bytes]."""
NOTHING: Final = Refusal(
    422, Told("Nothing came with it."), Told("Go back, and pick the result file or paste its text.")
)


class HandInForm(Form, frozen=True):
    """The text of a result, where it is no file."""

    text: Annotated[str, msgspec.Meta(max_length=LARGEST)] | None = None


def leave(visit: Visit) -> Response:
    """The worksheet of a job as one file."""
    from leanwright.workbench.phone_sheet import phone_sheet

    need(visit)
    job = visit.query.get("job")
    if not job:
        return which_job(visit, Told("Which worksheet is taken along?"), "fit")
    with visit.house.book.using() as book:
        if job not in book.state().jobs:
            raise not_found(Told("This job"))
        made = phone_sheet(book, job, language=visit.preferences.language, name=visit.preferences.person)
    return download(made.encode(), "leanwright-worksheet.html", "text/html")


def form(visit: Visit) -> Response:
    """Where a result is handed in."""
    need(visit)
    return page(visit, "hand_in.html.j2", title=Told("Hand in a worksheet"), step="fit", returned=None)


def hand_in(visit: Visit, sent: HandInForm) -> Response:
    """Hold every step against the book again, and enter it or say why not."""
    from leanwright.workbench import hand_in as handing
    from leanwright.workbench.hand_in_words import hand_in_behind, hand_in_title

    need(visit)
    file = next((one for one in visit.sent.files if one.filename), None)
    content = file.file.read(LARGEST + 1) if file else (sent.text or "").encode()
    if not content:
        raise RefusedError(NOTHING)
    if len(content) > LARGEST:
        raise RefusedError(refusal.TOO_BIG)
    with visit.house.book.using() as book:
        document = handing.document(handing.hand_in(book, content))
    return page(
        visit, "hand_in.html.j2", title=hand_in_title(document), step="fit", note=Told("Job {job}", job=document["job"]),
        returned=document, behind=hand_in_behind(document), code=422 if document["refused"] else 200,
    )  # fmt: skip
