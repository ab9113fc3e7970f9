"""Sheets of the book for print: which one is asked for, and its paper or terminal form."""

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any, Final

from leanwright.book import chain
from leanwright.book.ledger import Ledger
from leanwright.book.state import JobState, State
from leanwright.errors import NothingToPrintError, NotInBookError
from leanwright.report.sheet_fitting import fitting_sheet
from leanwright.report.sheet_paper import sheet_pdf
from leanwright.report.sheet_pieces import Sheet
from leanwright.report.sheet_receiving import receiving_sheet
from leanwright.report.sheet_record import record_sheet
from leanwright.report.sheet_returns import returns_sheet
from leanwright.report.sheet_source import OfEngine, Source
from leanwright.report.sheet_tags import labels_sheet, old_sheet, quarantine_sheet
from leanwright.report.sheet_text import sheet_text
from leanwright.report.sheets.balance import Paper
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from leanwright.told import Told
from leanwright.workbench import sheet_data
from leanwright.workbench.phone_sheet import phone_sheet

_Made = tuple[Sheet, Source, Voice]


def pdf(
    book: Ledger,
    kind: str,
    *,
    of: str | None = None,
    language: str = "en",
    paper: Paper = "a4",
    printed_on: date | None = None,
) -> bytes:
    """A sheet as PDF; the same book, paper and date give the same bytes. Errors as in :func:`text`."""
    sheet, source, voice = _made(book, kind, of, language)
    return sheet_pdf(sheet, source, voice, paper=paper, printed_on=printed_on)


def text(
    book: Ledger, kind: str, *, of: str | None = None, language: str = "en", ascii_only: bool = False
) -> str:
    """A sheet for the terminal.

    ``of`` names the order, job, record or parcel; without it the newest one of the book is taken. Raises
    :class:`NothingToPrintError` where the book holds none, :class:`NotInBookError` for a name that is not in it.
    """
    return sheet_text(*_made(book, kind, of, language), ascii_only=ascii_only)


def phone(book: Ledger, *, of: str | None = None, language: str = "en", name: str = "") -> str:
    """The fitting worksheet as one file for a phone; ``name`` is who will work. Errors as in :func:`text`."""
    job = _chosen(book.state().jobs, of, "job")
    return phone_sheet(book, job, language=language, name=name)


def _made(book: Ledger, kind: str, of: str | None, language: str) -> _Made:
    return KINDS[kind](book, book.state(), of, language)


def _source(book: Ledger, entry: Any) -> Source:
    return Source(chain.grouped(chain.short(book.head())), entry)


def _voice(language: str, engine: OfEngine) -> Voice:
    return Voice(load(language), "us", engine.profile)


def _receiving(book: Ledger, state: State, of: str | None, language: str) -> _Made:
    order = _chosen(state.orders, of, "order")
    data = sheet_data.receiving(state, order)
    voice = _voice(language, data.engine)
    return receiving_sheet(data, voice), _source(book, sheet_data.mark(state.orders[order])), voice


def _labels(book: Ledger, state: State, of: str | None, language: str) -> _Made:
    order = _chosen(state.orders, of, "order")
    item = state.orders[order]
    new = sheet_data.new_nozzles(state, order)
    if not new:
        raise NothingToPrintError(
            Told("Nothing of order {order!r} came as ordered yet", order=order),
            "Receive it first: leanwright sheet receiving.",
        )
    engine = sheet_data.of_engine(state, item.body.engine)
    voice = _voice(language, engine)
    source = _source(book, sheet_data.mark(item))
    return labels_sheet(new, order, engine, source, voice), source, voice


def _quarantine(book: Ledger, state: State, of: str | None, language: str) -> _Made:
    if of is not None:
        _chosen(state.orders, of, "order")
    apart = sheet_data.in_quarantine(state, of)
    if not apart:
        raise NothingToPrintError("Nothing is in quarantine", "There is no tag to print.")
    named = [one.order for one in apart if one.order is not None]
    order = state.orders.get(of or (named[-1] if named else ""))
    engine = sheet_data.of_engine(state, order.body.engine if order else None)
    voice = _voice(language, engine)
    source = _source(book, apart[-1].entry)
    return quarantine_sheet(apart, engine, source, voice), source, voice


def _fitting(book: Ledger, state: State, of: str | None, language: str) -> _Made:
    job = _job(state, of)
    data = sheet_data.fitting(state, job, book.clock().date())
    voice = _voice(language, data.engine)
    return fitting_sheet(data, voice), _source(book, sheet_data.mark(job.item)), voice


def _tags(book: Ledger, state: State, of: str | None, language: str) -> _Made:
    job = _job(state, of)
    body = job.item.body
    engine = sheet_data.of_engine(state, body.engine)
    voice = _voice(language, engine)
    source = _source(book, sheet_data.mark(job.item))
    back = sheet_data.return_due(state, body.order)
    return old_sheet(sheet_data.old_nozzles(state, job), body.id, back, engine, source, voice), source, voice


def _returns(book: Ledger, state: State, of: str | None, language: str) -> _Made:
    parcel = _chosen(state.parcels, of, "parcel")
    data = sheet_data.returns(state, parcel)
    voice = _voice(language, data.engine)
    return returns_sheet(data, voice), _source(book, sheet_data.mark(state.parcels[parcel][-1])), voice


def _record(book: Ledger, state: State, of: str | None, language: str) -> _Made:
    number = _record_number(book, state, of)
    data, entry = sheet_data.record(book, state, number)
    voice = _voice(language, data.engine)
    return record_sheet(data, voice), _source(book, entry), voice


def _record_number(book: Ledger, state: State, of: str | None) -> int:
    """The entry of the record that is asked for, by its number or by its job; else the newest that holds."""
    held = {str(one.item.latest): one.item.latest for one in state.records.values()}
    if of is None:
        return held[_chosen(held, None, "record")]
    if of in state.jobs:
        first = state.jobs[of].record
        if first is None:
            raise NothingToPrintError(Told("Job {of!r} has no record yet", of=of), "Draft it first.")
        return state.records[first].item.latest
    if of.isascii() and of.isdigit() and len(of) < 10 and 0 < int(of) <= state.head_sequence:
        number = int(of)
        if book.entry(number)[0].entry.kind == "record":
            return number
    raise NotInBookError("record", of, list(held))


def _job(state: State, of: str | None) -> JobState:
    return state.jobs[_chosen(state.jobs, of, "job")]


def _chosen(known: Mapping[str, Any], of: str | None, what: str) -> str:
    """The name asked for, or the newest."""
    if of is None:
        if not known:
            raise NothingToPrintError(
                Told("There is no {what} in the book", what=what), "Enter it first: leanwright book add."
            )
        return list(known)[-1]
    if of not in known:
        raise NotInBookError(what, of, list(known))
    return of


KINDS: Final[Mapping[str, Callable[[Ledger, State, str | None, str], _Made]]] = {
    "receiving": _receiving,
    "fitting": _fitting,
    "record": _record,
    "returns": _returns,
    "labels": _labels,
    "tags": _tags,
    "quarantine": _quarantine,
}
