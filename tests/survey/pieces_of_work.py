"""Work for workers: found by name in another process."""

import os
import time
from pathlib import Path
from typing import Any

from leanwright.errors import EmptyRecordingError


def lengths(place: str, name: str) -> list[dict[str, Any]]:
    """One row with the length of the file; files say themselves what is to go wrong with them."""
    data = Path(place).read_bytes()
    if data.startswith(b"die"):
        os._exit(9)
    if data.startswith(b"once"):
        Path(place).write_bytes(b"calm")
        os._exit(9)
    if data.startswith(b"empty"):
        raise EmptyRecordingError(name, "It is empty: 0 bytes.", "Copy it again.")
    if data.startswith(b"fault"):
        raise ZeroDivisionError("planted")
    if data.startswith(b"waits"):
        Path(place).with_suffix(".pid").write_text(str(os.getpid()), "utf-8")
        time.sleep(60)
    if data.startswith(b"slow"):
        time.sleep(0.5)
    return [{"name": name, "length": len(data)}]
