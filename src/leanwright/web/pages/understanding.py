"""What was understood of each column of a recording, with a small picture; those that need somebody's eye stand first."""

from typing import Any

import numpy as np

from leanwright.recordings.recording import Channel, Floats, Recording
from leanwright.report import channels
from leanwright.report.figures.spark import spark
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from leanwright.told import Told
from leanwright.web.show import drawing
from leanwright.web.visit import Visit
from leanwright.workbench import desk as desks
from leanwright.workbench.desk import About


def understood(visit: Visit, about: About) -> tuple[str, list[dict[str, Any]]]:
    """In a sentence how much was understood, and a row a column."""
    recording, liked = desks.reading(visit.house.desk, about), visit.preferences
    voice = Voice(load(liked.language), liked.units)
    rows = [
        _column(number, channel, recording, voice) for number, channel in enumerate(recording.channels, 1)
    ]
    rows.sort(key=lambda row: not row["look"])
    return channels.understanding(recording, voice), rows


def _column(number: int, channel: Channel, recording: Recording, voice: Voice) -> dict[str, Any]:
    values = channel.as_written if channel.values is None else channel.values
    label = voice.told(_course(values, channel.column or str(number)))
    return {
        "number": number,
        "column": channel.column,
        "quantity": channel.quantity,
        "meaning": voice.word("quantity", channel.quantity),
        "cylinder": channel.cylinder,
        "unit": channel.unit,
        "known": channels.known_from(channel, voice),
        "look": not channels.understood(channel),
        "needed": channels.needed(channel),
        "picture": "" if values is None else drawing(spark(recording.time_s, values, label=label)),
        "first": [row.cells[number - 1] for row in recording.first_rows if len(row.cells) >= number][:3],
    }


def _course(values: Floats | None, name: str) -> str:
    """What the small picture of a column shows."""
    if values is None or not np.isfinite(values).any():
        return Told("{name}: no value", name=name)
    low, high = (f"{end:.6g}" for end in (np.nanmin(values), np.nanmax(values)))
    return Told("{name}: from {low} to {high}", name=name, low=low, high=high)
