"""The records: open a book, add to it, read it, see where it stands. The edges call these functions."""

import getpass
import os
import secrets
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import msgspec
import platformdirs

from leanwright import __version__
from leanwright.book import canonical, chain, ledger, schema
from leanwright.book.entry import (
    TIME_FORM,
    Author,
    Entry,
    Sealed,
    Signature,
    Worked,
    clock_flag,
    days_late,
    local_date,
    plain,
)
from leanwright.book.kinds.plain_words import told as told_of_body
from leanwright.book.ledger import Draft, File, Ledger, Written
from leanwright.book.readable import entry_lines
from leanwright.book.rules import check_superseding
from leanwright.book.stores import postgresql, sqlite
from leanwright.book.stores.store import Store
from leanwright.errors import RefusedEntryError, UnusableBookError, UnwritableBookError
from leanwright.told import Told

PROGRAM = f"leanwright {__version__}"


def now() -> datetime:
    """The time of this machine, with its zone."""
    return datetime.now().astimezone()


def default_place() -> str:
    """Where the book is if nobody says otherwise: the user's data folder."""
    return str(platformdirs.user_data_path("leanwright", appauthor=False) / "book.sqlite")


def open_store(place: str | None, *, read_only: bool = False, cut_short: bool = False) -> Store:
    """Open the database of a place: a file, or the address of a PostgreSQL database.

    With ``cut_short`` a file of which the end may be missing is opened too, to save the rest.
    """
    where = place or default_place()
    if postgresql.is_address(where):
        return postgresql.open_address(where)
    return sqlite.open_file(_file(where), read_only=read_only, cut_short=cut_short)


def _file(where: str) -> Path:
    if "://" in where:
        raise UnusableBookError(
            where, Told("This is no place for a book"), Told("Name a file, or an address postgresql://…")
        )
    return Path(where).expanduser().absolute()


def open_book(place: str | None = None, *, read_only: bool = False) -> Ledger:
    """Open a book; one of an older form is copied, checked and brought to the present form first."""
    store = open_store(place, read_only=read_only)
    try:
        if not schema.check(store):
            store.close()
            store = open_store(place)
            _upgrade(store)
        return ledger.open_ledger(store, now, PROGRAM)
    except BaseException:
        store.close()
        raise


def _upgrade(store: Store) -> None:
    from leanwright.book.verify import verify

    form = schema.form_of(store) or ""
    found = verify(store)
    if not found.sound:
        raise UnusableBookError(
            store.place,
            Told("It is not sound ({reason})", reason=found.problems[0]),
            Told("See leanwright book verify."),
        )
    copy = schema.copy_before(store, form)
    if copy is None:
        from leanwright.book import backup

        folder = Path(default_place()).parent
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        made = now().astimezone(UTC)
        kept = folder / f"{made:%Y%m%dT%H%M%SZ}.form-{form}.backup"
        backup.write(store, kept, program=PROGRAM, made=made.strftime(TIME_FORM))
    else:
        copied = sqlite.open_file(copy, read_only=True)
        try:
            if verify(copied).head != found.head:
                raise UnwritableBookError(str(copy), "The copy made before the change is not the book")
        finally:
            copied.close()
    schema.migrate(store)


def only_read(book: Ledger) -> str:
    """What to say of a book that can be read but not written where it lies; empty if it can be written."""
    return sqlite.ONLY_READ if sqlite.ONLY_READ in book.store.notes else ""


def make_book(place: str | None = None, *, writer: str | None = None) -> Ledger:
    """Make a new book in a place where there is none. ``writer`` is the role of PostgreSQL that may read and add."""
    where = place or default_place()
    name = secrets.token_hex(16)
    if postgresql.is_address(where):
        store = postgresql.open_address(where)
        try:
            made = ledger.make(store, name, now, PROGRAM)
            if writer is not None:
                store.grant(writer)
        except BaseException:
            store.close()
            raise
        return made
    file_store = sqlite.make_file(_file(where))
    try:
        return ledger.make(file_store, name, now, PROGRAM)
    except BaseException:
        file_store.close()
        Path(file_store.place).unlink(missing_ok=True)
        raise


def this_user() -> Author:
    """Who runs the program, as far as the machine knows."""
    try:
        return Author(name=getpass.getuser(), identified_by="account")
    except (KeyError, OSError):
        return Author(name=f"user {os.getuid()}", identified_by="account")


def new_request_key() -> str:
    """A key that nobody has used."""
    return secrets.token_hex(16)


@dataclass(frozen=True, slots=True)
class Said:
    """What comes with an entry: who wrote it, when the work was done, files, a signature, the request's key."""

    by: str | None = None
    worked: str | None = None
    hours: str | None = None
    files: tuple[File, ...] = ()
    signature: Mapping[str, Any] | None = None
    request_key: str | None = None


NOTHING_SAID: Final = Said()


def attached(name: str, content: bytes) -> File:
    """A file that goes in with an entry."""
    return File(name, content)


