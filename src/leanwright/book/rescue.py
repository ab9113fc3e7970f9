"""Save what is sound of a damaged book: the entries before the first bad one, and the attachments that can be read."""

import hashlib
from collections.abc import Iterator
from typing import Any

import msgspec

from leanwright.book import chain, portable
from leanwright.book.canonical import canonical
from leanwright.book.entry import decode
from leanwright.book.stores import tables
from leanwright.book.stores.store import Store
from leanwright.errors import DamagedBookError, UnusableBookError
from leanwright.told import Told


def save(store: Store, sink: portable.Sink) -> tuple[str, ...]:
    """Write the sound beginning of a book in the open form; gives back what was lost, in sentences."""
    losses: list[str] = []
    ledger = _ledger(store)
    previous, count, digest = chain.genesis(ledger), 0, hashlib.sha256()
    kept: list[portable.Kept] = []
    with sink(portable.ENTRIES) as stream:
        for row in _rows(store, losses):
            problem, attachments = _judge(store, row, count + 1, previous, ledger)
            if problem is not None:
                losses.append(Told("from entry {number} on: {problem}", number=count + 1, problem=problem))
                break
            for sha256, content in attachments:
                if sha256 not in {one.sha256 for one in kept}:
                    with sink(portable.ATTACHMENTS + sha256) as out:
                        out.write(content)
                    kept.append(portable.Kept(sha256=sha256, size=len(content)))
            line = bytes(row[1]) + b"\n"
            stream.write(line)
            digest.update(line)
            previous, count = str(row[3]), count + 1
    losses += _left_out(store, count)
    with sink(portable.EVENTS):
        losses.append(Told("the events (backups and drills) are not carried over"))
    manifest = portable.Manifest(
        format=portable.FORMAT,
        ledger=ledger,
        head=previous,
        entries=count,
        entries_sha256=digest.hexdigest(),
        events=0,
        events_sha256=hashlib.sha256().hexdigest(),
        attachments=tuple(kept),
        program="recovered",
        made="recovered",
    )
    with sink(portable.MANIFEST) as stream:
        stream.write(canonical(manifest))
    return tuple(losses)


def _ledger(store: Store) -> str:
    """The book's own name, from its table or from its first entry."""
    try:
        with store.reading() as connection:
            found = tables.ledger_of(connection)
            if found:
                return found
    except DamagedBookError:
        pass
    try:
        with store.reading() as connection:
            row = tables.row(connection, 1)
            if row is not None:
                return decode(bytes(row[1])).ledger
    except (DamagedBookError, msgspec.MsgspecError) as error:
        raise UnusableBookError(
            store.place, Told("Nothing in it can be read"), Told("Take the last backup.")
        ) from error
    raise UnusableBookError(store.place, Told("There is nothing in it"), Told("Take the last backup."))


def _rows(store: Store, losses: list[str]) -> Iterator[Any]:
    """Rows one by one, each read by itself, so that one that cannot be read does not hide those before it."""
    number = 1
    while True:
        try:
            with store.reading() as connection:
                row = tables.row(connection, number)
        except DamagedBookError as error:
            losses.append(Told("entry {number} cannot be read: {reason}", number=number, reason=error.reason))
            return
        if row is None:
            return
        yield row
        number += 1


def _left_out(store: Store, count: int) -> list[str]:
    """How many entries there are after those that were kept; where nothing else tells, what is missing."""
    try:
        with store.reading() as connection:
            newest = tables.last(connection)
    except DamagedBookError:
        return [Told("how many entries follow cannot be read")]
    following = int(newest[0]) - count if newest is not None else 0
    if following <= 0:
        return []
    return [
        Told(
            "the entries {first} to {last} are missing or not carried over",
            first=count + 1,
            last=count + following,
        )
    ]


def _judge(
    store: Store, row: Any, number: int, previous: str, ledger: str
) -> tuple[str | None, list[tuple[str, bytes]]]:
    data = bytes(row[1])
    if row[2] != previous or row[3] != chain.link(chain.ENTRY_MARK, previous, data):
        return Told("its hash is not that of its content"), []
    try:
        entry = decode(data)
    except msgspec.MsgspecError as error:
        return Told("it is no entry ({error})", error=error), []
    if (entry.sequence, entry.ledger) != (number, ledger):
        return Told("it belongs elsewhere"), []
    found = []
    for one in entry.attachments:
        try:
            with store.reading() as connection:
                content = tables.attachment(connection, one.sha256) or b""
        except DamagedBookError:
            content = b""
        if hashlib.sha256(content).hexdigest() != one.sha256:
            return Told("its attachment {attachment!r} is damaged", attachment=one.name), []
        found.append((one.sha256, content))
    return None, found
