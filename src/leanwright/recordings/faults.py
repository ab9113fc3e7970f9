"""What has to be said of a file: its encoding, its end, lines that were skipped, cells that could not be read, its clock."""

from collections import Counter
from collections.abc import Sequence
from typing import Final

import numpy as np

from leanwright.findings import Finding
from leanwright.recordings.cells import is_missing
from leanwright.recordings.clock import Clock
from leanwright.recordings.column import Column
from leanwright.recordings.container import Content, display_name
from leanwright.recordings.dates import read_clock_times
from leanwright.recordings.encoding import Encoding
from leanwright.recordings.label import Label
from leanwright.recordings.layout import Layout
from leanwright.recordings.limits import LIMITS
from leanwright.recordings.recording import Channel
from leanwright.recordings.table import BELOW_ANOTHER, SkippedLine, Table
from leanwright.told import Told

FEWEST_LOST: Final = 10
LARGE_LOSS: Final = 0.1
A_TABLE: Final = 3
"""So many lines below another header, or one after the other for one reason, are told together."""


def file_findings(content: Content, encoding: Encoding, table: Table) -> list[Finding]:
    """How the file is written, and how it ends."""
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
                Told(
                    "The file ends in the middle of line {cut_line}; that line is skipped.",
                    cut_line=table.cut_line,
                ),
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
    if table.lines.size == 1:
        findings.append(
            Finding(
                "warning",
                "one-row",
                "The file holds a single row: one moment tells nothing about a sweep. Copy the whole recording from the panel.",
                int(table.lines[0]),
            )
        )
    return findings


def _other_table(lines: Sequence[SkippedLine]) -> Finding:
    first, last = lines[0].line, lines[-1].line
    message = Told(
        "{lines} lines from {first} to {last} are skipped, each for one reason: {reason}. It is a table of its own: save "
        "it as a file of its own, and name that.",
        lines=len(lines),
        first=first,
        last=last,
        reason=lines[0].reason,
    )
    return Finding("warning", "other-table", message, first)


def skip_findings(skipped: Sequence[SkippedLine]) -> list[Finding]:
    """Each run of skipped lines with its reason, those of another table together; beyond the limit they are counted."""
    others = [line for line in skipped if line.reason.startswith(BELOW_ANOTHER)]
    if len(others) >= A_TABLE:
        skipped = [line for line in skipped if line not in set(others)]
        return [_other_table(others), *skip_findings(skipped)]
    runs = [
        run
        for whole in _runs(skipped)
        for run in ([whole] if len(whole) >= A_TABLE else [[line] for line in whole])
    ]
    findings = [_told(run) for run in runs[: LIMITS.findings_listed]]
    more = sum(map(len, runs[LIMITS.findings_listed :]))
    if more > 0:
        findings.append(
            Finding(
                "warning",
                "more-lines-skipped",
                Told("{more} more lines are skipped for like reasons.", more=more),
            )
        )
    return findings


def _runs(skipped: Sequence[SkippedLine]) -> list[list[SkippedLine]]:
    """Lines that follow one another and are skipped for one reason."""
    runs: list[list[SkippedLine]] = []
    for line in skipped:
        if runs and line.reason == runs[-1][-1].reason and line.line == runs[-1][-1].line + 1:
            runs[-1].append(line)
        else:
            runs.append([line])
    return runs


def _told(run: Sequence[SkippedLine]) -> Finding:
    first, last = run[0], run[-1]
    if len(run) == 1:
        message = Told("Line {line} is skipped: {reason}.", line=first.line, reason=Told.of(first.reason))
    else:
        message = Told(
            "Lines {first} to {last} are skipped, {lines} in all: {reason}.",
            first=first.line,
            last=last.line,
            lines=len(run),
            reason=Told.of(first.reason),
        )
    return Finding("warning", "line-skipped", message, first.line)


def loss_findings(kept: int, skipped: Sequence[SkippedLine]) -> list[Finding]:
    """That a large part of a recording is lost, with the reason of most of it."""
    lost = [line for line in skipped if not line.is_text and not line.reason.startswith(BELOW_ANOTHER)]
    whole = kept + len(lost)
    if len(lost) < FEWEST_LOST or len(lost) < LARGE_LOSS * whole:
        return []
    reason, count = Counter(line.reason for line in lost).most_common(1)[0]
    message = Told(
        "{lost} of {whole} rows ({share:.0f} %) are lost to the answer. The reason of {count}: {reason}.",
        lost=len(lost),
        whole=whole,
        share=100 * len(lost) / whole,
        count=count,
        reason=Told.of(reason),
    )
    return [Finding("warning", "many-rows-lost", message, lost[0].line)]


