"""What stands on the page, as finished text and drawings, in the order in which it is read."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from leanwright.analysis.measured import Measured
from leanwright.findings import Statement
from leanwright.recordings.recording import Recording
from leanwright.report import cells
from leanwright.report.answer import Answer, answer, doubts, invented
from leanwright.report.channels import known_from, shown_unit, understanding, understood
from leanwright.report.cleaning import SENTENCE_ENDS, clean, without_commands
from leanwright.report.evidence import PeakEvidence, of_cylinder, sweep_ladder
from leanwright.report.figures.glyph import place_glyph
from leanwright.report.figures.ladder_small import small_ladder
from leanwright.report.ladder import Ladder, Row, leanest_first, unordered_rows
from leanwright.report.numbers import clock, plain, span, stripped
from leanwright.report.sweeps import LeftOut, SweepLine, left_out, used
from leanwright.report.words import Piece, Voice, phrase, say

_SPREAD_KEYS = (
    "spread_gph", "spread_low_gph", "spread_high_gph", "spread_at_least_gph", "probability_within_goal",
    "raised_spread_gph", "doubtful_probability", "source", "share_percent",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Linked:
    """A stretch of a sentence; ``target`` is the place of its evidence, if it is a number that has one."""

    text: str
    target: str


@dataclass(frozen=True, slots=True)
class Cylinder:
    """A row of the table of numbers, and the evidence behind it."""

    row: Row
    glyph: str
    place: str
    flow: str
    offset: str
    side: str
    sweeps: str
    status: str
    reason: str
    evidence: tuple[PeakEvidence, ...]


@dataclass(frozen=True, slots=True)
class SweepPart:
    """A sweep that is used, as text, and its own small ladder."""

    number: int
    recording: int
    direction: str
    by_hand: bool
    start: str
    end: str
    lines: str
    pressure: str
    speed: str
    altitude: str
    spread: str
    said: tuple[str, ...]
    figure: str


@dataclass(frozen=True, slots=True)
class LeftOutPart:
    """A stretch that is not used, as text."""

    recording: int
    direction: str
    start: str
    end: str
    lines: str
    reason: str
    by_hand: bool


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a recording and what was understood of it."""

    column: str
    meaning: str
    cylinder: str
    unit: str
    known_from: str
    looked_at: bool


@dataclass(frozen=True, slots=True)
class RecordingPart:
    """A recording: what it is, what was understood, what was found."""

    number: int
    name: str
    sha256: str
    rows: str
    length: str
    interval: str
    understanding: str
    findings: tuple[tuple[str, str, str, bool], ...]
    """(severity, its word, message)"""
    columns: tuple[Column, ...]


@dataclass(frozen=True, slots=True)
class Budget:
    """One source of the spread's uncertainty."""

    source: str
    share: str
    part: str


@dataclass(frozen=True, slots=True)
class Said:
    """The answer's sentences, piece by piece."""

    headline: tuple[Linked, ...]
    leads: tuple[tuple[Linked, ...], ...]
    actions: tuple[str, ...]
    notes: tuple[tuple[Linked, ...], ...]
    doubts: tuple[str, ...] = ()


def said(measured: Measured, voice: Voice) -> Said:
    """The answer in sentences whose numbers lead to their evidence."""
    parts: Answer = answer(measured)
    seen: set[int] = set()
    headline: list[Linked] = []
    for statement in parts.headline:
        headline += (
            [Linked(" ", ""), *_linked(statement, voice, seen)]
            if headline
            else _linked(statement, voice, seen)
        )
    leads = tuple(tuple(_linked(statement, voice, seen)) for statement in parts.leads)
    actions = tuple(say(statement, voice, seen) for statement in parts.actions)
    notes = tuple(tuple(_linked(statement, voice, seen)) for statement in parts.notes)
    return Said(tuple(headline), leads, actions, notes, tuple(doubts(measured, voice)))


def without_commands_said(told: Said) -> Said:
    """The answer for a page whose buttons do what the command line's options do."""
    return Said(
        _without_commands(told.headline),
        tuple(filter(None, map(_without_commands, told.leads))),
        tuple(filter(None, map(without_commands, told.actions))),
        tuple(filter(None, map(_without_commands, told.notes))),
        tuple(filter(None, map(without_commands, told.doubts))),
    )


def _without_commands(pieces: Sequence[Linked]) -> tuple[Linked, ...]:
    """Linked pieces without the sentences that name an option."""
    sentences: list[list[Linked]] = [[]]
    for piece in pieces:
        first, *others = SENTENCE_ENDS.split(piece.text)
        sentences[-1].append(Linked(first, piece.target))
        sentences += [[Linked(f" {other}", piece.target)] for other in others]
    kept = [one for one in sentences if without_commands("".join(piece.text for piece in one))]
    return tuple(piece for sentence in kept for piece in sentence)


def without_commands_found(part: "RecordingPart") -> "RecordingPart":
    """A recording whose findings name no option where something else is left of them."""
    found = (
        (kind, word, without_commands(said) or said, worded) for kind, word, said, worded in part.findings
    )
    return replace(part, findings=tuple(found))


def _linked(statement: Statement, voice: Voice, seen: set[int]) -> list[Linked]:
    return [Linked(piece.text, _target(piece, statement)) for piece in phrase(statement, voice, seen)]


