"""Results in a notebook: a sentence and a table, short, whole in themselves, without script or style sheet."""

from collections.abc import Sequence
from dataclasses import dataclass

from leanwright.analysis.balance import Balance
from leanwright.analysis.chosen import Chosen
from leanwright.analysis.explained import Explained
from leanwright.analysis.flight_card import FlightCard
from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.analysis.peak import CylinderPeak, Peaks, SweepPeaks
from leanwright.analysis.proved import Proved
from leanwright.analysis.sweep import Sweep
from leanwright.engine.profile import EngineProfile
from leanwright.recordings.recording import Recording
from leanwright.report import cells
from leanwright.report.answer import answer, invented
from leanwright.report.answer_page import AnswerTexts, causes_texts, compare_texts, plan_texts
from leanwright.report.card import card_texts
from leanwright.report.channels import known_from, shown_unit, understanding
from leanwright.report.cleaning import clean
from leanwright.report.ladder import ladder, leanest_first, unordered_rows
from leanwright.report.leaning_document import Advice
from leanwright.report.leaning_page import leaning_texts
from leanwright.report.numbers import NO_BREAK, clock, plain, span, stripped
from leanwright.report.survey_document import Surveyed
from leanwright.report.survey_page import survey_texts
from leanwright.report.templating import environment, own_drawing
from leanwright.report.units import System, sign_of
from leanwright.report.watch_document import Watched
from leanwright.report.watch_page import watch_texts
from leanwright.report.words import Voice, say
from leanwright.report.words.catalogue import load


@dataclass(frozen=True, slots=True)
class Shown:
    """A result as a notebook shows it, in chosen units and language."""

    html: str

    def _repr_html_(self) -> str:
        return self.html


@dataclass(frozen=True, slots=True)
class Message:
    """A finding of the reader: the word for its severity, and what it says; ``worded`` if in the reader's language."""

    severity: str
    text: str
    worded: bool


@dataclass(frozen=True, slots=True)
class Fragment:
    """What is shown: ``left`` columns of the table are set to the left, the others to the right."""

    title: str
    said: Sequence[str] = ()
    messages: Sequence[Message] = ()
    head: Sequence[str] = ()
    rows: Sequence[Sequence[str]] = ()
    left: int = 1
    note: str = ""
    figure: str = ""


def fragment(result: object, *, units: System = "us", language: str = "en") -> str:
    """A result as a piece of a page.

    Raises
    ------
    TypeError
        If it is no result that can be shown.
    """
    voice = Voice(load(language), units)
    match result:
        case Measured():
            shown = _measured(result, Voice(voice.catalogue, units, result.profile))
        case Balance():
            shown = _measured(_alone(result), voice)
        case Peaks():
            shown = _peaks(result.sweeps, voice)
        case SweepPeaks():
            shown = _peaks((result,), voice)
        case RecordingResult():
            shown = _peaks(result.peaks.sweeps, voice)
        case FlightCard():
            shown = _card(result, voice)
        case Sweep():
            shown = _sweep(result, voice)
        case Recording():
            shown = _recording(result, voice)
        case Chosen():
            shown = _answer(plan_texts(result, Voice(voice.catalogue, units, result.measured.profile)))
        case Proved():
            shown = _answer(compare_texts(result, Voice(voice.catalogue, units, result.before.profile)))
        case Explained():
            shown = _answer(causes_texts(result, Voice(voice.catalogue, units, result.now.profile)))
        case Advice():
            shown = _answer(leaning_texts(result, Voice(voice.catalogue, units, result.measured.profile)))
        case Watched():
            shown = _answer(watch_texts(result, voice))
        case Surveyed():
            shown = _answer(survey_texts(result, voice))
        case _:
            raise TypeError(f"a {type(result).__name__} cannot be shown; a result of leanwright can")
    return (
        environment()
        .get_template("fragment.html.j2")
        .render(
            language=language,
            title=shown.title,
            said=shown.said,
            messages=shown.messages,
            head=shown.head,
            rows=shown.rows,
            left=shown.left,
            note=shown.note,
            figure=own_drawing(shown.figure),
        )
    )


def _answer(texts: AnswerTexts) -> Fragment:
    """A plan, a comparison or causes: sentence, figure, and the table that says most."""
    part = texts.parts[0] if texts.parts else None
    return Fragment(
        texts.title,
        [*texts.said, *texts.notes],
        head=part.head if part else (),
        rows=part.rows if part else (),
        left=part.left if part else 1,
        note=" ".join(filter(None, [part.note if part else "", texts.caution])),
        figure=texts.figures[1] if texts.figures else "",
    )


def _card(card: FlightCard, voice: Voice) -> Fragment:
    """The sweeps to fly, what they are expected to give, and the cautions."""
    texts = card_texts(card, None, None, voice)
    return Fragment(
        texts.title,
        [texts.kind, *texts.gives, texts.lever],
        # The last columns of the paper are boxes to write in.
        head=texts.head[: max(map(len, texts.rows), default=0)],
        rows=texts.rows,
        note=" ".join([texts.caution, voice.label("caution")]),
    )


def _alone(balance: Balance) -> Measured:
    """A balance without its recordings and its engine: nothing tells where a cylinder lies."""
    unknown = EngineProfile(len(balance.cylinders), "from-rear", (), {})
    return Measured((), balance, unknown, 1)


