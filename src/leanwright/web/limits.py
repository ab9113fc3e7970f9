"""The one table of limits of the served workbench."""

from dataclasses import dataclass
from typing import Final

KIB: Final = 1024
MIB: Final = 1024 * KIB


@dataclass(frozen=True, slots=True)
class Limits:
    """How much of a request is taken in, how long it may last, and how many at a time; sizes in bytes, times in s."""

    headers: int = 100
    header_bytes: int = 16 * KIB
    target_bytes: int = 4 * KIB
    form_bytes: int = 1 * MIB
    form_fields: int = 1000
    field_bytes: int = 256 * KIB
    upload_bytes: int = 256 * MIB
    """A recording; the readers' own limits come on top."""
    upload_files: int = 100
    idle_s: float = 15.0
    """Time without a byte of a body."""
    request_s: float = 60.0
    upload_s: float = 600.0
    at_once: int = 100
    """Requests worked on at a time, from everybody."""
    at_once_of_one: int = 20
    """The same, of one session."""
    imports_at_once: int = 2
    imports_waiting: int = 20
    link_s: float = 60.0
    """How long a one-time address can be opened."""
    session_idle_s: float = 3600.0
    session_s: float = 12 * 3600.0
    sessions: int = 25
    free_bytes: int = 500 * MIB
    """Room that an upload has to leave on the disk."""
    worker_bytes: int = 1024 * MIB
    worker_cpu_s: int = 60
    worker_s: float = 120.0
    reading_bytes: int = 512 * MIB
    """What a worker may hand back."""


LIMITS: Final = Limits()
