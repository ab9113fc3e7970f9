"""The ledger: entries are added to the end, one writer at a time, and nothing else ever happens to them."""

import hashlib
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Final

import msgspec
import sqlalchemy as sa

from leanwright.book import chain, rules, schema
from leanwright.book.canonical import canonical, checked
from leanwright.book.entry import FORMAT, HOURS, Author, Sealed, Signature, Worked, decode, seal, stamp
from leanwright.book.fold import fold, fold_more
from leanwright.book.kinds.table import body_of
from leanwright.book.state import State
from leanwright.book.stores import tables
from leanwright.book.stores.store import Store, UnknownOutcomeError
from leanwright.errors import RefusedEntryError, UnusableBookError, UnwritableBookError
from leanwright.told import Told

MOST_ATTACHMENT_BYTES: Final = 10_000_000
MOST_ATTACHMENTS: Final = 20
Clock = Callable[[], datetime]


@dataclass(frozen=True, slots=True)
class File:
    """A file that goes in with an entry: the name that people see, and the content."""

    name: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Draft:
    """What somebody wants to write. ``supersedes`` and ``reason`` make it a correction; the kind ``void`` takes back."""

    kind: str
    body: Mapping[str, Any]
    author: Author
    request_key: str
    worked: Worked | None = None
    signature: Signature | None = None
    supersedes: int | None = None
    reason: str | None = None
    files: tuple[File, ...] = ()


@dataclass(frozen=True, slots=True)
class Written:
    """A durable entry: its number and hash; ``repeated`` if an earlier request had written it already."""

    sequence: int
    hash: str
    repeated: bool = False


