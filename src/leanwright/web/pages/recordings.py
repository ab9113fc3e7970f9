"""The desk: all recordings; one recording over time, with its sweeps; its columns; what is said by hand."""

import re
from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Final, Literal

import msgspec
from starlette.responses import Response

from leanwright.analysis.measured import Measured
from leanwright.errors import UnusableSweepError
from leanwright.quantities import QUANTITIES, UNITS
from leanwright.recordings.recording import Recording
from leanwright.report import channels
from leanwright.report.answer import answer
from leanwright.report.cleaning import without_commands
from leanwright.report.numbers import clock, span
from leanwright.report.words import Voice, say, say_all
from leanwright.told import Told
from leanwright.web.imports import Item
from leanwright.web.pages.asked import engine_of, measured, one_recording, some
from leanwright.web.pages.incoming import follow, order_of
from leanwright.web.pages.plotting import more_channels, outermost, plot_channels, seconds, voice_of
from leanwright.web.pages.understanding import understood
from leanwright.web.refusal import RefusedError
from leanwright.web.show import download, go, page, query
from leanwright.web.visit import Form, Visit, unusable
from leanwright.workbench import desk as desks
from leanwright.workbench.desk import About, HandSweep

Time = Annotated[str, msgspec.Meta(max_length=20)]
TIME: Final = re.compile(r"\d{1,3}(:\d{1,2}){0,2}(\.\d{1,3})?|\d{1,6}(\.\d{1,3})?", re.ASCII)


class SweepForm(Form, frozen=True):
    """A sweep added, trimmed or dropped by hand, and why; times as h:mm:ss or in seconds."""

    what: Literal["add", "drop"]
    start: Time
    reason: Annotated[str, msgspec.Meta(min_length=3, max_length=300)]
    end: Time | None = None


class NumberForm(Form, frozen=True):
    """Which of the things said by hand is meant."""

    number: Annotated[int, msgspec.Meta(ge=0, le=1000)]


class ColumnForm(Form, frozen=True):
    """What the columns are, where somebody says so; one value a column."""

    column: tuple[str, ...] = ()
    quantity: tuple[str, ...] = ()
    cylinder: tuple[str, ...] = ()
    unit: tuple[str, ...] = ()
    remember: bool = False
    interval_s: Annotated[float, msgspec.Meta(ge=0.01, le=3600.0)] | None = None


def every(visit: Visit) -> Response:
    """All recordings, to open one, put several together, or compare."""
    kept = desks.everything(visit.house.desk)
    told = (
        Told("1 recording." if len(kept) == 1 else "{recordings} recordings.", recordings=len(kept))
        if kept
        else Told("Nothing here yet.")
    )
    return page(visit, "recordings.html.j2", title=told, kept=kept, span=span)


def one(visit: Visit) -> Response:
    """One recording over time."""
    return _shown(visit, one_recording(visit, visit.path["recording"]))


def _shown(
    visit: Visit, about: About, typed: SweepForm | None = None, wrong: Mapping[str, str] | None = None
) -> Response:
    """A recording; what cannot be used of what was typed stands beside its field."""
    found = measured(visit, [about])
    voice = voice_of(visit, found)
    result = found.results[0]
    doubtful = [row for row in understood(visit, about)[1] if row["look"]]
    sweeps = [_sweep(sweep, voice, about.by_hand) for sweep in result.sweeps]
    return page(
        visit, "recording.html.j2", title=without_commands(" ".join(say_all(answer(found).headline, voice))), doubtful=doubtful, step="measure", recordings=[about.id], about=about, sweeps=sweeps,
        phases=_phases(found, voice), channels=plot_channels(result.recording, found.engine, voice), more=more_channels(result.recording, found.engine, voice),
        named=outermost(found),
        length=span(result.recording.duration_s), rows=result.recording.rows_kept, skipped=result.recording.rows_skipped,
        findings=[(one.severity, without_commands(voice.told(one.message)) or voice.told(one.message)) for one in result.recording.findings], understanding=channels.understanding(result.recording, voice), clock=clock,
        duration_s=result.recording.duration_s, typed=typed, wrong=wrong or {}, code=422 if wrong else 200,
    )  # fmt: skip


def columns(visit: Visit) -> Response:
    """What was understood of each column, and a form to put it right."""
    about = one_recording(visit, visit.path["recording"])
    recording = desks.reading(visit.house.desk, about)
    title, rows = understood(visit, about)
    return page(
        visit, "columns.html.j2", title=title, step="measure", recordings=[about.id],
        about=about, rows=rows, quantities=sorted(QUANTITIES), units=[(unit, channels.sign(unit)) for unit in sorted(UNITS)], recording=recording,
        needs_interval=any(one.code == "no-clock" for one in recording.findings),
    )  # fmt: skip


async def put_right(visit: Visit, form: ColumnForm) -> Response:
    """Read the recording again with what was said of its columns."""
    about = one_recording(visit, visit.path["recording"])
    said = _corrections(form, desks.reading(visit.house.desk, about))
    if form.remember:
        from leanwright.workbench.desk_reading import remember_corrections

        remember_corrections(desks.reading(visit.house.desk, about).layout, said, visit.house.memory)
    whole = _merged(about.corrections, said)
    name = desks.reading(visit.house.desk, about).name
    item = Item(order_of(visit, about.file, name, whole, form.interval_s or about.row_interval_s), about.file)
    return await follow(visit, [item])


