"""The plot over time: which channels are drawn, thinned values of what is seen, and what a stretch of it comes to."""

import struct
from collections.abc import Sequence
from typing import Any, Final

import msgspec
import numpy as np
from starlette.responses import Response

from leanwright.analysis.measured import Measured
from leanwright.quantities import QUANTITIES
from leanwright.recordings.recording import Channel, Recording
from leanwright.report.numbers import clock, plain
from leanwright.report.series import Stretch, stretch, thinned
from leanwright.report.units import sign_of
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from leanwright.told import Told
from leanwright.web.pages.asked import measured, one_recording
from leanwright.web.refusal import RefusedError
from leanwright.web.show import page
from leanwright.web.visit import Visit, unusable

COLUMNS_OF_PLOT: Final = 1200
"""Steps in time that one plot is sent in; each holds the lowest and the highest value."""
PLOTTED: Final = ("fuel_flow", "egt", "cht", "manifold_pressure", "engine_speed")
MOST_MORE: Final = 6
"""Further channels that are drawn on demand."""
UNIT_KEYS: Final = {
    "gal/h": "gph", "degF": "f", "inHg": "inhg", "rpm": "rpm", "ft": "ft", "kt": "kt", "percent": "percent",
}  # fmt: skip
"""Keys of the units that depend on the reader; others are everybody's."""
DECIMALS: Final = {"gph": 2, "inhg": 2, "f": 0, "rpm": 0, "ft": 0, "kt": 0, "percent": 0}


def trace(visit: Visit) -> Response:
    """The plotted channels between two times, thinned to what can be seen: little-endian floats after a line of JSON.

    For every step in time its middle, then for each channel the lowest and the highest value in it.
    """
    found = _found(visit)
    recording = found.results[0].recording
    start, end = (
        _seconds(visit, name, default) for name, default in (("from", 0.0), ("to", recording.duration_s))
    )
    drawn = _drawn(visit, recording, found.engine)
    voice = voice_of(visit, found)
    series = thinned(
        recording.time_s, [(one.values, _key(one)) for one in drawn if one.values is not None], start, end,
        COLUMNS_OF_PLOT, visit.preferences.units,
    )  # fmt: skip
    head = msgspec.json.encode(
        {"steps": int(series.shape[1]), "channels": [_shown(one, voice) for one in drawn]}
    )
    # What follows begins at a multiple of four bytes, so that it is read in place.
    head += b" " * (-(len(head) + 4) % 4)
    content = b"".join([struct.pack("<I", len(head)), head, series.astype("<f4").tobytes()])
    return Response(content, media_type="application/octet-stream")


def sum_up(visit: Visit) -> Response:
    """What each channel did between two times: at both, the difference and its rate, the lowest, mean and highest."""
    about = one_recording(visit, visit.path["recording"])
    found = _found(visit)
    recording, voice = found.results[0].recording, voice_of(visit, found)
    start, end = (
        _seconds(visit, name, default) for name, default in (("from", 0.0), ("to", recording.duration_s))
    )
    start, end = min(start, end), max(start, end)
    rows = []
    for one in _drawn(visit, recording, found.engine):
        made = (
            None
            if one.values is None
            else stretch(recording.time_s, one.values, _key(one), start, end, voice.units)
        )
        if made is not None:
            rows.append((_shown(one, voice), _told(made, one, voice)))
    return page(
        visit, "stretch.html.j2", title=Told("From {start} to {end}.", start=clock(start), end=clock(end)), step="measure", recordings=[about.id],
        about=about, rows=rows, start=clock(start), end=clock(end),
        more=[number for number in visit.query.getlist("also") if number.isdecimal()],
    )  # fmt: skip


def plot_channels(recording: Recording, engine: int, voice: Voice) -> list[dict[str, Any]]:
    """The channels that are always drawn, in words."""
    return [_shown(one, voice) for one in _always(recording, engine)]


