"""A backup: one file that proves itself, written whole or not at all.

The first line holds the SHA-256 of all that follows, so that one changed bit is seen before anything is read. What follows
is a zip archive of the open form (:mod:`leanwright.book.portable`), taken in one transaction that sees one moment. Its
members stay as they are: most attachments are packed already, and a blank scan packed tightly looks like harm when it is read.
"""

import hashlib
import os
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, Final

from leanwright.book import portable
from leanwright.book.ledger import MOST_ATTACHMENT_BYTES
from leanwright.book.portable import Manifest
from leanwright.book.stores import tables
from leanwright.book.stores.places import flush_folder
from leanwright.book.stores.store import Store
from leanwright.errors import UnusableBackupError, UnwritablePlaceError
from leanwright.told import Told

MARK: Final = b"leanwright backup 1 "
_LINE: Final = len(MARK) + 64 + 1
_CHUNK: Final = 1 << 20
_EPOCH: Final = (1980, 1, 1, 0, 0, 0)
MOST_MEMBERS: Final = 200_000
MOST_RATIO: Final = 400


def write(store: Store, file: Path, *, program: str, made: str) -> Manifest:
    """Write a backup and read it back; it gets its name only when it is whole.

    Raises :class:`UnwritablePlaceError` if it cannot be written there, and :class:`DamagedBookError` for a book that is not
    sound: no backup that can be used gives way to one that cannot.
    """
    file = file.absolute()
    if file.exists() and not is_backup(file):
        raise UnwritablePlaceError(file, "there is another file already")
    _check_same_book(store, file)
    try:
        handle, temporary = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name[:40]}-")
    except OSError as error:
        raise UnwritablePlaceError(file, error.strerror or str(error)) from error
    try:
        with os.fdopen(handle, "w+b") as stream:
            manifest = _write_stream(store, stream, program, made)
            stream.flush()
            os.fsync(stream.fileno())
        if read_manifest(Path(temporary)) != manifest:
            raise UnwritablePlaceError(file, "what was read back is not what was written")
        Path(temporary).replace(file)
        flush_folder(file.parent)
    except OSError as error:
        raise UnwritablePlaceError(file, error.strerror or str(error)) from error
    finally:
        with suppress(OSError):
            Path(temporary).unlink(missing_ok=True)
    return manifest


def _check_same_book(store: Store, file: Path) -> None:
    """A newer backup takes the place of an older one of the same book, and of no other's."""
    try:
        old = read_manifest(file).ledger if file.exists() else None
    except UnusableBackupError:  # what cannot be read keeps nothing safe
        old = None
    with store.reading() as connection:
        own = tables.ledger_of(connection)
    if old not in (None, own):
        raise UnwritablePlaceError(file, "it is the backup of another book")


def _write_stream(store: Store, stream: IO[bytes], program: str, made: str) -> Manifest:
    stream.write(MARK + b"0" * 64 + b"\n")
    with (
        store.reading() as connection,
        zipfile.ZipFile(stream, "w") as archive,
    ):

        @contextmanager
        def sink(name: str) -> Iterator[IO[bytes]]:
            with archive.open(zipfile.ZipInfo(name, _EPOCH), "w", force_zip64=True) as member:
                yield member

        manifest = portable.write(connection, sink, store.place, program=program, made=made)
    digest = _digest(stream)
    stream.seek(len(MARK))
    stream.write(digest.encode())
    return manifest


def _digest(stream: IO[bytes]) -> str:
    stream.seek(_LINE)
    digest = hashlib.sha256()
    while part := stream.read(_CHUNK):
        digest.update(part)
    return digest.hexdigest()


def is_backup(file: Path) -> bool:
    """Whether a file begins as a backup does."""
    try:
        with file.open("rb") as stream:
            return stream.read(len(MARK)) == MARK
    except OSError:
        return False


@contextmanager
def opened(file: Path) -> Iterator[portable.Source]:
    """The members of a backup, once its digest has been checked; raises :class:`UnusableBackupError`."""
    name = file.name
    try:
        with file.open("rb") as stream:
            line = stream.read(_LINE)
            if not line.startswith(MARK):
                raise UnusableBackupError(name, Told("This is no backup of a book"))
            if line != MARK + _digest(stream).encode() + b"\n":
                raise UnusableBackupError(name, Told("It is damaged: its content is not what was written"))
            stream.seek(0)
            with zipfile.ZipFile(stream) as archive:
                _check_members(archive, name)
                yield archive.open
    except zipfile.BadZipFile as error:
        raise UnusableBackupError(name, Told("It is damaged ({reason})", reason=error)) from error
    except OSError as error:
        raise UnusableBackupError(
            name, Told("It cannot be read ({reason})", reason=error.strerror or error)
        ) from error


def _check_members(archive: zipfile.ZipFile, name: str) -> None:
    """Refuse an archive made to do harm: the digest shows damage, not who made it."""
    members = archive.infolist()
    names = [one.filename for one in members]
    known = {portable.ENTRIES, portable.EVENTS, portable.MANIFEST}
    strange = [one for one in names if one not in known and not _is_attachment(one)]
    if strange or len(set(names)) != len(names) or len(names) > MOST_MEMBERS:
        raise UnusableBackupError(name, Told("It holds other things than a book"))
    for one in members:
        blown_up = one.file_size > _CHUNK and one.file_size > MOST_RATIO * max(one.compress_size, 1)
        too_large = _is_attachment(one.filename) and one.file_size > MOST_ATTACHMENT_BYTES
        if blown_up or too_large or one.flag_bits & 1 or one.compress_type not in {0, zipfile.ZIP_DEFLATED}:
            raise UnusableBackupError(
                name, Told("{member} in it is packed in a way that a backup never is", member=one.filename)
            )


def _is_attachment(member: str) -> bool:
    digest = member.removeprefix(portable.ATTACHMENTS)
    return (
        member.startswith(portable.ATTACHMENTS)
        and len(digest) == 64
        and set(digest) <= set("0123456789abcdef")
    )


def read_manifest(file: Path) -> Manifest:
    """What a backup holds, its digest checked."""
    with opened(file) as source:
        return portable.read_manifest(source, file.name)