def say_by_hand(visit: Visit, form: SweepForm) -> Response:
    """Add, trim or drop a sweep; refused where no answer can be had with it."""
    about = one_recording(visit, visit.path["recording"])
    wrong = {
        name: Told("“{text}” is no time; write it as h:mm:ss.", text=text)
        for name, text in (("start", form.start), ("end", form.end))
        if text and not TIME.fullmatch(text)
    }
    if wrong:
        return _shown(visit, about, form, wrong)
    start = seconds(form.start)
    end = seconds(form.end) if form.end else start
    if form.what == "add" and end <= start:
        later = Told("The end, {end}, is not after the start, {start}", end=clock(end), start=clock(start))
        return _shown(visit, about, form, {"end": later})
    hand = HandSweep(form.what, start, end, form.reason)
    try:
        return _with_hand(visit, about, (*about.by_hand, hand))
    except UnusableSweepError as error:
        return _shown(visit, about, form, {"start": error.said})


class BelongForm(Form, frozen=True):
    """Recordings, and the engine of the book that they belong to."""

    r: tuple[Annotated[str, msgspec.Meta(pattern="^[0-9a-f]{64}$")], ...] = ()
    engine: Annotated[str, msgspec.Meta(max_length=60)] = ""
    back: Literal["", "answer"] = ""
    """Whether it was said beside an answer, which is then shown again."""


def belong(visit: Visit) -> Response:
    """Ask which engine some recordings belong to."""
    abouts = some(visit)
    engines = engines_of(visit)
    title = Told("Which engine do these belong to?") if engines else Told("The book has no engine yet.")
    return page(visit, "belong.html.j2", title=title, abouts=abouts, engines=engines, now=engine_of(abouts))


def say_engine(visit: Visit, form: BelongForm) -> Response:
    """Note which engine some recordings belong to."""
    if form.engine and form.engine not in engines_of(visit):
        raise RefusedError(unusable(Told("The book has no engine {engine!r}", engine=form.engine)))
    for name in form.r:
        about = one_recording(visit, name)
        desks.write_about(
            visit.house.desk, msgspec.structs.replace(about, engine=form.engine, engine_found=False)
        )
    return go(query("/balance", r=form.r) if form.back else "/recordings", visit)


def engines_of(visit: Visit) -> list[str]:
    """The engines of the book."""
    if not visit.house.book.is_there():
        return []
    with visit.house.book.using() as book:
        return list(book.state().engines)


def take_back(visit: Visit, form: NumberForm) -> Response:
    """Take back one thing that was said by hand."""
    about = one_recording(visit, visit.path["recording"])
    kept = tuple(hand for number, hand in enumerate(about.by_hand) if number != form.number)
    return _with_hand(visit, about, kept)


def put_away(visit: Visit, _form: Form) -> Response:
    """Take a recording off the desk."""
    desks.put_away(visit.house.desk, one_recording(visit, visit.path["recording"]).id)
    return go("/recordings", visit)


def file(visit: Visit) -> Response:
    """The file as it came."""
    about = one_recording(visit, visit.path["recording"])
    return download(
        desks.file_of(visit.house.desk, about.file).read_bytes(), f"recording-{about.id[:12]}.bin"
    )


def _with_hand(visit: Visit, about: About, by_hand: tuple[HandSweep, ...]) -> Response:
    changed = msgspec.structs.replace(about, by_hand=by_hand)
    measured(visit, [changed])
    desks.write_about(visit.house.desk, changed)
    return go(f"/recordings/{about.id}#sweeps", visit)


def _merged(old: tuple[str, ...], new: list[str]) -> tuple[str, ...]:
    by_column = {text.rpartition("=")[0]: text for text in (*old, *new)}
    return tuple(by_column.values())


def _corrections(form: ColumnForm, recording: Recording) -> list[str]:
    """What differs from what was understood, in the form of the command line; columns are named by their place."""
    if not len(form.column) == len(form.quantity) == len(form.cylinder) == len(form.unit):
        raise RefusedError(unusable(Told("the form is not whole")))
    said = []
    for name, quantity, cylinder, unit in zip(
        form.column, form.quantity, form.cylinder, form.unit, strict=True
    ):
        if not (name.isdecimal() and len(name) < 10 and 1 <= int(name) <= len(recording.channels)):
            raise RefusedError(unusable(Told("there is no column {name}", name=name[:20])))
        channel = recording.channels[int(name) - 1]
        before = (channel.quantity, str(channel.cylinder or ""), channel.unit or "")
        if (quantity, cylinder, unit) != before:
            parts = [quantity, *([cylinder] if cylinder else []), *([unit] if unit else [])]
            said.append(f"{channel.column or '#' + name}={':'.join(parts)}")
    return said


def _sweep(sweep: Any, voice: Voice, by_hand: Sequence[HandSweep]) -> dict[str, Any]:
    what = "add" if sweep.used else "drop"
    why = [one.reason for one in by_hand if one.what == what and sweep.start_s <= one.start_s <= sweep.end_s]
    return {
        "why": why[-1] if sweep.by_hand and why else "",
        "start_s": sweep.start_s,
        "end_s": sweep.end_s,
        "start": clock(sweep.start_s),
        "end": clock(sweep.end_s),
        "direction": voice.word("direction", sweep.direction),
        "used": sweep.used,
        "by_hand": sweep.by_hand,
        "reason": without_commands(say(sweep.reason, voice)) if sweep.reason else "",
        "grounds": [say(one, voice) for one in sweep.grounds],
    }


def _phases(found: Measured, voice: Voice) -> list[dict[str, Any]]:
    return [
        {"words": voice.word("phase", phase.kind), "start_s": phase.start_s, "end_s": phase.end_s}
        for power_up in found.results[0].power_ups
        for phase in power_up.phases
    ]
