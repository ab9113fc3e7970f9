"""The fitting worksheet: what goes where, the instructions' figures, a block a cylinder, then the engine."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from leanwright.report.cleaning import clean
from leanwright.report.numbers import NO_BREAK, plain
from leanwright.report.sheet_engine import engine_drawing, engine_says
from leanwright.report.sheet_pieces import (
    Beside,
    Blank,
    Cell,
    Drawing,
    Fields,
    Heading,
    Paragraph,
    Piece,
    Sheet,
    Simple,
    StepCell,
    Table,
    Tick,
    Together,
    Words,
    WorkBlock,
)
from leanwright.report.sheet_source import (
    EntryMark,
    OfEngine,
    amount,
    cylinder,
    cylinder_words,
    engine_line,
)
from leanwright.report.words import Voice

TORQUES: Final = {
    "nozzle-torqued": "nozzle-torque",
    "line-torqued-at-nozzle": "line-torque",
    "line-torqued-at-divider": "line-torque",
}
_BEFORE: Final = ("master-off", "mixture-off", "pressure-off", "selector-off", "cold", "bottle", "caps-out")
_STEPS: Final = (
    ("line-off", "tick"),
    ("old-nozzle-out", "write"),
    ("tagged", "write"),
    ("seat-inspected", "tick"),
    ("marking-read", "write"),
    ("allowed-here", "tick"),
    ("thread-compound", "tick"),
    ("started-by-hand", "tick"),
    ("nozzle-torqued", "write"),
    ("line-torqued-at-nozzle", "write"),
    ("line-torqued-at-divider", "write"),
    ("line-marked", "tick"),
    ("clamp-back", "tick"),
    ("looked-at-again", "tick"),
)
_MEASURED: Final = ("idle-mixture", "idle-speed", "metered-pressure", "unmetered-pressure", "full-power-flow")
_ALSO_DECIMALS: Final = {"in-lb": 0}
_COLUMNS: Final = 7
_FIRST: Final = "fuel-off"
"""The engine's step that comes before any cylinder: it stands under what is done before the start."""


@dataclass(frozen=True, slots=True)
class Done:
    """A step that was done by the book: what was read, measured or seen, and its entry.

    ``at_joint_inlb`` is what the joint got of a torque [in-lb], where an extension made that another one than the wrench read.
    """

    value: str
    unit: str
    by: str
    entry: EntryMark
    at_joint_inlb: float | None = None


@dataclass(frozen=True, slots=True)
class Block:
    """One cylinder of the job: its new marking, where that may go, what is in it by the book, and what was done."""

    cylinder: int
    marking: str
    may_go_to: tuple[int, ...]
    in_book: str | None
    steps: Mapping[str, Done]


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure of the instructions, as it was entered; a torque in a second unit besides."""

    what: str
    low: str
    high: str
    unit: str
    document: str
    revision: str
    needs_second_person: bool
    also: tuple[float, float] | None = None
    also_unit: str = ""


@dataclass(frozen=True, slots=True)
class Wrench:
    """A torque wrench of the book."""

    name: str
    low: str | None
    high: str | None
    unit: str | None
    due: str | None


@dataclass(frozen=True, slots=True)
class Health:
    """The latest result of a check of the engine's health; without one nothing is on file."""

    what: str
    result: str | None
    date: str | None


@dataclass(frozen=True, slots=True)
class Fitting:
    """Everything that the worksheet shows. ``touch_again`` names steps while the work rests, else it is ``None``."""

    job: str
    document: str
    revision: str
    nozzle_set: str | None
    engine: OfEngine
    blocks: tuple[Block, ...]
    engine_steps: Mapping[str, Done | None]
    figures: tuple[Figure, ...]
    wrenches: tuple[Wrench, ...]
    health: tuple[Health, ...]
    second_person: bool
    return_due: str | None
    touch_again: tuple[tuple[str, int | None], ...] | None


def fitting_sheet(of: Fitting, voice: Voice) -> Sheet:
    """Word a worksheet."""
    numbers = [one.cylinder for one in of.blocks]
    title = voice.label("paper-fitting", nozzles=len(numbers), cylinders=numbers)
    set_words = voice.label("paper-set", set=clean(of.nozzle_set)) if of.nozzle_set else ""
    pieces: list[Piece] = [_head(of, voice)]
    if of.touch_again is not None:
        again = ", ".join(_step_words(step, where, voice) for step, where in of.touch_again)
        pieces.append(Paragraph(voice.label("paper-paused", steps=again), "bold"))
    pieces.append(Heading(voice.label("paper-each-cylinder")))
    pieces += [_block(one, of, voice) for one in of.blocks]
    if of.return_due:
        pieces.append(Paragraph(voice.label("paper-old-back", date=of.return_due), "bold"))
    pieces += [
        Fields((voice.label("paper-interrupted"),), 1),
        Heading(voice.label("paper-then-engine")),
        _engine(of, voice),
        _inspection(of, voice),
    ]
    return Sheet(
        title=title[:1].upper() + title[1:],
        engine=" · ".join(part for part in (engine_line(of.engine, voice), set_words) if part),
        step="fit",
        lead=_lead(of, voice),
        caution=voice.label("paper-fitting-caution"),
        units=voice.label("paper-units", units=", ".join(_units(of))),
        pieces=tuple(pieces),
    )


