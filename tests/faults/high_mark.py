"""The most memory that this process had in a while, for tests of what a reader or a request may take."""

import re
import resource
import sys
from collections.abc import Callable
from pathlib import Path

FORGET, HIGH_MARK = Path("/proc/self/clear_refs"), "5"


def risen() -> Callable[[], int]:
    """Begins to watch this process's memory; gives what tells how far it has risen since, at the most [bytes].

    Linux forgets its high mark when told to; elsewhere the mark only ever rises.
    """
    if not FORGET.exists():
        unit = 1 if sys.platform == "darwin" else 1024
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        return lambda: (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) * unit
    FORGET.write_text(HIGH_MARK)
    began = high_mark()
    return lambda: high_mark() - began


def high_mark() -> int:
    """The most memory that this process had since it was told to forget it [bytes]."""
    found = re.search(r"VmHWM:\s+(\d+)", Path("/proc/self/status").read_text("ascii"))
    return int(found[1]) << 10 if found else 0