@dataclass(slots=True)
class Ledger:
    """An open book. The clock and the program's name and version come in from outside."""

    store: Store
    clock: Clock
    program: str
    name: str
    _state: State | None = field(default=None, repr=False)

    def append(self, draft: Draft) -> Written:
        """Write an entry; when this returns, it is durable.

        Raises :class:`RefusedEntryError` for an entry that breaks a rule, and the store's errors; then nothing was
        written. A request key that was used before gives the entry of that time back.
        """
        ready = _ready(draft)
        try:
            return self._append(ready)
        except UnknownOutcomeError:
            # It may have been saved before the connection was lost: ask by its key, then try once more.
            try:
                return self._append(ready)
            except UnknownOutcomeError as again:
                raise UnwritableBookError(
                    self.store.place, "The connection was lost twice while saving"
                ) from again

    def _append(self, ready: "_Ready") -> Written:
        with self.store.writing() as connection:
            last, requested = tables.before(connection, ready.draft.request_key)
            if requested is not None:
                return _repeated(requested, ready)
            sealed = self._sealed(connection, ready, last)
            for file, digest in zip(ready.draft.files, ready.digests, strict=True):
                tables.keep_attachment(connection, digest, file.content)
            tables.insert(connection, [columns(sealed)])
        if self._state is not None:
            state, self._state = self._state, None  # one that breaks off, as for want of memory, is made anew
            self._state = fold_more(state, sealed)
        return Written(sealed.entry.sequence, sealed.hash)

    def _sealed(self, connection: sa.Connection, ready: "_Ready", last: tables.Row | None) -> Sealed:
        draft = ready.draft
        recorded, offset = stamp(self.clock())
        fields: dict[str, Any] = {
            "format": FORMAT,
            "ledger": self.name,
            "sequence": last[0] + 1 if last else 1,
            "kind": draft.kind,
            "subject": rules.subject(draft.kind, ready.body, lambda: self._state_in(connection, last)),
            "body": ready.plain,
            "recorded": recorded,
            "offset_minutes": offset,
            "author": draft.author,
            "program": self.program,
            "request_key": draft.request_key,
            "previous": last[3] if last else chain.genesis(self.name),
            "worked": draft.worked,
            "signature": draft.signature,
            "attachments": [
                {"name": file.name, "size": len(file.content), "sha256": digest}
                for file, digest in zip(draft.files, ready.digests, strict=True)
            ],
        }
        if draft.supersedes is not None:
            fields |= self._superseding(connection, draft, draft.supersedes)
        sealed = seal(fields)
        latest = decode(bytes(last[1])).recorded if last else ""
        candidate = rules.Candidate(sealed.entry, ready.body, latest)
        # What is taken back is judged with itself still there: what leans on it is seen only so.
        left_out = None if draft.kind == "void" else draft.supersedes
        rules.check(candidate, lambda: self._state_for(connection, left_out, last))
        return sealed

    def _state_for(self, connection: sa.Connection, superseded: int | None, last: tables.Row | None) -> State:
        """What an entry is judged against; a correction against everything but what it corrects."""
        if superseded is None:
            return self._state_in(connection, last)
        return fold(_sealed_rows(tables.rows(connection)), tables.superseding(connection), without=superseded)

    def _superseding(self, connection: sa.Connection, draft: Draft, number: int) -> dict[str, Any]:
        old = tables.row(connection, number)
        if old is None:
            raise RefusedEntryError(
                "no-such-entry",
                Told("There is no entry {number}", number=number),
                "See leanwright book list.",
            )
        newer = tables.superseding(connection).get(number)
        if newer is not None:
            raise _superseded_already(connection, number, newer)
        entry = decode(bytes(old[1]))
        rules.check_superseding(entry, draft.kind, draft.reason, draft.body)
        return {"supersedes": number, "supersedes_hash": old[3], "reason": draft.reason}

    def state(self) -> State:
        """What follows from all entries up to now."""
        with self.store.reading() as connection:
            return self._state_in(connection, tables.last(connection))

    def _state_in(self, connection: sa.Connection, last: tables.Row | None) -> State:
        newest = last[0] if last else 0
        if self._state is None or self._state.head_sequence > newest:
            self._state = fold(_sealed_rows(tables.rows(connection)), tables.superseding(connection))
        for row in (
            tables.rows(connection, self._state.head_sequence) if self._state.head_sequence < newest else ()
        ):
            state, self._state = self._state, None
            self._state = fold_more(state, _sealed_row(row))
        if self._state.stale:
            self._state = fold(_sealed_rows(tables.rows(connection)), tables.superseding(connection))
        return self._state

    def state_at(self, day: Any = None, engine: str | None = None, hours: Any = None) -> State:
        """What followed at the end of a date, or when an engine had so many hours [h]; entered late counts too."""
        with self.store.reading() as connection:
            return fold(
                _sealed_rows(tables.rows(connection)),
                tables.superseding(connection),
                until=day,
                engine=engine,
                until_hours=hours,
            )

    def head(self) -> str:
        """The hash of the newest entry, or what stands for it in an empty book."""
        with self.store.reading() as connection:
            last = tables.last(connection)
        return str(last[3]) if last else chain.genesis(self.name)

    def entries(self, kind: str | None = None) -> Iterator[tuple[Sealed, int | None]]:
        """Every entry in order, with the number of the one that supersedes it."""
        with self.store.reading() as connection:
            newer = tables.superseding(connection)
            for row in tables.rows(connection):
                sealed = _sealed_row(row)
                if kind is None or sealed.entry.kind == kind:
                    yield sealed, newer.get(sealed.entry.sequence)

    def entry(self, sequence: int) -> tuple[Sealed, int | None]:
        """One entry, with the number of the one that supersedes it; raises for a number that is not there."""
        with self.store.reading() as connection:
            row = tables.row(connection, sequence)
            if row is None:
                raise RefusedEntryError(
                    "no-such-entry",
                    Told("There is no entry {sequence}", sequence=sequence),
                    "See leanwright book list.",
                )
            return _sealed_row(row), tables.superseding(connection).get(sequence)

    def requested(self, request_key: str) -> Sealed | None:
        """The entry that was written for a request; ``None`` if there is none."""
        with self.store.reading() as connection:
            _, found = tables.before(connection, request_key)
        return _sealed_row(found) if found is not None else None

    def attachment(self, sha256: str) -> bytes | None:
        """The content of an attachment."""
        with self.store.reading() as connection:
            return tables.attachment(connection, sha256)

    def note_event(self, what: str, values: Mapping[str, Any]) -> None:
        """Write down what was done with the book as a whole: a backup, a check, a restore."""
        recorded, offset = stamp(self.clock())
        with self.store.writing() as connection:
            last = tables.last_event(connection)
            previous = last[1] if last else chain.genesis(self.name)
            number = last[0] + 1 if last else 1
            data = canonical(
                {
                    "event": what,
                    "offset_minutes": offset,
                    "recorded": recorded,
                    "sequence": number,
                    **checked(dict(values)),
                }
            )
            values_of = {"sequence": number, "data": data, "previous": previous}
            tables.insert_event(
                connection, values_of | {"hash": chain.link(chain.EVENT_MARK, previous, data)}
            )

    def events(self, what: str) -> list[dict[str, Any]]:
        """What was written down of one kind of event."""
        with self.store.reading() as connection:
            found = [msgspec.json.decode(bytes(row[1])) for row in tables.events(connection)]
        return [one for one in found if one["event"] == what]

    def close(self) -> None:
        """Let go of the book."""
        self.store.close()


@dataclass(frozen=True, slots=True)
class _Ready:
    """A draft whose form was checked, before anything is locked."""

    draft: Draft
    plain: Any
    body: Any
    digests: tuple[str, ...]


