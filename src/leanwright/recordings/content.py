"""Kind of content by its first bytes, never by the file's name."""

from dataclasses import dataclass
from typing import Final

SAVE_AS_TEXT: Final = "Open it in a spreadsheet program, save it as CSV, and name that file."
EXPORT: Final = "Name the recording itself, exported from the panel as delimited text (CSV)."
UNPACK: Final = "Unpack it first, and name the recordings in it."


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of content that is no delimited text."""

    what: str
    next_step: str


_PICTURE = Kind("It is a picture, not a recording.", EXPORT)
_SHEET = Kind("It is a spreadsheet file, not delimited text.", SAVE_AS_TEXT)
_PACKED = Kind("It is packed in a form that is not read here (only gzip and zip are).", UNPACK)

# Published file signatures (the "magic numbers" of each format's own specification), with their place.
SIGNATURES: Final[tuple[tuple[int, bytes, Kind], ...]] = (
    (0, b"\x89PNG\r\n\x1a\n", _PICTURE),
    (0, b"\xff\xd8\xff", _PICTURE),
    (0, b"GIF87a", _PICTURE),
    (0, b"GIF89a", _PICTURE),
    (0, b"II*\x00", _PICTURE),
    (0, b"MM\x00*", _PICTURE),
    (0, b"BM", _PICTURE),
    (8, b"WEBP", _PICTURE),
    (4, b"ftyp", Kind("It is a picture or a film, not a recording of an engine.", EXPORT)),
    (0, b"%PDF-", Kind("It is a PDF document, not a recording.", EXPORT)),
    (0, b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", Kind("It is an old office document, not delimited text.", SAVE_AS_TEXT)),
    (0, b"BZh", _PACKED),
    (0, b"\xfd7zXZ\x00", _PACKED),
    (0, b"7z\xbc\xaf\x27\x1c", _PACKED),
    (0, b"Rar!\x1a\x07", _PACKED),
    (0, b"\x28\xb5\x2f\xfd", _PACKED),
    (257, b"ustar", Kind("It is a tar archive.", UNPACK)),
    (0, b"SQLite format 3\x00", Kind("It is a database, not a recording.", EXPORT)),
    (0, b"PAR1", Kind("It is a Parquet table, not delimited text.", EXPORT)),
    (0, b"\x7fELF", Kind("It is a program, not a recording.", EXPORT)),
    (0, b"{\\rtf", Kind("It is a word processor's document, not delimited text.", EXPORT)),
)  # fmt: skip
MARKUP: Final = (b"<!doctype", b"<html", b"<?xml", b"<svg", b"<gpx", b"<kml")
GZIP: Final = b"\x1f\x8b"
ZIP: Final = (b"PK\x03\x04", b"PK\x05\x06", b"PK\x07\x08")


def is_zip(data: bytes | bytearray) -> bool:
    """Whether the content is a zip archive."""
    return data[:4] in ZIP


def is_gzip(data: bytes | bytearray) -> bool:
    """Whether the content is packed with gzip (RFC 1952)."""
    return data[:2] == GZIP


def strange_kind(data: bytes | bytearray) -> Kind | None:
    """The kind of a content that cannot be a recording; ``None`` if it may be one."""
    for place, mark, kind in SIGNATURES:
        if data[place : place + len(mark)] == mark and not (mark == b"BM" and _is_text(data)):
            return kind
    start = bytes(data[:512]).removeprefix(b"\xef\xbb\xbf").lstrip().lower()
    if start.startswith(MARKUP):
        return Kind("It is a page or a document with markup, not delimited text.", EXPORT)
    if start[:1] in {b"{", b"["} and b'":' in start:
        return Kind("It is JSON, not delimited text.", EXPORT)
    if not _is_text(data):
        return Kind("It holds binary data, not delimited text.", EXPORT)
    return None


def _is_text(data: bytes | bytearray) -> bool:
    """Whether the start has few control characters; NUL is judged elsewhere (UTF-16, damaged blocks)."""
    start = bytes(data[:8192])
    controls = sum(
        start.count(bytes((code,))) for code in (*range(1, 9), *range(14, 27), *range(28, 32), 127)
    )
    return controls <= len(start) // 50
