"""New entries of the book, kind by kind: what a book needs before work can begin, and what a plan has already said."""

from collections.abc import Mapping
from typing import Annotated, Any, Final

import msgspec
from starlette.responses import Response

from leanwright.errors import RefusedEntryError
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from leanwright.told import Told
from leanwright.web.filling import FilledForm, blocks, mistakes
from leanwright.web.pages.asked import engine_of, given, measured, named
from leanwright.web.pages.books import Key, need, new_key
from leanwright.web.show import go, page, query
from leanwright.web.visit import Visit, not_found
from leanwright.workbench import entry_form, typed_form

NEXT: Final[Mapping[str, tuple[tuple[str, str], ...]]] = {
    "person": (("/book/new/aircraft", Told("Enter the aircraft")),),
    "aircraft": (("/book/new/engine", Told("Enter its engine")),),
    "engine": (("/book/new/as-found", Told("Say which nozzles are in it")), ("/book/new/nozzle-set", Told("Enter the nozzle set"))),
    "nozzle-set": (("/book/new/order", Told("Enter the order")),),
    "order": (("/receive", Told("Receive it")),),
    "tool": (("/book/new/job", Told("Begin the work")),),
    "job": (("/book/new/figure", Told("Enter the instructions’ figures")), ("/fit", Told("To the work"))),
    "figure": (("/fit", Told("To the work")),),
}  # fmt: skip
"""What usually comes after an entry of a kind."""
STAYS: Final = ("engine", "job", "document", "revision", "source")
"""Fields that stay filled in for the next entry of the kind."""


class EntryForm(FilledForm, frozen=True, kw_only=True):
    """An entry as it was filled in, by whom, and when the work was done if not today."""

    key: Key
    by: Annotated[str, msgspec.Meta(max_length=200)] = ""
    worked: Annotated[str, msgspec.Meta(pattern=r"^\d{4}-\d\d-\d\d$")] | None = None


def begin(visit: Visit) -> Response:
    """The form of a kind, with what is known filled in."""
    kind = _kind(visit)
    need(visit)
    with visit.house.book.using() as book:
        state = book.state()
        form = entry_form.form_of(kind, state)
        values = entry_form.begun(
            kind, state, {name: visit.query.get(name, "") for name in entry_form.BEGUN_BY}
        )
    ordered = _ordered(visit) if kind == "order" else {}
    return _shown(visit, kind, typed_form.texts_of(form, {**values, **ordered}))


def enter(visit: Visit, form: EntryForm) -> Response:
    """Write it into the book; what is refused stays as it was typed."""
    from leanwright.workbench.records import Said

    kind = _kind(visit)
    need(visit)
    texts = form.texts()
    with visit.house.book.using() as book:
        typed = typed_form.filled(entry_form.form_of(kind, book.state()), texts)
    if typed.wrong:
        return _shown(visit, kind, texts, wrong=typed.wrong, by=form.by)
    try:
        with visit.house.book.using() as book:
            said = Said(by=form.by or None, worked=form.worked, request_key=form.key)
            written = entry_form.add(book, kind, typed.values, said)
    except RefusedEntryError as error:
        return _shown(visit, kind, texts, refused=error.said, by=form.by)
    stays = {
        name: str(typed.values[name])
        for name in STAYS
        if name in typed.values and name in entry_form.BEGUN_BY
    }
    return go(query(f"/book/new/{kind}", saved=str(written.sequence), **stays), visit)


def _shown(
    visit: Visit,
    kind: str,
    texts: Mapping[str, str],
    *,
    wrong: Mapping[str, str] | None = None,
    refused: str = "",
    by: str = "",
) -> Response:
    with visit.house.book.using() as book:
        state = book.state()
        form = entry_form.form_of(kind, state)
        persons = list(state.persons)
    said = wrong or {}
    saved = visit.query.get("saved", "")
    return page(
        visit, "enter.html.j2", title=Told("New in the book: {title}", title=Voice(load(visit.preferences.language)).word("entry-kind", kind)), kind=kind,
        blocks=blocks(form, texts, said), mistakes=mistakes(form, said), refused=refused, key=new_key(), persons=persons,
        by=by or visit.preferences.person, saved=saved if saved.isdecimal() and len(saved) < 9 else "",
        following=NEXT.get(kind, ()), kinds=entry_form.OFFERED, code=422 if said or refused else 200,
    )  # fmt: skip


def _ordered(visit: Visit) -> dict[str, Any]:
    """What the plan of the recordings named in the address orders."""
    abouts = named(visit)
    if not abouts:
        return {}
    from leanwright.workbench.choose import choose

    rows = choose(measured(visit, abouts), given(visit, abouts)).order
    return {
        "engine": engine_of(abouts) or None,
        "lines": [
            {"marking": row.marking, "quantity": row.quantity, "cylinders": list(row.cylinders)}
            for row in rows
        ],
    }


def _kind(visit: Visit) -> str:
    if visit.path["kind"] not in entry_form.OFFERED:
        raise not_found(Told("This kind of entry"))
    return visit.path["kind"]
