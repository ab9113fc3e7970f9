"""The receiving list: what was ordered beside what came, what is missing or set apart, documents, what has to go back."""

from dataclasses import dataclass
from typing import Final

from leanwright.report.cleaning import clean
from leanwright.report.sheet_pieces import (
    Blank,
    Cell,
    Fields,
    Heading,
    Marking,
    Paragraph,
    Piece,
    Sheet,
    Table,
    Tick,
    Words,
)
from leanwright.report.sheet_source import (
    EntryMark,
    OfEngine,
    amount,
    cylinder_cell,
    cylinder_words,
    engine_line,
    entry_words,
)
from leanwright.report.words import Voice

_NAMED: Final = 6
"""How many missing markings the first line names; the table shows all of them."""


@dataclass(frozen=True, slots=True)
class Ordered:
    """A line of the order: marking, how many, for which cylinders, and how many came as ordered."""

    marking: str
    quantity: int
    cylinders: tuple[int, ...]
    came: int


@dataclass(frozen=True, slots=True)
class Came:
    """A nozzle that came, as it was entered: ``result`` is how it fits the order, ``let_out`` who released it."""

    marking: str
    cylinder: int | None
    serial: str | None
    result: str
    instead_of: str | None
    entry: EntryMark
    let_out: str | None


@dataclass(frozen=True, slots=True)
class Receiving:
    """Everything that a receiving list shows."""

    order: str
    supplier: str | None
    ordered: str | None
    engine: OfEngine
    lines: tuple[Ordered, ...]
    came: tuple[Came, ...]
    missing: tuple[tuple[str, int], ...]
    documents: tuple[str, ...]
    return_due: str | None
    deposit: str | None
    currency: str | None


def receiving_sheet(of: Receiving, voice: Voice) -> Sheet:
    """Word a receiving list."""
    pieces: list[Piece] = [Heading(voice.label("paper-ordered")), _ordered(of, voice)]
    if of.came:
        pieces += [Heading(voice.label("paper-came")), _came(of, voice)]
    pieces += [Heading(voice.label("paper-papers")), _documents(of, voice)]
    pieces += [
        Fields(
            (voice.label("paper-received-by"), voice.label("paper-date"), voice.label("paper-signature")), 3
        )
    ]
    told = (of.supplier, of.ordered and voice.label("paper-ordered-on", date=of.ordered))
    return Sheet(
        title=voice.label("paper-receiving", order=clean(of.order)),
        engine=" · ".join(part for part in (engine_line(of.engine, voice), *told) if part),
        step="receive",
        lead=_lead(of, voice),
        caution=voice.label("paper-receiving-caution"),
        units="",
        pieces=tuple(pieces),
    )


def _lead(of: Receiving, voice: Voice) -> str:
    """What is missing and what is set apart; then what has to go back."""
    apart = sum(1 for one in of.came if one.result != "right" and one.let_out is None)
    told = []
    if of.came:
        missing = [f"{count} × {clean(marking)}" for marking, count in of.missing[:_NAMED]]
        if len(of.missing) > _NAMED:
            missing.append(f"… (+{len(of.missing) - _NAMED})")
        if missing:
            told.append(voice.label("paper-missing", markings=", ".join(missing)))
        told.append(voice.label("paper-set-apart", apart=apart))
    if of.return_due:
        told.append(voice.label("paper-old-back", date=of.return_due))
    if of.deposit:
        told.append(voice.label("paper-deposit", deposit=amount(of.deposit, of.currency or "", voice)))
    return " ".join(told)


def _ordered(of: Receiving, voice: Voice) -> Table:
    heads = ("paper-marking", "paper-quantity", "paper-for-cylinders", "paper-came-right", "paper-read",
             "paper-serial-number", "paper-seen")  # fmt: skip
    rows: list[tuple[Cell, ...]] = [
        (
            Marking(clean(one.marking)),
            Words(str(one.quantity)),
            Words(", ".join(cylinder_words(number, voice) for number in one.cylinders)),
            Words(str(one.came) if of.came else ""),
            Blank(),
            Blank(),
            Tick(),
        )
        for one in of.lines
    ]
    widths = ("36mm", "auto", "1fr", "auto", "34mm", "28mm", "10mm")
    return Table(tuple(voice.label(name) for name in heads), tuple(rows), widths, 9.0)


def _came(of: Receiving, voice: Voice) -> Table:
    heads = ("paper-marking", "paper-on-its-bag", "paper-serial-number", "paper-result", "paper-entry-head")
    rows: list[tuple[Cell, ...]] = [
        (
            Marking(clean(one.marking)),
            cylinder_cell(one.cylinder, of.engine, voice),
            Marking(clean(one.serial or "")),
            Words(_result(one, voice), bold=one.result != "right"),
            Words(entry_words(one.entry, voice)),
        )
        for one in of.came
    ]
    return Table(
        tuple(voice.label(name) for name in heads), tuple(rows), ("36mm", "40mm", "30mm", "1fr", "auto")
    )


def _result(one: Came, voice: Voice) -> str:
    told = [voice.word("receipt", one.result)]
    if one.instead_of:
        told.append(voice.label("paper-instead-of", marking=clean(one.instead_of)))
    if one.let_out:
        told.append(voice.label("paper-let-out", by=clean(one.let_out)))
    elif one.result != "right":
        told.append(voice.label("paper-in-quarantine"))
    return "; ".join(told)


def _documents(of: Receiving, voice: Voice) -> Table | Paragraph:
    usual = tuple(
        voice.label(f"paper-document-{name}") for name in ("certificate", "approval", "supplement", "instructions")
    )  # fmt: skip
    named = tuple(clean(one) for one in of.documents)
    rows: list[tuple[Cell, ...]] = [(Tick(one), Blank()) for one in (*usual, *named)]
    return Table(
        (voice.label("paper-document"), voice.label("paper-number-revision")), tuple(rows), ("1fr", "90mm"), 8.0
    )  # fmt: skip
