"""Files are written whole or not at all."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from leanwright.book.stores.places import flush_folder
from leanwright.errors import UnwritablePlaceError


@contextmanager
def changing(place: Path) -> Iterator[None]:
    """Raise :class:`UnwritablePlaceError` where the system refuses a change of a place, for whatever reason."""
    try:
        yield
    except OSError as error:
        raise UnwritablePlaceError(place, error.strerror or str(error)) from error


def write_whole(place: Path, content: bytes) -> None:
    """Write a file so that a reader sees the old one or the new one, never a part.

    Temporary name in the same folder, write, flush to the disk, rename, flush the folder. A link stays a link: the file
    that it leads to is written.

    Raises
    ------
    UnwritablePlaceError
        If there is a folder or a device in that place, the folder is missing or not writable, or the disk is full;
        nothing is left behind.
    """
    if place.is_symlink():
        place = place.resolve()
    if place.exists() and not place.is_file():
        raise UnwritablePlaceError(place, "It is not an ordinary file")
    try:
        handle, temporary = tempfile.mkstemp(dir=place.parent, prefix=f".{place.name[:40]}-")
    except OSError as error:
        raise UnwritablePlaceError(place, error.strerror or str(error)) from error
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        Path(temporary).chmod(0o644)
        Path(temporary).replace(place)
        flush_folder(place.parent)
    except OSError as error:
        Path(temporary).unlink(missing_ok=True)
        raise UnwritablePlaceError(place, error.strerror or str(error)) from error