def add(book: Ledger, kind: str, body: Any, said: Said = NOTHING_SAID) -> Written:
    """Append one entry; it is durable when this returns."""
    return book.append(_draft(kind, body, said))


def correct(book: Ledger, sequence: int, body: Any, reason: str, said: Said = NOTHING_SAID) -> Written:
    """Append a new version of an entry; what does not come with it (the time of the work) stays as it was.

    Where nobody told the day of the work it was the day of the first version, not that of the correction.
    """
    old, _ = book.entry(sequence)
    check_superseding(old.entry, old.entry.kind, reason, body if isinstance(body, dict) else {})
    if said.worked is None:
        kept = old.entry.worked or Worked(date=local_date(old.entry))
        said = replace(said, worked=kept.date.isoformat(), hours=said.hours or kept.hours)
    return book.append(_draft(old.entry.kind, body, said, supersedes=sequence, reason=reason))


def void(book: Ledger, sequence: int, reason: str, said: Said = NOTHING_SAID) -> Written:
    """Take an entry back; it stays readable."""
    return book.append(_draft("void", {}, said, supersedes=sequence, reason=reason))


def _draft(
    kind: str, body: Any, said: Said, *, supersedes: int | None = None, reason: str | None = None
) -> Draft:
    if not isinstance(body, dict):
        raise RefusedEntryError(
            "not-an-object", Told("A {kind} has to be a JSON object", kind=kind), 'Write {"field": value}.'
        )
    author = Author(name=said.by, identified_by="typed") if said.by else this_user()
    if said.hours and not said.worked:
        raise RefusedEntryError(
            "hours-without-date", "Hours need the date on which they were read", "Give --worked."
        )
    worked = _converted({"date": said.worked, "hours": said.hours}, Worked, "worked") if said.worked else None
    signature = _converted(dict(said.signature), Signature, "signature") if said.signature else None
    key = said.request_key or new_request_key()
    return Draft(kind, body, author, key, worked, signature, supersedes, reason, said.files)


def _converted(values: dict[str, Any], kind: Any, name: str) -> Any:
    given = {key: value for key, value in values.items() if value is not None}
    try:
        return msgspec.convert(given, kind)
    except msgspec.ValidationError as error:
        raise RefusedEntryError(
            f"bad-{name}",
            Told("{name}: {error}", name=name, error=told_of_body(str(error), kind, given)),
            'Dates are written 2026-11-29, hours "1234.5".',
        ) from error


def parse_body(data: bytes, name: str) -> Any:
    """The JSON of an entry, read strictly."""
    return canonical.parse(data, name)


def listed(book: Ledger, kind: str | None = None) -> Iterator[dict[str, Any]]:
    """Every entry as plain data, with what follows from its place in the book."""
    latest = ""
    for sealed, newer in book.entries():
        if kind is None or sealed.entry.kind == kind:
            yield told(sealed, newer, latest)
        latest = max(latest, sealed.entry.recorded)


def told(sealed: Sealed, newer: int | None, latest: str = "") -> dict[str, Any]:
    """An entry as plain data: its fields, its hash, what supersedes it, how late it is, what is strange of its clock."""
    entry: Entry = sealed.entry
    return {
        "worked": None,
        "signature": None,
        "supersedes": None,
        "supersedes_hash": None,
        "reason": None,
        "attachments": [],
        **plain(entry),
        "hash": sealed.hash,
        "superseded_by": newer,
        "days_late": days_late(entry),
        "clock": clock_flag(entry.recorded, latest),
    }


def list_document(book: Ledger, kind: str | None = None) -> dict[str, Any]:
    """The list of entries as other programs read it."""
    entries = list(listed(book, kind))
    head = book.head()
    return {
        "format": "leanwright/book-list/1",
        "head": chain.short(head),
        "head_hash": head,
        "entries": entries,
    }


def shown(book: Ledger, sequence: int) -> dict[str, Any]:
    """One entry as plain data, with the numbers of all its versions, the first one first."""
    sealed, newer = book.entry(sequence)
    latest = book.entry(sequence - 1)[0].entry.recorded if sequence > 1 else ""
    return {
        **told(sealed, newer, latest),
        "format": "leanwright/book-entry/1",
        "versions": versions(book, sequence),
    }


def versions(book: Ledger, sequence: int) -> list[int]:
    """The numbers of an entry's versions, the first one first."""
    found = [sequence]
    while (older := book.entry(found[0])[0].entry.supersedes) is not None:
        found.insert(0, older)
    while (newer := book.entry(found[-1])[1]) is not None:
        found.append(newer)
    return found


def readable(book: Ledger, sequence: int) -> list[str]:
    """One entry as people read it, line by line."""
    sealed, newer = book.entry(sequence)
    lines = entry_lines(sealed.entry)
    if newer is not None:
        lines.append(Told("    no longer holds: see entry {newer}", newer=newer))
    return [*lines, f"    hash {sealed.hash}"]
