"""The open form of a book: one entry a line, attachments beside, and a list of it all. It needs no program of ours.

``entries.jsonl`` holds the very bytes that were hashed, ``attachments/`` each content under its SHA-256, and
``manifest.json`` counts and digests. An export is a folder of these, a backup one file.
"""

import hashlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager
from typing import IO, Any, Final

import msgspec
import sqlalchemy as sa

from leanwright.book import chain
from leanwright.book.canonical import canonical
from leanwright.book.entry import Digest, Entry, Record, decode
from leanwright.book.kinds.table import DECODERS
from leanwright.book.stores import tables
from leanwright.errors import DamagedBookError, UnusableBackupError
from leanwright.told import Told

ENTRIES: Final = "entries.jsonl"
EVENTS: Final = "events.jsonl"
MANIFEST: Final = "manifest.json"
ATTACHMENTS: Final = "attachments/"
FORMAT: Final = "leanwright/book-export/1"
MOST_LINE: Final = 1 << 22
Sink = Callable[[str], AbstractContextManager[IO[bytes]]]
Source = Callable[[str], AbstractContextManager[IO[bytes]]]


class Kept(Record, frozen=True):
    """An attachment as the manifest names it."""

    sha256: Digest
    size: int


class Manifest(Record, frozen=True):
    """What an export or a backup holds."""

    format: str
    ledger: str
    head: str
    entries: int
    entries_sha256: Digest
    events: int
    events_sha256: Digest
    attachments: tuple[Kept, ...]
    program: str
    made: str


def write(connection: sa.Connection, sink: Sink, place: str, *, program: str, made: str) -> Manifest:
    """Write all that a book holds, as it is at one moment.

    Raises :class:`DamagedBookError` for what could not be read back in as what it was.
    """
    ledger = tables.ledger_of(connection) or ""
    entries = _sound(tables.rows(connection), chain.genesis(ledger), place)
    head, count, digest = _write_lines(sink(ENTRIES), entries, chain.genesis(ledger))
    _, events, events_digest = _write_lines(sink(EVENTS), iter(tables.events(connection)), "")
    kept = []
    for sha256 in tables.attachment_digests(connection):
        content = tables.attachment(connection, sha256) or b""
        if hashlib.sha256(content).hexdigest() != sha256:
            raise _damaged(place, Told("the attachment {digest} is not what was kept", digest=sha256[:12]))
        with sink(ATTACHMENTS + sha256) as stream:
            stream.write(content)
        kept.append(Kept(sha256=sha256, size=len(content)))
    manifest = Manifest(
        format=FORMAT,
        ledger=ledger,
        head=head,
        entries=count,
        entries_sha256=digest,
        events=events,
        events_sha256=events_digest,
        attachments=tuple(kept),
        program=program,
        made=made,
    )
    with sink(MANIFEST) as stream:
        stream.write(canonical(manifest) + b"\n")
    return manifest


def _sound(found: Iterable[Any], previous: str, place: str) -> Iterator[Any]:
    """The entries, each of which has to follow on the one before."""
    for number, row in enumerate(found, 1):
        if row[0] != number:
            problem = Told("missing; the next one is {next}", next=row[0])
        elif row[2] != previous:
            problem = Told("it does not follow on the entry before")
        elif row[3] != chain.link(chain.ENTRY_MARK, previous, bytes(row[1])):
            problem = Told("its hash is not that of its content")
        else:
            previous = str(row[3])
            yield row
            continue
        raise _damaged(place, Told("entry {number}: {problem}", number=number, problem=problem))


def _damaged(place: str, problem: Told) -> DamagedBookError:
    return DamagedBookError(
        place,
        Told("It is not sound ({reason})", reason=problem),
        Told("See what can be saved: leanwright book recover."),
    )


def _write_lines(
    opened: AbstractContextManager[IO[bytes]], found: Iterable[Any], head: str
) -> tuple[str, int, str]:
    digest, count = hashlib.sha256(), 0
    with opened as stream:
        for row in found:
            line = bytes(row[1]) + b"\n"
            stream.write(line)
            digest.update(line)
            head, count = str(row[3]), count + 1
    return head, count, digest.hexdigest()


def read_manifest(source: Source, name: str) -> Manifest:
    """The manifest; raises :class:`UnusableBackupError` if there is none that holds together."""
    try:
        with source(MANIFEST) as stream:
            manifest = msgspec.json.decode(stream.read(MOST_LINE), type=Manifest)
    except (OSError, KeyError, msgspec.MsgspecError) as error:
        raise UnusableBackupError(
            name, Told("Its list of contents ({member}) is missing or cannot be read", member=MANIFEST)
        ) from error
    if manifest.format != FORMAT:
        raise UnusableBackupError(
            name, Told("It has the form {form!r}, which this program does not know", form=manifest.format)
        )
    return manifest


