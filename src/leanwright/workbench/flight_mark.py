"""A mark by which one flight is known under any name and in any packing."""

import hashlib
from typing import Final

from leanwright.recordings.recording import Recording

TOLD_BY: Final = ("fuel_flow", "egt")
"""Two flights that agree in every reading of these and in the time of every row are one."""


def flight_mark(recording: Recording) -> str:
    """SHA-256 of what was read, whatever stands above the header."""
    digest = hashlib.sha256(recording.time_s.tobytes())
    for channel in recording.channels:
        if channel.quantity in TOLD_BY and channel.values is not None:
            digest.update(f"{channel.quantity} {channel.cylinder} {channel.engine};".encode())
            digest.update(channel.values.tobytes())
    return digest.hexdigest()
