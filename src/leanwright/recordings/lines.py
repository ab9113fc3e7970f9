"""Text → numbered lines, in blocks, so that a long recording never lies in memory twice."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from leanwright.recordings.encoding import BYTEWISE, DAMAGED, Encoding, decoder

LINE_END: Final = ord("\n")
BLOCK: Final = 1 << 17
"""Bytes at a time: small, since one odd line makes the reader look closely at its whole block."""


@dataclass(frozen=True, slots=True)
class LineBlock:
    """Consecutive lines, and the first one's number, counted from 1."""

    first: int
    content: list[str] | bytes
    """Lines without their ends; or their bytes, each line ended by LF, none of them cut."""
    encoding: Encoding
    open_end: bool = False
    """Whether the last line has no line end, because the text ends there."""

    @property
    def raw(self) -> bytes | None:
        """The bytes of whole lines, where a byte below 128 is the ASCII character; else ``None``."""
        return self.content if isinstance(self.content, bytes) else None

    @property
    def lines(self) -> list[str]:
        """The lines without their ends (LF, CRLF or CR)."""
        if isinstance(self.content, list):
            return self.content
        return decoder(self.encoding).decode(self.content, final=True).split("\n")[:-1]


def read_lines(data: bytes | bytearray, encoding: Encoding) -> Iterator[LineBlock]:
    """Every line of a text once, in order."""
    returns = b"\r" in data
    if encoding.codec not in BYTEWISE or (returns and data.count(b"\r") != data.count(b"\r\n")):
        return _text_blocks(data, encoding)
    return _byte_blocks(data, encoding, returns=returns)


def count_lines(data: bytes | bytearray) -> int:
    """How many line ends there are, where a byte below 128 is the ASCII character."""
    codes = np.frombuffer(data, dtype=np.uint8)
    parts = range(0, codes.size, BLOCK)
    return sum(int(np.count_nonzero(codes[place : place + BLOCK] == LINE_END)) for place in parts)


def _byte_blocks(data: bytes | bytearray, encoding: Encoding, *, returns: bool) -> Iterator[LineBlock]:
    """Lines that can be told apart without decoding them."""
    number, place, view = 1, encoding.mark, memoryview(data)
    while place < len(data):
        end = data.rfind(b"\n", place, place + BLOCK) + 1 or data.find(b"\n", place + BLOCK) + 1
        if not end:
            rest = decoder(encoding).decode(bytes(view[place:]), final=True)
            # Half a character at the very end says that the file was cut there; what stands before it may be whole.
            yield LineBlock(number, [rest.removesuffix(DAMAGED) or rest], encoding, open_end=True)
            return
        raw = bytes(view[place:end])
        raw = raw.replace(b"\r\n", b"\n") if returns else raw
        yield LineBlock(number, raw, encoding)
        number += count_lines(raw)
        place = end


def _text_blocks(data: bytes | bytearray, encoding: Encoding) -> Iterator[LineBlock]:
    """Lines of a text that has to be decoded first, or whose lines end in several ways."""
    decode = decoder(encoding).decode
    number = 1
    rest = ""
    half_line_end = False
    for place in range(encoding.mark, len(data), BLOCK):
        last = place + BLOCK >= len(data)
        text = rest + decode(bytes(data[place : place + BLOCK]), last)
        held = "\r" if text.endswith("\r") and not last else ""
        # Of a two-byte "\n" that was cut in half after its "\r", nothing is left to be a line.
        half_line_end = text.endswith("\r" + DAMAGED) and "\r\n" in text
        lines = _split(text.removesuffix(held))
        rest = lines.pop() + held
        if lines:
            yield LineBlock(number, lines, encoding)
            number += len(lines)
    if rest and not half_line_end:
        yield LineBlock(number, [rest.removesuffix(DAMAGED) or rest], encoding, open_end=True)


def _split(text: str) -> list[str]:
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text.split("\n")
