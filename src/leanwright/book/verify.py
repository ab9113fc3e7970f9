"""Walk the whole book: every hash, every attachment, every signature, the database's own check. Nothing is repaired."""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import msgspec
import sqlalchemy as sa

from leanwright.book import chain
from leanwright.book.canonical import canonical
from leanwright.book.entry import Entry, decode
from leanwright.book.stores import tables
from leanwright.book.stores.store import Store
from leanwright.errors import DamagedBookError
from leanwright.told import Told


@dataclass(frozen=True, slots=True)
class Verified:
    """What a walk found. ``head_entry`` is the entry whose hash the given head is, if one was given and found."""

    entries: int
    head: str
    problems: tuple[str, ...]
    first_bad: int | None = None
    head_entry: int | None = None

    @property
    def sound(self) -> bool:
        """Whether nothing was found."""
        return not self.problems


@dataclass(slots=True)
class _Walk:
    """What has to be remembered while walking."""

    ledger: str
    previous: str
    entries: int = 0
    first_bad: int | None = None
    head_entry: int | None = None


def verify(store: Store, head: str | None = None) -> Verified:
    """Walk a book; ``head`` is one written down earlier (readable form), and has to be found in the chain.

    Raises :class:`DamagedBookError` if not even the tables can be read.
    """
    problems: list[str] = []
    walk = _Walk("", "")
    try:
        with store.reading() as connection:
            walk.ledger = tables.ledger_of(connection) or ""
            walk.previous = chain.genesis(walk.ledger)
            if head is not None and chain.is_head(head, walk.previous):
                walk.head_entry = 0
            for problem in _chain_problems(connection, walk, head):
                problems.append(problem)
                if len(problems) >= 20:
                    break
            problems += _event_problems(connection, walk.ledger)
    except DamagedBookError as error:
        if not walk.ledger:
            raise
        walk.first_bad = walk.first_bad or walk.entries + 1
        problems.append(
            Told("entry {number} cannot be read: {reason}", number=walk.entries + 1, reason=error.reason)
        )
    try:
        problems += store.problems()
    except DamagedBookError as error:
        problems.append(error.reason)
    if head is not None and walk.head_entry is None:
        problems.append(
            Told("the head that was given is not in this book: entries were cut off, or all was written anew")
        )
    return Verified(walk.entries, walk.previous, tuple(problems), walk.first_bad, walk.head_entry)


def _chain_problems(connection: sa.Connection, walk: _Walk, head: str | None) -> Iterator[str]:
    kept = set(tables.attachment_digests(connection))
    sizes: dict[str, int | None] = {}
    texts: dict[int, str] = {}
    hashes: list[bytes] = [b""]
    superseded: set[int] = set()
    for row in tables.full_rows(connection):
        number = walk.entries + 1
        problem, entry = _row_problem(row, number, walk)
        if entry is not None and problem is None:
            problem = _link_problem(entry, hashes, superseded, texts)
            problem = problem or next(_attachment_problems(connection, entry, kept, sizes), None)
        if problem is not None:
            walk.first_bad = walk.first_bad or number
            yield Told("entry {number}: {problem}", number=number, problem=problem)
        walk.entries = number
        walk.previous = str(row[3])
        hashes.append(bytes.fromhex(walk.previous) if problem is None else b"")
        if head is not None and problem is None and chain.is_head(head, walk.previous):
            walk.head_entry = number
    for digest in kept - sizes.keys():
        content = tables.attachment(connection, digest)
        if content is None or hashlib.sha256(content).hexdigest() != digest:
            yield Told("the attachment {digest} is not what was kept", digest=digest[:12])


def _row_problem(row: Any, number: int, walk: _Walk) -> tuple[str | None, Entry | None]:
    """What is wrong with a row by itself: its number, its hash, its form, its columns."""
    if not isinstance(row[1], bytes | memoryview):
        return Told("its content is of another kind"), None
    data = bytes(row[1])
    if row[0] != number:
        return Told("missing; the next one is {next}", next=row[0]), None
    if row[2] != walk.previous:
        return Told("it does not follow on the entry before"), None
    if row[3] != chain.link(chain.ENTRY_MARK, walk.previous, data):
        return Told("its hash is not that of its content"), None
    try:
        entry = decode(data)
    except msgspec.MsgspecError as error:
        return Told("it is no entry ({error})", error=error), None
    if canonical(msgspec.json.decode(data)) != data:
        return Told("its bytes are not in canonical form"), entry
    if (entry.ledger, entry.sequence, entry.previous) != (walk.ledger, number, walk.previous):
        return Told("it belongs elsewhere"), entry
    if (entry.request_key, entry.supersedes) != (row[4], row[5]):
        return Told("its columns do not say what it says"), entry
    return None, entry


def _link_problem(
    entry: Entry, hashes: list[bytes], superseded: set[int], texts: dict[int, str]
) -> str | None:
    """What is wrong with what an entry says of others: what it supersedes, what it signs."""
    if entry.kind == "record":
        text = msgspec.json.decode(entry.body)["text"]
        texts[entry.sequence] = hashlib.sha256(text.encode()).hexdigest()
    if entry.supersedes is not None:
        there = 0 < entry.supersedes < len(hashes)
        if not there or hashes[entry.supersedes].hex() != entry.supersedes_hash:
            return Told("it supersedes an entry {older} that is not there", older=entry.supersedes)
        if entry.supersedes in superseded:
            return Told("it supersedes entry {older}, as another did before", older=entry.supersedes)
        superseded.add(entry.supersedes)
    if entry.kind == "signature":
        record = msgspec.json.decode(entry.body)["record"]
        if entry.signature is None or texts.get(record) != entry.signature.shown_sha256:
            return Told("its signature does not fit the record {record}", record=record)
    return None


def _attachment_problems(
    connection: sa.Connection, entry: Entry, kept: set[str], sizes: dict[str, int | None]
) -> Iterator[str]:
    for one in entry.attachments:
        if one.sha256 not in kept:
            yield Told("its attachment {attachment!r} is missing", attachment=one.name)
            continue
        if one.sha256 not in sizes:
            content = tables.attachment(connection, one.sha256) or b""
            sound = hashlib.sha256(content).hexdigest() == one.sha256
            sizes[one.sha256] = len(content) if sound else None
        if sizes[one.sha256] != one.size:
            yield Told("its attachment {attachment!r} is not what was kept", attachment=one.name)


def _event_problems(connection: sa.Connection, ledger: str) -> list[str]:
    previous = chain.genesis(ledger)
    for number, row in enumerate(tables.events(connection), 1):
        if row[0] != number or row[2] != previous:
            return [Told("event {number} does not follow on the one before", number=number)]
        whole = isinstance(row[1], bytes | memoryview)
        if not whole or row[3] != chain.link(chain.EVENT_MARK, previous, bytes(row[1])):
            return [Told("event {number}: its hash is not that of its content", number=number)]
        previous = row[3]
    return []