def _ready(draft: Draft) -> _Ready:
    plain = checked(dict(draft.body))
    body = body_of(draft.kind, plain)
    if (
        not draft.request_key.isascii()
        or not draft.request_key.isprintable()
        or not 1 <= len(draft.request_key) <= 100
    ):
        raise RefusedEntryError(
            "bad-request-key", "The request key has to be 1 to 100 plain signs", "Use another one."
        )
    hours = draft.worked.hours if draft.worked is not None else None
    if hours is not None and not re.fullmatch(HOURS, hours):
        raise RefusedEntryError(
            "bad-hours", Told("{hours!r} is no reading of hours", hours=hours), 'Write it like "1234.5".'
        )
    if len(draft.files) > MOST_ATTACHMENTS:
        raise RefusedEntryError(
            "too-many-files",
            Told("{files} files are too many for one entry", files=len(draft.files)),
            "Split them.",
        )
    for file in draft.files:
        if len(file.content) > MOST_ATTACHMENT_BYTES:
            raise RefusedEntryError(
                "attachment-too-large",
                Told(
                    "{name} has {content:,} bytes; an attachment has at most {most_attachment_bytes:,}",
                    name=file.name,
                    content=len(file.content),
                    most_attachment_bytes=MOST_ATTACHMENT_BYTES,
                ),
                "Make it smaller, for example by scanning with fewer dots an inch.",
            )
    spoken = {
        "author": draft.author,
        "worked": draft.worked,
        "signature": draft.signature,
        "reason": draft.reason,
        "names": [file.name for file in draft.files],
    }
    checked(msgspec.to_builtins(spoken))
    return _Ready(draft, plain, body, tuple(hashlib.sha256(file.content).hexdigest() for file in draft.files))


def _repeated(before: Any, ready: _Ready) -> Written:
    entry = decode(bytes(before[1]))
    if entry.kind != ready.draft.kind or bytes(entry.body) != canonical(ready.plain):
        raise RefusedEntryError(
            "request-key-used",
            Told(
                "The request key {request_key!r} belongs to entry {sequence}, which says something else",
                request_key=ready.draft.request_key,
                sequence=entry.sequence,
            ),
            "Use a new request key for a new entry.",
        )
    return Written(entry.sequence, str(before[3]), repeated=True)


def _superseded_already(connection: sa.Connection, number: int, newer: int) -> RefusedEntryError:
    """What is told to the second of two who put the same entry right: which one was quicker, and what it says."""
    entry = decode(bytes(next(tables.rows(connection, newer - 1))[1]))
    back = entry.kind == "void"
    next_step = (
        Told("If it was right after all, write it anew.")
        if back
        else Told("Look at entry {newer}, and correct that one.", newer=newer)
    )
    told = Told(
        "Entry {number} was taken back already, by entry {newer} ({reason!r}, by {name})"
        if back
        else "Entry {number} was corrected already, by entry {newer} ({reason!r}, by {name})",
        number=number,
        newer=newer,
        reason=entry.reason,
        name=entry.author.name,
    )
    return RefusedEntryError("superseded-already", told, next_step)


def columns(sealed: Sealed) -> dict[str, Any]:
    """An entry as the columns of its row."""
    return {
        "sequence": sealed.entry.sequence,
        "data": sealed.data,
        "previous": sealed.entry.previous,
        "hash": sealed.hash,
        "request_key": sealed.entry.request_key,
        "supersedes": sealed.entry.supersedes,
    }


def _sealed_row(row: Any) -> Sealed:
    data = bytes(row[1])
    return Sealed(decode(data), data, str(row[3]))


def _sealed_rows(found: Iterator[Any]) -> Iterator[Sealed]:
    for row in found:
        yield _sealed_row(row)


def make(store: Store, name: str, clock: Clock, program: str) -> Ledger:
    """Make the tables of a new book in an empty store, and open it."""
    if schema.form_of(store) is not None and has_name(store):
        raise RefusedEntryError(
            "book-there", Told("{place}: there is a book already", place=store.place), "Name another place."
        )
    schema.migrate(store)
    with store.writing() as connection:
        connection.execute(sa.insert(tables.META), [{"name": "ledger", "value": name}])
    return Ledger(store, clock, program, name)


def has_name(store: Store) -> bool:
    """Whether the tables of a store have become a book: its making may have been cut off before."""
    with store.reading() as connection:
        return tables.ledger_of(connection) is not None


def open_ledger(store: Store, clock: Clock, program: str) -> Ledger:
    """Open the book of a store whose form is the present one."""
    with store.reading() as connection:
        name = tables.ledger_of(connection)
    if name is None:
        raise UnusableBookError(
            store.place, "The book was not made to the end", "Remove it, and make one: leanwright book init."
        )
    return Ledger(store, clock, program, name)