def _measured(measured: Measured, voice: Voice) -> Fragment:
    said = answer(measured)
    seen: set[int] = set()
    first, *others = (
        [say(statement, voice, seen) for statement in part]
        for part in (said.headline, said.leads, said.actions, said.notes)
    )
    drawn = ladder(measured, voice.units)
    rows = drawn.rows if drawn else leanest_first(unordered_rows(measured, voice.units))
    unit = sign_of("gph", voice.units)
    names = ("cylinder", "status", "side", "sweeps-peaked", "flow-at-peak", "offset-percent")
    note = [voice.label("all-invented")] if invented(measured) else []
    return Fragment(
        " ".join(first),
        [sentence for part in others for sentence in part],
        head=[voice.label(name, unit=unit) for name in names],
        rows=[
            [
                cells.label(row, voice),
                voice.word("status", row.status) + (f", {voice.label('by-hand')}" if row.by_hand else ""),
                cells.side(row, voice),
                str(row.sweeps_peaked),
                cells.value(row, voice),
                cells.offset(row, voice),
            ]
            for row in rows
        ],
        left=3,
        note=" ".join([*note, voice.label("numbers-note"), voice.label("caution")]),
    )


def _peaks(sweeps: Sequence[SweepPeaks], voice: Voice) -> Fragment:
    """A row a sweep, a column a cylinder: its flow at peak, or why there is none."""
    cylinders = sorted({peak.cylinder for one in sweeps for peak in one.cylinders})
    unit = sign_of("gph", voice.units)
    rows = []
    for number, one in enumerate(sweeps, 1):
        by_number = {peak.cylinder: peak for peak in one.cylinders}
        found = [_flow(by_number[c], voice) if c in by_number else "" for c in cylinders]
        sweep = one.sweep
        times = voice.label("times", start=clock(sweep.start_s), end=clock(sweep.end_s))
        rows.append([str(number), voice.word("direction", sweep.direction), times, *found])
    head = [voice.label("sweep"), voice.label("direction"), voice.label("time")]
    head += [f"{voice.label('cylinder')} {cylinder}, {unit}" for cylinder in cylinders]
    title = voice.label("sweeps-count", sweeps=len(sweeps)) if sweeps else voice.label("no-sweeps")
    seen: set[int] = set()
    said = [say(statement, voice, seen) for one in sweeps for statement in one.statements]
    return Fragment(
        title[:1].upper() + title[1:], said, head=head, rows=rows, left=3, note=voice.label("numbers-note")
    )


def _flow(peak: CylinderPeak, voice: Voice) -> str:
    if peak.fuel_flow_at_peak_gph is not None:
        return cells.uncertain(peak.fuel_flow_at_peak_gph, peak.u_fuel_flow_at_peak_gph, "gph", voice)
    if peak.bound_gph is not None:
        side = voice.word("bound-side", peak.bound_side)
        return f"{side} {cells.quantity(peak.bound_gph, 'gph', 2, voice)}"
    return voice.word("status", peak.status)


def _sweep(sweep: Sweep, voice: Voice) -> Fragment:
    times = voice.label("times", start=clock(sweep.start_s), end=clock(sweep.end_s))
    told = [voice.word("direction", sweep.direction), times, span(sweep.end_s - sweep.start_s)]
    told += [voice.label("left-out")] if not sweep.used else []
    told += [voice.label("by-hand")] if sweep.by_hand else []
    why = (sweep.reason,) if sweep.reason else sweep.grounds
    title = f"{voice.label('sweep')}{voice.colon}{', '.join(told)}."
    names = (("manifold-pressure-long", "inhg"), ("engine-speed-long", "rpm"), ("altitude-long", "ft"))
    values = (
        cells.pressure(sweep.manifold_pressure_inhg, voice),
        cells.quantity(sweep.engine_speed_rpm, "rpm", 0, voice),
        cells.quantity(sweep.altitude_ft, "ft", 0, voice),
    )
    known = [
        (voice.label(name, unit=sign_of(unit, voice.units)), value)
        for (name, unit), value in zip(names, values, strict=True)
        if value
    ]
    return Fragment(
        title[:1].upper() + title[1:],
        [say(one, voice) for one in why],
        head=[name for name, _ in known],
        rows=[[value for _, value in known]] if known else (),
    )


def _recording(recording: Recording, voice: Voice) -> Fragment:
    interval = recording.interval_s
    every = None if interval is None else f"{stripped(interval, 2, voice.marks)}{NO_BREAK}s"
    line = voice.label(
        "recording-line",
        name=clean(recording.name, 60),
        kept=recording.rows_kept,
        skipped=recording.rows_skipped,
        length=span(recording.duration_s),
        interval=every,
    )
    names = ("column", "meaning", "cylinder", "unit", "known-from")
    return Fragment(
        line,
        [understanding(recording, voice)],
        messages=[
            Message(
                voice.word("severity", finding.severity) + _where(finding.line, voice) + voice.colon,
                clean(voice.told(finding.message)),
                voice.says(finding.message),
            )
            for finding in recording.findings
        ],
        head=[voice.label(name) for name in names],
        rows=[
            [
                clean(channel.column),
                voice.word("quantity", channel.quantity),
                "" if channel.cylinder is None else str(channel.cylinder),
                shown_unit(channel),
                known_from(channel, voice),
            ]
            for channel in recording.channels
        ],
        left=5,
    )


def _where(line: int | None, voice: Voice) -> str:
    return "" if line is None else f" ({voice.label('line')} {plain(float(line), 0, voice.marks)})"
