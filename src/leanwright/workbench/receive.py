"""The step "receive": match what came with what was ordered; what does not match is in quarantine at once."""

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, Final

import msgspec

from leanwright.book import chain, parts_rules
from leanwright.book.canonical import checked
from leanwright.book.kinds.table import body_of
from leanwright.book.ledger import Ledger, Written
from leanwright.book.rules import check_cylinders
from leanwright.book.state import State
from leanwright.errors import RefusedEntryError
from leanwright.told import Told
from leanwright.workbench import records, standing
from leanwright.workbench.records import NOTHING_SAID, Said


@dataclass(frozen=True, slots=True)
class Came:
    """One nozzle that came: its marking as read, and what its bag or card says."""

    marking: str
    cylinder: int | None = None
    serial: str | None = None
    documents: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Received:
    """How one nozzle fits the order, and its entry."""

    came: Came
    result: str
    instead_of: str | None
    written: Written


MOST_SIGNS: Final = 1_000
"""Of a line with a marking."""
_SHAPE: Final = "Write marking, cylinder, serial number."


def read_markings(text: str) -> tuple[Came, ...]:
    r"""Markings as typed, pasted or read from a file: one a line, with cylinder and serial number after it if known.

    ``Q7-104``, ``Q7-104, 3`` or ``Q7-104; 3; 20718``; a line that begins with # is a remark. Raises for a cylinder that
    is no number.

    >>> read_markings("Q7-104, 3\n# remark\nQ7-097")
    (Came(marking='Q7-104', cylinder=3, serial=None, documents=()), Came(marking='Q7-097', cylinder=None, serial=None, documents=()))
    """
    found = []
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    endless = next((line for line in lines if len(line) > MOST_SIGNS), None)
    if endless is not None:
        raise RefusedEntryError(
            "too-large", Told("{line!r} is too long for a marking", line=f"{endless[:40]}…"), _SHAPE
        )
    separator = max(",;\t", key=lambda sign: sum(sign in line for line in lines))
    for cells in csv.reader(io.StringIO("\n".join(lines)), delimiter=separator):
        marking, *rest = [cell.strip() for cell in cells]
        cylinder = rest[0] if rest else ""
        if cylinder and not (cylinder.isascii() and cylinder.isdigit()):
            raise RefusedEntryError(
                "no-number",
                Told("{marking}: {cylinder!r} is no cylinder", marking=marking, cylinder=cylinder),
                _SHAPE,
            )
        serial = rest[1] if len(rest) > 1 and rest[1] else None
        found.append(Came(marking, int(cylinder) if cylinder else None, serial))
    return tuple(found)


