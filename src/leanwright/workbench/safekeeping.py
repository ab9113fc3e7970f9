"""Keep the book safe: check it, back it up, restore, try the restoring, export, import, save what is sound."""

import io
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext, suppress
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path
from typing import IO, Any

from leanwright.book import backup, chain, ledger, portable, readable, rescue, schema
from leanwright.book.entry import TIME_FORM
from leanwright.book.ledger import Ledger
from leanwright.book.portable import Manifest
from leanwright.book.stores import places, postgresql, sqlite, tables
from leanwright.book.stores.store import Store
from leanwright.book.verify import Verified, verify
from leanwright.errors import (
    RefusedEntryError,
    UnusableBackupError,
    UnusableBookError,
    UnwritableBookError,
    UnwritablePlaceError,
)
from leanwright.told import Told
from leanwright.workbench import records
from leanwright.workbench.writing import write_whole


@dataclass(frozen=True, slots=True)
class Restored:
    """What was put into a new place."""

    place: str
    manifest: Manifest
    verified: Verified


def check(place: str | None, head: str | None = None) -> Verified:
    """Walk a book; ``head`` as it stands on a sheet. Raises for a head that is mistyped, and for no book at all."""
    wanted = None
    if head is not None:
        wanted = chain.readable(head)
        if wanted is None:
            raise RefusedEntryError(
                "mistyped-head",
                Told("{head!r} is no head: its check digits do not fit", head=head[:80]),
                "Copy it again.",
            )
    store = records.open_store(place, read_only=True)
    try:
        schema.check(store)  # an older form is walked as it is; a newer one is not guessed at
        return verify(store, wanted)
    finally:
        store.close()


def back_up(book: Ledger, file: Path) -> tuple[Manifest, str | None]:
    """Write a verified backup, and note it in the book; with a warning if it lies on the book's own disk."""
    manifest = backup.write(book.store, file, program=book.program, made=_made(book))
    with suppress(UnwritableBookError):
        book.note_event(
            "backup", {"head": manifest.head, "entries": manifest.entries, "file": file.name[:200]}
        )
    warning = None
    if (
        isinstance(book.store, sqlite.SqliteStore)
        and book.store.file.stat().st_dev == file.absolute().stat().st_dev
    ):
        warning = Told("The backup lies on the same disk as the book; keep another elsewhere.")
    return manifest, warning


def restore(file: Path, into: str) -> Restored:
    """Put a backup into a new place; nothing is ever overwritten."""
    with backup.opened(file) as source:
        manifest = portable.read_manifest(source, file.name)
        return _put(source, manifest, into, file.name)


def drill(book: Ledger) -> Restored:
    """Back up, restore beside, compare, delete: whether a backup could be used on the day when it has to."""
    with tempfile.TemporaryDirectory(prefix="leanwright-drill-") as folder:
        file = Path(folder, "drill.backup")
        manifest = backup.write(book.store, file, program=book.program, made=_made(book))
        restored = restore(file, str(Path(folder, "restored.sqlite")))
        sound = restored.verified.sound and restored.verified.head == manifest.head
        book.note_event("drill", {"sound": sound, "head": manifest.head, "entries": manifest.entries})
    return restored


def export(book: Ledger, folder: Path) -> Manifest:
    """Write the open form into a folder that is empty or new; what cannot be finished goes again."""
    folder = folder.absolute()
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise UnwritablePlaceError(folder, "it is not an empty folder")
    try:
        with _nothing_left(folder), book.store.reading() as connection:
            (folder / portable.ATTACHMENTS).mkdir(parents=True, mode=0o700)
            sink, contents = _folder_sink(folder), io.BytesIO()
            manifest = portable.write(
                connection,
                lambda name: nullcontext(contents) if name == portable.MANIFEST else sink(name),
                book.store.place,
                program=book.program,
                made=_made(book),
            )
            write_whole(
                folder / "readable.txt", readable.text(tables.rows(connection), manifest.head).encode()
            )
            places.flush_folder(folder / portable.ATTACHMENTS)
            # The list of contents comes last: an export that has it is whole, wherever the program dies.
            write_whole(folder / portable.MANIFEST, contents.getvalue())
    except OSError as error:
        raise UnwritablePlaceError(folder, error.strerror or str(error)) from error
    return manifest


@contextmanager
def _nothing_left(folder: Path) -> Iterator[None]:
    """A folder is as it was, empty or not there, where filling it fails."""
    was_there = folder.exists()
    try:
        yield
    except BaseException:
        for one in [*folder.iterdir()] if was_there else [folder]:
            if one.is_dir():
                shutil.rmtree(one, ignore_errors=True)
            else:
                one.unlink(missing_ok=True)
        raise


def import_folder(folder: Path, into: str | None) -> Restored:
    """Put an export into a place where there is no book yet, or one in which nothing was written."""
    folder = folder.absolute()
    source = _folder_source(folder)
    manifest = portable.read_manifest(source, folder.name)
    return _put(source, manifest, into or records.default_place(), folder.name, over_empty=True)


