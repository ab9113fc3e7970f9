"""From a place or a stream to the bytes of each recording in it: plain, gzip or zip, within the limits."""

import hashlib
import stat
import unicodedata
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from io import FileIO
from pathlib import Path
from typing import BinaryIO, Final, Protocol

from leanwright.errors import (
    EmptyRecordingError,
    NotDelimitedTextError,
    RefusedArchiveError,
    TooLargeError,
    UnreachableRecordingError,
)
from leanwright.recordings.content import UNPACK, is_gzip, is_zip, strange_kind
from leanwright.recordings.limits import LIMITS, MIB, Limits
from leanwright.told import Told

BLOCK: Final = 1 * MIB
NAME_A_FILE: Final = "Name a recording, as the panel exported it."
FETCH_AGAIN: Final = "Copy it from the panel again."
SPLIT: Final = "Export one flight at a time, and name that file."


@dataclass(frozen=True, slots=True)
class Content:
    """The unpacked bytes of one recording."""

    name: str
    data: bytearray
    cut: bool = False
    """Whether the packed file ended too early."""
    packed: bool = False
    """Whether it came out of gzip or zip."""

    @property
    def sha256(self) -> str:
        """Digest of the unpacked bytes, so that a recording is known again however it was packed."""
        return hashlib.sha256(self.data).hexdigest()


def display_name(name: str, longest: int = LIMITS.name_characters) -> str:
    r"""A name from outside as a label: without control and direction characters, and not too long.

    >>> display_name("flight\u202e\x07.csv")
    'flight.csv'
    """
    # Of what can be printed nothing is left out.
    kept = (
        name
        if name.isprintable()
        else "".join(c for c in name if unicodedata.category(c) not in {"Cc", "Cf", "Cs", "Co", "Zl", "Zp"})
    )
    return kept if len(kept) <= longest else kept[: longest - 1] + "…"


def read_contents(source: Path | BinaryIO, name: str | None, limits: Limits = LIMITS) -> Iterator[Content]:
    """The contents of a file, or of every member of an archive, one after the other."""
    if isinstance(source, Path):
        label = display_name(name or source.name or str(source), limits.name_characters)
        data = _read_file(source, label, limits)
    else:
        label = display_name(name or "standard input", limits.name_characters)
        data = _read_stream(source, label, limits)
    if not data:
        raise EmptyRecordingError(label, "It is empty: 0 bytes.", FETCH_AGAIN)
    if is_zip(data):
        from leanwright.recordings.archive import read_members

        yield from read_members(label, data, limits)
    elif is_gzip(data):
        yield _unpack_gzip(label, data, limits)
    else:
        yield Content(label, data)


def check_kind(content: Content) -> None:
    """Refuse what cannot be delimited text."""
    if not content.data:
        raise EmptyRecordingError(content.name, "It is empty: 0 bytes.", FETCH_AGAIN)
    if content.packed and (is_zip(content.data) or is_gzip(content.data)):
        raise RefusedArchiveError(content.name, "It is an archive inside an archive.", UNPACK)
    kind = strange_kind(content.data)
    if kind is not None:
        raise NotDelimitedTextError(content.name, kind.what, kind.next_step)


