"""Which work is meant, where the address does not say."""

from starlette.responses import Response

from leanwright.report.figures.ring import Step
from leanwright.told import Told
from leanwright.web.show import page
from leanwright.web.visit import Visit


def which_job(visit: Visit, asked: str, step: Step) -> Response:
    """The jobs of every engine of the book, to choose one from."""
    from leanwright.workbench.standing import status

    with visit.house.book.using() as book:
        engines = status(book)["engines"]
    jobs = [(engine, one) for engine in engines for one in engine["jobs"]]
    return page(
        visit, "jobs.html.j2", title=asked if jobs else Told("No work has begun."), step=step, jobs=jobs
    )
