"""Measure, explain, choose, prove, the card and the pack: each is an answer about recordings on the desk."""

from collections.abc import Sequence
from typing import Annotated, Any, Final

import msgspec
from starlette.responses import Response

from leanwright.analysis.measured import Measured
from leanwright.report.answer import DOUBTS, NOT_READ, without_column
from leanwright.report.answer_page import causes_main, compare_main, plan_main
from leanwright.report.card_page import card_main
from leanwright.report.html import balance_main
from leanwright.report.main_part import Door
from leanwright.told import Told
from leanwright.web.pages.asked import (
    engine_of,
    given,
    ids,
    known,
    limits_of,
    measured,
    named,
    one_recording,
    some,
)
from leanwright.web.pages.books import Key, is_there, need, new_key
from leanwright.web.show import download, go, main_page, page, query
from leanwright.web.visit import Form, Visit
from leanwright.workbench.desk import About

MOST_EARLIER: Final = 12
"""Recordings that are offered as earlier ones."""
APART: Final = frozenset({"mixed-engines-measured", "recordings-differ"})
"""Why recordings are not put together: of two engines, or of two states of one."""
PDF: Final = "application/pdf"


class EnterForm(Form, frozen=True):
    """Which answer is entered for which engine."""

    recording: Annotated[str, msgspec.Meta(pattern="^[0-9a-f]{64}$")]
    engine: Annotated[str, msgspec.Meta(min_length=1, max_length=60)]
    key: Key


def balance(visit: Visit) -> Response:
    """How even the cylinders are."""
    abouts = some(visit)
    found = measured(visit, abouts)
    told, uneven = found.balance.spread_gph is not None, found.balance.verdict == "uneven"
    names = ids(abouts)
    columns = _columns(abouts, found)
    unread = columns is not None and columns.first
    apart = len(names) > 1 and bool({one.code for one in found.balance.reasons} & APART)
    doors = [
        Door(query("/prove", before=names[:1], after=names[1:]), Told("Before and after"), first=True)
        if apart
        else None,
        Door(query("/explain", r=names), Told("See the causes"), first=uneven) if told else None,
        Door(query("/choose", r=names), Told("Choose nozzles")) if uneven else None,
        columns,
        Door(
            query("/card", r=names),
            Told("Card for the next flight"),
            first=not told and not apart and not unread,
        ),
        Door(query("/leaning", r=names), Told("How to lean it now")) if told else None,
        Door(query("/balance/sheet", r=names), Told("Sheet to print")),
    ]
    part = balance_main(
        found,
        units=visit.preferences.units,
        language=visit.preferences.language,
        doors=[door for door in doors if door is not None],
    )
    return main_page(
        visit,
        part,
        step="measure",
        recordings=names,
        recordings_here=abouts,
        engines=_engines(visit, len(abouts)),
        key=new_key(),
    )


def _columns(abouts: Sequence[About], found: Measured) -> Door | None:
    """Where a column may spoil the answer, or a cylinder has none, the way to put it right."""
    doubtful = any(one.code in DOUBTS for result in found.results for one in result.recording.findings)
    lost = bool({one.code for one in found.balance.reasons} & NOT_READ)
    if len(abouts) > 1 or not (doubtful or lost or any(map(without_column, found.balance.cylinders))):
        return None
    return Door(f"/recordings/{abouts[0].id}/columns", Told("Put columns right"), first=lost)


def _engines(visit: Visit, recordings: int) -> list[str]:
    """The engines of the book that one recording's answer can be entered for."""
    if recordings != 1 or not is_there(visit):
        return []
    with visit.house.book.using() as book:
        return list(book.state().engines)


def enter(visit: Visit, form: EnterForm) -> Response:
    """Write an answer into the book."""
    from leanwright.workbench import desk as desks
    from leanwright.workbench.answer_entry import enter_answer
    from leanwright.workbench.records import Said

    need(visit)
    about = one_recording(visit, form.recording)
    found = measured(visit, [about])
    with visit.house.book.using() as book:
        said = Said(by=visit.preferences.person or None, request_key=form.key)
        written = enter_answer(book, form.engine, found, said)
    desks.write_about(
        visit.house.desk, msgspec.structs.replace(about, engine=form.engine, engine_found=False)
    )
    return go(f"/book/entries/{written.sequence}", visit)


def balance_sheet(visit: Visit) -> Response:
    """The same as a sheet."""
    from leanwright.report.sheets.balance import balance_pdf

    liked = visit.preferences
    sheet = balance_pdf(measured(visit, some(visit)), units=liked.units, language=liked.language)
    return download(sheet, "balance.pdf", PDF)


def explain(visit: Visit) -> Response:
    """Why they differ."""
    from leanwright.workbench.explain import explain as weigh

    abouts, before = some(visit), named(visit, "before")
    earlier = measured(visit, before) if before else None
    names = ids(abouts)
    weighed = weigh(measured(visit, abouts), earlier, given(visit, abouts).for_causes)
    decided = weighed.causes is not None and not weighed.causes.undecided_between
    ways = (
        Door(query("/choose", r=names), Told("Choose nozzles"), first=decided),
        Door(query("/card", r=names), Told("Card for the next flight"), first=not decided),
    )
    part = causes_main(
        weighed,
        units=visit.preferences.units,
        language=visit.preferences.language,
        doors=[
            *(ways if decided else reversed(ways)),
            Door(
                query("/papers/bottle-test", engine=engine_of(abouts), r=names), Told("Enter a bottle test")
            ),
            Door(query("/papers/health", engine=engine_of(abouts), r=names), Told("Enter what was checked")),
        ],
    )
    return main_page(
        visit,
        part,
        step="explain",
        recordings=names,
        recordings_here=abouts,
        rests_on=_rests_on(visit, abouts),
        earlier=_earlier(visit, abouts, before),
    )


