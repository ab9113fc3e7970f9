"""The kinds of entries by name, and the check of a body against its kind."""

import datetime as dt
from collections.abc import Iterator, Mapping
from typing import Any, Final

import msgspec

from leanwright.book.entry import Record
from leanwright.book.kinds import hangar, papers, parts, work
from leanwright.book.kinds.plain_words import told
from leanwright.errors import RefusedEntryError
from leanwright.told import Told

KINDS: Final[Mapping[str, type[Record]]] = {
    "aircraft": hangar.Aircraft,
    "as-found": work.AsFound,
    "attachment": hangar.Attachment,
    "bottle-test": papers.BottleTest,
    "check": work.Check,
    "decision": papers.Decision,
    "document": hangar.MaintenanceDocument,
    "engine": hangar.Engine,
    "figure": work.Figure,
    "fitting-step": work.FittingStep,
    "fuel-grade": hangar.FuelGrade,
    "inspection": work.Inspection,
    "interval": hangar.Interval,
    "job": work.Job,
    "note": hangar.Note,
    "nozzle-set": parts.NozzleSet,
    "order": parts.Order,
    "owner": hangar.Owner,
    "parcel": parts.Parcel,
    "pause": work.Pause,
    "person": hangar.Person,
    "quarantine": parts.Quarantine,
    "quarantine-release": parts.QuarantineRelease,
    "receipt": parts.Receipt,
    "record": papers.MaintenanceRecord,
    "recording": papers.Recording,
    "reminder": hangar.Reminder,
    "removal": work.Removal,
    "resume": work.Resume,
    "signature": papers.SignatureEntry,
    "squawk": hangar.Squawk,
    "tool": hangar.Tool,
    "torque-reading": work.TorqueReading,
    "void": hangar.Void,
    "work": work.WorkDone,
}
DECODERS: Final = {name: msgspec.json.Decoder(kind) for name, kind in KINDS.items()}
_TORQUE: Final = "torque-reading"


def body_of(kind: str, body: Any) -> Record:
    """The body of a kind, checked; raises :class:`RefusedEntryError` that names the field."""
    if kind not in KINDS:
        raise RefusedEntryError(
            "unknown-kind",
            Told("There is no kind of entry named {kind!r}", kind=kind),
            Told("The kinds are: {kinds}.", kinds=", ".join(KINDS)),
        )
    if not isinstance(body, dict):
        raise RefusedEntryError(
            "not-an-object", Told("A {kind} has to be a JSON object", kind=kind), 'Write {"field": value}.'
        )
    if kind == _TORQUE and not body.get("unit"):
        raise RefusedEntryError(
            "torque-without-unit",
            Told("The torque {reading!r} has no unit", reading=body.get("reading", "")),
            'Give "unit" as in-lb, ft-lb, N·m or kgf·cm, as the wrench shows it.',
        )
    try:
        return msgspec.convert(body, KINDS[kind], strict=True)
    except msgspec.ValidationError as error:
        raise RefusedEntryError(
            "not-of-its-kind",
            Told("This is no {kind}: {told}", kind=kind, told=told(str(error), KINDS[kind], body)),
            _form(kind),
        ) from error


def _form(kind: str) -> str:
    fields = msgspec.structs.fields(KINDS[kind])
    needed = [one.name for one in fields if one.required] or ["–"]
    others = [one.name for one in fields if not one.required]
    values = {"needed": ", ".join(needed), "others": ", ".join(others)}
    if not others:
        return Told("It has to have: {needed}.", **values)
    return Told("It has to have: {needed}. It may have: {others}.", **values)


def dates_of(body: msgspec.Struct) -> Iterator[tuple[str, dt.date]]:
    """Every date of a body with the field that holds it."""
    for field in body.__struct_fields__:
        yield from _dates_in(getattr(body, field), field)


def _dates_in(value: Any, name: str) -> Iterator[tuple[str, dt.date]]:
    if isinstance(value, dt.date):
        yield name, value
    elif isinstance(value, tuple):
        for one in value:
            yield from _dates_in(one, name)
    elif isinstance(value, msgspec.Struct):
        yield from dates_of(value)


def schemas() -> dict[str, dict[str, Any]]:
    """The JSON Schema of each kind (draft 2020-12)."""
    return {
        name: {
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "title": name,
            **msgspec.json.schema(kind),
        }
        for name, kind in KINDS.items()
    }
