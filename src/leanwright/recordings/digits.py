"""Cells of up to eight characters → numbers, all at once: eight bytes of text are one 64-bit word.

Bytes of a word are worked on together, after D. Lemire, "Quickly parsing eight digits" (2018, in the public domain). A
whole number below 10^8 and a power of ten up to 10^8 are exact as floats, and their quotient is rounded once
(IEEE 754-2019, section 5.4.1): the result is the float that Python reads in the same text, bit for bit.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Places = NDArray[np.int64]
Floats = NDArray[np.float64]

WIDTH: Final = 8
MINUS: Final = ord("-")
BLANK: Final = ord(" ")


def _each(byte: int) -> np.uint64:
    """A word of eight equal bytes."""
    return np.uint64(byte * 0x0101010101010101)


NOUGHTS: Final = _each(0x30)
HIGH_BITS: Final = _each(0x80)
LOW_BITS: Final = _each(0x7F)
BEYOND_NINE: Final = _each(0x46)
"""Added to a byte, it sets the high bit of all above the digit nine."""
ONE: Final = np.uint64(1)
SEVEN: Final = np.uint64(7)
EIGHT: Final = np.uint64(8)
PAIRS: Final = np.uint64(0x000000FF000000FF)
# The last so many bytes of a word, which are its highest: the first character lies lowest.
LAST: Final = np.array(
    [(2**64 - 1) ^ (2 ** (8 * (WIDTH - n)) - 1) for n in range(WIDTH + 1)], dtype=np.uint64
)
# Times this, the lowest bit of byte k becomes the number k + 1 in the highest four bits.
TO_PLACE: Final = np.uint64(sum((k + 1) << (60 - 8 * k) for k in range(WIDTH)))
SCALE: Final = np.array([1.0, *(10.0 ** (WIDTH - 1 - k) for k in range(WIDTH))])
"""What a number without its mark is to be divided by, for a mark at place k + 1; nought is no mark."""


def read_digits(
    text: Bytes, starts: Places, ends: Places, decimal: str, *, padded: bool = True
) -> tuple[Floats, NDArray[np.bool_]]:
    """Numbers of the cells from ``starts`` to ``ends`` (exclusive) of an ASCII text, and which of them are such.

    A number has a sign or none, digits, and at most one mark; what is written in another way is left to a closer look.
    Before the first cell there have to be eight bytes. Blanks around cells are passed over if they are ``padded``.
    """
    if padded:
        starts, ends = _without_padding(text, starts, ends)
    lengths = ends - starts
    negative = (text[starts] == MINUS) & (lengths > 0)
    lengths = lengths - negative
    # Eight bytes from every place on, without a copy.
    words = np.ndarray((text.size - WIDTH + 1,), dtype="<u8", buffer=text, strides=(1,))[ends - WIDTH]
    kept = LAST[np.minimum(lengths, WIDTH)]
    words = (words & kept) | (NOUGHTS & ~kept)
    marks = ~((words ^ _each(ord(decimal))) + LOW_BITS) & HIGH_BITS
    words, places = _without_mark(words, marks)
    sound = (((words + BEYOND_NINE) | (words - NOUGHTS)) & HIGH_BITS) == 0
    sound &= (lengths - (places > 0) > 0) & (lengths <= WIDTH)
    values = _whole(words) / SCALE[places]
    np.negative(values, out=values, where=negative)
    return values, sound


def _without_padding(text: Bytes, starts: Places, ends: Places) -> tuple[Places, Places]:
    """The cells without blanks around them."""
    while True:
        blank = (text[starts] == BLANK) & (starts < ends)
        if not blank.any():
            break
        starts = starts + blank
    while True:
        blank = (text[ends - 1] == BLANK) & (starts < ends)
        if not blank.any():
            return starts, ends
        ends = ends - blank


def _without_mark(words: NDArray[np.uint64], marks: NDArray[np.uint64]) -> tuple[NDArray[np.uint64], Places]:
    """The digits alone, those before the decimal mark moved up to it, and the mark's place (nought: none).

    Where there are two marks, one of them stays, and is no digit.
    """
    lowest = marks & (~marks + ONE)
    bit = lowest >> SEVEN
    before = bit - ONE
    moved = (words & ~(before | (bit * np.uint64(0xFF)))) | ((words & before) << EIGHT) | np.uint64(0x30)
    places = ((bit * TO_PLACE) >> np.uint64(60)).astype(np.int64)
    return np.where(marks > 0, moved, words), places


def _whole(words: NDArray[np.uint64]) -> Floats:
    """The number of eight digits: neighbours are joined to pairs, pairs to fours, fours to eight."""
    digits = words - NOUGHTS
    digits = digits * np.uint64(10) + (digits >> EIGHT)
    low = (digits & PAIRS) * np.uint64(0x000F424000000064)
    high = ((digits >> np.uint64(16)) & PAIRS) * np.uint64(0x0000271000000001)
    return ((low + high) >> np.uint64(32)).astype(np.uint32).astype(np.float64)