def cell_findings(table: Table, channels: Sequence[Channel]) -> list[Finding]:
    """Cells that hold digits and are no number, in columns of numbers."""
    findings = []
    for column, channel in zip(table.columns, channels, strict=True):
        if channel.quantity in {"text", "time", "date"}:
            continue
        if not np.isfinite(column.values).any():
            if channel.quantity != "unknown" and column.garbled:
                findings.append(_unreadable(table, column, channel))
            continue
        for row, text in column.garbled.items():
            line = int(table.lines[row])
            shown = display_name(text, longest=40)
            message = Told(
                "Line {line}, {name!r}: {shown!r} is no number; it counts as missing.",
                line=line,
                name=column.name,
                shown=shown,
            )
            findings.append(Finding("warning", "cell-unreadable", message, line, cylinder=channel.cylinder))
        more = column.garbled_count - len(column.garbled)
        if more > 0:
            message = Told("{name!r} has {more} more cells that are no numbers.", name=column.name, more=more)
            findings.append(Finding("warning", "more-cells-unreadable", message, cylinder=channel.cylinder))
    return findings


def _unreadable(table: Table, column: Column, channel: Channel) -> Finding:
    """That a column with a meaning holds no number at all, though its cells hold digits."""
    row, text = next(iter(column.garbled.items()))
    line = int(table.lines[row])
    message = Told(
        "None of the {filled} filled cells of {name!r} is a number, as {shown!r} in line {line}; the column is left without values.",
        filled=column.filled,
        name=column.name,
        shown=display_name(text, longest=40),
        line=line,
    )
    return Finding("warning", "column-unreadable", message, line, cylinder=channel.cylinder)


def _without_time(table: Table, labels: Sequence[Label]) -> Finding:
    """That there is no time: a column that is named as one and cannot be read is shown with a cell."""
    message = (
        "No column tells the time and no interval is stated; rows are taken as 1 s apart. "
        "State the time between rows with --interval."
    )
    given_up = _unread_time(table, labels)
    if given_up is not None:
        message = Told(
            "{name!r} is named as the time, but its cells, as {shown!r}, cannot be read as one; rows "
            "are taken as 1 s apart. State the time between rows with --interval.",
            name=given_up[0],
            shown=given_up[1],
        )
    return Finding("error", "no-time", message)


def _by_interval(table: Table, labels: Sequence[Label]) -> Finding:
    """That the time is counted by lines: a warning where a column that is named as the time was given up for it."""
    given_up = _unread_time(table, labels)
    if given_up is None:
        message = "There is no clock; the time is the number of the line times the stated interval."
        return Finding("note", "time-from-interval", message)
    told = Told(
        "{name!r} is named as the time, but too few of its cells can be read as one, as {shown!r} cannot; the time is the "
        "number of the line times the stated interval.",
        name=given_up[0],
        shown=given_up[1],
    )
    return Finding("warning", "time-from-interval", told)


def _unread_time(table: Table, labels: Sequence[Label]) -> tuple[str, str] | None:
    """Name of a filled column that is named as the time, and a cell of it that cannot be read as one."""
    for column, label in zip(table.columns, labels, strict=True):
        filled = [text.strip() for text in column.texts or () if not is_missing(text)]
        if label.quantity == "time" and filled:
            cell = next((text for text in filled if read_clock_times([text]) is None), filled[0])
            return column.name, display_name(cell, longest=40)
    return None


def clock_findings(clock: Clock, layout: Layout, table: Table, labels: Sequence[Label]) -> list[Finding]:
    """What the clock leaves open."""
    findings = []
    if clock.form == "none":
        findings.append(_without_time(table, labels))
    if clock.form == "row-number" and not clock.places:
        findings.append(_by_interval(table, labels))
    if clock.hours_by_date:
        findings.append(
            Finding(
                "warning",
                "hours-by-date",
                Told(
                    "{name!r} has two parts and stands beside a date: it is read as hours and minutes. If it is minutes and "
                    "seconds, write (mm:ss) behind its name.",
                    name=layout.names[clock.places[0]],
                ),
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
                Told(
                    "No unit is stated for {names!r}; by its steps it counts in {unit}.",
                    names=layout.names[clock.places[0]],
                    unit=clock.unit or "ms",
                ),
            )
        )
    return findings