def _lead(of: Fitting, voice: Voice) -> str:
    """What goes where, which marking has its own places, and what is left alone."""
    goes = ", ".join(
        voice.label("paper-goes", cylinder=one.cylinder, marking=clean(one.marking)) for one in of.blocks
    )
    told = [goes[:1].upper() + goes[1:] + "."]
    all_of_them = of.engine.profile.cylinders
    ruled = {one.marking: one.may_go_to for one in of.blocks if len(one.may_go_to) < all_of_them}
    told += [
        voice.label("paper-may-go", marking=clean(marking), cylinders=list(places))
        for marking, places in ruled.items()
    ]
    rest = [
        number for number in range(1, all_of_them + 1) if number not in {one.cylinder for one in of.blocks}
    ]
    if rest:
        told.append(voice.label("paper-leave-alone", cylinders=rest))
    return " ".join(told)


def _units(of: Fitting) -> list[str]:
    """The units that stand on the sheet, torque first."""
    return list(dict.fromkeys([*(clean(one.unit) for one in of.figures), "h"]))


def _head(of: Fitting, voice: Voice) -> Beside | Together:
    before: tuple[Simple, ...] = (
        Heading(voice.label("paper-before")),
        Table(("",), tuple((Tick(voice.label(f"paper-before-{name}")),) for name in _BEFORE), ("1fr",)),
        *_fuel_off(of, voice),
        *_instructions(of, voice),
    )
    planned = {one.cylinder: one.marking for one in of.blocks}
    drawing = engine_drawing(planned, of.engine, voice)
    if not drawing:
        return Together((*before, *_wrench(of, voice), *_health(of, voice)))
    left: tuple[Simple, ...] = (
        Drawing(drawing, engine_says(planned, of.engine, voice)),
        *_wrench(of, voice),
        *_health(of, voice),
    )
    return Beside(left, before)


def _fuel_off(of: Fitting, voice: Voice) -> tuple[Simple, ...]:
    done = of.engine_steps.get(_FIRST)
    if done is None:
        return ()
    told = f"{voice.word('work-step', _FIRST)}{voice.colon}{_done(done, voice)}".replace("\n", " · ")
    return (Paragraph(told, "bold"),)


def _instructions(of: Fitting, voice: Voice) -> tuple[Simple, ...]:
    """The instructions' figures with document and revision; blanks where none is entered yet."""
    source = f"{clean(of.document)}, {voice.label('paper-revision', revision=clean(of.revision))}"
    rows: list[tuple[Cell, ...]] = [
        (Words(_figure_words(one, of, voice)), Words(_limits(one, voice), bold=True)) for one in of.figures
    ]
    entered = {one.what for one in of.figures}
    rows += [
        (Words(voice.word("figure", what)), Blank())
        for what in ("nozzle-torque", "line-torque")
        if what not in entered
    ]
    head = (voice.label("paper-figure"), voice.label("paper-from-to"))
    return (
        Heading(voice.label("paper-instructions")),
        Paragraph(source, "small"),
        Table(head, tuple(rows), ("1fr", "44mm")),
    )


def _figure_words(one: Figure, of: Fitting, voice: Voice) -> str:
    """What a figure is of, its source where it is another one, and whether a second person has to enter it."""
    told = [voice.word("figure", one.what)]
    if (one.document, one.revision) != (of.document, of.revision):
        told.append(f"{clean(one.document)} {clean(one.revision)}")
    if one.needs_second_person:
        told.append(voice.label("paper-second-figure"))
    return "; ".join(told)


def _limits(one: Figure, voice: Voice) -> str:
    """The limits in the instructions' own unit, a torque in a second one besides."""
    mark = voice.marks.decimal
    low, high = one.low.replace(".", mark), one.high.replace(".", mark)
    told = (
        f"{low}{NO_BREAK}{clean(one.unit)}" if low == high else f"{low} – {high}{NO_BREAK}{clean(one.unit)}"
    )
    if one.also is None:
        return told
    decimals = _ALSO_DECIMALS.get(one.also_unit, 1)
    values = dict.fromkeys(plain(value, decimals, voice.marks) for value in one.also)
    return f"{told} ({' – '.join(values)}{NO_BREAK}{one.also_unit})"


