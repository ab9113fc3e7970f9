"""The one table of limits that keep a hostile or broken file from harming the machine."""

from dataclasses import dataclass
from typing import Final

KIB: Final = 1024
MIB: Final = 1024 * KIB


@dataclass(frozen=True, slots=True)
class Limits:
    """How much is read, and of what; sizes in bytes."""

    file_bytes: int = 256 * MIB
    """A recording as it lies on the disk or comes through a pipe, and what a gzip file unpacks to."""
    unbroken_bytes: int = 1 * MIB
    """Bytes without any line end: beyond this the input is no text in lines, and reading stops at once."""
    archive_members: int = 2000
    member_bytes: int = 64 * MIB
    archive_bytes: int = 1024 * MIB
    """All members together, unpacked."""
    ratio: int = 200
    """Unpacked over packed size, once more than ``ratio_free_bytes`` are unpacked."""
    ratio_free_bytes: int = 1 * MIB
    rows: int = 5_000_000
    columns: int = 512
    row_bytes: int = 64 * KIB
    cell_characters: int = 1024
    name_characters: int = 200
    header_lines: int = 400
    """The header is looked for in so many lines from the start."""
    header_characters: int = 512 * KIB
    """And in so much text."""
    cell_lines: int = 8
    """A quoted cell may run over so many lines."""
    name_lines: int = 100
    """And the names of a header, each with its own line breaks, over so many together."""
    findings_listed: int = 1000
    """Skipped lines that are listed one by one; beyond this they are counted."""


LIMITS: Final = Limits()
