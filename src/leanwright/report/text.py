"""The answer in a terminal: the sentence first, then the ladder, then the numbers."""

from collections import Counter
from collections.abc import Sequence

from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.recordings.recording import OF_ENGINE, Recording
from leanwright.report import cells
from leanwright.report.answer import DOUBTS, answer, doubts, invented
from leanwright.report.channels import known_from, shown_unit, understanding
from leanwright.report.cleaning import clean
from leanwright.report.ladder import ladder, leanest_first, unordered_rows
from leanwright.report.numbers import NO_BREAK, clock, span, stripped
from leanwright.report.on_ground import short_evidence
from leanwright.report.sweeps import LeftOut, SweepLine, left_out, used
from leanwright.report.text_blocks import Writer, table, wrapped, writer
from leanwright.report.text_ladder import text_ladder
from leanwright.report.text_lines import line_blocks, stated
from leanwright.report.units import System, sign_of
from leanwright.report.words import Voice, say, say_all
from leanwright.report.words.catalogue import load

_WIDEST, _MOST_LEFT_OUT, _MOST_ALIKE = 140, 3, 10
_GUESSED = frozenset({"unit-by-values", "time-unit-by-values"})
"""Notes that an answer never goes without: a wrong guess of a unit spoils it."""


def balance_text(
    measured: Measured,
    *,
    units: System = "us",
    language: str = "en",
    ascii_only: bool = False,
    width: int = 80,
    bold: bool = False,
) -> str:
    """The whole answer as text, without a line end.

    ``width`` is the terminal's; ``bold`` may be used for rows outside the rails (a terminal, and no ``NO_COLOR``).
    """
    voice = Voice(load(language), units, measured.profile)
    write = writer(ascii_only=ascii_only)
    blocks = [
        _sentences(measured, voice, write),
        _ladder(measured, voice, width=min(width, _WIDEST), ascii_only=ascii_only, bold=bold),
        _numbers(measured, voice, write),
        _rests_on(measured, voice, write),
        _sweeps(measured, voice, write),
        [line for result in measured.results for line in _result(result, voice, write)],
        wrapped([voice.label("caution")], write),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def ramp_check_text(
    measured: Measured, *, units: System = "us", language: str = "en", ascii_only: bool = False
) -> str:
    """Whether the sweeps flown will do, in a sentence or two, without a line end."""
    voice = Voice(load(language), units, measured.profile)
    said = measured.ramp_check.answer if measured.ramp_check is not None else measured.balance.reasons
    return "\n".join(wrapped(say_all(said, voice), writer(ascii_only=ascii_only)))


def channels_text(
    recordings: Sequence[Recording], *, language: str = "en", ascii_only: bool = False, lines: bool = False
) -> str:
    """What was understood of recordings, as text, without a line end; with ``lines`` the file beside its reading."""
    voice = Voice(load(language))
    write = writer(ascii_only=ascii_only)
    blocks = []
    for recording in recordings:
        blocks += [_recording(recording, voice, write), _channels(recording, voice, write)]
        if lines:
            blocks += line_blocks(recording, voice, write)
    return "\n\n".join("\n".join(block) for block in blocks)


def _sentences(measured: Measured, voice: Voice, write: Writer) -> list[str]:
    parts = answer(measured)
    seen: set[int] = set()
    paragraphs = [
        [say(statement, voice, seen) for statement in part]
        for part in (parts.headline, parts.leads, parts.actions)
    ]
    paragraphs[2:2] = [[doubt] for doubt in doubts(measured, voice)]
    if invented(measured):
        paragraphs.append([voice.label("all-invented")])
    return [line for paragraph in paragraphs for line in wrapped(paragraph, write)]


def _rests_on(measured: Measured, voice: Voice, write: Writer) -> list[str]:
    seen = set(measured.profile.places)
    return wrapped([say(statement, voice, seen) for statement in answer(measured).notes], write)


def _ladder(measured: Measured, voice: Voice, *, width: int, ascii_only: bool, bold: bool) -> list[str]:
    drawn = ladder(measured, voice.units)
    if drawn is None:
        return []
    return text_ladder(drawn, voice, width=width, ascii_only=ascii_only, bold=bold)


def _numbers(measured: Measured, voice: Voice, write: Writer) -> list[str]:
    """A row a cylinder: offset with its uncertainty, side, and in how many sweeps it peaked."""
    total = len(used(measured))
    drawn = ladder(measured, voice.units)
    ordered = drawn.rows if drawn else leanest_first(unordered_rows(measured, voice.units))
    if not ordered:
        return []
    head = ["cylinder", "status", "side", "sweeps", "flow-at-peak-short", "offset-percent"]
    lines = [
        [
            cells.label(row, voice),
            voice.word("status", row.status) + (f", {voice.label('by-hand')}" if row.by_hand else ""),
            cells.side(row, voice),
            voice.label("of", part=row.sweeps_peaked, whole=total),
            cells.value(row, voice),
            cells.offset(row, voice),
        ]
        for row in ordered
    ]  # fmt: skip
    unit = sign_of("gph", voice.units)
    # The sign of the offset tells the side too.
    return table([voice.label(name, unit=unit) for name in head], lines, write, left=3, spare=2)


def _sweeps(measured: Measured, voice: Voice, write: Writer) -> list[str]:
    """A row a sweep, then what was left out and why."""
    several = len(measured.results) > 1
    head = [
        "sweep-number",
        "direction",
        "from",
        "to",
        "line",
        "manifold-pressure",
        "engine-speed",
        "altitude",
        "spread-short",
    ]
    lines = [_sweep(line, voice) for line in used(measured)]
    text: list[str] = []
    if lines:
        signs = {
            "manifold-pressure": sign_of("inhg", voice.units),
            "engine-speed": "rpm",
            "altitude": "ft",
            "spread-short": sign_of("gph", voice.units),
        }
        names = [voice.label(name, unit=signs.get(name, "")) for name in head]
        text = table(names, lines, write, left=2, spare=head.index("altitude"))
    for line in used(measured):
        if line.sweep.by_hand:
            text += wrapped([voice.label("sweep-number-by-hand", number=line.number)], write)
    stretches = left_out(measured)
    for stretch in _longest(stretches):
        words = voice.label(
            "left-out-line",
            start=clock(stretch.sweep.start_s),
            end=clock(stretch.sweep.end_s),
            first=stretch.lines[0],
            last=stretch.lines[1],
            recording=clean(stretch.result.recording.name, 40) if several else None,
        )
        reason = say(stretch.sweep.reason, voice) if stretch.sweep.reason else ""
        text += wrapped([words + voice.colon + reason], write, indent="  ")
    if len(stretches) > _MOST_LEFT_OUT:
        text += wrapped([voice.label("more-left-out", more=len(stretches) - _MOST_LEFT_OUT)], write)
    return text


def _longest(stretches: Sequence[LeftOut]) -> list[LeftOut]:
    """The longest few of the stretches left out, in their order: what a person may have meant as a sweep."""
    by_length = sorted(stretches, key=lambda one: one.sweep.start_s - one.sweep.end_s)[:_MOST_LEFT_OUT]
    return [one for one in stretches if one in by_length]


def _sweep(line: SweepLine, voice: Voice) -> list[str]:
    sweep = line.sweep
    return [
        str(line.number),
        voice.word("direction", sweep.direction),
        clock(sweep.start_s),
        clock(sweep.end_s),
        str(line.lines[0]),
        cells.pressure(sweep.manifold_pressure_inhg, voice),
        cells.quantity(sweep.engine_speed_rpm, "rpm", 0, voice),
        cells.quantity(sweep.altitude_ft, "ft", 0, voice),
        cells.uncertain(line.spread_gph, line.u_spread_gph, "gph", voice),
    ]


def _result(result: RecordingResult, voice: Voice, write: Writer) -> list[str]:
    """A recording, and what else of it was kept."""
    kept = short_evidence(result, voice)
    lines = _recording(result.recording, voice, write, said=DOUBTS)
    return [*lines, *wrapped([kept], write, indent="  ")] if kept else lines


def _recording(
    recording: Recording, voice: Voice, write: Writer, said: frozenset[str] = frozenset()
) -> list[str]:
    """What a recording is, how much of it was understood, every finding that is more than a note, and what was guessed.

    Findings of the codes in ``said`` stand above already.
    """
    interval = recording.interval_s
    words = [
        voice.label(
            "recording-line",
            name=clean(recording.name, 60),
            kept=recording.rows_kept,
            skipped=recording.rows_skipped,
            length=span(recording.duration_s),
            interval=None if interval is None else f"{stripped(interval, 2, voice.marks)}{NO_BREAK}s",
        ),
        understanding(recording, voice),
        *stated(recording, voice),
    ]
    lines = wrapped(words, write, indent="  ")
    alike: Counter[str] = Counter()
    for finding in recording.findings:
        if finding.code not in said and (finding.severity != "note" or finding.code in _GUESSED):
            alike[finding.code] += 1
            if alike[finding.code] <= _MOST_ALIKE:
                told = f"{voice.word('severity', finding.severity)}{voice.colon}{clean(voice.told(finding.message))}"
                lines += wrapped([f"  {told}"], write, indent="    ")
    more = sum(count - _MOST_ALIKE for count in alike.values() if count > _MOST_ALIKE)
    if more:
        lines += wrapped([f"  {voice.label('findings-more', more=more)}"], write, indent="    ")
    return lines


def _channels(recording: Recording, voice: Voice, write: Writer) -> list[str]:
    head = [voice.label(name) for name in ("column", "meaning", "cylinder", "engine", "unit", "known-from")]
    several = len({channel.engine for channel in recording.channels}) > 1
    lines = [
        [
            clean(channel.column, 28),
            voice.word("quantity", channel.quantity),
            "" if channel.cylinder is None else str(channel.cylinder),
            str(channel.engine) if several and channel.quantity in OF_ENGINE else "",
            shown_unit(channel),
            known_from(channel, voice),
        ]
        for channel in recording.channels
    ]
    notes = [
        line
        for finding in recording.findings
        if finding.severity == "note" and finding.code not in _GUESSED
        for line in wrapped(
            [f"{voice.word('severity', 'note')}{voice.colon}{clean(voice.told(finding.message))}"],
            write,
            indent="  ",
        )
    ]
    return [*table(head, lines, write, left=6, drop_empty=True), *notes]
