"""A file, archive or stream → its recordings. The one door of this room."""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import replace
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
from leanwright.recordings.label import Label
from leanwright.recordings.layout import Layout, find_layout
from leanwright.recordings.limits import LIMITS, Limits
from leanwright.recordings.lines import read_lines
from leanwright.recordings.meaning import understand
from leanwright.recordings.memory import layout_digest
from leanwright.recordings.recording import Channel, Recording
from leanwright.recordings.rows import RowReader, SkippedLine, Table
from leanwright.recordings.timeline import make_timeline
from leanwright.recordings.vocabulary import ROW_NUMBER

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
            Finding("warning", "archive-member-not-read", f"Left out: {error}") for error in refused
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
            f"It holds {len(recordings)} recordings.",
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
    reader = RowReader(content.name, layout, keep, limits)
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
    clock = read_clock(candidates, table.lines.size, _lines_before(table), layout.metadata, row_interval_s)
    return _recording(content, encoding, layout, digest, table, clock, labels, corrected)


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
) -> Recording:
    """Put rows, time and meaning together."""
    timed = np.isfinite(clock.seconds)
    untimed = [SkippedLine(int(line), "its time cannot be read") for line in table.lines[~timed]]
    skipped = sorted([*table.skipped, *untimed], key=lambda line: line.line)
    lines = table.lines[timed]
    rows_before = np.cumsum(timed) - timed
    headers = {
        int(rows_before[min(row, timed.size - 1)]) for row in table.repeated_headers if row < timed.size
    }
    timeline = make_timeline(clock.seconds[timed], lines, headers, of_day=clock.of_day)
    columns = table.columns
    if not timed.all():
        columns = tuple(replace(column, values=column.values[timed]) for column in columns)
    findings = [
        *_file_findings(content, encoding, table),
        *_skip_findings([line for line in skipped if line.line != table.cut_line]),
        *_clock_findings(clock, layout),
        *timeline.findings,
    ]
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
        (*findings, *_cell_findings(table, channels), *meanings),
        tuple(display_name(line, longest=400) for line in layout.metadata),
        timeline.power_up_rows,
        digest,
        clock.started_at,
    )


def _file_findings(content: Content, encoding: Encoding, table: Table) -> list[Finding]:
    findings = []
    if encoding.assumed:
        findings.append(
            Finding("note", "encoding-assumed", "The text is no UTF-8; it is read as Windows-1252 (Latin-1).")
        )
    if content.cut:
        findings.append(
            Finding(
                "warning", "cut-archive", "The packed file ends too early; what could be unpacked is read."
            )
        )
    if table.cut_line is not None:
        findings.append(
            Finding(
                "warning",
                "cut-last-line",
                f"The file ends in the middle of line {table.cut_line}; that line is skipped.",
                table.cut_line,
            )
        )
    elif table.no_final_line_end:
        findings.append(
            Finding(
                "note",
                "no-final-line-end",
                "The last line has no line end but looks whole; it is kept.",
                int(table.lines[-1]),
            )
        )
    return findings


def _skip_findings(skipped: Sequence[SkippedLine]) -> list[Finding]:
    """Each skipped line with its reason; beyond the limit they are counted."""
    findings = [
        Finding("warning", "line-skipped", f"Line {line.line} is skipped: {line.reason}.", line.line)
        for line in skipped[: LIMITS.findings_listed]
    ]
    more = len(skipped) - len(findings)
    if more > 0:
        findings.append(
            Finding("warning", "more-lines-skipped", f"{more} more lines are skipped for like reasons.")
        )
    return findings


def _cell_findings(table: Table, channels: Sequence[Channel]) -> list[Finding]:
    """Cells that hold digits and are no number, in columns of numbers."""
    findings = []
    for column, channel in zip(table.columns, channels, strict=True):
        if channel.quantity in {"text", "time", "date"} or not np.isfinite(column.values).any():
            continue
        for row, text in column.garbled.items():
            line = int(table.lines[row])
            shown = display_name(text, longest=40)
            message = f"Line {line}, {column.name!r}: {shown!r} is no number; it counts as missing."
            findings.append(Finding("warning", "cell-unreadable", message, line, cylinder=channel.cylinder))
        more = column.garbled_count - len(column.garbled)
        if more > 0:
            message = f"{column.name!r} has {more} more cells that are no numbers."
            findings.append(Finding("warning", "more-cells-unreadable", message, cylinder=channel.cylinder))
    return findings


def _clock_findings(clock: Clock, layout: Layout) -> list[Finding]:
    findings = []
    if clock.form == "none":
        findings.append(
            Finding(
                "error",
                "no-time",
                "No column tells the time and no interval is stated; rows are taken as 1 s apart. State the time between rows with --interval.",
            )
        )
    if clock.form == "row-number" and not clock.places:
        findings.append(
            Finding(
                "note",
                "time-from-interval",
                "There is no clock; the time is the number of the line times the stated interval.",
            )
        )
    if clock.date_ambiguous:
        findings.append(
            Finding(
                "warning",
                "date-order-unknown",
                "Day and month of the date cannot be told apart; times within the recording are not affected.",
            )
        )
    if clock.unit_from_values:
        findings.append(
            Finding(
                "note",
                "time-unit-by-values",
                f"No unit is stated for {layout.names[clock.places[0]]!r}; by its steps it counts in {clock.unit or 'milliseconds'}.",
            )
        )
    return findings
