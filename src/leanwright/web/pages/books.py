"""The book: what is in it, an entry with its earlier versions, corrections, whether it is sound, a backup."""

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any, Final

import msgspec
from starlette.responses import Response

from leanwright.errors import RefusedEntryError
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from leanwright.told import Told
from leanwright.web.filling import FilledForm, blocks, mistakes
from leanwright.web.refusal import Refusal, RefusedError
from leanwright.web.show import go, page
from leanwright.web.visit import Form, Visit, not_found
from leanwright.workbench.writing import changing

SHOWN: Final = 100
"""Entries on one page."""
Key = Annotated[str, msgspec.Meta(pattern="^[0-9a-f]{32}$")]


class NoteForm(Form, frozen=True):
    """A remark for the book; its key makes a second sending harmless."""

    text: Annotated[str, msgspec.Meta(min_length=1, max_length=20_000)]
    key: Key


class CorrectionForm(FilledForm, frozen=True, kw_only=True):
    """A new version of an entry, as its form was filled in or as JSON, and why."""

    body: Annotated[str, msgspec.Meta(max_length=100_000)] = ""
    reason: Annotated[str, msgspec.Meta(min_length=1, max_length=2000)]
    key: Key


class ReasonForm(Form, frozen=True):
    """Why an entry is taken back."""

    reason: Annotated[str, msgspec.Meta(min_length=1, max_length=2000)]
    key: Key


def is_there(visit: Visit) -> bool:
    """Whether there is a book."""
    return visit.house.book.is_there()


def status(visit: Visit) -> dict[str, Any]:
    """Where the book stands."""
    from leanwright.workbench.standing import status as standing

    with visit.house.book.using() as book:
        return standing(book)


def need(visit: Visit) -> None:
    """Refuse where there is no book yet."""
    if not is_there(visit):
        raise RefusedError(Refusal(409, Told("There is no book yet."), Told("Begin one under Book.")))


def new_key() -> str:
    """A request key for one form."""
    from leanwright.workbench.records import new_request_key

    return new_request_key()


def overview(visit: Visit) -> Response:
    """The newest entries first, and where the book stands."""
    if not is_there(visit):
        return page(visit, "book_none.html.j2", title=Told("There is no book yet."))
    from leanwright.workbench.entry_form import OFFERED
    from leanwright.workbench.records import listed

    with visit.house.book.using() as book:
        entries = list(listed(book))
    first = _first(visit)
    newest = entries[::-1][first : first + SHOWN]
    return page(
        visit, "book.html.j2", title=Told("{entries} entries in the book.", entries=len(entries)), status=status(visit), first=first,
        entries=newest, whole=len(entries), shown=SHOWN, kinds=OFFERED, key=new_key(), checked=None,
    )  # fmt: skip


def _first(visit: Visit) -> int:
    given = visit.query.get("from", "0")
    return int(given) if given.isascii() and given.isdecimal() and len(given) < 9 else 0


def begin(visit: Visit, _form: Form) -> Response:
    """Make a book."""
    if not is_there(visit):
        folder = Path(visit.house.book.place).expanduser().absolute().parent
        with changing(folder):
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        visit.house.book.make()
    return go("/book", visit)


def note(visit: Visit, form: NoteForm) -> Response:
    """Write a remark into the book."""
    from leanwright.workbench.records import Said, add

    need(visit)
    with visit.house.book.using() as book:
        written = add(book, "note", {"text": form.text}, Said(by=_by(visit), request_key=form.key))
    return go(f"/book/entries/{written.sequence}", visit)


def entry(visit: Visit) -> Response:
    """One entry: what holds now is marked, and every version is one click away."""
    need(visit)
    return _entry(visit, _number(visit))


def _entry(
    visit: Visit,
    number: int,
    typed: CorrectionForm | None = None,
    wrong: Mapping[str, str] | None = None,
    refused: str = "",
) -> Response:
    """An entry; a correction that was not taken stays as it was typed."""
    from leanwright.workbench import typed_form
    from leanwright.workbench.entry_form import corrected_in, worded_fields
    from leanwright.workbench.records import shown

    with visit.house.book.using() as book:
        if not 1 <= number <= book.state().head_sequence:
            raise not_found(Told("Entry {number}", number=number))
        found = shown(book, number)
        choices = worded_fields(found["kind"], book.state())
        form = corrected_in(found["kind"], book.state())
    said = wrong or {}
    texts = (typed.texts() if typed else typed_form.texts_of(form, found["body"])) if form else {}
    body = msgspec.json.format(msgspec.json.encode(found["body"]), indent=2).decode()
    return page(
        visit,
        "entry.html.j2",
        title=Told("Entry {number}, {kind}", number=number, kind=_kind_word(visit, found["kind"])),
        entry=found,
        fields=[_field(name, value, name in choices) for name, value in found["body"].items()],
        body=typed.body if typed and typed.body else body,
        blocks=blocks(form, texts, said) if form else [],
        mistakes=mistakes(form, said) if form else [],
        refused=refused,
        reason=typed.reason if typed else "",
        key=new_key(),
        code=422 if said or refused else 200,
    )