def more_channels(recording: Recording, engine: int, voice: Voice) -> list[tuple[int, str]]:
    """The other channels with numbers in them, by the place of their column."""
    always = _always(recording, engine)
    return [
        (number, _shown(one, voice)["name"])
        for number, one in enumerate(recording.channels, 1)
        if one.values is not None and one not in always and one.quantity not in {"time", "date"}
        and np.isfinite(one.values).any()
    ]  # fmt: skip


def outermost(found: Measured) -> list[int]:
    """The leanest and the richest cylinder, which are drawn heavier; none where nothing is known of them."""
    known = [one for one in found.balance.cylinders if one.offset_percent is not None]
    if not known:
        return []
    ordered = sorted(known, key=lambda one: one.offset_percent or 0.0)
    return list(dict.fromkeys((ordered[-1].cylinder, ordered[0].cylinder)))


def voice_of(visit: Visit, found: Measured) -> Voice:
    """How to speak of this engine."""
    liked = visit.preferences
    return Voice(load(liked.language), liked.units, found.profile)


def _found(visit: Visit) -> Measured:
    return measured(visit, [one_recording(visit, visit.path["recording"])])


def _always(recording: Recording, engine: int) -> list[Channel]:
    return [
        channel
        for quantity in PLOTTED
        for channel in recording.channels
        if channel.quantity == quantity and channel.engine == engine and channel.values is not None
    ]


def _drawn(visit: Visit, recording: Recording, engine: int) -> list[Channel]:
    """Those that are always drawn, and those that the address asks for besides."""
    drawn = _always(recording, engine)
    for text in visit.query.getlist("also")[:MOST_MORE]:
        number = int(text) if text.isascii() and text.isdecimal() and len(text) < 5 else 0
        if 1 <= number <= len(recording.channels):
            channel = recording.channels[number - 1]
            if channel.values is not None and channel not in drawn:
                drawn.append(channel)
    return drawn


def _key(channel: Channel) -> str:
    return UNIT_KEYS.get(QUANTITIES[channel.quantity].unit or "", "")


def _shown(channel: Channel, voice: Voice) -> dict[str, Any]:
    known = channel.quantity not in {"unknown", "summary", "text"}
    panel = voice.word("quantity", channel.quantity) if known else channel.column[:40]
    key = _key(channel)
    return {
        "name": f"{panel}{f' {channel.cylinder}' if channel.cylinder and known else ''}",
        "panel": panel,
        "unit": sign_of(key, voice.units) if key else QUANTITIES[channel.quantity].unit or "",
        "decimals": DECIMALS.get(key, 1),
        "cylinder": channel.cylinder if known else None,
    }


def _told(made: Stretch, channel: Channel, voice: Voice) -> list[str]:
    decimals = DECIMALS.get(_key(channel), 1)
    values: Sequence[tuple[float, bool, int]] = (
        (made.at_start, False, 0), (made.at_end, False, 0), (made.difference, True, 0), (made.per_minute, True, 1),
        (made.lowest, False, 0), (made.mean, False, 1), (made.highest, False, 0), (made.deviation, False, 1),
    )  # fmt: skip
    return [plain(value, decimals + more, voice.marks, signed=signed) for value, signed, more in values]


def _seconds(visit: Visit, name: str, default: float) -> float:
    """A time of the address, in seconds or as h:mm:ss [s]."""
    given = visit.query.get(name, "")
    try:
        value = seconds(given) if given else default
    except ValueError:
        raise RefusedError(unusable(Told("{name} is no time", name=name))) from None
    if not np.isfinite(value):
        raise RefusedError(unusable(Told("{name} is no time", name=name)))
    return value


def seconds(text: str) -> float:
    """A time as h:mm:ss, mm:ss or seconds [s].

    >>> seconds("0:30:10"), seconds("1810"), seconds("2:05.5")
    (1810.0, 1810.0, 125.5)
    """
    total = 0.0
    for part in text.split(":"):
        total = 60.0 * total + float(part)
    return total
