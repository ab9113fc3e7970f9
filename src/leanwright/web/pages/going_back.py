"""What goes back: old parts that are in no parcel yet, parcels to send, sent and credited, and a calendar of it."""

from datetime import date
from typing import Annotated, Any

import msgspec
from starlette.responses import Response

from leanwright.errors import RefusedEntryError
from leanwright.told import Told
from leanwright.web.pages.books import Key, need, new_key
from leanwright.web.pages.receiving import Line
from leanwright.web.show import download, go, page, query
from leanwright.web.visit import Form, Visit, not_found

Amount = Annotated[str, msgspec.Meta(pattern=r"^\d{1,12}([.,]\d{1,2})?$")]


class PackForm(Form, frozen=True):
    """A parcel: its name, what is in it, to whom and by when it goes."""

    parcel: Line
    key: Key
    items: tuple[str, ...] = ()
    to: Line | None = None
    due: date | None = None
    order: Line | None = None
    deposit: Amount | None = None
    currency: Line | None = None
    by: Line | None = None


class SentForm(Form, frozen=True):
    """A parcel has gone."""

    parcel: Line
    day: date
    key: Key
    tracking: Line | None = None
    by: Line | None = None


class CreditedForm(Form, frozen=True):
    """The deposit has come back."""

    parcel: Line
    day: date
    key: Key
    amount: Amount | None = None
    by: Line | None = None


def returns(visit: Visit) -> Response:
    """Every parcel, and what is in none."""
    need(visit)
    return _screen(visit)


def pack(visit: Visit, form: PackForm) -> Response:
    """Enter a parcel that has to go back."""
    from leanwright.workbench import returns as going

    values = {
        "id": form.parcel, "to": form.to, "due": form.due.isoformat() if form.due else None, "order": form.order,
        "deposit": _amount(form.deposit), "currency": form.currency,
    }  # fmt: skip

    def write(book: Any, said: Any) -> None:
        loose = {one["name"]: one["item"] for one in going.loose_parts(book)}
        items = [loose[name] for name in form.items if name in loose]
        going.pack(
            book,
            {name: value for name, value in values.items() if value is not None} | {"items": items},
            said,
        )

    return _written(visit, form, write)


def sent(visit: Visit, form: SentForm) -> Response:
    """A parcel has gone."""
    from leanwright.workbench import returns as going

    day = form.day.isoformat()
    return _written(
        visit, form, lambda book, said: going.mark_sent(book, form.parcel, day, form.tracking, said)
    )


def credited(visit: Visit, form: CreditedForm) -> Response:
    """The deposit has come back."""
    from leanwright.workbench import returns as going

    day, amount = form.day.isoformat(), _amount(form.amount)
    return _written(visit, form, lambda book, said: going.mark_credited(book, form.parcel, day, amount, said))


def calendar(visit: Visit) -> Response:
    """Everything that falls due, for a calendar."""
    from leanwright.workbench.returns import calendar as made

    need(visit)
    with visit.house.book.using() as book:
        return download(made(book), "leanwright-due.ics", "text/calendar")


def _amount(typed: str | None) -> str | None:
    return typed.replace(",", ".") if typed else None


def _written(visit: Visit, form: Any, write: Any) -> Response:
    from leanwright.workbench.records import Said

    need(visit)
    try:
        with visit.house.book.using() as book:
            if not isinstance(form, PackForm) and form.parcel not in book.state().parcels:
                raise not_found(Told("This parcel"))
            write(book, Said(by=form.by or visit.preferences.person or None, request_key=form.key))
    except RefusedEntryError as error:
        return _screen(visit, refused=error, typed=form if isinstance(form, PackForm) else None)
    return go(query("/returns"), visit)


def _screen(
    visit: Visit, *, refused: RefusedEntryError | None = None, typed: PackForm | None = None
) -> Response:
    from leanwright.workbench.returns import loose_parts, parcels

    with visit.house.book.using() as book:
        found, loose = parcels(book), loose_parts(book)
        today = book.clock().date().isoformat()
        orders = [one.body for one in book.state().orders.values()]
    waiting = sum(one["state"] == "to-send" for one in found)
    title = (
        Told(
            "1 parcel waits to be sent." if waiting == 1 else "{waiting} parcels wait to be sent.",
            waiting=waiting,
        )
        if waiting
        else Told("Nothing waits to be sent.")
    )
    return page(
        visit, "returns.html.j2", title=Told("Stop.") if refused else title, step="release", parcels=found, loose=loose, today=today,
        orders=orders, order=visit.query.get("order", ""), refused=refused, typed=typed, by=visit.preferences.person,
        key=new_key(), code=422 if refused else 200,
    )  # fmt: skip
