"""Bytes → text, by a rule and not by a guess: mark, NUL pattern, strict UTF-8, else Windows-1252."""

import codecs
from dataclasses import dataclass
from typing import Final

import numpy as np

WIDE_SHARE: Final = 0.7
SAMPLE: Final = 65_536
DAMAGED: Final = "\ufffd"
"""What an undecodable byte becomes; a line that holds it is skipped, so it is never taken for data."""

BYTE_ORDER_MARKS: Final = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))
BYTEWISE: Final = frozenset({"utf-8", "cp1252"})
"""Encodings in which a byte below 128 is always the ASCII character."""


@dataclass(frozen=True, slots=True)
class Encoding:
    """How the bytes stand for characters."""

    codec: str
    mark: int = 0
    """Length of the byte order mark [bytes]."""
    assumed: bool = False
    """Whether nothing in the file says so."""


def detect(data: bytes | bytearray) -> Encoding:
    """Decide the encoding of a whole text.

    >>> detect("°F".encode("utf-8"))
    Encoding(codec='utf-8', mark=0, assumed=False)
    >>> detect("°F".encode("cp1252")).codec
    'cp1252'
    >>> detect("EGT1".encode("utf-16-be")).codec
    'utf-16-be'
    """
    for mark, codec in BYTE_ORDER_MARKS:
        if data.startswith(mark):
            return Encoding(codec, len(mark))
    wide = _wide(bytes(data[:SAMPLE]))
    if wide:
        return Encoding(wide)
    if data.isascii() or _is_mostly_utf8(data):
        return Encoding("utf-8")
    return Encoding("cp1252", assumed=True)


def _wide(sample: bytes) -> str | None:
    """UTF-16 without a mark shows as a NUL in every second byte of what is nearly all ASCII.

    Pairs of two NUL bytes are left out: a broken card leaves whole blocks of them in any encoding.
    """
    if b"\0" not in sample:
        return None
    pairs = np.frombuffer(sample[: len(sample) // 2 * 2], dtype=np.uint8).reshape(-1, 2)
    empty = pairs[pairs.any(axis=1)] == 0
    if not len(empty):
        return None
    first, second = empty.mean(axis=0)
    if second > WIDE_SHARE and first < 1 - WIDE_SHARE:
        return "utf-16-le"
    return "utf-16-be" if first > WIDE_SHARE and second < 1 - WIDE_SHARE else None


def _is_mostly_utf8(data: bytes | bytearray) -> bool:
    """Strict UTF-8, but for a character cut off at the end, or for fewer damaged bytes than sound characters."""
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        decoder.decode(data)
    except UnicodeDecodeError:
        text = data.decode("utf-8", "replace")
        damaged = text.count(DAMAGED)
        sound = len(text) - len(text.encode("ascii", "ignore")) - damaged
        return sound >= damaged
    return True


def decoder(encoding: Encoding) -> codecs.IncrementalDecoder:
    """A decoder that marks what cannot be decoded instead of guessing."""
    if encoding.codec == "cp1252":
        return codecs.getincrementaldecoder("cp1252")("latin1-for-gaps")
    return codecs.getincrementaldecoder(encoding.codec)("replace")


def _latin1_for_gaps(error: UnicodeError) -> tuple[str, int]:
    """The five bytes that Windows-1252 leaves free are control characters in Latin-1."""
    if not isinstance(error, UnicodeDecodeError):
        raise error
    return error.object[error.start : error.end].decode("latin-1"), error.end


codecs.register_error("latin1-for-gaps", _latin1_for_gaps)
