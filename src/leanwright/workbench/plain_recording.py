"""A recording as plain bytes and back: how a reading comes over from the worker that read an untrusted file.

A line of JSON says what there is, then come the time, the lines and each channel's values as little-endian numbers. The
way back believes nothing: every name, count and length is checked.
"""

from datetime import datetime
from typing import Final

import msgspec
import numpy as np

from leanwright.findings import Finding, Severity
from leanwright.quantities import QUANTITIES
from leanwright.recordings.limits import LIMITS
from leanwright.recordings.recording import Channel, FirstRow, Floats, LineRun, Recording, UnitFrom
from leanwright.workbench.plain_text import NotATextError, PlainText, from_plain, to_plain

MARK: Final = b"leanwright/reading/1\n"
_FLOAT: Final = np.dtype("<f8")
_WHOLE: Final = np.dtype("<i8")


class _Column(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    column: str
    quantity: str
    cylinder: int | None
    unit: str | None
    unit_from: UnitFrom | None
    engine: int
    numbers: bool
    resolution: float | None
    as_written: bool = False
    """Whether its numbers are in a unit that could not be told."""


class _Noticed(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    severity: Severity
    code: str
    message: PlainText
    line: int | None
    time_s: float | None
    cylinder: int | None


class _Head(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    name: str
    sha256: str
    rows: int
    columns: tuple[_Column, ...]
    rows_skipped: int
    findings: tuple[_Noticed, ...]
    metadata: tuple[str, ...]
    power_up_rows: tuple[int, ...]
    layout: str
    started_at: datetime | None
    line_runs: tuple[LineRun, ...]
    notes: tuple[tuple[str, str], ...]
    fuel_grade: str | None
    tank: str | None
    first_rows: tuple[FirstRow, ...]


class NotAReadingError(ValueError):
    """Bytes that are no reading as this module writes them."""


def is_reading(content: bytes) -> bool:
    """Whether bytes begin as those that :func:`to_bytes` writes."""
    return content.startswith(MARK)


def to_bytes(recording: Recording) -> bytes:
    """Write a recording as plain bytes."""
    columns = tuple(
        _Column(
            one.column, one.quantity, one.cylinder, one.unit, one.unit_from, one.engine, _numbers(one) is not None,
            one.resolution, as_written=one.as_written is not None,
        )
        for one in recording.channels
    )  # fmt: skip
    head = _Head(
        name=recording.name,
        sha256=recording.sha256,
        rows=recording.rows_kept,
        columns=columns,
        rows_skipped=recording.rows_skipped,
        findings=tuple(
            _Noticed(one.severity, one.code, to_plain(one.message), one.line, one.time_s, one.cylinder)
            for one in recording.findings
        ),
        metadata=recording.metadata,
        power_up_rows=recording.power_up_rows,
        layout=recording.layout,
        started_at=recording.started_at,
        line_runs=recording.line_runs,
        notes=recording.notes,
        fuel_grade=recording.fuel_grade,
        tank=recording.tank,
        first_rows=recording.first_rows,
    )
    values = [numbers for one in recording.channels if (numbers := _numbers(one)) is not None]
    arrays = [recording.time_s.astype(_FLOAT), recording.lines.astype(_WHOLE), *values]
    return b"".join([MARK, msgspec.json.encode(head), b"\n", *(one.tobytes() for one in arrays)])


def from_bytes(content: bytes) -> Recording:
    """Read a recording from plain bytes; raises :class:`NotAReadingError` for anything else."""
    if not content.startswith(MARK):
        raise NotAReadingError("it does not begin as a reading does")
    end = content.find(b"\n", len(MARK))
    try:
        head = msgspec.json.decode(content[len(MARK) : end], type=_Head)
    except msgspec.DecodeError as error:
        raise NotAReadingError(str(error)) from error
    arrays = _arrays(head, memoryview(content)[end + 1 :])
    time_s, lines = arrays[0], np.frombuffer(arrays[1].tobytes(), _WHOLE)
    if not np.isfinite(time_s).all() or (np.diff(time_s) < 0.0).any():
        raise NotAReadingError("its time goes back")
    values = iter(arrays[2:])
    try:
        findings = tuple(
            Finding(**{**msgspec.structs.asdict(one), "message": from_plain(one.message)})
            for one in head.findings
        )
    except NotATextError as error:
        raise NotAReadingError(str(error)) from error
    return Recording(
        name=head.name,
        sha256=head.sha256,
        time_s=time_s,
        lines=lines,
        channels=tuple(_channel(one, next(values) if one.numbers else None) for one in head.columns),
        rows_skipped=head.rows_skipped,
        findings=findings,
        metadata=head.metadata,
        power_up_rows=head.power_up_rows,
        layout=head.layout,
        started_at=head.started_at,
        line_runs=head.line_runs,
        notes=head.notes,
        fuel_grade=head.fuel_grade,
        tank=head.tank,
        first_rows=head.first_rows,
    )


def _arrays(head: _Head, rest: memoryview) -> list[Floats]:
    """Time, lines (as bytes of the same width) and values, each of one length."""
    counted = 2 + sum(one.numbers for one in head.columns)
    good = 0 <= head.rows <= LIMITS.rows and len(head.columns) <= LIMITS.columns
    good &= all(0 <= row < max(head.rows, 1) for row in head.power_up_rows)
    good &= all(one.quantity in QUANTITIES and 1 <= one.engine <= 9 for one in head.columns)
    good &= len(head.sha256) == 64 and set(head.sha256) <= set("0123456789abcdef")
    if not good or len(rest) != counted * head.rows * _FLOAT.itemsize:
        raise NotAReadingError("its parts do not fit together")
    whole = np.frombuffer(rest, _FLOAT)
    return [whole[number * head.rows : (number + 1) * head.rows] for number in range(counted)]


def _numbers(one: Channel) -> Floats | None:
    return one.as_written if one.values is None else one.values


def _channel(one: _Column, numbers: Floats | None) -> Channel:
    values, as_written = (None, numbers) if one.as_written else (numbers, None)
    return Channel(
        one.column,
        one.quantity,
        one.cylinder,
        one.unit,
        one.unit_from,
        one.engine,
        values,
        one.resolution,
        as_written,
    )