def as_text(content: bytes, name: str) -> str:
    """A file of markings or a wording as text; raises for what is none."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise RefusedEntryError(
            "not-text", Told("{name} is not text in UTF-8", name=name), "Save it as plain text."
        ) from error


def match(book: Ledger, order: str, came: Came) -> parts_rules.Match:
    """How a nozzle would fit the order, before anything is written."""
    return parts_rules.match(_with_order(book, order), order, came.marking, came.cylinder)


def receive(book: Ledger, order: str, came: Came, said: Said = NOTHING_SAID) -> Received:
    """Write a nozzle that came into the book; unless it is right it is in quarantine from this entry on."""
    known = book.requested(said.request_key) if said.request_key else None
    # A repeat says what was found then: held against the order once more, the nozzle would be one too many.
    body = (
        msgspec.json.decode(known.entry.body)
        if known is not None and known.entry.kind == "receipt"
        else _body(_with_order(book, order), order, came)
    )
    told = {**body, **_read(order, came)}
    written = records.add(book, "receipt", told, said)
    return Received(came, body["result"], body.get("instead_of"), written)


def _body(state: State, order: str, came: Came) -> dict[str, Any]:
    found = parts_rules.match(state, order, came.marking, came.cylinder)
    instead = {"instead_of": found.instead_of} if found.instead_of is not None else {}
    return {**_read(order, came), "result": found.result, **instead}


def _read(order: str, came: Came) -> dict[str, Any]:
    """What was read of a nozzle, as its entry has it."""
    read = {
        "order": order,
        "marking": came.marking,
        "cylinder": came.cylinder,
        "serial": came.serial,
        "documents": list(came.documents) or None,
    }
    return {name: value for name, value in read.items() if value is not None}


def receive_all(
    book: Ledger, order: str, came: Iterable[Came], said: Said = NOTHING_SAID
) -> tuple[Received, ...]:
    """Receive a whole box, nozzle by nozzle; nothing is written if one of them could not be.

    A request key makes the repeat of the same box harmless, nozzle by nozzle.
    """
    box = tuple(came)
    state = _with_order(book, order)
    if not box:
        raise RefusedEntryError("empty-box", "No marking was given", "Write one a line, as it is read.")
    for one in box:
        check_cylinders(body_of("receipt", checked(_body(state, order, one))), state)
    keys = (f"{said.request_key}-{number}" if said.request_key else None for number in range(1, len(box) + 1))
    return tuple(
        receive(book, order, one, replace(said, request_key=key)) for one, key in zip(box, keys, strict=True)
    )


def result_words(one: Received) -> Told:
    """How a nozzle fits its order, in words."""
    if one.result == "right":
        return Told("right")
    words = parts_rules.MISFITS[one.result]
    if one.instead_of:
        return Told(
            "{words}, {ordered} was ordered there; in quarantine", words=words, ordered=one.instead_of
        )
    return Told("{words}; in quarantine", words=words)


def receiving_list(book: Ledger, order: str) -> dict[str, Any]:
    """What the receiving list shows, as plain data: lines ordered, what came, what is missing, what is in quarantine."""
    state = _with_order(book, order)
    item = state.orders[order]
    came = [one for one in state.receipts if one.body.order == order]
    return {
        "format": "leanwright/receiving/1",
        "head": chain.short(book.head()),
        "order": order,
        "entry": item.latest,
        "engine": item.body.engine,
        "lines": [
            {
                "marking": line.marking,
                "quantity": line.quantity,
                "cylinders": list(line.cylinders),
                "came": sum(
                    1 for one in came if one.body.marking == line.marking and one.body.result == "right"
                ),
            }
            for line in item.body.lines
        ],
        "came": [
            {
                "marking": one.body.marking,
                "cylinder": one.body.cylinder,
                "serial": one.body.serial,
                "result": one.body.result,
                "instead_of": one.body.instead_of,
                "documents": list(one.body.documents),
                "entry": one.latest,
            }
            for one in came
        ],
        "missing": [
            {"marking": marking, "quantity": count} for marking, count in parts_rules.missing(state, order)
        ],
        "quarantine": quarantine_list(state, order),
    }


def quarantine_list(state: State, order: str | None = None) -> list[dict[str, Any]]:
    """What is in quarantine and has not been let out; each row is what its tag shows."""
    return [
        standing.quarantine_row(number, state)
        for number, one in state.quarantine.items()
        if one.released is None and (order is None or one.item.body.order == order)
    ]


def quarantine(
    book: Ledger, marking: str, because: str, serial: str | None = None, said: Said = NOTHING_SAID
) -> Written:
    """Set a part apart by hand."""
    body = {"marking": marking, "because": because, **({"serial": serial} if serial else {})}
    return records.add(book, "quarantine", body, said)


def let_out(book: Ledger, entry: int, by: str, because: str, said: Said = NOTHING_SAID) -> Written:
    """A named person of the book lets a part out of quarantine, and says why."""
    return records.add(book, "quarantine-release", {"quarantine": entry, "by": by, "because": because}, said)


def _with_order(book: Ledger, order: str) -> State:
    state = book.state()
    if order not in state.orders:
        raise RefusedEntryError(
            "no-such-order", Told("There is no order {order!r} in the book", order=order), "Enter it first."
        )
    return state