def _target(piece: Piece, statement: Statement) -> str:
    if piece.key is None or piece.key in {"cylinder", "cylinders", "cylinders_with_peak"}:
        return ""
    if piece.key in _SPREAD_KEYS:
        return "spread"
    if piece.key == "goal_gph":
        return "goal"
    cylinder = statement.values.get("cylinder")
    return f"cylinder-{cylinder}" if isinstance(cylinder, int) else ""


def cylinders(measured: Measured, ladder: Ladder | None, voice: Voice) -> tuple[Cylinder, ...]:
    """The table of numbers, in the order of the ladder."""
    rows = ladder.rows if ladder else leanest_first(unordered_rows(measured, voice.units))
    reasons = {one.cylinder: one.reason for one in measured.balance.cylinders}
    total = len(used(measured))
    return tuple(
        Cylinder(
            row=row,
            glyph=place_glyph(measured.profile, row.cylinder),
            place=voice.place(row.cylinder),
            flow=cells.value(row, voice),
            offset=cells.offset(row, voice),
            side=cells.side(row, voice),
            sweeps=voice.label("of", part=row.sweeps_peaked, whole=total),
            status=voice.word("status", row.status),
            reason=say(reason, voice) if (reason := reasons[row.cylinder]) else "",
            evidence=of_cylinder(measured, row.cylinder, voice),
        )
        for row in rows
    )


def sweeps(measured: Measured, voice: Voice) -> tuple[SweepPart, ...]:
    """The sweeps that count."""
    return tuple(_sweep(line, measured, voice) for line in used(measured))


def _sweep(line: SweepLine, measured: Measured, voice: Voice) -> SweepPart:
    sweep = line.sweep
    drawn = sweep_ladder(line, measured.balance.goal_gph, voice)
    grounds = tuple(say(statement, voice) for statement in (*sweep.grounds, *line.peaks.statements))
    name = voice.label("sweep-shows", number=line.number)
    return SweepPart(
        number=line.number,
        recording=_number(measured, line),
        direction=voice.word("direction", sweep.direction),
        by_hand=sweep.by_hand,
        start=clock(sweep.start_s),
        end=clock(sweep.end_s),
        lines=_lines(line.lines, voice),
        pressure=cells.pressure(sweep.manifold_pressure_inhg, voice),
        speed=cells.quantity(sweep.engine_speed_rpm, "rpm", 0, voice),
        altitude=cells.quantity(sweep.altitude_ft, "ft", 0, voice),
        spread=cells.uncertain(line.spread_gph, line.u_spread_gph, "gph", voice),
        said=grounds,
        figure=small_ladder(drawn, label=name) if drawn else "",
    )


def stretches_left_out(measured: Measured, voice: Voice) -> tuple[LeftOutPart, ...]:
    """The stretches that came near to a sweep."""
    return tuple(
        LeftOutPart(
            recording=_number(measured, one),
            direction=voice.word("direction", one.sweep.direction),
            start=clock(one.sweep.start_s),
            end=clock(one.sweep.end_s),
            lines=_lines(one.lines, voice),
            reason=say(one.sweep.reason, voice) if one.sweep.reason else "",
            by_hand=one.sweep.by_hand,
        )
        for one in left_out(measured)
    )


def _number(measured: Measured, of: SweepLine | LeftOut) -> int:
    return 1 + next(number for number, result in enumerate(measured.results) if result is of.result)


def _lines(lines: tuple[int, int], voice: Voice) -> str:
    first, last = (plain(float(line), 0, voice.marks) for line in lines)
    return str(voice.catalogue.form("interval").format(low=first, high=last))


def recording_part(number: int, recording: Recording, voice: Voice) -> RecordingPart:
    """One recording, as text."""
    interval = recording.interval_s
    return RecordingPart(
        number=number,
        name=clean(recording.name),
        sha256=recording.sha256,
        rows=voice.label("rows", kept=recording.rows_kept, skipped=recording.rows_skipped),
        length=span(recording.duration_s),
        interval="" if interval is None else f"{stripped(interval, 2, voice.marks)}\u00a0s",
        understanding=understanding(recording, voice),
        findings=tuple(
            (
                finding.severity,
                voice.word("severity", finding.severity),
                clean(voice.told(finding.message)),
                voice.says(finding.message),
            )
            for finding in recording.findings
        ),
        columns=tuple(
            Column(
                column=clean(channel.column),
                meaning=voice.word("quantity", channel.quantity),
                cylinder="" if channel.cylinder is None else str(channel.cylinder),
                unit=shown_unit(channel),
                known_from=known_from(channel, voice),
                looked_at=not understood(channel),
            )
            for channel in recording.channels
        ),
    )


def budget(measured: Measured, voice: Voice) -> tuple[Budget, ...]:
    """Where the spread's uncertainty comes from, largest first."""
    u = measured.balance.u_spread_gph
    return tuple(
        Budget(
            source=voice.word("source", source),
            share=plain(100.0 * share, 0, voice.marks) + "\u00a0%",
            part="" if u is None else cells.quantity(u * share**0.5, "gph", 3, voice),
        )
        for source, share in measured.balance.budget
    )


def says_invented(measured: Measured, voice: Voice) -> str:
    """What a page of invented data says of itself; empty for any other."""
    return voice.label("all-invented") if invented(measured) else ""
