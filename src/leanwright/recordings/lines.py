"""Text → numbered lines, in blocks, so that a long recording never lies in memory twice."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from leanwright.recordings.encoding import DAMAGED, Encoding, decoder

BLOCK: Final = 1 << 17
"""Bytes at a time: small, since one odd line makes the reader look closely at its whole block."""


@dataclass(frozen=True, slots=True)
class LineBlock:
    """Consecutive lines without their ends (LF, CRLF or CR), the first one's number, counted from 1."""

    first: int
    lines: list[str]
    open_end: bool = False
    """Whether the last line has no line end, because the text ends there."""


def read_lines(data: bytes | bytearray, encoding: Encoding) -> Iterator[LineBlock]:
    """Every line of a text once, in order."""
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
            yield LineBlock(number, lines)
            number += len(lines)
    if rest and not half_line_end:
        # Half a character at the very end says that the file was cut there; what stands before it may be whole.
        yield LineBlock(number, [rest.removesuffix(DAMAGED) or rest], open_end=True)


def _split(text: str) -> list[str]:
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text.split("\n")
