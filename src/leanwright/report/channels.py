"""What was understood of a recording's columns, and which of them need a look."""

from typing import Final

from leanwright.quantities import QUANTITIES
from leanwright.recordings.recording import Channel, Recording
from leanwright.report.words import Voice

_NEEDED: Final = ("time", "egt", "fuel_flow")
_SIGNS: Final = {"degF": "°F", "degC": "°C", "deg": "°", "percent": "%"}
_WITHOUT_UNIT: Final = ("time", "date", "text", "summary", "unknown")


def understood(channel: Channel) -> bool:
    """Whether a column's meaning is known, and its unit where it needs one."""
    if channel.quantity == "unknown":
        return False
    return channel.quantity in _WITHOUT_UNIT or channel.unit is not None


def needs_a_look(recording: Recording) -> tuple[Channel, ...]:
    """Columns that were not understood."""
    return tuple(channel for channel in recording.channels if not understood(channel))


def needed(channel: Channel) -> bool:
    """Whether the answer rests on a column of this kind."""
    return channel.quantity in _NEEDED


def known_from(channel: Channel, voice: Voice) -> str:
    """How a column's unit became known; empty where it has none and needs none."""
    if channel.unit is None and channel.quantity in _WITHOUT_UNIT:
        return ""
    return voice.word("unit-from", channel.unit_from or "none")


def understanding(recording: Recording, voice: Voice) -> str:
    """How many columns were understood, and whether the answer needs the others."""
    look = needs_a_look(recording)
    whole = len(recording.channels)
    if not look:
        return voice.label("understood-all", whole=whole)
    part = whole - len(look)
    if any(needed(channel) for channel in look):
        return voice.label("understood-needed", part=part, whole=whole, look=len(look))
    if not {"egt", "fuel_flow"} <= {channel.quantity for channel in recording.channels}:
        return voice.label("understood-perhaps", part=part, whole=whole, look=len(look))
    return voice.label("understood-idle", part=part, whole=whole, look=len(look))


def inside_unit(channel: Channel) -> str | None:
    """The unit of a channel's values: the one used inside; that of the file where the quantity has none."""
    return QUANTITIES[channel.quantity].unit or channel.unit


def shown_unit(channel: Channel) -> str:
    """A column's unit as people write it; empty where it is not known."""
    return sign(channel.unit or "")


def sign(unit: str) -> str:
    """A unit as people write it in every language.

    >>> sign("degF"), sign("percent"), sign("gal/h")
    ('°F', '%', 'gal/h')
    """
    return _SIGNS.get(unit, unit)