def recover(place: str | None, into: str) -> tuple[Restored, tuple[str, ...]]:
    """Copy what is sound into a new place: all entries before the first bad one. The old book is left untouched."""
    old = records.open_store(place, read_only=True, cut_short=True)
    try:
        with tempfile.TemporaryDirectory(prefix="leanwright-recover-") as made:
            folder = Path(made)
            (folder / portable.ATTACHMENTS).mkdir()
            losses = rescue.save(old, _folder_sink(folder))
            source = _folder_source(folder)
            manifest = portable.read_manifest(source, old.place)
            return _put(source, manifest, into, old.place), losses
    finally:
        old.close()


def _made(book: Ledger) -> str:
    return book.clock().astimezone(UTC).strftime(TIME_FORM)


@contextmanager
def _writing_file(place: Path) -> Iterator[IO[bytes]]:
    with place.open("xb") as stream:
        yield stream
        stream.flush()
        os.fsync(stream.fileno())


def _folder_sink(folder: Path) -> portable.Sink:
    return lambda name: _writing_file(folder / name)


def _folder_source(folder: Path) -> portable.Source:
    def opened(name: str) -> Any:
        place = folder / name
        if place.is_symlink() or not place.is_file():
            raise FileNotFoundError(2, "there is no such file", name)
        return place.open("rb")

    return opened


def _put(
    source: portable.Source, manifest: Manifest, into: str, name: str, *, over_empty: bool = False
) -> Restored:
    """Make a book from an open form; it gets its place only when it is whole and has been walked."""
    if postgresql.is_address(into):
        return _put_into_database(source, manifest, into, name, over_empty=over_empty)
    file = Path(into).expanduser().absolute()
    if file.exists() and not (over_empty and _is_empty(str(file))):
        raise UnusableBookError(str(file), Told("There is something already"), Told("Name another place."))
    if not file.parent.exists():
        file.parent.mkdir(parents=True, mode=places.PRIVATE_FOLDER)
    places.check_place(file)
    folder = Path(tempfile.mkdtemp(dir=file.parent, prefix=f".{file.name[:40]}-"))
    try:
        store = sqlite.make_file(folder / "book.sqlite")
        try:
            verified = _fill(store, source, manifest, name)
        finally:
            store.close()
        _take_place(folder / "book.sqlite", file, over=over_empty and file.exists())
        return Restored(str(file), manifest, verified)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _take_place(made: Path, file: Path, *, over: bool) -> None:
    """Give a finished file its name; by a link, which the system refuses if somebody was quicker."""
    try:
        sqlite.check_whole(made)
        if over:
            made.replace(file)
        else:
            os.link(made, file)
    except FileExistsError as error:
        raise UnusableBookError(
            str(file), Told("There is something already"), Told("Name another place.")
        ) from error
    except OSError as error:
        raise UnwritablePlaceError(file, error.strerror or str(error)) from error
    places.flush_folder(file.parent)


def _is_empty(place: str) -> bool:
    store = records.open_store(place, read_only=True)
    try:
        if schema.form_of(store) is None:
            return False
        with store.reading() as connection:
            return tables.last(connection) is None
    finally:
        store.close()


def _put_into_database(
    source: portable.Source, manifest: Manifest, into: str, name: str, *, over_empty: bool
) -> Restored:
    store = postgresql.open_address(into)
    try:
        if schema.form_of(store) is not None:
            if not (over_empty and _is_empty(into)):
                raise UnusableBookError(
                    store.place, Told("There is a book already"), Told("Name another place.")
                )
            _drop(store)
        return Restored(store.place, manifest, _fill(store, source, manifest, name))
    finally:
        store.close()


def _drop(store: Store) -> None:
    """Take away the tables of a book in which nothing was written."""
    with store.writing() as connection:
        tables.drop(connection)


def _fill(store: Store, source: portable.Source, manifest: Manifest, name: str) -> Verified:
    book = ledger.make(store, manifest.ledger, records.now, records.PROGRAM)
    try:
        with store.writing() as connection:
            portable.read_into(connection, source, manifest, name)
    except RefusedEntryError as error:
        raise UnusableBackupError(name, error.said) from error
    verified = verify(book.store, manifest.head)
    if not verified.sound:
        raise UnusableBackupError(name, verified.problems[0])
    return verified


def verify_document(found: Verified) -> dict[str, Any]:
    """What a walk found, as other programs read it."""
    return {
        "format": "leanwright/book-verify/1",
        "sound": found.sound,
        "entries": found.entries,
        "head": chain.short(found.head) if found.head else None,
        "head_hash": found.head or None,
        "first_bad": found.first_bad,
        "head_entry": found.head_entry,
        "problems": list(found.problems),
    }


def head_words(found: Verified) -> Told:
    """The head in words, and how far the book has gone on since a head that was given."""
    head = chain.grouped(chain.short(found.head))
    if found.head_entry is None:
        return Told("Head {head}.", head=head)
    return Told(
        "Head {head}. The head given is that of entry {entry}; entries since: {since}.",
        head=head, entry=found.head_entry, since=found.entries - found.head_entry,
    )  # fmt: skip


def head_as_printed(head: str) -> str:
    """The short form of a head in four groups, as it stands on every sheet."""
    return chain.grouped(head)


def manifest_document(manifest: Manifest) -> dict[str, Any]:
    """What a backup or an export holds, as other programs read it."""
    return {
        "format": "leanwright/book-copy/1",
        "ledger": manifest.ledger,
        "head": chain.short(manifest.head),
        "head_hash": manifest.head,
        "entries": manifest.entries,
        "attachments": len(manifest.attachments),
        "made": manifest.made,
    }
