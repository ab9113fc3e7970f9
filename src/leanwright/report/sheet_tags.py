"""Tags and labels of 90 × 55 mm: parts in quarantine, old nozzles, new nozzles. Each bears the code of its own entry."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from leanwright.report.cleaning import clean
from leanwright.report.sheet_code import code_drawing
from leanwright.report.sheet_pieces import Card, Cards, Sheet
from leanwright.report.sheet_source import (
    EntryMark,
    OfEngine,
    Source,
    amount,
    corrected,
    cylinder,
    cylinder_words,
    engine_line,
)
from leanwright.report.words import Voice

_LONGEST: Final = 90
"""Signs of a line that a tag has room for; the entry holds all of them."""


@dataclass(frozen=True, slots=True)
class Apart:
    """A part in quarantine: ``because`` is the result of the receipt, or with ``in_words`` what a person wrote."""

    marking: str
    serial: str | None
    order: str | None
    because: str
    in_words: bool
    since: str
    entry: EntryMark


@dataclass(frozen=True, slots=True)
class Old:
    """A nozzle of the engine that comes out, or came out: then ``marking`` and ``tag`` are as they were entered."""

    cylinder: int
    in_book: str | None
    marking: str | None
    serial: str | None
    tag: str | None
    removed: str | None
    hours: str | None
    condition: str | None
    entry: EntryMark


@dataclass(frozen=True, slots=True)
class New:
    """A nozzle that came as ordered."""

    marking: str
    cylinder: int | None
    serial: str | None
    order: str
    entry: EntryMark


def quarantine_sheet(parts: Sequence[Apart], of: OfEngine, source: Source, voice: Voice) -> Sheet:
    """Tags for what is in quarantine."""
    return Sheet(
        title=voice.label("paper-quarantine"),
        engine=engine_line(of, voice),
        step="receive",
        lead=voice.label("paper-quarantine-lead", parts=len(parts)),
        caution=voice.label("paper-caution"),
        units=voice.label("paper-size"),
        pieces=(Cards(tuple(_apart(one, source, voice) for one in parts)),),
    )


def old_sheet(
    nozzles: Sequence[Old], job: str, back: str | None, of: OfEngine, source: Source, voice: Voice
) -> Sheet:
    """Tags for the nozzles that a job takes out; ``back`` is the day by which they go back."""
    return Sheet(
        title=voice.label("paper-tags", job=clean(job)),
        engine=engine_line(of, voice),
        step="fit",
        lead=voice.label("paper-old-back", date=back) if back else "",
        caution=voice.label("paper-caution"),
        units=voice.label("paper-size"),
        pieces=(Cards(tuple(_old(one, back, of, source, voice) for one in nozzles)),),
    )


def labels_sheet(nozzles: Sequence[New], order: str, of: OfEngine, source: Source, voice: Voice) -> Sheet:
    """Labels for the nozzles of an order that came as ordered."""
    return Sheet(
        title=voice.label("paper-labels", order=clean(order)),
        engine=engine_line(of, voice),
        step="receive",
        lead=voice.label("paper-labels-lead"),
        caution=voice.label("paper-caution"),
        units=voice.label("paper-size"),
        pieces=(Cards(tuple(_new(one, of, source, voice) for one in nozzles)),),
    )


def _apart(one: Apart, source: Source, voice: Voice) -> Card:
    why = clean(one.because, _LONGEST) if one.in_words else voice.word("receipt", one.because)
    lines = [
        voice.label("paper-because", because=why),
        _serial(one.serial, voice),
        voice.label("paper-order", order=clean(one.order)) if one.order else "",
        voice.label("paper-since", date=one.since),
    ]
    return Card(
        title=voice.label("paper-do-not-fit"),
        marking=clean(one.marking),
        cylinder=None,
        lines=tuple(line for line in lines if line),
        to_write=(),
        code=code_drawing(one.entry.code),
        foot=_foot(one.entry, source, voice),
        heavy=True,
    )


def _old(one: Old, back: str | None, of: OfEngine, source: Source, voice: Voice) -> Card:
    out = one.marking is not None
    lines = [
        " · ".join(clean(part) for part in (of.aircraft, of.engine) if part),
        _serial(one.serial, voice),
        voice.label("paper-tag", tag=clean(one.tag)) if one.tag else "",
        voice.label("paper-removed", date=one.removed) if one.removed else "",
        amount(one.hours, "h", voice) if one.hours else "",
        clean(one.condition, _LONGEST) if one.condition else "",
        voice.label("paper-back-by", date=back) if back else "",
        voice.label("paper-in-book", marking=clean(one.in_book)) if one.in_book and not out else "",
    ]
    return Card(
        title=voice.label("paper-old-nozzle"),
        marking=clean(one.marking or ""),
        cylinder=cylinder(one.cylinder, of, voice),
        lines=tuple(line for line in lines if line),
        to_write=() if out else (voice.label("paper-tag-and-date"), voice.label("paper-saw")),
        code=code_drawing(one.entry.code),
        foot=_foot(one.entry, source, voice),
    )


def _new(one: New, of: OfEngine, source: Source, voice: Voice) -> Card:
    lines = [
        " · ".join(clean(part) for part in (of.aircraft, of.engine) if part),
        _serial(one.serial, voice),
        voice.label("paper-order", order=clean(one.order)),
        voice.label("paper-for", cylinder=cylinder_words(one.cylinder, voice)) if one.cylinder else "",
    ]
    return Card(
        title=voice.label("paper-new-nozzle"),
        marking=clean(one.marking),
        cylinder=cylinder(one.cylinder, of, voice) if one.cylinder else None,
        lines=tuple(line for line in lines if line),
        to_write=(),
        code=code_drawing(one.entry.code),
        foot=_foot(one.entry, source, voice),
    )


def _serial(serial: str | None, voice: Voice) -> str:
    return voice.label("paper-serial", serial=clean(serial)) if serial else ""


def _foot(entry: EntryMark, source: Source, voice: Voice) -> tuple[str, ...]:
    mark = corrected(entry, voice)
    if mark:
        return mark, source.head
    return (f"{voice.label('paper-entry', entry=entry.number)} · {source.head}",)
