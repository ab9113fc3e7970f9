"""The return list of a parcel: what goes back, to whom, by when, for which deposit, and how it stands."""

from dataclasses import dataclass

from leanwright.report.cleaning import clean
from leanwright.report.sheet_pieces import (
    Cell,
    Fields,
    Heading,
    Marking,
    Paragraph,
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
    engine_line,
    entry_words,
)
from leanwright.report.words import Voice


@dataclass(frozen=True, slots=True)
class Item:
    """A part that goes back."""

    marking: str
    quantity: int
    serial: str | None
    cylinder: int | None


@dataclass(frozen=True, slots=True)
class Returns:
    """Everything that a return list shows; ``state`` is "to-send", "sent" or "credited"."""

    parcel: str
    state: str
    to: str | None
    due: str | None
    order: str | None
    deposit: str | None
    currency: str | None
    sent: str | None
    tracking: str | None
    credited: str | None
    amount_credited: str | None
    engine: OfEngine
    items: tuple[Item, ...]
    history: tuple[tuple[str, EntryMark], ...]


def returns_sheet(of: Returns, voice: Voice) -> Sheet:
    """Word a return list."""
    count = sum(one.quantity for one in of.items)
    told = [voice.label("paper-parts-back", parts=count)]
    if of.to:
        told.append(voice.label("paper-to", to=clean(of.to)))
    if of.due:
        told.append(voice.label("paper-due", date=of.due))
    if of.deposit:
        told.append(voice.label("paper-deposit", deposit=amount(of.deposit, of.currency or "", voice)))
    engine = engine_line(of.engine, voice)
    if of.order:
        engine = " · ".join(
            part for part in (engine, voice.label("paper-order", order=clean(of.order))) if part
        )
    return Sheet(
        title=voice.label("paper-returns", parcel=clean(of.parcel)),
        engine=engine,
        step="receive",
        lead=" ".join(told),
        caution=voice.label("paper-caution"),
        units="",
        pieces=(
            _items(of, voice),
            Heading(voice.label("paper-how-it-stands")),
            Paragraph(_stands(of, voice)),
            *(Paragraph(f"{voice.word('parcel', state)}{voice.colon}{voice.label('paper-entry', entry=mark.number)}"
                        + (f" ({entry_words(mark, voice)})" if mark.number != mark.first else ""), "small")
              for state, mark in of.history),
            Fields((voice.label("paper-packed-by"), voice.label("paper-date"), voice.label("paper-signature")), 3),
            Fields((voice.label("paper-sent-on"), voice.label("paper-tracking"), voice.label("paper-credited-on")), 3),
        ),
    )  # fmt: skip


def _items(of: Returns, voice: Voice) -> Table:
    heads = ("paper-packed", "paper-marking", "paper-quantity", "paper-serial-number", "paper-came-from")
    rows: list[tuple[Cell, ...]] = [
        (
            Tick(),
            Marking(clean(one.marking)),
            Words(str(one.quantity)),
            Marking(clean(one.serial or "")),
            cylinder_cell(one.cylinder, of.engine, voice),
        )
        for one in of.items
    ]
    return Table(
        tuple(voice.label(name) for name in heads), tuple(rows), ("16mm", "50mm", "auto", "40mm", "1fr")
    )


def _stands(of: Returns, voice: Voice) -> str:
    told = [voice.word("parcel", of.state)[:1].upper() + voice.word("parcel", of.state)[1:] + "."]
    if of.sent:
        told.append(voice.label("paper-was-sent", date=of.sent))
    if of.tracking:
        told.append(voice.label("paper-tracking-is", tracking=clean(of.tracking)))
    if of.credited:
        told.append(voice.label("paper-was-credited", date=of.credited))
    if of.amount_credited:
        told.append(
            voice.label("paper-amount-is", amount=amount(of.amount_credited, of.currency or "", voice))
        )
    return " ".join(told)
