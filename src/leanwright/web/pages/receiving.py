"""Receive: what was ordered, what came, what is missing, what is in quarantine; one marking at a time."""

from typing import Annotated, Final

import msgspec
from starlette.responses import Response

from leanwright.errors import RefusedEntryError
from leanwright.told import Told
from leanwright.web.pages.books import Key, need, new_key
from leanwright.web.pages.places import refused_place
from leanwright.web.show import go, page, query
from leanwright.web.visit import Form, Visit
from leanwright.web.words import RESULTS
from leanwright.workbench.positions import allowed

KEY_USED: Final = "request-key-used"
Line = Annotated[str, msgspec.Meta(min_length=1, max_length=200)]


class CameForm(Form, frozen=True):
    """One nozzle that came."""

    order: Line
    marking: Annotated[str, msgspec.Meta(min_length=1, max_length=60)]
    key: Key
    by: Line | None = None
    cylinder: Annotated[int, msgspec.Meta(ge=1, le=18)] | None = None
    serial: Line | None = None


class LetOutForm(Form, frozen=True):
    """A named person lets a part out of quarantine."""

    order: Line
    quarantine: int
    by: Line
    because: Annotated[str, msgspec.Meta(min_length=3, max_length=2000)]
    key: Key


def orders(visit: Visit) -> Response:
    """Every order, or one of them."""
    need(visit)
    order = visit.query.get("order")
    if order:
        return _order(visit, order)
    with visit.house.book.using() as book:
        found = [(name, item.body) for name, item in book.state().orders.items()]
    title = Told("Which order has come?") if found else Told("No order in the book.")
    return page(visit, "orders.html.j2", title=title, step="receive", orders=found)


def came(visit: Visit, form: CameForm) -> Response:
    """Enter a nozzle that came; how it fits is said at once."""
    from leanwright.workbench.receive import Came, receive
    from leanwright.workbench.records import Said

    need(visit)
    try:
        with visit.house.book.using() as book:
            receive(
                book,
                form.order,
                Came(form.marking, form.cylinder, form.serial),
                Said(by=form.by, request_key=form.key),
            )
    except RefusedEntryError as error:
        if not (error.code == KEY_USED and _is_here(visit, form)):
            return _order(visit, form.order, refused=error, typed=form)
    return go(query("/receive", order=form.order), visit)


def _is_here(visit: Visit, form: CameForm) -> bool:
    """Whether the same form was sent before: how it fitted may read otherwise by now, what it says may not."""
    with visit.house.book.using() as book:
        for sealed, _newer in book.entries("receipt"):
            if sealed.entry.request_key == form.key:
                told = msgspec.json.decode(sealed.entry.body)
                given = (form.order, form.marking, form.cylinder, form.serial)
                return given == tuple(told.get(name) for name in ("order", "marking", "cylinder", "serial"))
    return False


def let_out(visit: Visit, form: LetOutForm) -> Response:
    """Let a part out of quarantine."""
    from leanwright.workbench.receive import let_out as release
    from leanwright.workbench.records import Said

    need(visit)
    try:
        with visit.house.book.using() as book:
            release(book, form.quarantine, form.by, form.because, Said(by=form.by, request_key=form.key))
    except RefusedEntryError as error:
        return _order(visit, form.order, refused=error)
    return go(query("/receive", order=form.order), visit)


def _order(
    visit: Visit, order: str, *, refused: RefusedEntryError | None = None, typed: CameForm | None = None
) -> Response:
    from leanwright.workbench.receive import receiving_list

    with visit.house.book.using() as book:
        found = receiving_list(book, order)
        newest = found["came"][-1] if found["came"] else None
        apart = (
            newest if newest and newest["entry"] in {one["entry"] for one in found["quarantine"]} else None
        )
        about = allowed(book, apart["marking"], order=order) if apart else None
        jobs = [name for name, one in book.state().jobs.items() if one.item.body.order == order]
    missing = sum(one["quantity"] for one in found["missing"])
    title = (
        Told("{missing} of this order still to come.", missing=missing)
        if missing
        else Told("All that was ordered is here.")
    )
    if refused is not None:
        title = Told("Stop.")
    begun = (query("/fit", job=jobs[-1]), Told("Go on with the work")) if jobs else None
    door = begun or (query("/book/new/job", order=order), Told("Begin the work"))
    return page(
        visit, "receive.html.j2", next_door=None if missing or refused or apart else door, title=title, step="receive", note=found["engine"] or "", list=found, words=RESULTS, key=new_key(),
        apart=apart, place=refused_place(visit, about, apart["cylinder"] if apart else None), refused=refused, typed=typed, by=visit.preferences.person, code=422 if refused else 200,
    )  # fmt: skip
