"""The data pack for whoever supplies the nozzles: recordings, result, engine state and a plain page in one zip file.

Without being asked for it, nothing in it names the owner, the aircraft or the place: recordings are written anew with the
columns that were understood, without dates and positions, and the result is measured from these.
"""

import hashlib
import io
import json
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from leanwright.analysis.measured import Measured
from leanwright.errors import UnreachableRecordingError
from leanwright.quantities import QUANTITIES
from leanwright.recordings.read import read_recordings
from leanwright.recordings.recording import OF_ENGINE, Channel, Recording
from leanwright.report.document import balance_document
from leanwright.report.text import balance_text
from leanwright.report.units import System
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from leanwright.told import Told
from leanwright.workbench.nozzle_files import Aircraft

LEFT_OUT: Final = frozenset(
    {"time", "date", "latitude", "longitude", "engine_hours", "summary", "text", "unknown"}
)
"""What tells when, where or who, or was not understood."""
OLDEST_DATE: Final = (1980, 1, 1, 0, 0, 0)
"""A zip file has to hold a date; the oldest that it can tells nothing [year, month, day, h, min, s]."""
READABLE_BY_ALL: Final = 0o644 << 16
Measure = Callable[[Sequence[Recording]], Measured]


@dataclass(frozen=True, slots=True)
class Pack:
    """The bytes of a pack, and what was measured of the recordings in it."""

    content: bytes
    measured: Measured


def make_pack(
    recordings: Sequence[Recording],
    measure: Measure,
    *,
    engine: int = 1,
    aircraft: Aircraft | None = None,
    originals: Sequence[Path] | None = None,
    units: System = "us",
    language: str = "en",
) -> Pack:
    """Put a pack together; the same input gives the same bytes.

    ``originals`` are the files as the panel wrote them: with them the pack holds these, and names, dates, positions and
    serial numbers with them. ``measure`` is how the recordings are measured.
    """
    members: dict[str, bytes] = {}
    if originals is not None:
        for number, place in enumerate(originals, 1):
            members[f"recordings/{number}-{place.name}"] = _whole(place)
        measured = measure(recordings)
    else:
        own: list[Recording] = []
        for number, recording in enumerate(recordings, 1):
            name, content = f"recording-{number}.csv", plain_table(recording, engine)
            members[f"recordings/{name}"] = content
            own += read_recordings(io.BytesIO(content), name=name)
        measured = measure(own)
    members["result.json"] = _json(balance_document(measured, units=units, language=language))
    if aircraft is not None:
        members["engine-state.json"] = _json(engine_state(aircraft, whole=originals is not None))
    members["page.txt"] = _page(
        measured, members, whole=originals is not None, units=units, language=language
    )
    return Pack(_zipped(members), measured)


def plain_table(recording: Recording, engine: int = 1) -> bytes:
    """A recording written anew: seconds from its first row, and one engine's columns, each with its unit."""
    kept = [
        channel
        for channel in recording.channels
        if channel.values is not None
        and channel.quantity not in LEFT_OUT
        and channel.engine == (engine if channel.quantity in OF_ENGINE else 1)
    ]
    head = ["Time (s)", *map(_heading, kept)]
    columns = [recording.time_s, *(channel.values for channel in kept if channel.values is not None)]
    rows = (",".join(map(_written, row)) for row in np.column_stack(columns))
    return ("\n".join([",".join(head), *rows]) + "\n").encode("ascii")


def _heading(channel: Channel) -> str:
    unit = QUANTITIES[channel.quantity].unit
    words = channel.quantity.replace("_", " ")
    words = words.upper() if channel.quantity in {"egt", "cht"} else words.capitalize()
    number = "" if channel.cylinder is None else f" {channel.cylinder}"
    return f"{words}{number} ({unit})"


def _written(value: float) -> str:
    return "" if not np.isfinite(value) else f"{value:.9g}"


def engine_state(aircraft: Aircraft, *, whole: bool) -> dict[str, Any]:
    """What is fitted and what was checked; ``whole`` adds what names the aircraft. Prices are nobody else's business."""
    named = {
        "aircraft": {"type": aircraft.type, "serial": aircraft.serial},
        "engine_serial": aircraft.engine_serial,
        "modifications": list(aircraft.modifications),
    }
    return {
        "format": "leanwright/engine-state/1",
        "engine": aircraft.engine,
        "fuel_system": aircraft.fuel_system,
        "numbered_from": aircraft.numbered_from,
        "fitted": [
            {"cylinder": one.cylinder, "nozzle": one.marking, "flow": one.flow or None}
            for one in aircraft.fitted
        ],
        "checks": [
            {"what": one.what, "date": one.day.isoformat(), "sound": one.sound} for one in aircraft.checks
        ],
        **(named if whole else {}),
    }


def _page(
    measured: Measured, members: dict[str, bytes], *, whole: bool, units: System, language: str
) -> bytes:
    voice = Voice(load(language), units, measured.profile)
    digests = [f"{hashlib.sha256(content).hexdigest()}  {name}" for name, content in sorted(members.items())]
    blocks = [
        balance_text(measured, units=units, language=language, ascii_only=False, width=80, bold=False),
        voice.label("pack-whole" if whole else "pack-left-out"),
        "\n".join([voice.label("pack-holds"), *digests]),
    ]
    return ("\n\n".join(blocks) + "\n").encode("utf-8")


def _json(document: dict[str, Any]) -> bytes:
    return (json.dumps(document, ensure_ascii=False, allow_nan=False, indent=2) + "\n").encode("utf-8")


def _whole(place: Path) -> bytes:
    try:
        return place.read_bytes()
    except OSError as error:
        raise UnreachableRecordingError(
            place.name, Told("It cannot be opened ({strerror}).", strerror=error.strerror), "Check the name."
        ) from error


def _zipped(members: dict[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        for name, content in sorted(members.items()):
            entry = zipfile.ZipInfo(name, OLDEST_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = READABLE_BY_ALL
            entry.create_system = 3
            packed.writestr(entry, content, compresslevel=9)
    return stream.getvalue()