def _kind_word(visit: Visit, kind: str) -> str:
    return Voice(load(visit.preferences.language)).word("entry-kind", kind)


def _field(name: str, value: Any, worded: bool) -> dict[str, Any]:  # noqa: FBT001  one flag of the form
    """One field of an entry as the page shows it: a choice in words, rows of several values, or what was written."""
    rows = value if isinstance(value, list) and value and isinstance(value[0], dict) else []
    return {
        "name": name.replace("_", "-"),
        "choice": str(value).replace(" ", "-") if worded and isinstance(value, str) else "",
        "rows": [[(key.replace("_", "-"), _plain(one)) for key, one in row.items()] for row in rows],
        "text": _plain(value),
    }


def _plain(value: Any) -> str:
    if isinstance(value, list) and all(isinstance(one, str | int) for one in value):
        return ", ".join(map(str, value))
    return value if isinstance(value, str) else msgspec.json.encode(value).decode()


def correct(visit: Visit, form: CorrectionForm) -> Response:
    """Write a new version of an entry."""
    from leanwright.workbench import typed_form
    from leanwright.workbench.entry_form import corrected_in
    from leanwright.workbench.records import Said, parse_body, versions
    from leanwright.workbench.records import correct as supersede

    need(visit)
    number = _number(visit)
    with visit.house.book.using() as book:
        if not 1 <= number <= book.state().head_sequence:
            raise not_found(Told("Entry {number}", number=number))
        fields = corrected_in(book.entry(number)[0].entry.kind, book.state()) if form.place else None
    if fields is None:
        body = parse_body(form.body.encode(), "the entry")
    else:
        typed = typed_form.filled(fields, form.texts())
        if typed.wrong:
            return _entry(visit, number, form, typed.wrong)
        body = dict(typed.values)
    try:
        with visit.house.book.using() as book:
            written = supersede(book, number, body, form.reason, Said(by=_by(visit), request_key=form.key))
    except RefusedEntryError as error:
        # Another window may have been first: what was typed here then waits at what holds now.
        with visit.house.book.using() as book:
            return _entry(visit, versions(book, number)[-1], form, refused=error.said)
    return go(f"/book/entries/{written.sequence}", visit)


def void(visit: Visit, form: ReasonForm) -> Response:
    """Take an entry back; it stays readable."""
    from leanwright.workbench.records import Said
    from leanwright.workbench.records import void as take_back

    need(visit)
    with visit.house.book.using() as book:
        take_back(book, _number(visit), form.reason, Said(by=_by(visit), request_key=form.key))
    return go(f"/book/entries/{_number(visit)}", visit)


def check(visit: Visit, _form: Form) -> Response:
    """Walk the whole book."""
    from leanwright.workbench.safekeeping import check as walk
    from leanwright.workbench.safekeeping import head_words

    need(visit)
    found = walk(visit.house.book.place)
    title = Told("The book is sound.") if found.sound else Told("The book is not sound.")
    return page(
        visit, "checked.html.j2", title=title, found=found, words=head_words(found) if found.sound else ""
    )


def back_up(visit: Visit, _form: Form) -> Response:
    """Write a verified backup beside the recordings, and offer it to be kept elsewhere."""
    from leanwright.workbench.safekeeping import back_up as write_backup

    need(visit)
    folder = _backups(visit)
    with changing(folder):
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    with visit.house.book.using() as book:
        name = f"{book.clock().strftime('%Y-%m-%dT%H%M%S')}.backup"
        manifest, warning = write_backup(book, folder / name)
    return page(
        visit,
        "backed_up.html.j2",
        title=Told("Backed up: {entries} entries.", entries=manifest.entries),
        name=name,
        warning=warning or "",
    )


def backup_file(visit: Visit) -> Response:
    """A backup that was written, to be kept elsewhere."""
    from leanwright.web.show import download

    folder = _backups(visit)
    # Looked up among the names that are there: what was asked for is never part of a path.
    there = {place.name: place for place in folder.iterdir()} if folder.is_dir() else {}
    if visit.path["name"] not in there:
        raise not_found(Told("This backup"))
    return download(there[visit.path["name"]].read_bytes(), "leanwright-book.backup")


def _backups(visit: Visit) -> Path:
    return visit.house.desk.folder / "backups"


def _number(visit: Visit) -> int:
    given = visit.path["entry"]
    if not (given.isascii() and given.isdecimal() and len(given) < 10):
        raise not_found(Told("This entry"))
    return int(given)


def _by(visit: Visit) -> str | None:
    return visit.preferences.person or None


def today(visit: Visit) -> datetime:
    """The time of the book's clock."""
    with visit.house.book.using() as book:
        return book.clock()
