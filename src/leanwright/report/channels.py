"""What was understood of a recording's columns, and which of them need a look."""

from typing import Final

from leanwright.recordings.recording import Channel, Recording
from leanwright.report.words import Voice

_NEEDED: Final = ("time", "egt", "fuel_flow")
WITHOUT_UNIT: Final = ("text", "date", "summary", "unknown")


def understood(channel: Channel) -> bool:
    """Whether a column's meaning is known, and its unit where it needs one."""
    if channel.quantity == "unknown":
        return False
    return channel.quantity in WITHOUT_UNIT or channel.unit is not None


def guessed(channel: Channel) -> bool:
    """Whether a column is needed for the answer and its unit was told from its values only."""
    return channel.quantity in _NEEDED and channel.unit_from == "values"


def needs_a_look(recording: Recording) -> tuple[Channel, ...]:
    """Columns that were not understood."""
    return tuple(channel for channel in recording.channels if not understood(channel))


def needed(channel: Channel) -> bool:
    """Whether the answer rests on a column of this kind."""
    return channel.quantity in _NEEDED


def understanding(recording: Recording, voice: Voice) -> str:
    """How many columns were understood, and whether the answer needs the others."""
    look = needs_a_look(recording)
    whole = len(recording.channels)
    if not look:
        return voice.label("understood-all", whole=whole)
    part = whole - len(look)
    if any(needed(channel) for channel in look):
        return voice.label("understood-needed", part=part, whole=whole, look=len(look))
    return voice.label("understood-idle", part=part, whole=whole, look=len(look))