def _earlier(visit: Visit, abouts: Sequence[About], before: Sequence[About]) -> dict[str, Any]:
    """Other recordings of the same engine, any of which may be told to be from before."""
    from leanwright.workbench import desk as desks

    engine, here = engine_of(abouts), {one.id for one in abouts}
    others = [
        one for one in desks.everything(visit.house.desk) if one.engine == engine and one.id not in here
    ]
    return {"others": others[:MOST_EARLIER], "before": ids(before), "names": ids(abouts)}


def choose(visit: Visit) -> Response:
    """What to change."""
    from leanwright.workbench.choose import choose as decide
    from leanwright.workbench.try_out import as_planned

    abouts = some(visit)
    names = ids(abouts)
    decided = decide(measured(visit, abouts), given(visit, abouts))
    planned = [f"{number} {name}" for number, name in as_planned(decided).items()]
    part = plan_main(
        decided,
        units=visit.preferences.units,
        language=visit.preferences.language,
        doors=[
            Door(query("/choose/order", r=names), Told("Order list"), first=bool(decided.order)),
            Door(
                query("/choose/try", r=names, put=planned),
                Told("What if: try it yourself"),
                first=not decided.order,
            ),
            Door(query("/pack", r=names), Told("Data pack for the supplier")),
            Door(query("/card", r=names), Told("Card for the flight after")),
            Door(query("/explain", r=names), Told("See the causes")),
        ],
    )
    return main_page(
        visit,
        part,
        step="choose",
        recordings=names,
        recordings_here=abouts,
        rests_on=_rests_on(visit, abouts),
    )


def order(visit: Visit) -> Response:
    """The order list, and the way into the book."""
    from leanwright.report.order_page import order_main
    from leanwright.workbench.choose import choose as decide

    abouts, liked = some(visit), visit.preferences
    decided = decide(measured(visit, abouts), given(visit, abouts))
    into = query("/book/new/order", r=ids(abouts)) if decided.order and is_there(visit) else ""
    doors = [Door(into, Told("Enter this order in the book"), first=True)] if into else []
    part = order_main(decided, units=liked.units, language=liked.language, doors=doors)
    return main_page(
        visit, part, step="choose", recordings=ids(abouts), recordings_here=abouts, to_print=True,
    )  # fmt: skip


def _rests_on(visit: Visit, abouts: Sequence[About]) -> dict[str, Any]:
    """The owner's papers that an answer rests on, and those that are still to be had."""
    from leanwright.web.pages.papers import rows

    engine = engine_of(abouts)
    return {"engine": engine, "rows": rows(visit, engine), "names": ids(abouts)}


def prove(visit: Visit) -> Response:
    """Whether it got better."""
    before, after = named(visit, "before"), named(visit, "after")
    if not (before and after):
        from leanwright.workbench import desk as desks

        kept = desks.everything(visit.house.desk)
        return page(
            visit, "prove.html.j2", title=Told("Before and after"), step="prove", recordings=ids(after or before),
            kept=kept, before=ids(before), after=ids(after),
        )  # fmt: skip
    from leanwright.workbench.prove import prove as compare

    part = compare_main(
        compare(measured(visit, before), measured(visit, after)),
        units=visit.preferences.units,
        language=visit.preferences.language,
        doors=[Door(query("/balance", r=ids(after)), Told("The answer after it"), first=True)],
    )
    return main_page(visit, part, step="prove", recordings=ids(after), recordings_here=(*before, *after))


def card(visit: Visit) -> Response:
    """What to fly next."""
    from leanwright.workbench.card import make_card

    abouts = named(visit)
    found = measured(visit, abouts) if abouts else None
    part = card_main(
        make_card(found),
        found,
        limits_of(visit, abouts),
        units=visit.preferences.units,
        language=visit.preferences.language,
    )
    sheet = query("/card/sheet", r=ids(abouts))
    return main_page(visit, part, step="measure", recordings=ids(abouts), recordings_here=abouts, sheet=sheet)


def card_sheet(visit: Visit) -> Response:
    """The same as a sheet."""
    from leanwright.report.sheets.card import card_pdf
    from leanwright.workbench.card import make_card

    abouts = named(visit)
    found = measured(visit, abouts) if abouts else None
    liked = visit.preferences
    sheet = card_pdf(
        make_card(found), found, limits_of(visit, abouts), units=liked.units, language=liked.language,
        paper="letter" if liked.units == "us" else "a4",
    )  # fmt: skip
    return download(sheet, "flight-test-card.pdf", PDF)


def pack(visit: Visit) -> Response:
    """Recordings and result in one file, without what names the owner."""
    from leanwright.workbench import desk as desks
    from leanwright.workbench.measure import measure
    from leanwright.workbench.pack import make_pack

    abouts = some(visit)
    liked = known(visit, engine_of(abouts))
    made = make_pack(
        [desks.reading(visit.house.desk, about) for about in abouts],
        lambda opened: measure(
            opened,
            cylinders=liked.cylinders,
            goal_gph=liked.goal_gph,
            numbering=liked.numbering,
            fuel_system=liked.fuel_system,
        ),
        aircraft=given(visit, abouts).aircraft,
        units=liked.units,
        language=liked.language,
    )
    return download(made.content, "data-pack.zip", "application/zip")
