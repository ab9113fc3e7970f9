"""The hash chain: what ties each entry to the one before it, and the short form of its newest link.

SHA-256 (FIPS 180-4) over one byte that marks the domain, the hash before, and the bytes. The mark keeps an entry from
being taken for an event or for the beginning of a book (the same idea as the prefixes of RFC 9162, 2.1.1).
"""

import hashlib
import re
from typing import Final

GENESIS_MARK: Final = b"\x00"
ENTRY_MARK: Final = b"\x01"
EVENT_MARK: Final = b"\x02"
ALPHABET: Final = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Digits and letters without I, L, O and U, which are misread or misheard."""
SHORT_LENGTH: Final = 20
_SIGNS: Final = 18


def genesis(ledger: str) -> str:
    """What stands in the place of the hash before the first entry: derived from the book's own name.

    >>> genesis("0" * 32)[:16]
    '834c3e2512229a46'
    """
    return hashlib.sha256(GENESIS_MARK + ledger.encode()).hexdigest()


def link(mark: bytes, previous: str, data: bytes) -> str:
    """The hash of an entry or an event, from the hash before it and its canonical bytes."""
    return hashlib.sha256(mark + bytes.fromhex(previous) + data).hexdigest()


def short(head: str) -> str:
    """The short form of a hash: its first 90 bits in 18 signs, and two check digits (ISO/IEC 7064, MOD 97-10).

    >>> short("00" * 32)
    '00000000000000000098'
    """
    bits = int(head, 16) >> (256 - 5 * _SIGNS)
    signs = "".join(ALPHABET[bits >> 5 * place & 31] for place in reversed(range(_SIGNS)))
    return signs + check_digits(signs)


def grouped(head: str) -> str:
    """The short form as it is printed, in four groups.

    >>> grouped("00000000000000000098")
    '00000-00000-00000-00098'
    """
    return "-".join(head[start : start + 5] for start in range(0, len(head), 5))


def check_digits(signs: str) -> str:
    """Two check digits of a text of digits and letters (ISO/IEC 7064, MOD 97-10, as in ISO 13616).

    The example of ISO 13616: bank and account first, then the country, check digits 82.

    >>> check_digits("WEST12345698765432GB")
    '82'
    """
    number = int("".join(str(int(sign, 36)) for sign in signs) + "00")
    return f"{98 - number % 97:02d}"


def readable(text: str) -> str | None:
    """A head as somebody typed it: 64 hexadecimal digits, or the short form, checked; ``None`` if it is neither.

    >>> readable("00000-00000 00000-OOO98")
    '00000000000000000098'
    >>> readable("00000-00000-00000-00089") is None
    True
    """
    plain = re.sub(r"[\s-]", "", text)
    if re.fullmatch(r"[0-9a-fA-F]{64}", plain):
        return plain.lower()
    plain = plain.upper().translate(str.maketrans("OIL", "011"))
    if len(plain) != SHORT_LENGTH or not set(plain) <= set(ALPHABET):
        return None
    return plain if check_digits(plain[:_SIGNS]) == plain[_SIGNS:] else None


def is_head(text: str, head: str) -> bool:
    """Whether a readable head is that of a hash."""
    return text in {head, short(head)}
