"""Zip archives from strangers: the directory is checked against the bytes before anything is unpacked."""

import io
import itertools
import re
import stat
import struct
import unicodedata
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from leanwright.errors import NotDelimitedTextError, RefusedArchiveError, TooLargeError
from leanwright.recordings.container import BLOCK, Content, UnbrokenRun, check_ratio, display_name, inflate
from leanwright.recordings.content import SAVE_AS_TEXT, is_gzip, is_zip
from leanwright.recordings.limits import Limits
from leanwright.told import Told

# Layouts of APPNOTE.TXT, the published description of the zip format, sections 4.3.7 and 4.3.16.
LOCAL: Final = struct.Struct("<4s5H3L2H")
END: Final = struct.Struct("<4s4H2LH")
LOCAL_MARK: Final = b"PK\x03\x04"
END_MARK: Final = b"PK\x05\x06"
LONGEST_COMMENT: Final = 0xFFFF
ZIP64: Final = 0xFFFF
STORED: Final = 0
DEFLATED: Final = 8
LOCKED: Final = 0x1 | 0x40 | 0x2000
LATER_SIZES: Final = 0x8
LATER_SIZES_BYTES: Final = 12
UTF8_NAME: Final = 0x800
LONGEST_ENTRY: Final = 1024
DO_NOT_USE: Final = "Do not use this archive; copy the recording from the panel again."
PACK_AGAIN: Final = "Unpack it, and name the recordings in it."
OUTSIDE: Final = re.compile(r"^[/\\]|^[A-Za-z]:|(^|[/\\])\.\.([/\\]|$)")
OFFICE_NAMES: Final = ({"[Content_Types].xml"}, {"mimetype", "content.xml"})


@dataclass(frozen=True, slots=True)
class Member:
    """One file of an archive, and where its packed bytes lie."""

    entry: zipfile.ZipInfo
    start: int
    data: int
    end: int


def read_members(label: str, data: bytearray, limits: Limits) -> Iterator[Content]:
    """Unpack every file of a zip archive, after the whole directory was found to be harmless."""
    entries = _directory(label, data, limits)
    names = {entry.filename for entry in entries}
    if any(office <= names for office in OFFICE_NAMES):
        raise NotDelimitedTextError(
            label, "It is a spreadsheet or office file, not delimited text.", SAVE_AS_TEXT
        )
    for entry in entries:
        _check_entry(label, entry)
    members = [_locate(label, data, entry) for entry in entries]
    _check_overlap(label, members, _end_record(label, data)[1])
    total = 0
    for member in members:
        if _is_recording(member.entry):
            content = _unpack(label, data, member, limits, limits.archive_bytes - total)
            total += len(content.data)
            yield content


def _end_record(label: str, data: bytearray) -> tuple[int, int]:
    """Number of members and place of the directory, by the record at the archive's end."""
    place = data.rfind(END_MARK, max(0, len(data) - END.size - LONGEST_COMMENT))
    if place < 0 or place + END.size > len(data):
        raise RefusedArchiveError(label, "The archive is cut short: its directory is missing.", PACK_AGAIN)
    _, _, _, here, count, size, offset, _ = END.unpack_from(data, place)
    if ZIP64 in {count, here} or offset == 0xFFFFFFFF or size == 0xFFFFFFFF:
        raise RefusedArchiveError(
            label, "It is an archive of the 64-bit kind, which is not read here.", PACK_AGAIN
        )
    if offset + size > place:
        raise RefusedArchiveError(label, "The archive's directory does not lie where it should.", DO_NOT_USE)
    return max(count, here), offset


def _directory(label: str, data: bytearray, limits: Limits) -> list[zipfile.ZipInfo]:
    """The archive's directory; refused before it is read if it is too long."""
    count, offset = _end_record(label, data)
    if count > limits.archive_members or len(data) - offset > limits.archive_members * LONGEST_ENTRY:
        raise _too_many(label, limits)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = archive.infolist()
    except (zipfile.BadZipFile, ValueError, struct.error, NotImplementedError, OverflowError, EOFError):
        raise RefusedArchiveError(label, "The archive's directory is damaged.", DO_NOT_USE) from None
    if len(entries) > limits.archive_members:
        raise _too_many(label, limits)
    if len(entries) != count:
        raise RefusedArchiveError(label, "The archive's directory contradicts itself.", DO_NOT_USE)
    return entries


def _too_many(label: str, limits: Limits) -> TooLargeError:
    return TooLargeError(
        label,
        Told("It holds more than {archive_members} files.", archive_members=limits.archive_members),
        PACK_AGAIN,
    )


