"""Watch: what changed in an engine since its first recording, and how to lean it now."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Final

import msgspec
from starlette.responses import Response

from leanwright.report.leaning_page import leaning_main
from leanwright.report.main_part import Door
from leanwright.report.watch_page import watch_main
from leanwright.told import Told
from leanwright.web.pages.asked import engine_of, ids, measured, named, some
from leanwright.web.pages.books import is_there
from leanwright.web.show import go, main_page, page, query
from leanwright.web.visit import Form, Visit
from leanwright.workbench import desk as desks
from leanwright.workbench import papers
from leanwright.workbench.desk import About
from leanwright.workbench.work_file import Work

if TYPE_CHECKING:
    from leanwright.workbench.watch import Watched

LOOK_S: Final = 4.0
"""How long one request looks at recordings; the page asks again [s]."""
FEWEST: Final = 2


class LookForm(Form, frozen=True):
    """Whose recordings are to be looked at."""

    engine: Annotated[str, msgspec.Meta(max_length=60)] = ""


def watch(visit: Visit) -> Response:
    """Trends and events of one engine; or which engines there are."""
    from leanwright.workbench.desk_watch import not_looked_at, of_engine

    engine = visit.query.get("engine")
    everything = desks.everything(visit.house.desk)
    names = sorted({one.engine for one in everything})
    if engine is None and len(names) == 1:
        engine = names[0]
    if engine is None:
        return page(visit, "watch_which.html.j2", title=Told("Which engine is watched?") if names else Told("Nothing to watch yet."),
                    engines=[(name, sum(one.engine == name for one in everything)) for name in names])  # fmt: skip
    abouts = of_engine(visit.house.desk, engine)
    left = not_looked_at(visit.house.desk, abouts)
    done = len(abouts) - len(left)
    state = {"engine": engine, "whole": len(abouts), "left": len(left), "done": done}
    if done < FEWEST:
        return page(visit, "watch.html.j2", title=_too_few(len(abouts), done), state=state, part=None)
    found = (
        _weighed(visit, abouts, engine)
        if not left
        else visit.house.watches.ready(abouts, _work(visit, engine))
    )
    if found is None:
        return page(
            visit,
            "watch.html.j2",
            title=Told("What changed is not weighed yet."),
            note=engine,
            state=state,
            part=None,
        )
    liked = visit.preferences
    doors = _ways_on(found, abouts, engine, book=is_there(visit))
    part = watch_main(found, units=liked.units, language=liked.language, doors=doors)
    return page(
        visit, "watch.html.j2", title=part.title, language=liked.language, note=engine, state=state, part=part,
    )  # fmt: skip


def _ways_on(found: "Watched", abouts: Sequence[About], engine: str, *, book: bool) -> list[Door]:
    """After a change its causes, weighed against the last sweep before it; else how to lean. Work that was done is entered."""
    from leanwright.workbench.desk_watch import to_weigh

    latest, before = to_weigh(found, abouts)
    doors = []
    if latest is not None and found.events:
        address = query("/explain", r=latest, before=[before] if before else [])
        doors.append(Door(address, Told("See the causes"), first=True))
    if latest is not None:
        address = query("/leaning", r=latest)
        doors.append(Door(address, Told("How to lean this engine now"), first=not doors))
    if book and engine:
        doors.append(Door(query("/book/new/work", engine=engine), Told("Enter work that was done")))
    return doors


def _weighed(visit: Visit, abouts: Sequence[About], engine: str) -> "Watched | None":
    """What was worked out, where that takes no longer than one request may."""
    work = _work(visit, engine)
    if visit.house.watches.ready(abouts, work) is None:
        visit.house.watches.begin(abouts, work, LOOK_S)
    return visit.house.watches.ready(abouts, work)


def look(visit: Visit, form: LookForm) -> Response:
    """Look at some of the recordings that were not looked at yet."""
    from leanwright.workbench.desk_watch import look as look_at
    from leanwright.workbench.desk_watch import of_engine

    abouts = of_engine(visit.house.desk, form.engine)
    left = look_at(visit.house.desk, abouts, LOOK_S)
    if not left and len(abouts) >= FEWEST:
        work = _work(visit, form.engine)
        visit.house.watches.begin(abouts, work, LOOK_S)
        left = visit.house.watches.ready(abouts, work) is None
    return go(query("/watch", engine=form.engine, **({"go": "on"} if left else {})), visit)


def lean(visit: Visit) -> Response:
    """Where each cylinder sits against its own peak at a total flow, inside the owner's limits."""
    from leanwright.workbench.leaning import leaning

    abouts, before = some(visit), named(visit, "before")
    engine, liked = engine_of(abouts), visit.preferences
    limits = papers.kept(visit.house.desk, engine).get("limits")
    aircraft = papers.given(visit.house.desk, engine).aircraft
    prices = aircraft.prices if aircraft else None
    advice = leaning(
        measured(visit, abouts),
        power=visit.query.get("power") or None,
        limits=limits.place if limits else None,
        before=measured(visit, before) if before else None,
        fuel_price=prices.fuel_per_gallon if prices else liked.fuel_price,
        hours_per_year=prices.hours_per_year if prices else liked.hours_per_year,
    )
    names = ids(abouts)
    part = leaning_main(advice, units=liked.units, language=liked.language)
    return main_page(
        visit, part, step="measure", recordings=names, recordings_here=abouts, power=visit.query.get("power", ""), names=names,
        to_papers=[Door(query("/papers/limits", engine=engine, r=names), Told("Limits of the flight manual"))], to_print=True,
    )  # fmt: skip


def _work(visit: Visit, engine: str) -> Sequence[Work]:
    """What the book says was done to an engine."""
    from leanwright.workbench.desk_watch import work_on

    if not (engine and is_there(visit)):
        return ()
    with visit.house.book.using() as book:
        return work_on(book, engine)


def _too_few(whole: int, done: int) -> str:
    if whole < FEWEST:
        return Told("Nothing to watch yet.")
    return Told("{done} of {whole} recordings are looked at.", done=done, whole=whole)
