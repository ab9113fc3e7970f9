"""A file, archive or stream → its recordings. The one door of this room."""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import BinaryIO, Final

import numpy as np
from numpy.typing import NDArray

from leanwright.errors import (
    EmptyRecordingError,
    RefusedArchiveError,
    SeveralRecordingsError,
    UnreadableRecordingError,
)
from leanwright.findings import Finding
from leanwright.recordings.clock import Clock, TimeColumn, read_clock
from leanwright.recordings.container import Content, check_kind, display_name, read_contents
from leanwright.recordings.content import EXPORT
from leanwright.recordings.corrections import Correction, find_columns, read_correction
from leanwright.recordings.draft import label_columns
from leanwright.recordings.encoding import Encoding, detect
from leanwright.recordings.faults import (
    cell_findings,
    clock_findings,
    file_findings,
    loss_findings,
    skip_findings,
)
from leanwright.recordings.label import Label
from leanwright.recordings.layout import Layout, find_layout
from leanwright.recordings.limits import LIMITS, Limits
from leanwright.recordings.line_labels import label_lines
from leanwright.recordings.lines import count_lines, read_lines
from leanwright.recordings.meaning import understand
from leanwright.recordings.memory import layout_digest
from leanwright.recordings.notes import fuel_grade, read_pairs, tank
from leanwright.recordings.parts import read_parts
from leanwright.recordings.recording import FirstRow, Floats, Recording
from leanwright.recordings.rows import RowReader
from leanwright.recordings.stamps import spread_stamps
from leanwright.recordings.succession import oldest_first
from leanwright.recordings.succession import told as newest_first
from leanwright.recordings.table import SkippedLine, Table
from leanwright.recordings.timeline import make_timeline
from leanwright.recordings.vocabulary import ROW_NUMBER
from leanwright.told import Told

FETCH_AGAIN: Final = "Copy the whole file from the panel again."
CLOCK_QUANTITIES: Final = frozenset({"time", "date", ROW_NUMBER})


def read_recordings(
    source: Path | BinaryIO,
    *,
    name: str | None = None,
    corrections: Sequence[str] = (),
    row_interval_s: float | None = None,
    remembered: Mapping[str, Sequence[str]] | None = None,
    limits: Limits = LIMITS,
) -> tuple[Recording, ...]:
    """Read every recording of a file, an archive, or a stream of bytes.

    ``corrections`` are written as ``HEADER=QUANTITY[:CYLINDER][:UNIT]``; ``remembered`` holds those kept for each
    layout, which give way to the former. ``row_interval_s`` [s] counts where the file has no clock.

    Raises an error of :mod:`leanwright.errors` if nothing in it is a recording, or a correction does not fit.
    """
    recordings: list[Recording] = []
    refused: list[UnreadableRecordingError] = []
    for content in read_contents(source, name, limits):
        try:
            recordings.append(_read(content, corrections, row_interval_s, remembered or {}, limits))
        except RefusedArchiveError:
            raise
        except UnreadableRecordingError as error:
            refused.append(error)
    if not recordings:
        if len(refused) == 1:
            raise refused[0]
        raise EmptyRecordingError(
            _source_name(source, name), "None of the files in it is a recording.", EXPORT
        )
    if refused:
        left_out = tuple(
            Finding("warning", "archive-member-not-read", Told("Left out: {error}", error=error.said))
            for error in refused
        )
        recordings[0] = replace(recordings[0], findings=recordings[0].findings + left_out)
    return tuple(recordings)


def read_recording(
    source: Path | BinaryIO,
    *,
    name: str | None = None,
    corrections: Sequence[str] = (),
    row_interval_s: float | None = None,
    remembered: Mapping[str, Sequence[str]] | None = None,
) -> Recording:
    """Read the one recording of a file; an archive of several is refused."""
    recordings = read_recordings(
        source, name=name, corrections=corrections, row_interval_s=row_interval_s, remembered=remembered
    )
    if len(recordings) > 1:
        raise SeveralRecordingsError(
            _source_name(source, name),
            Told("It holds {recordings} recordings.", recordings=len(recordings)),
            "Unpack it, and name one of them.",
        )
    return recordings[0]


def _source_name(source: Path | BinaryIO, name: str | None) -> str:
    return display_name(name or (source.name if isinstance(source, Path) else "standard input"))


