"""The sheets of the book, to print."""

from starlette.responses import Response

from leanwright.errors import NothingToPrintError, NotInBookError
from leanwright.told import Told
from leanwright.web.pages.answers import PDF
from leanwright.web.pages.books import need
from leanwright.web.refusal import Refusal, RefusedError
from leanwright.web.show import download
from leanwright.web.visit import Visit, not_found


def sheet(visit: Visit) -> Response:
    """One of them, as PDF."""
    from leanwright.workbench import sheets

    kind = visit.path["kind"]
    if kind not in sheets.KINDS:
        raise not_found(Told("This sheet"))
    need(visit)
    try:
        with visit.house.book.using() as book:
            made = sheets.pdf(
                book, kind, of=visit.query.get("of") or None, language=visit.preferences.language,
                printed_on=book.clock().date(),
            )  # fmt: skip
    except (NothingToPrintError, NotInBookError) as error:
        raise RefusedError(Refusal(404, str(error), Told("Go back."))) from error
    return download(made, f"leanwright-{kind}.pdf", PDF)
