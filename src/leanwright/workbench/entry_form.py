"""What may be entered in the book, as forms to fill in: made from the kinds themselves, so that no field is listed twice."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import msgspec
from msgspec import inspect

from leanwright.book.kinds.table import KINDS
from leanwright.book.ledger import Ledger, Written
from leanwright.book.state import State
from leanwright.errors import UnusableFileError
from leanwright.told import Told
from leanwright.workbench import records
from leanwright.workbench.file_form import Field, Form, Table
from leanwright.workbench.records import Said

OFFERED: Final = (
    "person", "owner", "aircraft", "engine", "as-found", "check", "nozzle-set", "order", "tool", "job", "figure",
    "interval", "reminder", "document", "fuel-grade", "work", "squawk",
)  # fmt: skip
"""Kinds that are begun with a form, in the order in which a new book needs them."""
REFERS: Final[Mapping[str, str]] = {
    "engine": "engines", "aircraft": "aircraft", "owner": "owners", "set": "sets", "order": "orders", "job": "jobs",
}  # fmt: skip
"""Fields that name something of the book, and where the state keeps it."""
MEANT: Final[Mapping[str, str]] = {
    "engine.id": Told("its name in the book, such as its serial number"),
    "engine.numbering": Told("from which end its cylinders are counted, as its manual says"),
    "engine.firing_order": Told("in the same numbering, as its manual says; the usual one where none is given"),
    "engine.hours_source": Told("which counter its hours are read from"),
    "engine.new_meter": Told("whether that counter began anew"),
    "aircraft.id": Told("its registration"),
    "nozzle-set.nozzles.flow": Told("flow over that of the standard nozzle, 1 being the same"),
    "nozzle-set.nozzles.groups": Told("groups that it may go to; any position where none is named"),
    "nozzle-set.groups.rows": Told("front, middle, rear, front mid, rear mid, or numbers, 1 the front"),
    "nozzle-set.groups.banks": Told("left, right, seen from the cockpit"),
    "order.lines.cylinders": Told("numbers of the cylinders that they are meant for"),
    "order.return_due": Told("by when the old parts have to go back"),
    "job.document": Told("the instructions that the work follows"),
    "job.positions.marking": Told("the nozzle that is meant for it"),
    "job.second_person": Told("whether the rules ask for an independent inspection"),
    "figure.what": Told("the figure of the instructions"),
    "figure.confirms": Told("entry that this confirms, where a second person enters it again"),
    "as-found.source": Told("how it is known: read on the nozzle, from older papers"),
    "tool.unit": Told("in-lb, ft-lb, N·m or kgf·cm for a torque wrench"),
    "tool.low": Told("lowest of its range"), "tool.high": Told("highest of its range"),
    "interval.source": Told("where the interval comes from"),
}  # fmt: skip
BEGUN_BY: Final = (*REFERS, "document", "revision", "source")
"""Fields that an address may fill in."""
_SIMPLE: Final[tuple[tuple[type, str], ...]] = (
    (inspect.StrType, "text"), (inspect.DateType, "date"), (inspect.BoolType, "yes or no"), (inspect.IntType, "whole number"),
    (inspect.DateTimeType, "text"), (inspect.FloatType, "number"),
)  # fmt: skip


def worded_fields(kind: str, state: State) -> frozenset[str]:
    """The fields of a kind whose values are words of a fixed set."""
    if kind not in KINDS:
        return frozenset()
    return frozenset(
        one.name
        for table in form_of(kind, state).tables
        for one in table.fields
        if one.choices and not table.name and one.name not in REFERS
    )


def form_of(kind: str, state: State) -> Form:
    """The form of a kind; what names something of the book can be chosen from what is in it."""
    about = inspect.type_info(KINDS[kind])
    assert isinstance(about, inspect.StructType)  # noqa: S101  every kind is one
    fields: list[Field] = []
    tables: list[Table] = []
    for one in about.fields:
        inner, many = _inner(one.type)
        if isinstance(inner, inspect.StructType):
            rows = tuple(_field(kind, f"{one.name}.{each.name}", each, state) for each in inner.fields)
            tables.append(Table(one.name, _words(one.name), rows, many=many, required=one.required))
        else:
            fields.append(_field(kind, one.name, one, state))
    doc = " ".join((KINDS[kind].__doc__ or "").replace("``", "").split())
    return Form(
        kind, kind.replace("-", " "), doc, (Table("", "", tuple(fields)), *tables), "", UnusableFileError
    )


def corrected_in(kind: str, state: State) -> Form | None:
    """The form in which an entry is corrected; what is entered by no form is corrected as it is written."""
    return form_of(kind, state) if kind in (*OFFERED, "note") else None


def begun(kind: str, state: State, given: Mapping[str, str]) -> dict[str, Any]:
    """What an entry begins with: what was said before it, what an order plans, the only thing there is to choose."""
    known = {one.name for one in form_of(kind, state).tables[0].fields}
    values: dict[str, Any] = {name: text for name, text in given.items() if text and name in known}
    for name in known & set(REFERS):
        there = list(getattr(state, REFERS[name]))
        if name not in values and len(there) == 1:
            values[name] = there[0]
    order = state.orders.get(values.get("order", "")) if kind == "job" else None
    if order is not None:
        values["positions"] = [
            {"cylinder": cylinder, "marking": line.marking}
            for line in order.body.lines
            for cylinder in line.cylinders
        ]
        values |= {
            name: value for name, value in (("engine", order.body.engine), ("set", order.body.set)) if value
        }
    return values


def add(book: Ledger, kind: str, values: Mapping[str, Any], said: Said) -> Written:
    """Write an entry from what was filled in; refused as everywhere."""
    return records.add(book, kind, dict(values), said)


def _inner(kind: inspect.Type) -> tuple[inspect.Type, bool]:
    """What a field holds, without "or nothing", and whether it holds several."""
    if isinstance(kind, inspect.UnionType):
        left = [one for one in kind.types if not isinstance(one, inspect.NoneType)]
        kind = left[0] if len(left) == 1 else kind
    if isinstance(kind, inspect.Metadata):
        return _inner(kind.type)
    if isinstance(kind, inspect.VarTupleType):
        return _inner(kind.item_type)[0], True
    return kind, False


def _field(kind: str, path: str, one: inspect.Field, state: State) -> Field:
    inner, many = _inner(one.type)
    choices: Sequence[str] = ()
    if isinstance(inner, inspect.LiteralType) and not many:
        choices = tuple(str(value) for value in inner.values)
    elif one.encode_name in REFERS and not many:
        choices = tuple(getattr(state, REFERS[one.encode_name]))
    meant = MEANT.get(f"{kind}.{path}", "")
    usual = one.default
    if usual is not msgspec.NODEFAULT and isinstance(usual, str):
        meant = (
            Told("{meaning}; {usual} where it is not said", meaning=meant, usual=usual)
            if meant
            else Told("{usual} where it is not said", usual=usual)
        )
    return Field(one.encode_name, _kind(inner, many=many), meant, one.required, tuple(choices))


def _kind(inner: inspect.Type, *, many: bool) -> str:
    if many:
        if isinstance(inner, inspect.IntType):
            return "list of whole numbers"
        return "list" if isinstance(inner, inspect.UnionType) else "list of texts"
    return next((words for one, words in _SIMPLE if isinstance(inner, one)), "text")


def _words(name: str) -> str:
    return name.replace("_", " ")