def _wrench(of: Fitting, voice: Voice) -> tuple[Simple, ...]:
    rows: list[tuple[Cell, ...]] = [
        (Tick(clean(one.name)), Words(_range(one, voice)), Words(one.due or voice.label("not-known")))
        for one in of.wrenches
    ]
    rows.append((Blank(), Blank(), Blank()))
    head = (voice.label("paper-wrench"), voice.label("paper-range"), voice.label("paper-calibration-due"))
    return (
        Table(head, tuple(rows), ("1fr", "27mm", "27mm")),
        Paragraph(voice.label("paper-extension"), "small"),
    )


def _range(one: Wrench, voice: Voice) -> str:
    if one.low is None or one.high is None:
        return voice.label("not-known")
    mark = voice.marks.decimal
    return f"{one.low.replace('.', mark)} – {one.high.replace('.', mark)}{NO_BREAK}{clean(one.unit or '')}"


def _health(of: Fitting, voice: Voice) -> tuple[Simple, ...]:
    told = [
        f"{voice.word('check', one.what)}{voice.colon}"
        + (
            f"{voice.word('check-result', one.result)} {one.date}"
            if one.result
            else voice.label("paper-nothing-on-file")
        )
        for one in of.health
    ]
    return (Paragraph(f"{voice.label('paper-health')} {'; '.join(told)}.", "small"),)


def _block(one: Block, of: Fitting, voice: Voice) -> WorkBlock:
    notes = [voice.label("paper-in-book", marking=clean(one.in_book))] if one.in_book else []
    return WorkBlock(
        cylinder=cylinder(one.cylinder, of.engine, voice),
        marking=clean(one.marking),
        notes=tuple(notes),
        lines=(voice.label("paper-by"), voice.label("paper-time")),
        steps=tuple(_step(name, way, one, of, voice) for name, way in _STEPS),
        columns=_COLUMNS,
    )


def _step(name: str, way: str, one: Block, of: Fitting, voice: Voice) -> StepCell:
    text = voice.word("work-step", name)
    done = one.steps.get(name)
    if done is not None:
        return StepCell(text, "done", _done(done, voice))
    if way == "tick":
        return StepCell(text, "tick")
    figure = next((figure for figure in of.figures if figure.what == TORQUES.get(name)), None)
    return StepCell(text, "write", clean(figure.unit) if figure else "")


def _done(done: Done, voice: Voice) -> str:
    value = amount(clean(done.value), done.unit, voice) if done.value else voice.label("paper-done")
    joint = ""
    if done.at_joint_inlb is not None:
        joint = voice.label("paper-at-joint", torque=plain(done.at_joint_inlb, 1, voice.marks))
    mark = voice.label("paper-entry", entry=done.entry.first)
    changed = done.entry.number != done.entry.first
    again = voice.label("paper-corrected-row", entry=done.entry.number) if changed else ""
    return "\n".join(part for part in (value, joint, mark, again) if part)


def _engine(of: Fitting, voice: Voice) -> Table:
    """The engine's own steps; what is measured stands with its limits and a line for the number."""
    limits = {one.what: one for one in of.figures}
    rows: list[tuple[Cell, ...]] = []
    for name, done in of.engine_steps.items():
        if name == _FIRST:
            continue
        words = voice.word("work-step", name)
        if done is not None:
            told = _done(done, voice).replace("\n", " · ")
            rows.append((Words(words), Words(told, bold=True), Words(clean(done.by)), Words("")))
            continue
        measured = limits.get(name)
        value: Cell = Words("")
        if measured:
            value = Blank(clean(measured.unit))
            words += f" ({_limits(measured, voice)})"
        elif name in _MEASURED:
            value = Blank()
            words += " (____ – ____)"
        rows.append((Tick(words), value, Blank(), Blank()))
    head = ("", *(voice.label(f"paper-{one}") for one in ("measured", "by", "time")))
    return Table(head, tuple(rows), ("1fr", "36mm", "27.5mm", "27.5mm"), 7.0)


def _inspection(of: Fitting, voice: Voice) -> Together:
    second = "paper-second-asked" if of.second_person else "paper-second"
    shown: list[Simple] = [
        Heading(voice.label("paper-inspection")),
        Paragraph(voice.label(second), "small"),
        Table(
            (voice.label("paper-marking-in-place"), "", voice.label("paper-both-ends"), voice.label("paper-by"), voice.label("paper-time")),
            tuple(
                (cylinder(one.cylinder, of.engine, voice), Blank(), Tick(), Blank(), Blank())
                for one in reversed(of.blocks)
            ),
            ("40mm", "1fr", "34mm", "27.5mm", "27.5mm"),
            8.0,
        ),
        Fields((voice.label("paper-done-by"), voice.label("paper-date"), voice.label("paper-inspected-by"), voice.label("paper-date")), 2),
    ]  # fmt: skip
    return Together(tuple(shown))


def _step_words(step: str, where: int | None, voice: Voice) -> str:
    words = voice.word("work-step", step)
    return words if where is None else f"{words} ({cylinder_words(where, voice)})"
