"""What if: any nozzle in any place, and the ladder moves at once; a place that a rule forbids is refused, with the rule."""

from typing import Final

from starlette.responses import Response

from leanwright.report.trial_page import spots, trial_main
from leanwright.told import Told
from leanwright.web.pages.asked import given, ids, measured, some
from leanwright.web.refusal import Refusal, RefusedError
from leanwright.web.show import page
from leanwright.web.visit import Visit
from leanwright.workbench.try_out import try_out

NO_SPREAD: Final = Refusal(
    409,
    Told("There is no spread to try with."),
    Told("Fly a sweep in which at least two cylinders pass their peaks."),
)


def try_it(visit: Visit) -> Response:
    """Nozzles put by hand, and what comes of it."""
    abouts, liked = some(visit), visit.preferences
    placed = _placed(visit)
    found = try_out(measured(visit, abouts), given(visit, abouts), placed)
    if found is None:
        raise RefusedError(NO_SPREAD)
    shown = trial_main(found.chosen, units=liked.units, language=liked.language)
    rows = spots(found.trial, found.chosen, units=liked.units, language=liked.language)
    return page(
        visit, "try.html.j2", title=shown.said[0], step="choose", recordings=ids(abouts), language=liked.language,
        note=shown.part.engine, invented=shown.part.invented, part=shown.part, said=shown.said, spots=rows, placed=placed,
        names=ids(abouts),
    )  # fmt: skip


def _placed(visit: Visit) -> dict[int, str]:
    """What was put where: ``put=3 order Q7-104``."""
    placed = {}
    for text in visit.query.getlist("put")[:18]:
        cylinder, _, name = text.partition(" ")
        if cylinder.isascii() and cylinder.isdecimal() and len(cylinder) < 3:
            placed[int(cylinder)] = name[:80]
    return placed