def _read_file(path: Path, label: str, limits: Limits) -> bytearray:
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise UnreachableRecordingError(
                label, "It is a folder, not a file.", "Name the recordings in it."
            )
        if status.st_size > limits.file_bytes:
            raise _too_large(label, limits)
        with path.open("rb", buffering=0) as stream:
            return _read_stream(stream, label, limits, status.st_size)
    except FileNotFoundError:
        raise UnreachableRecordingError(
            label, "There is no such file.", "Check the name and the folder."
        ) from None
    except PermissionError:
        raise UnreachableRecordingError(
            label,
            "You may not read this file.",
            "Ask its owner for the right to read it, or copy it to your own folder.",
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise UnreachableRecordingError(
            label, Told("It cannot be read ({reason}).", reason=reason), NAME_A_FILE
        ) from None


def _read_stream(stream: BinaryIO | FileIO, label: str, limits: Limits, expected: int = 0) -> bytearray:
    """All bytes of a stream; stops early at a limit, so that no input fills the memory.

    Room for the ``expected`` bytes of a file is made at once; a file that grows meanwhile is read to its new end.
    """
    unbroken = UnbrokenRun(label, limits)
    data = bytearray(expected)
    filled = 0
    with memoryview(data) as room:
        while isinstance(stream, FileIO) and (count := stream.readinto(room[filled : filled + BLOCK])):
            if not (is_zip(data) or is_gzip(data)):
                unbroken.see(data, filled, filled + count)
            filled += count
    del data[filled:]
    while block := stream.read(BLOCK):
        data += block
        if len(data) > limits.file_bytes:
            raise _too_large(label, limits)
        if not (is_zip(data) or is_gzip(data)):
            unbroken.see(block)
    return data


class UnbrokenRun:
    """Watches a stream for more bytes without a line end than any text in lines has."""

    def __init__(self, label: str, limits: Limits) -> None:
        self._label = label
        self._limit = limits.unbroken_bytes
        self._run = 0

    def see(self, data: bytes | bytearray, start: int = 0, end: int | None = None) -> None:
        """Count on from one block, or from a part of one; NUL bytes end a run, since a card may leave blocks of them."""
        end = len(data) if end is None else end
        last = max(data.rfind(mark, start, end) for mark in (b"\n", b"\r", b"\0"))
        self._run = self._run + end - start if last < 0 else end - last - 1
        if self._run > self._limit:
            raise TooLargeError(
                self._label,
                Told(
                    "It goes on for more than {limit} MiB without a line end, so it is no text in lines.",
                    limit=self._limit // MIB,
                ),
                "Name the recording itself, exported from the panel as delimited text (CSV).",
            )


def _too_large(label: str, limits: Limits) -> TooLargeError:
    return TooLargeError(
        label, Told("It is larger than {file_bytes} MiB.", file_bytes=limits.file_bytes // MIB), SPLIT
    )


def _unpack_gzip(label: str, data: bytearray, limits: Limits) -> Content:
    """Unpack gzip members one after the other (RFC 1952, section 2.2); what follows them is no part of it."""
    unpacked = bytearray()
    unbroken = UnbrokenRun(label, limits)
    start = 0
    cut = False
    with memoryview(data) as packed:
        while is_gzip(data[start : start + 2]) and not cut:
            inflater = zlib.decompressobj(wbits=16 + zlib.MAX_WBITS)
            try:
                for block in inflate(inflater, packed[start:]):
                    unpacked += block
                    check_ratio(label, len(unpacked), len(data), limits, limits.file_bytes)
                    unbroken.see(block)
            except zlib.error:
                raise RefusedArchiveError(label, "The gzip file is damaged.", FETCH_AGAIN) from None
            cut = not inflater.eof
            start = len(data) - len(inflater.unused_data)
    return Content(label, unpacked, cut, packed=True)


class Inflater(Protocol):
    """What is used of :func:`zlib.decompressobj`."""

    @property
    def eof(self) -> bool:
        """Whether the packed stream has come to its end."""

    @property
    def unconsumed_tail(self) -> bytes:
        """Input that had to wait because of the limit on the output."""

    def decompress(self, data: bytes | memoryview, max_length: int, /) -> bytes:
        """Unpack at most so many bytes."""


def inflate(inflater: Inflater, packed: memoryview) -> Iterator[bytes]:
    """The unpacked bytes, never more than a block at a time."""
    for place in range(0, len(packed), BLOCK):
        pending: bytes | memoryview = packed[place : place + BLOCK]
        while not inflater.eof:
            block = inflater.decompress(pending, BLOCK)
            pending = inflater.unconsumed_tail
            yield block
            if not pending and len(block) < BLOCK:
                break


def check_ratio(label: str, unpacked: int, packed: int, limits: Limits, most: int) -> None:
    """Refuse what unpacks to more than the limit, or far more than its packed size."""
    if unpacked > limits.ratio_free_bytes and unpacked > limits.ratio * packed:
        raise RefusedArchiveError(
            label,
            Told(
                "It unpacks to more than {ratio} times its size, as recordings never do.", ratio=limits.ratio
            ),
            "Do not use this file; copy the recording from the panel again.",
        )
    if unpacked > most:
        raise TooLargeError(label, Told("It unpacks to more than {most} MiB.", most=most // MIB), SPLIT)
