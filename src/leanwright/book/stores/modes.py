"""Which mode of SQLite keeps a saved entry through a power cut, by the version of the library that is linked.

Measured before this was built, by cutting the power in simulation: of the common modes only WAL with FULL and the
rollback journal with EXTRA lost nothing. Versions 3.7.0 to 3.51.2 can lose a saved transaction in WAL mode when two
connections write and checkpoint at the same moment; it was mended in 3.51.3, 3.50.7 and 3.44.6 (SQLite's own notes of
these releases). ``tests/book/test_power_cut.py`` repeats the measurement on every change.
"""

from dataclasses import dataclass
from typing import Final, Literal

Version = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Mode:
    """A journal mode and how carefully it flushes; ``level`` is the number that SQLite answers for it."""

    journal: Literal["wal", "delete"]
    synchronous: Literal["FULL", "EXTRA"]

    @property
    def level(self) -> int:
        """What ``PRAGMA synchronous`` answers."""
        return {"FULL": 2, "EXTRA": 3}[self.synchronous]


WAL_FULL: Final = Mode("wal", "FULL")
DELETE_EXTRA: Final = Mode("delete", "EXTRA")
OLDEST: Final[Version] = (3, 37, 0)
"""Strict tables came with it."""
_MENDED: Final[Version] = (3, 51, 3)
_MENDED_BRANCHES: Final[dict[tuple[int, int], int]] = {(3, 50): 7, (3, 44): 6}


def mode_for(version: Version) -> Mode | None:
    """The mode that is safe with a version of the library; ``None`` if there is none.

    >>> mode_for((3, 51, 3)).journal, mode_for((3, 51, 2)).journal, mode_for((3, 50, 7)).journal
    ('wal', 'delete', 'wal')
    >>> mode_for((3, 36, 0)) is None
    True
    """
    if version < OLDEST:
        return None
    mended = version >= _MENDED or version[2] >= _MENDED_BRANCHES.get(version[:2], 1 << 30)
    return WAL_FULL if mended else DELETE_EXTRA


def pragmas(mode: Mode, *, busy_ms: int = 10_000) -> tuple[tuple[str, str | int, str | int | None], ...]:
    """Settings of a connection, in order: name, value, and what has to be read back (``None``: nothing is answered)."""
    return (
        ("busy_timeout", busy_ms, busy_ms),
        ("journal_mode", mode.journal.upper(), mode.journal),
        ("synchronous", mode.synchronous, mode.level),
        ("foreign_keys", "ON", 1),
        ("trusted_schema", "OFF", 0),
        ("cell_size_check", "ON", 1),
        ("mmap_size", 0, None),
        ("recursive_triggers", "ON", 1),
        # On macOS a plain flush stops at the drive's own cache; elsewhere these two change nothing.
        ("fullfsync", "ON", 1),
        ("checkpoint_fullfsync", "ON", 1),
    )