def read_into(connection: sa.Connection, source: Source, manifest: Manifest, name: str) -> None:
    """Put an export into the empty tables of a book: every entry through its schema, every hash anew.

    Raises :class:`UnusableBackupError` at the first thing that does not fit; the caller's transaction is undone.
    """
    if (tables.ledger_of(connection), tables.last(connection)) != (manifest.ledger, None):
        raise UnusableBackupError(name, "It does not belong into this book")
    for kept in manifest.attachments:
        with _found(source, ATTACHMENTS + kept.sha256, name) as stream:
            content = stream.read(kept.size + 1)
        if len(content) != kept.size or hashlib.sha256(content).hexdigest() != kept.sha256:
            raise UnusableBackupError(
                name, Told("The attachment {digest} is not what was kept", digest=kept.sha256[:12])
            )
        tables.keep_attachment(connection, kept.sha256, content)
    there = {kept.sha256 for kept in manifest.attachments}
    head = _read_entries(connection, source, manifest, name, there)
    if head != manifest.head:
        raise UnusableBackupError(name, "Its last entry is not the one that its list names")
    _read_events(connection, source, manifest, name)


def _read_entries(
    connection: sa.Connection, source: Source, manifest: Manifest, name: str, there: set[str]
) -> str:
    previous, waiting = chain.genesis(manifest.ledger), []
    digest = hashlib.sha256()
    number = 0
    for number, line in enumerate(_lines(source, ENTRIES, name, digest), 1):
        entry = _entry(line, number, previous, manifest.ledger, name)
        missing = [one.name for one in entry.attachments if one.sha256 not in there]
        if missing:
            raise UnusableBackupError(
                name,
                Told(
                    "Entry {number} lacks its attachment {attachment!r}", number=number, attachment=missing[0]
                ),
            )
        own = chain.link(chain.ENTRY_MARK, previous, line)
        waiting.append(
            {
                "sequence": number,
                "data": line,
                "previous": previous,
                "hash": own,
                "request_key": entry.request_key,
                "supersedes": entry.supersedes,
            }
        )
        previous = own
        if len(waiting) == tables.CHUNK:
            tables.insert(connection, waiting)
            waiting = []
    if waiting:
        tables.insert(connection, waiting)
    if number != manifest.entries or digest.hexdigest() != manifest.entries_sha256:
        raise UnusableBackupError(
            name,
            Told(
                "It should hold {entries} entries, and holds {number} or others",
                entries=manifest.entries,
                number=number,
            ),
        )
    return previous


def _entry(line: bytes, number: int, previous: str, ledger: str, name: str) -> Entry:
    try:
        entry = decode(line)
        DECODERS[entry.kind].decode(entry.body)
        sound = canonical(msgspec.json.decode(line)) == line
    except (msgspec.MsgspecError, KeyError) as error:
        raise UnusableBackupError(
            name, Told("Line {number} is no entry ({error})", number=number, error=error)
        ) from error
    if not sound or (entry.sequence, entry.previous, entry.ledger) != (number, previous, ledger):
        raise UnusableBackupError(
            name, Told("Entry {number} does not follow on the one before", number=number)
        )
    return entry


def _read_events(connection: sa.Connection, source: Source, manifest: Manifest, name: str) -> None:
    previous, digest, number = chain.genesis(manifest.ledger), hashlib.sha256(), 0
    for number, line in enumerate(_lines(source, EVENTS, name, digest), 1):
        own = chain.link(chain.EVENT_MARK, previous, line)
        tables.insert_event(connection, {"sequence": number, "data": line, "previous": previous, "hash": own})
        previous = own
    if number != manifest.events or digest.hexdigest() != manifest.events_sha256:
        raise UnusableBackupError(name, "Its events are not those that were written")


def _found(source: Source, member: str, name: str) -> AbstractContextManager[IO[bytes]]:
    try:
        return source(member)
    except (OSError, KeyError) as error:
        raise UnusableBackupError(name, Told("{member} is missing", member=member)) from error


def _lines(source: Source, member: str, name: str, digest: Any) -> Iterator[bytes]:
    with _found(source, member, name) as stream:
        while line := stream.readline(MOST_LINE + 1):
            if len(line) > MOST_LINE or not line.endswith(b"\n"):
                raise UnusableBackupError(
                    name, Told("{member} is cut off or has an endless line", member=member)
                )
            digest.update(line)
            yield line[:-1]