def _read(
    content: Content,
    corrections: Sequence[str],
    row_interval_s: float | None,
    remembered: Mapping[str, Sequence[str]],
    limits: Limits,
) -> Recording:
    """Read one text."""
    check_kind(content)
    encoding = detect(content.data)
    layout = _layout(content, encoding, limits)
    digest = layout_digest(layout.names, layout.units)
    given = [read_correction(text) for text in (*remembered.get(digest, ()), *corrections)]
    corrected = find_columns(given, layout.names)
    labels = label_columns(layout.names, layout.units, corrected)
    keep = [
        label.quantity in CLOCK_QUANTITIES or (label.quantity is None and kind == "time")
        for label, kind in zip(labels, layout.kinds, strict=True)
    ]
    reader = RowReader(content.name, layout, keep, limits, min(count_lines(content.data), limits.rows))
    for block in read_lines(content.data, encoding):
        reader.add(block)
    table = reader.finish()
    if not table.lines.size:
        raise EmptyRecordingError(content.name, "It has a line of names but no complete row.", FETCH_AGAIN)
    candidates = [
        TimeColumn(place, labels[place], column, layout.units[place] if layout.units else "")
        for place, column in enumerate(table.columns)
        if keep[place]
    ]
    clock = read_parts(table.columns) or read_clock(
        candidates, table.lines.size, _lines_before(table), layout.metadata, row_interval_s
    )
    return _recording(content, encoding, layout, digest, table, clock, labels, corrected, row_interval_s)


def _layout(content: Content, encoding: Encoding, limits: Limits) -> Layout:
    """The layout, from the first lines; a last line that may be cut says nothing about it."""
    lines: list[str] = []
    open_end = False
    for block in read_lines(content.data, encoding):
        lines += block.lines[: limits.header_lines - len(lines)]
        open_end = block.open_end
        if len(lines) >= limits.header_lines:
            break
    # A line too long to be a row keeps its place, so that lines are counted right.
    lines = [line if len(line) <= limits.row_bytes else "" for line in lines]
    sizes = itertools.accumulate(map(len, lines))
    lines = [line for line, size in zip(lines, sizes, strict=True) if size <= limits.header_characters]
    if not any(line.strip() for line in lines):
        raise EmptyRecordingError(content.name, "It holds blank lines only.", FETCH_AGAIN)
    return find_layout(content.name, lines[:-1] if open_end and len(lines) > 1 else lines, limits)


def _lines_before(table: Table) -> NDArray[np.int64]:
    """How many lines of data stand before each row, skipped ones included."""
    skipped = np.array([line.line for line in table.skipped], dtype=np.int64)
    return np.arange(table.lines.size, dtype=np.int64) + np.searchsorted(skipped, table.lines)


def _recording(
    content: Content,
    encoding: Encoding,
    layout: Layout,
    digest: str,
    table: Table,
    clock: Clock,
    labels: Sequence[Label],
    corrected: Mapping[int, Correction],
    row_interval_s: float | None,
) -> Recording:
    """Put rows, time and meaning together."""
    timed = np.flatnonzero(np.isfinite(clock.seconds))
    untimed = np.flatnonzero(~np.isfinite(clock.seconds))
    skipped = [
        *table.skipped,
        *(SkippedLine(line, "its time cannot be read") for line in table.lines[untimed].tolist()),
    ]
    skipped.sort(key=lambda line: line.line)
    headers = {int(np.searchsorted(timed, row)) for row in table.repeated_headers}
    order = oldest_first(clock.seconds[timed], headers)
    rows, headers = (timed, headers) if order is None else (timed[order[0]], set(order[1]))
    seconds, spread = spread_stamps(clock.seconds[rows], row_interval_s)
    lines = table.lines[rows]
    timeline = make_timeline(seconds, lines, headers, of_day=clock.of_day)
    columns = table.columns
    if order is not None or rows.size < table.lines.size:
        columns = tuple(replace(column, values=column.values[rows]) for column in columns)
    findings = [
        *file_findings(content, encoding, table),
        *skip_findings([line for line in skipped if line.line != table.cut_line]),
        *loss_findings(rows.size, skipped),
        *clock_findings(clock, layout, table, labels),
        *([] if order is None else [newest_first()]),
        *spread,
        *timeline.findings,
    ]
    metadata = tuple(display_name(line, longest=400) for line in layout.metadata)
    notes = read_pairs(metadata)
    channels, meanings = understand(columns, labels, layout.units, corrected, clock)
    lines.flags.writeable = False
    timeline.time_s.flags.writeable = False
    return Recording(
        content.name,
        content.sha256,
        timeline.time_s,
        lines,
        channels,
        len(skipped),
        (*findings, *cell_findings(table, channels), *meanings),
        metadata,
        timeline.power_up_rows,
        digest,
        _started_at(clock, seconds),
        label_lines(layout, table, lines, skipped),
        notes,
        fuel_grade(notes),
        tank(notes),
        tuple(
            FirstRow(line, tuple(display_name(cell.strip(), longest=40) for cell in cells))
            for line, cells in table.first_rows
        ),
    )


def _started_at(clock: Clock, seconds: Floats) -> datetime | None:
    """Date and time of the row that comes first by its time, which need not be the file's first."""
    if clock.started_at is None or not seconds.size:
        return clock.started_at
    first = clock.seconds[np.isfinite(clock.seconds)][0]
    return clock.started_at + timedelta(seconds=float(seconds[0] - first))
