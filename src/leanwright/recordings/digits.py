"""Cells of up to eight characters → numbers, all at once: eight bytes of text are one 64-bit word.

Bytes of a word are worked on together, after D. Lemire, "Quickly parsing eight digits" (2018, in the public domain). A
whole number below 10^8 and a power of ten up to 10^8 are exact as floats, and their quotient is rounded once
(IEEE 754-2019, section 5.4.1): the result is the float that Python reads in the same text, bit for bit.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.recordings.room import Room

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
LONGEST_MARK: Final = ONE << np.uint64(8 * (WIDTH - 1))
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
NO_DIGIT: Final = _each(0x10)
"""Of a byte less the digit nought: this bit is set in both marks, in a sign and in a blank, and in no digit."""
HIGH_HALVES: Final = _each(0xF0)
BEYOND: Final = _each(0x06)
"""Added to a byte, it sets a bit of the high half of all above nine."""
LONGEST_SHIFT: Final = np.uint64(8 * (WIDTH - 1))


def read_columns(
    text: Bytes, ends: Places, lengths: Places, columns: list[int], decimal: str, room: Room
) -> tuple[Floats, NDArray[np.bool_]]:
    """Numbers of some columns of a table, by column and row, and which cells are such.

    ``ends`` (exclusive) and ``lengths`` of the cells hold a row for each line. In most columns the decimal mark stands
    at the same place from the right in every cell: those are read together; the other cells one by one, as
    :func:`read_digits` does. The numbers lie in ``room``, and are gone with its next use.
    """
    shifts = np.subtract(WIDTH, lengths, out=room.take("shifts", lengths.shape, np.int64))
    shifts *= 8
    keep = shifts.view(np.uint64)
    loose = _words(text, np.subtract(ends, WIDTH, out=room.take("places", ends.shape, np.int64)))
    loose ^= NOUGHTS
    loose >>= keep
    loose <<= keep
    # An empty cell, or one that is too long for a word: no digits.
    np.copyto(loose, HIGH_HALVES, where=keep > LONGEST_SHIFT)
    shape = len(columns), len(lengths)
    words = room.take("words", shape, np.uint64)
    np.take(loose.T, columns, axis=0, out=words, mode="clip")
    bits = _mark_bits(words[:, [0, shape[1] // 2, -1]])
    mark = bits * np.uint64(ord(decimal) ^ 0x30)
    unlike = np.bitwise_and(
        words, NO_DIGIT | (bits * np.uint64(0xFF)), out=room.take("unlike", shape, np.uint64)
    )
    unlike ^= mark
    before = np.where(bits > 0, bits - ONE, np.uint64(0))
    digits = np.bitwise_and(words, before, out=room.take("digits", shape, np.uint64))
    digits *= np.uint64(0xFF)
    digits += words
    digits -= mark
    np.add(digits, BEYOND, out=words)
    words |= digits
    words &= HIGH_HALVES
    unlike |= words
    sound = unlike == 0
    values = room.take("values", shape, np.float64)
    values[...] = _whole(digits, behind=words)
    values /= SCALE[_places(bits)]
    odd = np.flatnonzero(~sound)
    row, cells = odd % shape[1], np.asarray(columns, dtype=np.int64)[odd // shape[1]]
    filled = lengths[row, cells] > 0
    if filled.any():
        odd, row, cells = odd[filled], row[filled], cells[filled]
        last = ends[row, cells]
        values.ravel()[odd], sound.ravel()[odd] = read_digits(text, last - lengths[row, cells], last, decimal)
    return values, sound


def _mark_bits(samples: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """The lowest bit of the byte at which the decimal mark of a column stands, told from some cells; nought: none.

    A mark at the very end is left to :func:`read_digits`, since it may stand there without any digit.
    """
    bits = (samples & NO_DIGIT) >> np.uint64(4)
    alone = ((bits & (bits - ONE)) == 0) & (bits < LONGEST_MARK)
    highest: NDArray[np.uint64] = np.where(alone, bits, np.uint64(0)).max(axis=1, keepdims=True)
    return highest


def _places(bits: NDArray[np.uint64]) -> Places:
    """The place of the byte whose lowest bit is given, counted from 1; nought for none."""
    return ((bits * TO_PLACE) >> np.uint64(60)).astype(np.int64)


def _words(text: Bytes, places: Places) -> NDArray[np.uint64]:
    """The eight bytes from each place on, without a copy of the text."""
    every: NDArray[np.uint64]
    every = np.ndarray((text.size - WIDTH + 1,), dtype="<u8", buffer=text.data, strides=(1,))
    words: NDArray[np.uint64] = every[places]
    return words


def read_digits(text: Bytes, starts: Places, ends: Places, decimal: str) -> tuple[Floats, NDArray[np.bool_]]:
    """Numbers of the cells from ``starts`` to ``ends`` (exclusive) of an ASCII text, and which of them are such.

    A number has a sign or none, digits, and at most one mark; what is written in another way is left to a closer look.
    Before the first cell there have to be eight bytes.
    """
    lengths = ends - starts
    negative = (text[starts] == MINUS) & (lengths > 0)
    lengths = lengths - negative
    words = _words(text, ends - WIDTH)
    kept = LAST[np.minimum(lengths, WIDTH)]
    words = (words & kept) | (NOUGHTS & ~kept)
    marks = ~((words ^ _each(ord(decimal))) + LOW_BITS) & HIGH_BITS
    words, places = _without_mark(words, marks)
    sound = (((words + BEYOND_NINE) | (words - NOUGHTS)) & HIGH_BITS) == 0
    sound &= (lengths - (places > 0) > 0) & (lengths <= WIDTH)
    words -= NOUGHTS
    values = _whole(words, behind=np.empty_like(words)) / SCALE[places]
    np.negative(values, out=values, where=negative)
    return values, sound


def without_padding(text: Bytes, starts: Places, ends: Places) -> tuple[Places, Places]:
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
    return np.where(marks > 0, moved, words), _places(bit)


def _whole(digits: NDArray[np.uint64], *, behind: NDArray[np.uint64]) -> NDArray[np.int32]:
    """The number of eight digits: neighbours are joined to pairs, pairs to fours, fours to eight; uses up both arrays."""
    np.right_shift(digits, EIGHT, out=behind)
    digits *= np.uint64(10)
    digits += behind
    np.right_shift(digits, np.uint64(16), out=behind)
    digits &= PAIRS
    digits *= np.uint64(0x000F424000000064)
    behind &= PAIRS
    behind *= np.uint64(0x0000271000000001)
    digits += behind
    # The upper half of each word is the number, below 10^8.
    halves: NDArray[np.int32] = digits.astype("<u8", copy=False).view("<i4").reshape(*digits.shape, 2)
    return halves[..., 1]