def _check_entry(label: str, entry: zipfile.ZipInfo) -> None:
    """Refuse what a plain recording in an archive never is."""
    shown = display_name(entry.orig_filename)
    name = entry.orig_filename
    if OUTSIDE.search(name) or any(unicodedata.category(c) in {"Cc", "Cf", "Cs"} for c in name):
        raise RefusedArchiveError(
            label, Told("It holds a file with a dangerous name ({shown!r}).", shown=shown), DO_NOT_USE
        )
    if entry.flag_bits & LOCKED:
        raise RefusedArchiveError(
            label, Told("{shown!r} in it is locked with a password.", shown=shown), PACK_AGAIN
        )
    if entry.compress_type not in {STORED, DEFLATED}:
        raise RefusedArchiveError(
            label,
            Told("{shown!r} in it is packed by a method that is not read here.", shown=shown),
            PACK_AGAIN,
        )
    form = stat.S_IFMT(entry.external_attr >> 16)
    if form not in {0, stat.S_IFREG, stat.S_IFDIR}:
        raise RefusedArchiveError(
            label, Told("{shown!r} in it is a link or a device, not a file.", shown=shown), DO_NOT_USE
        )


def _locate(label: str, data: bytearray, entry: zipfile.ZipInfo) -> Member:
    """Where a member's header and packed bytes lie, by the header before the bytes."""
    start = entry.header_offset
    if start < 0 or start + LOCAL.size > len(data):
        raise RefusedArchiveError(label, "The archive's directory points outside it.", DO_NOT_USE)
    mark, _, flags, method, _, _, _, _, _, name_size, extra_size = LOCAL.unpack_from(data, start)
    begin = start + LOCAL.size + name_size + extra_size
    end = begin + entry.compress_size + (LATER_SIZES_BYTES if flags & LATER_SIZES else 0)
    name = bytes(data[start + LOCAL.size : start + LOCAL.size + name_size])
    try:
        same = name.decode("utf-8" if flags & UTF8_NAME else "cp437") == entry.orig_filename
    except UnicodeDecodeError:
        same = False
    if mark != LOCAL_MARK or not same or method != entry.compress_type or flags & LOCKED or end > len(data):
        raise RefusedArchiveError(label, "The archive's directory contradicts its contents.", DO_NOT_USE)
    return Member(entry, start, begin, end)


def _check_overlap(label: str, members: list[Member], directory: int) -> None:
    """Refuse members that share bytes with each other or with the directory."""
    inside = sorted(members, key=lambda member: member.start)
    for first, second in itertools.pairwise(inside):
        if first.end > second.start:
            raise RefusedArchiveError(label, "Files in the archive lie over one another.", DO_NOT_USE)
    if inside and inside[-1].end > directory:
        raise RefusedArchiveError(label, "A file in the archive lies over its directory.", DO_NOT_USE)


def _is_recording(entry: zipfile.ZipInfo) -> bool:
    """Whether a member is a file that a person put there: no folder, no hidden file of a file manager."""
    parts = entry.filename.split("/")
    return not entry.is_dir() and not parts[-1].startswith(".") and "__MACOSX" not in parts


def _unpack(label: str, data: bytearray, member: Member, limits: Limits, room: int) -> Content:
    """Unpack one member; sizes are counted, never believed."""
    entry = member.entry
    name = display_name(f"{label}/{entry.filename}", limits.name_characters)
    packed = memoryview(data)[member.data : member.data + entry.compress_size]
    unpacked = bytearray()
    unbroken = UnbrokenRun(name, limits)
    try:
        for block in _blocks(packed, entry.compress_type):
            unpacked += block
            check_ratio(name, len(unpacked), len(packed), limits, min(limits.member_bytes, room))
            if not (is_zip(unpacked) or is_gzip(unpacked)):
                unbroken.see(block)
    except zlib.error:
        raise RefusedArchiveError(name, "The archive is damaged at this file.", DO_NOT_USE) from None
    finally:
        packed.release()
    if len(unpacked) != entry.file_size or zlib.crc32(unpacked) != entry.CRC:
        raise RefusedArchiveError(
            name, "Size or checksum in the archive are wrong for this file.", DO_NOT_USE
        )
    return Content(name, unpacked, packed=True)


def _blocks(packed: memoryview, method: int) -> Iterator[bytes]:
    """The unpacked bytes, a block at a time."""
    if method == DEFLATED:
        yield from inflate(zlib.decompressobj(wbits=-zlib.MAX_WBITS), packed)
    else:
        yield from (bytes(packed[place : place + BLOCK]) for place in range(0, len(packed), BLOCK))
